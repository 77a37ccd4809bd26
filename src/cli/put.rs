//! `put`: records into the book, over what stands there.

use super::book::BookArguments;
use super::failure::Failure;
use super::import::read_file;
use super::output::{Answer, Output};
use super::table::{self, Table};
use crate::catalog::{Expected, Write};
use crate::record::Record;
use crate::view::Written;
use serde::Serialize;
use std::path::PathBuf;

/// Store the records of a file over what stands there.
///
/// Each becomes a new revision; what is the same already stays as it is. All of them are stored, or none.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// A file with one record or more (JSON, NDJSON or CSV); - for standard input.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Only if this is the revision that stands there; 0 for none.
    #[arg(long, value_name = "N")]
    revision: Option<u64>,
}

/// Stores the records, all of them or none.
///
/// # Errors
/// If the file has faults, or the book has changed.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let records = read_file(&arguments.file)?;
    let author = book.author()?;
    let expected = match arguments.revision {
        None => Expected::Any,
        Some(0) => Expected::New,
        Some(revision) => Expected::Revision(revision),
    };
    let write = |record: Record| Write::Put { record: Box::new(record), expected };
    let written = book.open_or_create()?.apply(records.into_iter().map(write).collect(), &author)?;
    output.show(&Stored(written))
}

/// What became of each record.
pub struct Stored(pub Vec<Written>);

impl Answer for Stored {
    fn json(&self) -> impl Serialize {
        serde_json::json!({ "items": self.0 })
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.0.iter().filter_map(|outcome| serde_json::to_value(outcome).ok()).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.0)
    }
    fn for_people(&self, _width: usize) -> String {
        let line = |outcome: &Written| {
            let what = if outcome.changed { "is now" } else { "was the same already, it stays" };
            format!("{} {what} at revision {}\n", outcome.id, outcome.revision)
        };
        self.0.iter().map(line).collect()
    }
}
