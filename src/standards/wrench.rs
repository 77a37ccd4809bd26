//! Torque wrenches: permitted deviation (ISO 6789-1:2017, from memory; ±4 and ±6 % also read in a tool manual), and what
//! workshops have: usual wrench ranges and usual angle steps (common practice, no source). Unit: %, N·m, degrees.

use super::citation::{Citation, Origin};
use super::table::{Cell, Table};
use crate::units::{Angle, Torque};

/// Kinds of hand torque tools.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WrenchKind {
    /// Type I: shows the torque (bending beam, dial, electronic).
    Indicating,
    /// Type II, classes A to C: signals at a set torque (click wrench).
    Setting,
    /// Screwdrivers of either type.
    Screwdriver,
}

/// Where the deviations stand.
const ISO_6789: Citation = Citation::new("ISO 6789-1", "2017", "Table 2");
/// Up to this torque the wider deviation is permitted.
const SMALL: f64 = 10.0;

/// Kind, permitted deviation in % up to 10 N·m and above.
const DEVIATIONS: [(WrenchKind, &str, f64, f64); 3] = [
    (WrenchKind::Indicating, "indicating wrench", 6.0, 4.0),
    (WrenchKind::Setting, "setting wrench", 6.0, 4.0),
    (WrenchKind::Screwdriver, "screwdriver", 6.0, 6.0),
];

/// The share of its greatest torque from which a wrench may be used (ISO 6789:2003; since 2017 the lowest marked value).
pub const WRENCH_USE_FROM: f64 = 0.20;

/// The permitted deviation as a fraction, for a tool whose greatest torque is given.
#[must_use]
pub fn wrench_deviation(kind: WrenchKind, greatest: Torque) -> (f64, Citation) {
    let row = DEVIATIONS.iter().find(|row| row.0 == kind);
    let (_, _, small, large) = *row.unwrap_or_else(|| unreachable!("every kind has a row, as a test says"));
    let percent = if greatest.newton_meters() <= SMALL { small } else { large };
    (percent / 100.0, ISO_6789)
}

/// Wrench ranges that workshops have, in N·m, each from a fifth of its greatest torque or a little below.
const RANGES: [(f64, f64); 8] =
    [(1.0, 5.0), (2.0, 10.0), (5.0, 25.0), (10.0, 60.0), (20.0, 100.0), (40.0, 200.0), (60.0, 340.0), (200.0, 1000.0)];

/// The usual wrench ranges, smallest first (common practice, no source).
pub fn workshop_wrenches() -> impl Iterator<Item = (Torque, Torque)> {
    RANGES.into_iter().map(|(from, to)| (Torque::from_newton_meters(from), Torque::from_newton_meters(to)))
}

/// Angle steps that instructions use, in degrees.
const ANGLES: [f64; 14] = [15.0, 30.0, 45.0, 50.0, 60.0, 70.0, 75.0, 80.0, 90.0, 105.0, 120.0, 135.0, 150.0, 180.0];

/// The usual angle steps of tightening, smallest first (common practice, no source). Larger turns are split.
pub fn workshop_angles() -> impl Iterator<Item = Angle> {
    ANGLES.into_iter().map(Angle::from_degrees)
}

/// The tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let columns = ["kind", "up_to_10_nm_percent", "above_10_nm_percent"];
    let mut deviations = Table::new("iso-6789", "Permitted deviation of torque wrenches", ISO_6789, "%", &columns);
    for (_, kind, small, large) in DEVIATIONS {
        deviations.push(Origin::FromMemory, [Cell::from(kind), small.into(), large.into()]);
    }
    let practice = Citation::common_practice();
    let mut ranges =
        Table::new("workshop-wrenches", "Usual ranges of torque wrenches", practice, "N·m", &["from", "to"]);
    for (from, to) in RANGES {
        ranges.push(Origin::FromMemory, [Cell::from(from), to.into()]);
    }
    let mut angles = Table::new("workshop-angles", "Usual angle steps", practice, "°", &["angle"]);
    for angle in ANGLES {
        angles.push(Origin::FromMemory, [Cell::from(angle)]);
    }
    vec![deviations, ranges, angles]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_wrenches_may_deviate_more() {
        let deviation = |kind, torque| wrench_deviation(kind, Torque::from_newton_meters(torque)).0;
        for kind in [WrenchKind::Indicating, WrenchKind::Setting, WrenchKind::Screwdriver] {
            assert!((deviation(kind, 10.0) - 0.06).abs() < 1e-9);
        }
        assert!((deviation(WrenchKind::Setting, 100.0) - 0.04).abs() < 1e-9);
        assert!((deviation(WrenchKind::Screwdriver, 12.0) - 0.06).abs() < 1e-9);
    }
}
