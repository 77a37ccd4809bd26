//! `thread`: the geometry of a thread, from the tables.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::Table;
use crate::sheets::ThreadSheet;
use crate::thread::Designation;
use serde::Serialize;

/// Geometry and tolerances of a thread, from the tables; no store needed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The designation: M10, M10x1.25, "3/8-16 UNC", "#10-24 UNC-2A".
    #[arg(value_name = "DESIGNATION")]
    designation: String,
}

/// Shows the sheet of a thread; the answer is no where no standard has it.
///
/// # Errors
/// If the designation cannot be read or no standard has the thread.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let designation: Designation = arguments.designation.parse().map_err(Failure::usage)?;
    let sheet = ThreadSheet::of(&designation);
    output.show(&sheet)?;
    if sheet.is_standard {
        return Ok(());
    }
    let nearest =
        if sheet.nearest.is_empty() { String::new() } else { format!(" Nearest: {}.", sheet.nearest.join(", ")) };
    Err(Failure::no(Some(format!("no standard known here has {}.{nearest}", sheet.designation))))
}

impl Answer for ThreadSheet {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = super::table::of_members_but(self, &["limits"]);
        for limits in &self.limits {
            let spans = [
                ("major", &limits.major_diameter_mm),
                ("pitch", &limits.pitch_diameter_mm),
                ("minor", &limits.minor_diameter_mm),
            ];
            for (name, span) in spans {
                let text = |size: Option<f64>| size.map_or_else(|| "not limited".to_owned(), |size| size.to_string());
                table.row([
                    format!("{name}_diameter_mm_{}", limits.thread_class),
                    format!("{} to {}", text(span.min), text(span.max)),
                ]);
            }
        }
        table
    }
}
