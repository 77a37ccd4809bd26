//! Clearance holes for bolts. Unit: mm (ISO), in (ASME). Rounding: as printed.
//!
//! ISO 273:1979: fine, medium and coarse series; fine and most others read from an open part library, whose medium and coarse
//! holes of M12, M14 and M16 follow ASME B18.2.8 instead; those three, M4.5 and M1.8 are from memory.
//! ASME B18.2.8:1999, Table 1a: least hole of close, normal and loose fit; the loose column was read, the others are
//! the drill sizes read, as decimal fractions from memory. 9/16 in is not in that table.

use super::citation::{Citation, Origin};
use super::size::Size::{self, In, M, No};
use super::table::{Cell, Table};
use crate::units::{Length, LengthUnit, Unit};
use Origin::{FromMemory, Read};

/// How much room a hole leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HoleFit {
    /// ISO 273 fine, ASME close.
    Fine,
    /// ISO 273 medium, ASME normal: what is drilled unless something else is said.
    Medium,
    /// ISO 273 coarse, ASME loose.
    Coarse,
}

/// The clearance holes for one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holes {
    /// Fine or close.
    pub fine: Length,
    /// Medium or normal.
    pub medium: Length,
    /// Coarse or loose.
    pub coarse: Length,
    /// Where they stand.
    pub source: Citation,
}

impl Holes {
    /// The hole of a fit.
    #[must_use]
    pub fn of(&self, fit: HoleFit) -> Length {
        match fit {
            HoleFit::Fine => self.fine,
            HoleFit::Medium => self.medium,
            HoleFit::Coarse => self.coarse,
        }
    }
}

/// Where the metric holes stand.
const ISO_273: Citation = Citation::new("ISO 273", "1979", "Table 1");
/// Where the inch holes stand.
const ASME: Citation = Citation::new("ASME B18.2.8", "1999", "Table 1a");

/// Size, fine, medium, coarse, origin; the last three in the unit of the table.
type HoleRow = (Size, f64, f64, f64, Origin);

/// The clearance holes for a nominal diameter; `None` for a size that no table has.
#[must_use]
pub fn holes(diameter: Length) -> Option<Holes> {
    let find = |rows: &[HoleRow], unit: LengthUnit, citation: Citation| {
        let length = |value: f64| Length::from_millimeters(value * unit.in_base());
        rows.iter().find(|row| row.0.is(diameter)).map(|&(_, fine, medium, coarse, origin)| Holes {
            fine: length(fine),
            medium: length(medium),
            coarse: length(coarse),
            source: citation.with(origin),
        })
    };
    find(&METRIC, LengthUnit::Millimeter, ISO_273).or_else(|| find(&INCH, LengthUnit::Inch, ASME))
}

/// The two tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let table = |name, title, citation, unit, columns: &[&'static str], rows: &[HoleRow]| {
        let mut table = Table::new(name, title, citation, unit, columns);
        for &(size, fine, medium, coarse, origin) in rows {
            table.push(origin, [Cell::from(size.to_string()), fine.into(), medium.into(), coarse.into()]);
        }
        table
    };
    vec![
        table("iso-273", "Clearance holes", ISO_273, "mm", &["size", "fine", "medium", "coarse"], &METRIC),
        table("asme-b18-2-8", "Clearance holes, inch", ASME, "in", &["size", "close", "normal", "loose"], &INCH),
    ]
}

