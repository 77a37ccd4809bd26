//! `tables`: the published tables themselves.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::{self, Table};
use crate::record::did_you_mean;
use crate::standards;
use serde::Serialize;

/// The published tables that the book is checked against; without a name, the list of them. No store needed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The name of a table, such as iso-898-1-proof-loads.
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Shows a table in the order of its standard, or the list of tables.
///
/// # Errors
/// If no table has this name.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let Some(name) = &arguments.name else { return output.show(&TableList) };
    if let Some(table) = standards::table(name) {
        return output.show(&table);
    }
    let tables = standards::tables();
    let names: Vec<&str> = tables.iter().map(|table| table.name).collect();
    let hint = did_you_mean(name, &names).map(|hint| format!(" {hint}?")).unwrap_or_default();
    Err(Failure::usage(format!("no table is called \"{name}\".{hint} \"clampbook tables\" lists them")))
}

impl Answer for standards::Table {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        let row = |row: &standards::Row| {
            let cells = row.cells.iter().map(|cell| serde_json::to_value(cell).unwrap_or_default());
            let mut members: serde_json::Map<_, _> =
                self.columns.iter().map(|column| (*column).to_owned()).zip(cells).collect();
            members.insert("origin".to_owned(), serde_json::to_value(row.origin).unwrap_or_default());
            members.into()
        };
        self.rows.iter().map(row).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.lines())
    }
    fn for_people(&self, width: u16) -> String {
        let note = if self.note.is_empty() { String::new() } else { format!("{}\n", self.note) };
        let edition = if self.edition.is_empty() { String::new() } else { format!(":{}", self.edition) };
        let table = if self.table.is_empty() { String::new() } else { format!(", {}", self.table) };
        format!(
            "{}\n{}{edition}{table}; {}\n{note}\n{}",
            self.title,
            self.standard,
            self.unit,
            self.table().to_terminal(width)
        )
    }
}

/// The list of tables.
struct TableList;

impl TableList {
    fn items() -> Vec<serde_json::Value> {
        let item = |table: &standards::Table| {
            let origins = table.origins();
            serde_json::json!({
                "name": table.name, "title": table.title, "standard": table.standard, "edition": table.edition,
                "table": table.table, "unit": table.unit, "rows": table.rows.len(), "read": origins.read,
                "from_memory": origins.from_memory, "computed": origins.computed,
            })
        };
        standards::tables().iter().map(item).collect()
    }
}

impl Answer for TableList {
    fn json(&self) -> impl Serialize {
        serde_json::json!({ "items": Self::items() })
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        Self::items()
    }
    fn table(&self) -> Table {
        table::of_rows(&Self::items())
    }
}
