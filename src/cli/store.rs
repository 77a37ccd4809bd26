//! `store`: the care of a database that several servers share, and of the feed that others follow.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::Table;
use crate::catalog::{Catalog, OpenOptions, Place, Preparation, Prepared};
use serde::Serialize;

/// Prepare a database for a book that several servers share.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, clap::Subcommand)]
enum Verb {
    /// Make the tables of a book in the database that --store names, or bring older ones up to date.
    ///
    /// Needs a role that may create a schema there; it owns the tables. Serving needs less: roles named here are granted
    /// just what reading, or reading and writing, takes. Done again it grants and migrates, and takes nothing away.
    Prepare {
        /// A role that may read the book afterwards.
        #[arg(long = "reader", value_name = "ROLE")]
        readers: Vec<String>,
        /// A role that may read and write the book afterwards.
        #[arg(long = "writer", value_name = "ROLE")]
        writers: Vec<String>,
    },
    /// Begin a new epoch of the change feed, after the history of the book has gone back.
    ///
    /// For a database whose last changes were lost: a standby took over that lacked them, or an older copy was put in place.
    /// Whoever follows the feed has seen changes that are gone; from now on they are told to read anew (410), instead
    /// of waiting for numbers that come again with another meaning. Start the servers again afterwards.
    NewEpoch,
}

/// Does what is asked for.
///
/// # Errors
/// If the place is no database, or does not let us.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    match &arguments.verb {
        Verb::Prepare { readers, writers } => prepare(readers, writers, book, output),
        Verb::NewEpoch => new_epoch(book, output),
    }
}

fn new_epoch(book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let place = book.place()?;
    let catalog = Catalog::open_at(&place, &OpenOptions::default())?;
    let before = catalog.epoch();
    let now = catalog.begin_epoch()?;
    output.show(&NewEpoch { place: place.to_string(), before, now, last: catalog.sequence() })
}

/// A new epoch.
#[derive(Debug, Serialize)]
struct NewEpoch {
    place: String,
    before: String,
    now: String,
    last: u64,
}

impl Answer for NewEpoch {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = Table::new(["place", "before", "now", "last"]);
        table.row([self.place.as_str(), &self.before, &self.now, &self.last.to_string()]);
        table
    }
    fn for_people(&self, _width: usize) -> String {
        let Self { place, before, now, last } = self;
        format!(
            "{place}: epoch {now} instead of {before}, {last} changes.\n\
             Start its servers again. Whoever follows the feed is told to read anew.\n"
        )
    }
}

fn prepare(readers: &[String], writers: &[String], book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let Place::Database(url) = book.place()? else {
        return Err(Failure::usage(
            "a store in a folder needs no preparation. Name a database: --store postgres://USER@HOST/DATABASE",
        ));
    };
    let preparation = Preparation { readers: readers.to_vec(), writers: writers.to_vec(), format: None };
    let Prepared { before, now } = Catalog::prepare(&url, &preparation)?;
    output.show(&Done { place: url.to_string(), before, now, readers: readers.to_vec(), writers: writers.to_vec() })
}

/// What was prepared.
#[derive(Debug, Serialize)]
struct Done {
    place: String,
    before: i32,
    now: i32,
    readers: Vec<String>,
    writers: Vec<String>,
}

impl Answer for Done {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = Table::new(["place", "before", "now", "readers", "writers"]);
        let (before, now) = (self.before.to_string(), self.now.to_string());
        table.row([self.place.as_str(), &before, &now, &self.readers.join(" "), &self.writers.join(" ")]);
        table
    }
    fn for_people(&self, _width: usize) -> String {
        let done = match self.before {
            0 => format!("made its tables, format {}", self.now),
            before if before == self.now => format!("its tables have format {} already", self.now),
            before => format!("brought its tables from format {before} to {}", self.now),
        };
        let mut text = format!("{}: {done}.\n", self.place);
        for (who, roles) in [("read", &self.readers), ("read and write", &self.writers)] {
            for role in roles {
                text += &format!("\"{role}\" may {who} the book.\n");
            }
        }
        text
    }
}
