//! `at`: what sits at a position of a joint.

use super::book::{BookArguments, Which, read_id};
use super::entries::{paragraph, table_of};
use super::failure::Failure;
use super::layout;
use super::output::Output;
use super::said::{ListSaid, Said, Shown, count, list, text};
use super::table::Table;
use super::terminal;
use crate::catalog::PositionAsked;
use crate::query::Moment;
use crate::record::Head;
use serde_json::Value;

/// What sits at a position of a joint.
///
/// Head, thread, stages and reuse rule. Where several kinds of fastener answer, what tells them apart comes first.
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
    head: Option<Head>,
    /// Only what fits this variant of the machine.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
    /// What sat there at this moment: 2026-03-01, 2026-03-01T08:00:00Z.
    #[arg(long = "as-of", value_name = "TIME")]
    as_of: Option<Moment>,
}

/// Shows what sits there; nothing is a no, with what comes near.
///
/// # Errors
/// If the question cannot be read, or nothing sits there.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let joint = read_id(&arguments.joint)?;
    let book = book.open()?;
    let asked = PositionAsked {
        position: arguments.position,
        head: arguments.head,
        variant: arguments.variant.as_deref(),
        as_of: arguments.as_of.map(|Moment(moment)| moment),
    };
    let said = book.position(&joint, &asked)?;
    let Some(said) = said else {
        if let Some(moment) = asked.as_of.filter(|_| book.has(&joint).unwrap_or(false)) {
            return Err(Failure::no(Some(super::show::not_there(&[], &joint, Which::AsOf(moment)))));
        }
        let near = super::show::near_words(&book.ids_near(&joint)?, joint.parent());
        return Err(Failure::no(Some(format!("the book has no joint {joint}. {near}"))));
    };
    let view = AtPosition(said);
    output.show(&view)?;
    view.0.words_on_audit().iter().for_each(|words| eprintln!("{words}"));
    if view.0.items().is_empty() {
        return Err(Failure::no(Some(format!("nothing answers for position {} of {joint}", arguments.position))));
    }
    Ok(())
}

/// What sits at a position.
pub struct AtPosition(pub Said);

impl ListSaid for AtPosition {
    fn said(&self) -> &Said {
        &self.0
    }
    fn rows(&self) -> Table {
        table_of(self.0.items())
    }
    fn page(&self, width: usize) -> String {
        let value = self.0.value();
        let title = Some(text(value, "title")).filter(|title| !title.is_empty()).unwrap_or(text(value, "joint"));
        let mut out = terminal::heading(&format!("{title}, position {}", count(value, "position"))) + "\n";
        if let Some(caution) = value.get("caution").and_then(Value::as_str) {
            out += &terminal::caution(&layout::paragraph(caution, width));
        }
        let items = self.0.items();
        let differences = list(value, "differences");
        if !differences.is_empty() {
            out += &format!("\n{}", apart(differences, items).to_terminal(width));
        }
        for item in items {
            out += &format!("\n{}", paragraph(item, width));
        }
        let nearest = list(value, "nearest");
        if !nearest.is_empty() {
            out += "\nNothing answers. What comes near:\n";
        }
        for near in nearest {
            let id = near.get("fastener").map(|fastener| Shown::of(fastener).id()).unwrap_or_default();
            out += &layout::fill(&format!("{id}: {}", text(near, "reason")), width, "  ", "    ");
        }
        out
    }
}

/// What tells the kinds of fastener apart: a column for each kind, a row for each difference. Kinds that do not sit here
/// but elsewhere in the joint come last.
fn apart(differences: &[Value], items: &[Value]) -> Table {
    let kinds = differences.first().map_or(0, |difference| list(difference, "values").len());
    let names = items.iter().map(|item| text(item, "id").rsplit('.').next().unwrap_or_default());
    let names = names.chain(std::iter::repeat("elsewhere")).take(kinds.max(items.len()));
    let mut table = Table::new(std::iter::once("look at").chain(names));
    for difference in differences {
        let values = list(difference, "values").iter().map(|value| value.as_str().unwrap_or("not stated"));
        let field = text(difference, "field").replace('_', " ");
        table.row(std::iter::once(field.as_str()).chain(values));
    }
    table
}
