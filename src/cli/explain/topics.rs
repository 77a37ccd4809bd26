//! Pages that belong to no single rule or field.

use crate::cli::output::Answer;
use crate::cli::table::{self, Table};
use crate::cli::{layout, terminal};
use serde::Serialize;
use serde_json::{Value, json};

/// Whether a name means the stage notation.
#[must_use]
pub fn is_stages(name: &str) -> bool {
    matches!(name, "stage" | "stage-notation" | "notation")
}

/// The stage notation: what is written, and what it means.
const NOTATION: &[(&str, &str)] = &[
    ("hand", "by hand until seated"),
    ("20 N·m", "to a torque"),
    ("20-25 N·m", "to a torque within a range"),
    ("20 ± 2 N·m", "to a torque with a tolerance"),
    ("20 N·m ± 10 %", "to a torque with a tolerance in per cent"),
    ("+ 90°", "further by an angle"),
    ("+ 90 ± 5°", "further by an angle with a tolerance"),
    ("20 N·m + 90° + 45°", "to a torque, then the turns, one fastener at a time"),
    ("hand + 90°", "by hand until seated, then the turn"),
    ("back off 180°", "loosen by an angle"),
    ("back off", "loosen fully"),
    ("check ≥ 60 N·m", "after the last stage the torque must have reached this"),
    ("skip", "not touched in this pass"),
];

/// Ways of writing that are read, and the one way that is printed.
const LENIENT: &[(&str, &str)] =
    &[("20Nm+90deg", "20 N·m + 90°"), ("15 ft-lb", "15 lbf·ft"), ("8,5 N·m", "8.5 N·m"), ("20 +/- 2 Nm", "20 ± 2 N·m")];

/// The page of the stage notation.
pub struct Notation;

impl Answer for Notation {
    fn json(&self) -> impl Serialize {
        json!({ "items": self.lines() })
    }
    fn lines(&self) -> Vec<Value> {
        NOTATION.iter().map(|(written, meaning)| json!({ "written": written, "meaning": meaning })).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.lines())
    }
    fn for_people(&self, width: usize) -> String {
        let mut text = terminal::heading("stages are written") + "\n";
        let widest = NOTATION.iter().map(|(written, _)| layout::length(written)).max().unwrap_or(0);
        for (written, meaning) in NOTATION {
            let rest = " ".repeat(widest + 4);
            text += &layout::fill(meaning, width, &format!("  {written:widest$}  "), &rest);
        }
        let read: Vec<String> = LENIENT.iter().map(|(read, printed)| format!("{read} as {printed}")).collect();
        let units = "Units are N·m, lbf·ft, lbf·in, kgf·m, kgf·cm and cN·m; a torque without a unit is refused.";
        text += &layout::fill(
            &format!("{units} Much is read that is printed otherwise: {}.", read.join(", ")),
            width,
            "",
            "",
        );
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Stage;

    #[test]
    fn what_is_shown_is_read_and_printed_as_shown() {
        for (written, _) in NOTATION {
            assert_eq!(written.parse::<Stage>().unwrap().to_string(), *written);
        }
        for (read, printed) in LENIENT {
            assert_eq!(read.parse::<Stage>().unwrap().to_string(), *printed);
        }
        assert!("20".parse::<Stage>().is_err());
    }
}
