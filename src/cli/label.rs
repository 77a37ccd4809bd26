//! `label`: a small label for the machine itself.

use super::book::{BookArguments, read_id};
use super::failure::Failure;
use super::kit::no_joint_missing;
use super::output::{Answer, Output};
use super::table::Table;
use super::whole_file::write_bytes;
use crate::card::{Label, LabelInput};
use serde::Serialize;
use serde_json::Value;
use std::path::PathBuf;

/// A label for the machine: what was renewed, when, next due.
///
/// What is not given is a line to write on.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The joints that were opened.
    #[arg(value_name = "JOINT", required = true)]
    joints: Vec<String>,
    /// Write the label to this file as HTML, 90 × 55 mm on paper.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// The day of the work.
    #[arg(long, value_name = "DAY")]
    date: Option<String>,
    /// Hours or distance at the work, with the unit.
    #[arg(long, value_name = "TEXT")]
    reading: Option<String>,
    /// When it is next due.
    #[arg(long, value_name = "TEXT")]
    next_due: Option<String>,
    /// Only what fits this variant of the machine.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
}

/// Shows the label, or writes it to a file.
///
/// # Errors
/// If the book has not all of the joints, or the file cannot be written.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let joints = arguments.joints.iter().map(|joint| read_id(joint)).collect::<Result<Vec<_>, _>>()?;
    let book = book.catalog_to_read()?;
    no_joint_missing(&book.some_joints(&joints)?.unknown)?;
    let label = book.label(
        &joints,
        &LabelInput {
            date: arguments.date.clone(),
            reading: arguments.reading.clone(),
            next_due: arguments.next_due.clone(),
            variant: arguments.variant.clone(),
        },
    )?;
    match &arguments.output {
        Some(path) => write_bytes(path, label.html().as_bytes()),
        None => output.show(&label),
    }
}

impl Answer for Label {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        super::table::of_members(self)
    }
    fn for_people(&self, _width: usize) -> String {
        self.plain_text()
    }
}
