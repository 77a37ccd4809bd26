//! `at`: what sits at a position of a joint.

use super::book::BookArguments;
use super::failure::Failure;
use super::find::{paragraph, table_of};
use super::output::{Answer, Output};
use super::table::Table;
use crate::record::{Head, Id};
use crate::view::PositionView;
use serde::Serialize;
use std::fmt::Write as _;

/// What sits at a position of a joint: head, thread, stages, reuse rule, and what to look at first.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The joint.
    #[arg(value_name = "JOINT")]
    joint: String,
    /// The number of the position.
    #[arg(value_name = "POSITION")]
    position: u32,
    /// Only fasteners with this kind of head.
    #[arg(long, value_name = "HEAD")]
    head: Option<String>,
    /// Only what fits this variant of the machine.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
}

/// Shows what sits there; nothing is a no, with what comes near.
///
/// # Errors
/// If the question cannot be read, or nothing sits there.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let joint: Id = arguments.joint.parse().map_err(Failure::usage)?;
    let head: Option<Head> = arguments.head.as_ref().map(|head| head.parse()).transpose().map_err(Failure::usage)?;
    let catalog = book.open()?;
    let answer = catalog.at_position(&joint, arguments.position, head, arguments.variant.as_deref())?;
    if answer.joint.is_none() && answer.fasteners.is_empty() && answer.nearest.is_empty() {
        return Err(Failure::no(Some(format!("the book has no joint {joint}"))));
    }
    let view = PositionView::of(&catalog, &joint, answer)?;
    output.show(&view)?;
    if view.items.is_empty() {
        return Err(Failure::no(Some(format!("nothing answers for position {} of {joint}", view.position))));
    }
    Ok(())
}

impl Answer for PositionView {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.items.iter().filter_map(|entry| serde_json::to_value(entry).ok()).collect()
    }
    fn table(&self) -> Table {
        table_of(&self.items)
    }
    fn for_people(&self, _width: u16) -> String {
        let mut text = String::new();
        let title = self.title.as_deref().unwrap_or(&self.joint);
        let _ = writeln!(text, "{title}, position {}", self.position);
        if let Some(caution) = &self.caution {
            let _ = writeln!(text, "{caution}");
        }
        for difference in &self.differences {
            let values: Vec<&str> =
                difference.values.iter().map(|value| value.as_deref().unwrap_or("not stated")).collect();
            let _ = writeln!(text, "  {}: {}", difference.field.replace('_', " "), values.join(" | "));
        }
        if !self.items.is_empty() {
            text.push('\n');
            text.push_str(&self.items.iter().map(paragraph).collect::<Vec<_>>().join("\n"));
        }
        if !self.nearest.is_empty() {
            text.push_str("\nNothing answers. What comes near:\n");
        }
        for near in &self.nearest {
            let _ = writeln!(text, "  {}: {}", near.fastener.stored.record.id(), near.reason);
        }
        text
    }
}
