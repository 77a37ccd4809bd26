//! `show`: one record, whole.

use super::book::{BookArguments, Which, read_id};
use super::failure::Failure;
use super::output::{Answer, Output};
use super::said::Said;
use super::table::{self, Table};
use super::words;
use crate::query::Moment;
use crate::record::Id;
use serde::Serialize;
use serde_json::Value;

/// One record, whole.
///
/// Every field, its revision, whether it is checked, and what the audit says.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The id of a joint or a fastener.
    #[arg(value_name = "ID")]
    id: String,
    /// An earlier revision.
    #[arg(long, value_name = "N")]
    revision: Option<u64>,
    /// The record as it was at this moment: 2026-03-01, 2026-03-01T08:00:00Z.
    #[arg(long = "as-of", value_name = "TIME", conflicts_with = "revision")]
    as_of: Option<Moment>,
}

/// Shows the record.
///
/// # Errors
/// If it is not in the book.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let id = read_id(&arguments.id)?;
    let book = book.open()?;
    let which = match (arguments.revision, arguments.as_of) {
        (Some(revision), _) => Which::Revision(revision),
        (None, Some(Moment(moment))) => Which::AsOf(moment),
        (None, None) => Which::Last,
    };
    match book.entry(&id, which)? {
        Some(said) => {
            let words = said.words_on_audit();
            output.show(&Whole(said))?;
            words.iter().for_each(|words| eprintln!("{words}"));
            Ok(())
        }
        None => {
            let near = book.ids_near(&id)?;
            Err(Failure::no(Some(not_there(&near, &id, which))))
        }
    }
}

/// That a record is not in the book, and what to do instead.
pub fn not_there(near: &[String], id: &Id, which: Which) -> String {
    match which {
        Which::Revision(revision) => {
            format!("{id} has no revision {revision}. \"clampbook log {id}\" lists those it has")
        }
        Which::AsOf(moment) => {
            format!("{id} was not in the book at {moment}. \"clampbook log {id}\" lists its revisions")
        }
        Which::Last => format!("{id} is not in the book. {}", near_words(near, id.parent())),
    }
}

/// What is near an id that is not there.
pub fn near_words(near: &[String], path: &str) -> String {
    if near.is_empty() {
        format!("\"clampbook find --within {path}\" lists what is near it")
    } else {
        format!("Near it: {}", near.join(", "))
    }
}

/// A record, whole.
struct Whole(Said);

impl Answer for Whole {
    fn json(&self) -> impl Serialize {
        self.0.value()
    }
    fn json_bytes(&self) -> Vec<u8> {
        self.0.bytes()
    }
    fn lines(&self) -> Vec<Value> {
        vec![self.0.value().clone()]
    }
    fn table(&self) -> Table {
        table::of_paths(self.0.value())
    }
    fn for_people(&self, width: usize) -> String {
        self.0.value().as_object().map(|members| words::lines_of(members, width)).unwrap_or_default()
    }
}
