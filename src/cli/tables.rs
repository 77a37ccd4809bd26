//! `tables`: the published tables themselves.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::{self, Table};
use super::{layout, terminal};
use crate::record::did_you_mean;
use crate::standards;
use serde::Serialize;

/// The published tables that the book is checked against.
///
/// Without a name, the list of them. No store is needed.
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
    fn for_people(&self, width: usize) -> String {
        let title = format!("{} ({})", self.title, place_of(self));
        let mut text = terminal::heading(&layout::paragraph(&title, width));
        if !self.unit.is_empty() {
            text += &format!("in {}\n", self.unit);
        }
        if !self.note.is_empty() {
            text += &layout::paragraph(self.note, width);
        }
        format!("{text}\n{}", self.table().to_terminal(width))
    }
}

/// Where a table stands: `ISO 898-1:2013, Table 3`.
fn place_of(table: &standards::Table) -> String {
    let edition = if table.edition.is_empty() { String::new() } else { format!(":{}", table.edition) };
    let number = if table.table.is_empty() { String::new() } else { format!(", {}", table.table) };
    format!("{}{edition}{number}", table.standard)
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
    fn for_people(&self, width: usize) -> String {
        let mut shown = Table::new(["name", "title", "standard", "rows", "read"]);
        for table in standards::tables() {
            let [rows, read] = [table.rows.len(), table.origins().read].map(|count| count.to_string());
            shown.row([table.name.to_owned(), table.title.to_owned(), place_of(&table), rows, read]);
        }
        let caveat = "\"read\" counts the rows that were read from a page that prints them; the others come from memory \
                      or are computed, as each row says.";
        shown.to_terminal(width) + "\n" + &layout::paragraph(caveat, width)
    }
}
