//! `way`: which joints to open to reach some joints, and what lies on the way.

use super::bench_options::{BenchOptions, StepOption};
use super::book::{BookArguments, Sheet};
use super::failure::Failure;
use super::output::Output;
use super::said::{list, text};
use super::sheet::{read_joints, show};
use super::table::Table;
use serde_json::Value;
use std::path::PathBuf;

/// The joints to open to reach some joints, and back out.
///
/// The way in is the order of opening, the way out the reverse; with what to drain and disconnect, special tools, work
/// worth doing on the occasion, and the kit for the whole way. JSON has the card of every joint too.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The joints to be reached.
    #[arg(value_name = "JOINT", required = true)]
    joints: Vec<String>,
    /// Write the way, its kit and the card of every joint to this file, as HTML that needs no other file.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    #[command(flatten)]
    options: BenchOptions,
    #[command(flatten)]
    step: StepOption,
}

/// Shows the way, or writes it to a file.
///
/// # Errors
/// If the book has not all of the joints, or the file cannot be written.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let sheet = Sheet::Way(read_joints(&arguments.joints)?);
    let options = arguments.options.of_card(&arguments.step);
    show((&sheet, &options), book, output, arguments.output.as_deref(), table)
}

/// The joints in the order they are opened, each with its place in the order of closing.
fn table(sheet: &Value) -> Table {
    let mut table = Table::new(["open", "close", "joint", "title"]);
    let open = sheet.pointer("/way/open").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    for (i, id) in open.iter().filter_map(Value::as_str).enumerate() {
        let card = list(sheet, "cards").iter().find(|card| text(card, "id") == id);
        let title = card.map_or("", |card| text(card, "title"));
        table.row([(i + 1).to_string(), (open.len() - i).to_string(), id.to_owned(), title.to_owned()]);
    }
    table
}