/// ISO 273, Table 1.
const METRIC: [HoleRow; 35] = [
    (M(1.0), 1.1, 1.2, 1.3, Read),
    (M(1.2), 1.3, 1.4, 1.5, Read),
    (M(1.4), 1.5, 1.6, 1.8, Read),
    (M(1.6), 1.7, 1.8, 2.0, Read),
    (M(1.8), 2.0, 2.1, 2.2, FromMemory),
    (M(2.0), 2.2, 2.4, 2.6, Read),
    (M(2.5), 2.7, 2.9, 3.1, Read),
    (M(3.0), 3.2, 3.4, 3.6, Read),
    (M(3.5), 3.7, 3.9, 4.2, Read),
    (M(4.0), 4.3, 4.5, 4.8, Read),
    (M(4.5), 4.8, 5.0, 5.3, FromMemory),
    (M(5.0), 5.3, 5.5, 5.8, Read),
    (M(6.0), 6.4, 6.6, 7.0, Read),
    (M(7.0), 7.4, 7.6, 8.0, Read),
    (M(8.0), 8.4, 9.0, 10.0, Read),
    (M(10.0), 10.5, 11.0, 12.0, Read),
    (M(12.0), 13.0, 13.5, 14.5, FromMemory),
    (M(14.0), 15.0, 15.5, 16.5, FromMemory),
    (M(16.0), 17.0, 17.5, 18.5, FromMemory),
    (M(18.0), 19.0, 20.0, 21.0, Read),
    (M(20.0), 21.0, 22.0, 24.0, Read),
    (M(22.0), 23.0, 24.0, 26.0, Read),
    (M(24.0), 25.0, 26.0, 28.0, Read),
    (M(27.0), 28.0, 30.0, 32.0, Read),
    (M(30.0), 31.0, 33.0, 35.0, Read),
    (M(33.0), 34.0, 36.0, 38.0, Read),
    (M(36.0), 37.0, 39.0, 42.0, Read),
    (M(39.0), 40.0, 42.0, 45.0, Read),
    (M(42.0), 43.0, 45.0, 48.0, Read),
    (M(45.0), 46.0, 48.0, 52.0, Read),
    (M(48.0), 50.0, 52.0, 56.0, Read),
    (M(52.0), 54.0, 56.0, 62.0, Read),
    (M(56.0), 58.0, 62.0, 66.0, Read),
    (M(60.0), 62.0, 66.0, 70.0, Read),
    (M(64.0), 66.0, 70.0, 74.0, Read),
];

/// ASME B18.2.8, Table 1a.
const INCH: [HoleRow; 22] = [
    (No(0), 0.067, 0.076, 0.094, FromMemory),
    (No(1), 0.081, 0.089, 0.104, FromMemory),
    (No(2), 0.094, 0.102, 0.116, FromMemory),
    (No(3), 0.106, 0.116, 0.128, FromMemory),
    (No(4), 0.12, 0.128, 0.144, FromMemory),
    (No(5), 0.141, 0.156, 0.172, FromMemory),
    (No(6), 0.154, 0.17, 0.185, FromMemory),
    (No(8), 0.18, 0.196, 0.213, FromMemory),
    (No(10), 0.206, 0.221, 0.238, FromMemory),
    (In(0.25), 0.266, 0.281, 0.297, FromMemory),
    (In(0.3125), 0.328, 0.344, 0.359, FromMemory),
    (In(0.375), 0.391, 0.406, 0.422, FromMemory),
    (In(0.4375), 0.453, 0.469, 0.484, FromMemory),
    (In(0.5), 0.531, 0.562, 0.609, FromMemory),
    (In(0.625), 0.656, 0.688, 0.734, FromMemory),
    (In(0.75), 0.781, 0.812, 0.906, FromMemory),
    (In(0.875), 0.906, 0.938, 1.031, FromMemory),
    (In(1.0), 1.031, 1.094, 1.156, FromMemory),
    (In(1.125), 1.156, 1.219, 1.312, FromMemory),
    (In(1.25), 1.281, 1.344, 1.438, FromMemory),
    (In(1.375), 1.438, 1.5, 1.609, FromMemory),
    (In(1.5), 1.562, 1.625, 1.734, FromMemory),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holes_widen_with_fit_and_size() {
        for rows in [&METRIC[..], &INCH[..]] {
            for row in rows {
                assert!(row.1 < row.2 && row.2 < row.3, "{}", row.0);
            }
            for pair in rows.windows(2) {
                assert!(pair[0].0.diameter() < pair[1].0.diameter() && pair[0].2 < pair[1].2, "{}", pair[1].0);
            }
        }
        let medium = holes(Length::from_millimeters(16.0)).map(|holes| holes.of(HoleFit::Medium).millimeters());
        assert_eq!(medium, Some(17.5));
    }
}
