//! `class`: strengths and loads of a property class, from the tables.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::Table;
use crate::sheets::ClassSheet;
use crate::standards::PropertyClass;
use crate::thread::Designation;
use serde::Serialize;

/// Strengths and loads of a property class, from the tables; no store needed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The property class: 8.8, 10.9, A2-70, "grade 5", A574.
    #[arg(value_name = "CLASS")]
    class: String,
    /// The thread to give the loads for; without it, every range of sizes is shown.
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
        let hint = if class.is_known() || nearest.is_empty() {
            String::new()
        } else {
            format!(". Nearest: {}", nearest.join(", "))
        };
        Failure::no(Some(format!("{reason}{hint}")))
    })?;
    output.show(&sheet)
}

impl Answer for ClassSheet {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.rows().iter().filter_map(|row| serde_json::to_value(row).ok()).collect()
    }
    fn table(&self) -> Table {
        match self.rows() {
            [row] => super::table::of_members(row),
            rows => super::table::of_rows(rows),
        }
    }
}
