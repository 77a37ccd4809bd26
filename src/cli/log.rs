//! `log`: the history of the book or of a record.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::{self, Table};
use crate::record::Id;
use crate::view::{ChangeList, RevisionList};
use serde::Serialize;

/// The changes of the book, or the revisions of one record.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// A record; without it, the changes of the whole book.
    #[arg(value_name = "ID")]
    id: Option<String>,
    /// Changes after this number.
    #[arg(long, value_name = "N", default_value_t = 0, conflicts_with = "id")]
    since: u64,
    /// How many changes to show at most.
    #[arg(long, value_name = "N", default_value_t = 100, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    take: u32,
}

/// Shows the history.
///
/// # Errors
/// If the record has none.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let Some(id) = &arguments.id else {
        let catalog = book.open()?;
        let changes = catalog.changes(arguments.since, arguments.take as usize)?;
        return output.show(&ChangeList::of(changes, catalog.epoch(), arguments.since));
    };
    let id: Id = id.parse().map_err(Failure::usage)?;
    let revisions = RevisionList::of(book.open()?.revisions(&id)?);
    if revisions.items.is_empty() {
        return Err(Failure::no(Some(format!("{id} has never been in the book"))));
    }
    output.show(&revisions)
}

impl Answer for ChangeList {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.items.iter().filter_map(|change| serde_json::to_value(change).ok()).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.items)
    }
}

impl Answer for RevisionList {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.items.iter().filter_map(|revision| serde_json::to_value(revision).ok()).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.items)
    }
}
