//! Hexalobular drives by number. Unit: mm. Rounding: as printed.
//!
//! ISO 10664:2014, Table 1: nominal `A` (across the lobes of the socket) and `B` (across the roots), T6 to T100. `A` was read
//! in two open part libraries that agree; for `B` they disagree by 3 to 6 % and both stand. T1 to T5, T7, T9 and T27 are not in
//! the standard but in every tool set: across the lobes of the tool, common practice, from memory.
//! External hexalobular heads have no open standard: across the lobes of the socket as tool tables print it (two figures
//! read, ±0.1 mm), common practice.

use super::citation::{Citation, Origin};
use super::table::{Cell, Table};
use crate::units::Length;
use Origin::{FromMemory, Read};

/// A hexalobular drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HexalobularDrive {
    /// The number: 30 for T30, 10 for E10.
    pub number: u8,
    /// Whether it is external (E) and not a socket (T).
    pub external: bool,
    /// `A`: across the lobes.
    pub across_lobes: Length,
    /// Where it stands.
    pub source: Citation,
}

/// Where the sockets stand.
const ISO_10664: Citation = Citation::new("ISO 10664", "2014", "Table 1");
/// Where the rest stands.
const PRACTICE: Citation = Citation::common_practice();

/// Number, `A`, `B` in two sources (0 where unknown), whether ISO 10664 has it.
type SocketRow = (u8, f64, f64, f64, bool);

/// Sockets, T1 to T100.
const SOCKETS: [SocketRow; 24] = [
    (1, 0.81, 0.0, 0.0, false),
    (2, 0.93, 0.0, 0.0, false),
    (3, 1.10, 0.0, 0.0, false),
    (4, 1.28, 0.0, 0.0, false),
    (5, 1.42, 0.0, 0.0, false),
    (6, 1.75, 1.27, 1.205, true),
    (7, 1.99, 0.0, 0.0, false),
    (8, 2.4, 1.75, 1.67, true),
    (9, 2.5, 0.0, 0.0, false),
    (10, 2.8, 2.05, 1.98, true),
    (15, 3.35, 2.4, 2.35, true),
    (20, 3.95, 2.85, 2.75, true),
    (25, 4.5, 3.25, 3.16, true),
    (27, 4.99, 0.0, 0.0, false),
    (30, 5.6, 4.05, 3.95, true),
    (40, 6.75, 4.85, 4.76, true),
    (45, 7.93, 5.64, 5.55, true),
    (50, 8.95, 6.45, 6.36, true),
    (55, 11.35, 8.05, 7.92, true),
    (60, 13.45, 9.6, 9.48, true),
    (70, 15.7, 11.2, 11.08, true),
    (80, 17.75, 12.8, 12.64, true),
    (90, 20.2, 14.4, 14.22, true),
    (100, 22.4, 16.0, 15.81, true),
];

/// External heads, E4 to E24: number and across the lobes.
const EXTERNAL: [(u8, f64); 12] = [
    (4, 3.8),
    (5, 4.7),
    (6, 5.6),
    (7, 6.1),
    (8, 7.4),
    (10, 9.3),
    (12, 11.1),
    (14, 12.8),
    (16, 14.7),
    (18, 16.6),
    (20, 18.4),
    (24, 22.1),
];

/// The drive of a number such as `T30`, `t 30`, `30` (a socket) or `E10`; `None` for a number that no table has.
#[must_use]
pub fn hexalobular_drive(number: &str) -> Option<HexalobularDrive> {
    let folded: String = number.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_uppercase();
    if let Some(digits) = folded.strip_prefix('E') {
        let number = digits.parse().ok()?;
        let (_, across) = EXTERNAL.iter().find(|row| row.0 == number)?;
        let across_lobes = Length::from_millimeters(*across);
        return Some(HexalobularDrive { number, external: true, across_lobes, source: PRACTICE.with(Read) });
    }
    let number = folded.strip_prefix('T').unwrap_or(&folded).parse().ok()?;
    let row = SOCKETS.iter().find(|row| row.0 == number)?;
    let source = if row.4 { ISO_10664.with(Read) } else { PRACTICE };
    Some(HexalobularDrive { number, external: false, across_lobes: Length::from_millimeters(row.1), source })
}

/// The two tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let columns = ["drive", "across_lobes", "across_roots", "across_roots_other_source", "in_iso_10664"];
    let mut sockets = Table::new("iso-10664", "Hexalobular sockets", ISO_10664, "mm", &columns)
        .note("Numbers that the standard does not have are common practice, no source.");
    for (number, a, b, other, standard) in SOCKETS {
        let roots = [b, other].map(|value| Cell::from((value > 0.0).then_some(value)));
        let [b, other] = roots;
        let origin = if standard { Read } else { FromMemory };
        let in_standard = if standard { "yes" } else { "no" };
        sockets.push(origin, [Cell::from(format!("T{number}")), a.into(), b, other, in_standard.into()]);
    }
    let mut external =
        Table::new("external-hexalobular", "External hexalobular heads", PRACTICE, "mm", &["drive", "across_lobes"]);
    for (number, across) in EXTERNAL {
        external.push(Read, [Cell::from(format!("E{number}")), across.into()]);
    }
    vec![sockets, external]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_leniently() {
        let across = |number: &str| hexalobular_drive(number).map(|drive| drive.across_lobes.millimeters());
        assert_eq!(across("T30"), Some(5.6));
        assert_eq!(across("t 30"), Some(5.6));
        assert_eq!(across("E10"), Some(9.3));
        assert_eq!(across("T31"), None);
    }

    #[test]
    fn larger_numbers_are_larger() {
        assert!(SOCKETS.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1));
        assert!(EXTERNAL.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1));
    }
}
