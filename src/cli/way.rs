//! `way`: which joints to open to reach some joints, and what lies on the way.

use super::bench_options::{BenchOptions, StepOption};
use super::book::{BookArguments, read_id};
use super::card::printed_at;
use super::failure::Failure;
use super::kit::no_joint_missing;
use super::output::{Answer, Output};
use super::table::Table;
use super::whole_file::write_bytes;
use crate::card::WaySheet;
use crate::card::way::WayFaultKind;
use serde::Serialize;
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
    let joints = arguments.joints.iter().map(|joint| read_id(joint)).collect::<Result<Vec<_>, _>>()?;
    let options = arguments.options.of_card(&arguments.step);
    let sheet = book.catalog_to_read()?.way_sheet(&joints, &options, &printed_at())?;
    // An unknown id that a record names is a fault of the way; one that was asked for is a wrong question.
    let asked = sheet.way.faults.iter().filter(|fault| fault.fault == WayFaultKind::Unknown && fault.ids.len() == 1);
    no_joint_missing(&asked.flat_map(|fault| fault.ids.clone()).collect::<Vec<_>>())?;
    match &arguments.output {
        Some(path) => write_bytes(path, sheet.html().as_bytes()),
        None => output.show(&sheet),
    }
}

impl Answer for WaySheet {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = Table::new(["open", "close", "joint", "title"]);
        let count = self.way.open.len();
        for (i, id) in self.way.open.iter().enumerate() {
            table.row([(i + 1).to_string(), (count - i).to_string(), id.to_string(), self.title_of(id).to_owned()]);
        }
        table
    }
    fn for_people(&self, _width: usize) -> String {
        self.plain_text()
    }
}
