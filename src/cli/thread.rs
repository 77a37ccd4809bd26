//! `thread`: the geometry of a thread, from the tables.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::said::text;
use super::table::Table;
use super::words;
use crate::sheets::ThreadSheet;
use crate::thread::Designation;
use serde::Serialize;
use serde_json::Value;

/// Geometry and tolerances of a thread.
///
/// From the tables; no store is needed. A thread that no standard has is shown with the nearest that exist.
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
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = super::table::of_members_but(self, &["limits"]);
        for limits in said_limits(self) {
            for name in DIAMETERS {
                table.row([format!("{name}_{}", text(&limits, "thread_class")), extent(&limits[name])]);
            }
        }
        table
    }
    fn for_people(&self, width: usize) -> String {
        let mut value = serde_json::to_value(self).unwrap_or_default();
        let Some(members) = value.as_object_mut() else { return String::new() };
        members.shift_remove("limits");
        let mut out = words::lines_of(members, width);
        if self.limits.is_empty() {
            return out;
        }
        let mut table = Table::new(std::iter::once("limits").chain(DIAMETERS));
        for limits in said_limits(self) {
            let class = text(&limits, "thread_class").to_owned();
            table.row(std::iter::once(class).chain(DIAMETERS.map(|name| extent(&limits[name]))));
        }
        out += &format!("\n{}", table.to_terminal(width));
        let mut sources: Vec<&str> = self.limits.iter().map(|limits| limits.source).collect();
        sources.dedup();
        out + &super::layout::fill(&format!("limits before coating; {}", sources.join("; ")), width, "", "  ")
    }
}

/// The diameters that limits are shown of.
const DIAMETERS: [&str; 3] = ["major_diameter_mm", "pitch_diameter_mm", "minor_diameter_mm"];

fn said_limits(sheet: &ThreadSheet) -> Vec<Value> {
    sheet.limits.iter().filter_map(|limits| serde_json::to_value(limits).ok()).collect()
}

fn extent(span: &Value) -> String {
    let end = |name: &str| span.get(name).map(super::table::cell);
    match (end("min"), end("max")) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("from {min}"),
        (None, Some(max)) => format!("up to {max}"),
        (None, None) => "not limited".to_owned(),
    }
}
