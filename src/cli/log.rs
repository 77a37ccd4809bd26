//! `log`: the history of the book or of a record.

use super::book::{Book, BookArguments, Which, read_id};
use super::failure::Failure;
use super::output::{Answer, Form, Output};
use super::said::{ListSaid, Said, count};
use super::table::{self, Table};
use serde_json::Value;
use std::time::Duration;

/// The changes of the book, or the revisions of a record.
///
/// With --follow, changes are shown as they are made, until it is interrupted.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// A record; without it, the changes of the whole book.
    #[arg(value_name = "ID")]
    id: Option<String>,
    /// Changes after this number.
    #[arg(long, value_name = "N", conflicts_with = "id")]
    since: Option<u64>,
    /// How many changes to show at most.
    #[arg(long, value_name = "N", default_value_t = 100, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    take: u32,
    /// Go on with the changes to come; begins with those after --since, else with the next one.
    #[arg(long, conflicts_with = "id")]
    follow: bool,
}

/// Shows the history.
///
/// # Errors
/// If the record has none.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    if arguments.follow {
        return follow(arguments, book, output);
    }
    let Some(id) = &arguments.id else {
        let since = arguments.since.unwrap_or(0);
        return output.show(&History(book.open()?.changes(since, arguments.take as usize)?));
    };
    let id = read_id(id)?;
    let book = book.open()?;
    match book.revisions(&id)? {
        Some(revisions) => output.show(&History(revisions)),
        None => Err(Failure::no(Some(super::show::not_there(&book.ids_near(&id)?, &id, Which::Last)))),
    }
}

/// How long to wait between two looks at the store.
const PAUSE: Duration = Duration::from_millis(300);

/// Shows changes as they are made. The store is let go of between two looks, so that others can write.
fn follow(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    if let Some(form @ (Form::Json | Form::Csv)) = output.asked() {
        let form = if form == Form::Json { "json" } else { "csv" };
        return Err(Failure::usage(format!("--follow has no end, and {form} needs one. Write --as ndjson or plain")));
    }
    let mut since = match arguments.since {
        Some(since) => since,
        None => book.open_when_free()?.last_change()?,
    };
    loop {
        since = show_since(&book.open_when_free()?, since, arguments.take as usize, output)?;
        std::thread::sleep(PAUSE);
    }
}

fn show_since(book: &Book, mut since: u64, take: usize, output: &Output) -> Result<u64, Failure> {
    loop {
        let said = book.changes_to_come(since, take)?;
        if said.items().is_empty() {
            return Ok(since);
        }
        since = count(said.value(), "since");
        match output.form() {
            Form::Ndjson => output.show(&History(said))?,
            _ => output.write(History(said).table().to_plain().as_bytes())?,
        }
    }
}

/// Changes or revisions, as they are said.
struct History(Said);

impl ListSaid for History {
    fn said(&self) -> &Said {
        &self.0
    }
    fn rows(&self) -> Table {
        table::of_rows(self.0.items())
    }
    fn page(&self, width: usize) -> String {
        let mut items = self.0.items().to_vec();
        for members in items.iter_mut().filter_map(Value::as_object_mut) {
            // The id tells the kind, what is in force is the rule, and nobody reads fractions of a second.
            members.shift_remove("kind");
            if members.get("state").and_then(Value::as_str) == Some("current") {
                members.shift_remove("state");
            }
            for name in ["at", "changed_at"] {
                if let Some(Value::String(moment)) = members.get_mut(name) {
                    *moment = to_the_second(moment);
                }
            }
        }
        table::of_rows(&items).to_terminal(width)
    }
}

/// `2026-11-25T01:42:12.421563Z` as `2026-11-25 01:42:12Z`.
fn to_the_second(moment: &str) -> String {
    let whole = moment.split_once('.').map_or(moment.trim_end_matches('Z'), |(whole, _)| whole);
    format!("{}Z", whole.replace('T', " "))
}
