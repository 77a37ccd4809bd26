//! Shear strength ÷ tensile strength, VDI 2230-1:2003 and 2015. Unit: none. Rounding: as printed.
//!
//! Two tables of the guideline: bolts by property class, materials by group. All rows from memory.
//! A range stands where the guideline gives one. Classes that the guideline does not list take the row of the
//! listed class next in tensile strength and are marked as computed.

use super::citation::{Citation, Origin};
use crate::units::Stress;

/// Shear strength ÷ tensile strength, as a range; both ends are the same where one value is stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShearRatio {
    /// The lower end, for judging on the safe side.
    pub low: f64,
    /// The upper end.
    pub high: f64,
    /// Where the ratio stands.
    pub source: Citation,
}

/// A row of either table.
pub struct ShearRatioRow {
    /// The property class or the material group.
    pub what: &'static str,
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// The table by property class.
pub const BY_CLASS: Citation = Citation::new("VDI 2230-1", "2015", "Table 5.5/2");
/// The table by material group.
pub const BY_GROUP: Citation = Citation::new("VDI 2230-1", "2015", "Table 7 (shear strength ratios)");

const fn row(what: &'static str, low: f64, high: f64) -> ShearRatioRow {
    ShearRatioRow { what, low, high }
}

/// Bolts of ISO 898-1.
pub const CLASSES: [ShearRatioRow; 5] = [
    row("4.6", 0.70, 0.70),
    row("5.6", 0.70, 0.70),
    row("8.8", 0.65, 0.65),
    row("10.9", 0.62, 0.62),
    row("12.9", 0.60, 0.60),
];

/// Materials.
pub const GROUPS: [ShearRatioRow; 6] = [
    row("heat-treatable steel", 0.60, 0.65),
    row("austenitic, solution annealed", 0.80, 0.80),
    row("austenitic, cold worked F60-F90", 0.65, 0.75),
    row("grey cast iron GJL", 1.15, 1.15),
    row("aluminium alloys", 0.70, 0.70),
    row("titanium alloys", 0.60, 0.60),
];

/// The ratio for a class of the strength tables, by its name or else by its tensile strength.
pub(super) fn shear_ratio(class: &str, tensile: Stress) -> ShearRatio {
    let made = |row: &ShearRatioRow, source| ShearRatio { low: row.low, high: row.high, source };
    if let Some(row) = CLASSES.iter().find(|row| row.what == class) {
        return made(row, BY_CLASS);
    }
    let [steel, annealed, cold_worked, ..] = &GROUPS;
    match class.as_bytes() {
        [b'A', b'1'..=b'8', b'-', b'5', b'0'] => made(annealed, BY_GROUP),
        [b'A' | b'D', b'1'..=b'8', b'-', ..] => made(cold_worked, BY_GROUP),
        [b'C' | b'F', b'1'..=b'4', b'-', ..] => made(steel, BY_GROUP),
        _ => {
            // Tensile strengths of the five listed classes, rising with the rows.
            let next = [400.0, 500.0, 800.0, 1040.0, 1220.0].iter().position(|listed| tensile.megapascals() <= *listed);
            made(&CLASSES[next.unwrap_or(CLASSES.len() - 1)], BY_CLASS.with(Origin::Computed))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unlisted_classes_take_the_next_stronger() {
        let ratio = shear_ratio("6.8", Stress::from_megapascals(600.0));
        assert_eq!((ratio.low, ratio.source.origin), (0.65, Origin::Computed));
        assert!((shear_ratio("14.9", Stress::from_megapascals(1400.0)).low - 0.60).abs() < 1e-12);
        assert!((shear_ratio("A2-50", Stress::from_megapascals(500.0)).low - 0.80).abs() < 1e-12);
    }
}
