//! `class`: strengths and loads of a property class, from the tables.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::{self, Table};
use super::{terminal, words};
use crate::sheets::ClassSheet;
use crate::standards::PropertyClass;
use crate::thread::Designation;
use serde::Serialize;
use serde_json::Value;

/// Strengths and loads of a property class.
///
/// From the tables; no store is needed. Without --thread, every range of sizes that the standard distinguishes.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The property class: 8.8, 10.9, A2-70, "grade 5", A574.
    #[arg(value_name = "CLASS")]
    class: String,
    /// The thread to give the loads for.
    #[arg(long, value_name = "DESIGNATION")]
    thread: Option<String>,
}

/// Shows the sheet of a property class.
///
/// # Errors
/// If the class or the thread cannot be read, or no standard has the class in this size.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let class: PropertyClass = arguments.class.parse().map_err(Failure::usage)?;
    let designation: Option<Designation> =
        arguments.thread.as_ref().map(|text| text.parse()).transpose().map_err(Failure::usage)?;
    let thread = designation.as_ref().map(|designation| &designation.thread);
    if let Some(thread) = thread.filter(|thread| thread.geometry().is_none()) {
        return Err(Failure::usage(format!(
            "the size of \"{thread}\" is not known. Write it like M10 or \"3/8-16 UNC\"."
        )));
    }
    let sheet = ClassSheet::of(&class, thread).map_err(|reason| {
        let nearest: Vec<String> = class.nearest().iter().map(ToString::to_string).collect();
        let is_lost = class.is_known() || nearest.is_empty();
        let hint = if is_lost { String::new() } else { format!(". Nearest: {}", nearest.join(", ")) };
        Failure::no(Some(format!("{reason}{hint}")))
    })?;
    output.show(&sheet)
}

impl Answer for ClassSheet {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        self.rows().iter().filter_map(|row| serde_json::to_value(row).ok()).collect()
    }
    fn table(&self) -> Table {
        match self.rows() {
            [row] => table::of_members(row),
            rows => table::of_rows(rows),
        }
    }
    fn for_people(&self, width: usize) -> String {
        let mut rows = self.lines();
        if let [Value::Object(row)] = rows.as_slice() {
            return words::lines_of(row, width);
        }
        // What is the same in every row is said once, above.
        let said_once = |rows: &mut Vec<Value>, name: &str| {
            let first = rows.first().and_then(|row| row.get(name)).cloned()?;
            if rows.iter().any(|row| row.get(name) != Some(&first)) {
                return None;
            }
            for row in rows.iter_mut().filter_map(Value::as_object_mut) {
                row.shift_remove(name);
            }
            Some(table::cell(&first))
        };
        let class = said_once(&mut rows, "property_class").unwrap_or_default();
        let source = said_once(&mut rows, "source").map(|source| format!(", {source}")).unwrap_or_default();
        let title = terminal::heading(&format!("{class}{source}"));
        format!("{title}\n\n{}", table::of_rows(&rows).to_terminal(width))
    }
}
