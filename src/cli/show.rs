//! `show`: one record, whole.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::{self, Table};
use crate::catalog::Catalog;
use crate::record::Id;
use crate::view::Entry;
use serde::Serialize;
use serde_json::Value;
use std::fmt::Write as _;

/// One record, whole: every field, its revision, whether it is checked, and what the audit says.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The id of a joint or a fastener.
    #[arg(value_name = "ID")]
    id: String,
    /// An earlier revision.
    #[arg(long, value_name = "N")]
    revision: Option<u64>,
}

/// Shows the record.
///
/// # Errors
/// If it is not in the book.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let id: Id = arguments.id.parse().map_err(Failure::usage)?;
    let catalog = book.open()?;
    let stored = match arguments.revision {
        Some(revision) => catalog.revision(&id, revision)?,
        None => catalog.get(&id)?,
    };
    let stored = stored.ok_or_else(|| Failure::no(Some(not_there(&catalog, &id, arguments.revision))))?;
    output.show(&Entry::of(&catalog, stored)?)
}

fn not_there(catalog: &Catalog, id: &Id, revision: Option<u64>) -> String {
    if let Some(revision) = revision {
        return format!("{id} has no revision {revision}. \"clampbook log {id}\" lists those it has");
    }
    let path = id.parent();
    let near = catalog.ids_near(id).unwrap_or_default();
    if near.is_empty() {
        format!("{id} is not in the book. \"clampbook find --within {path}\" lists what is near it")
    } else {
        let near: Vec<String> = near.iter().map(ToString::to_string).collect();
        format!("{id} is not in the book. Near it: {}", near.join(", "))
    }
}

impl Answer for Entry {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        table::of_members(self)
    }
    fn for_people(&self, _width: u16) -> String {
        let value = serde_json::to_value(self).unwrap_or_default();
        let mut text = String::new();
        lines_of(&value, 0, &mut text);
        text
    }
}

/// The members of a value one a line, what belongs together indented.
fn lines_of(value: &Value, depth: usize, text: &mut String) {
    let Value::Object(members) = value else { return };
    let width = members.keys().map(|key| key.chars().count()).max().unwrap_or(0);
    for (key, value) in members {
        let name = key.replace('_', " ");
        let indent = "  ".repeat(depth);
        match value {
            Value::Object(_) => {
                let _ = writeln!(text, "{indent}{name}");
                lines_of(value, depth + 1, text);
            }
            Value::Array(items) if items.iter().any(Value::is_object) => {
                let _ = writeln!(text, "{indent}{name}");
                for item in items {
                    let cells = item.as_object().into_iter().flatten();
                    let cells: Vec<String> =
                        cells.map(|(key, value)| format!("{} {}", key.replace('_', " "), table::cell(value))).collect();
                    let _ = writeln!(text, "{indent}  {}", cells.join(" · "));
                }
            }
            Value::Array(items) => {
                let cells: Vec<String> = items.iter().map(table::cell).collect();
                let arrow = if key == "stages" { " → " } else { " · " };
                let _ = writeln!(text, "{indent}{name:width$}  {}", cells.join(arrow));
            }
            other => {
                let _ = writeln!(text, "{indent}{name:width$}  {}", table::cell(other));
            }
        }
    }
}
