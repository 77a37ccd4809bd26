//! `card`: the bench card of a joint.

use super::bench_options::{BenchOptions, StepOption};
use super::book::{BookArguments, Where, read_id};
use super::failure::Failure;
use super::output::{Answer, Form, Output};
use super::table::Table;
use super::whole_file::write_bytes;
use crate::card::Card;
use crate::card::bench_card::{Action, html, plain_text};
use serde::Serialize;
use serde_json::Value;
use std::path::PathBuf;

/// The bench card of a joint.
///
/// One page: cautions, what to prepare and renew, the fasteners with their heads, the passes with boxes to tick.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The joint.
    #[arg(value_name = "JOINT")]
    joint: String,
    /// Write the card to this file as HTML that needs no other file; it prints on A4 and Letter.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    #[command(flatten)]
    options: BenchOptions,
    #[command(flatten)]
    step: StepOption,
}

/// Shows the card, or writes it to a file.
///
/// # Errors
/// If the book has no such joint, or the file cannot be written.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let joint = read_id(&arguments.joint)?;
    let options = arguments.options.of_card(&arguments.step);
    let absent = || {
        let hint = format!("\"clampbook find --kind joint {}\" looks for joints", joint.last());
        Failure::no(Some(format!("the book has no joint {joint}. {hint}")))
    };
    let catalog = match book.to_read()? {
        Where::Here(catalog) => catalog,
        Where::There(_) if options.is_for_own_tools() => {
            return Err(Failure::usage(
                "a server makes a card for the usual wrenches and steps, without --wrench and --step",
            ));
        }
        Where::There(there) => {
            let media_type = match (&arguments.output, output.form()) {
                (Some(_), _) => "text/html",
                (None, Form::Table | Form::Plain) => "text/plain",
                (None, _) => "application/json",
            };
            let bytes = there.card(&joint, options.variant.as_deref(), media_type)?.ok_or_else(absent)?;
            return match &arguments.output {
                Some(path) => write_bytes(path, &bytes),
                None => output.write(&bytes),
            };
        }
    };
    let card = catalog.card(&joint, &options, &printed_at())?.ok_or_else(absent)?;
    match &arguments.output {
        Some(path) => write_bytes(path, html(&card).as_bytes()),
        None => output.show(&card),
    }
}

/// Now, to the minute, as it stands on a printed card.
pub fn printed_at() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string()
}

impl Answer for Card {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = Table::new(["pass", "fastener", "head", "stage"]);
        for pass in &self.passes {
            for cell in &pass.cells {
                let fastener = self.fasteners.iter().find(|fastener| fastener.letter == cell.letter);
                let actions: Vec<String> = cell.actions.iter().map(Action::words).collect();
                table.row([
                    pass.number.to_string(),
                    fastener.map(|fastener| fastener.id.to_string()).unwrap_or_default(),
                    fastener.map(|fastener| fastener.head_words.clone()).unwrap_or_default(),
                    actions.join(", then "),
                ]);
            }
        }
        table
    }
    fn for_people(&self, _width: usize) -> String {
        plain_text(self)
    }
}
