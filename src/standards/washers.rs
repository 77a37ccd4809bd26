//! Plain washers by thread size. Unit: mm. Rounding: as printed (nominal: least hole, greatest outside diameter).
//!
//! ISO 7089 (normal series) and ISO 7093-1 (large series), hole and outside diameter read from an open part library, nominal
//! thickness from memory (the library gives the greatest thickness), as are the holes of the large series from M20.

use super::citation::{Citation, Origin};
use super::table::{Cell, Table};
use crate::units::Length;

/// A plain washer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Washer {
    /// `d1`: the hole.
    pub hole: Length,
    /// `d2`: the outside diameter.
    pub outside: Length,
    /// `h`: the nominal thickness.
    pub thickness: Length,
    /// Where it stands.
    pub source: Citation,
}

/// The normal series.
const ISO_7089: Citation = Citation::new("ISO 7089", "2000", "Table 1").with(Origin::Read);
/// The large series.
const ISO_7093: Citation = Citation::new("ISO 7093-1", "2000", "Table 1").with(Origin::Read);

/// Thread diameter, hole, outside diameter, thickness.
type WasherRow = (f64, f64, f64, f64);

/// The plain washers for a nominal diameter: the normal one first, then the large one, where they exist.
#[must_use]
pub fn washers(diameter: Length) -> Vec<Washer> {
    let find = |rows: &[WasherRow], source| {
        let row = rows.iter().find(|row| (row.0 - diameter.millimeters()).abs() < 0.001)?;
        let [hole, outside, thickness] = [row.1, row.2, row.3].map(Length::from_millimeters);
        Some(Washer { hole, outside, thickness, source })
    };
    [find(&NORMAL, ISO_7089), find(&LARGE, ISO_7093)].into_iter().flatten().collect()
}

/// The two tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let table = |name, title, citation: Citation, rows: &[WasherRow]| {
        let mut table = Table::new(name, title, citation, "mm", &["size", "hole", "outside", "thickness"]);
        for &(size, hole, outside, thickness) in rows {
            table
                .push(citation.origin, [Cell::from(format!("M{size}")), hole.into(), outside.into(), thickness.into()]);
        }
        table
    };
    vec![
        table("iso-7089", "Plain washers, normal series", ISO_7089, &NORMAL),
        table("iso-7093", "Plain washers, large series", ISO_7093, &LARGE),
    ]
}

/// ISO 7089, Table 1 and 2.
const NORMAL: [WasherRow; 21] = [
    (1.6, 1.7, 4.0, 0.3),
    (2.0, 2.2, 5.0, 0.3),
    (2.5, 2.7, 6.0, 0.5),
    (3.0, 3.2, 7.0, 0.5),
    (3.5, 3.7, 8.0, 0.5),
    (4.0, 4.3, 9.0, 0.8),
    (5.0, 5.3, 10.0, 1.0),
    (6.0, 6.4, 12.0, 1.6),
    (8.0, 8.4, 16.0, 1.6),
    (10.0, 10.5, 20.0, 2.0),
    (12.0, 13.0, 24.0, 2.5),
    (14.0, 15.0, 28.0, 2.5),
    (16.0, 17.0, 30.0, 3.0),
    (18.0, 19.0, 34.0, 3.0),
    (20.0, 21.0, 37.0, 3.0),
    (22.0, 23.0, 39.0, 3.0),
    (24.0, 25.0, 44.0, 4.0),
    (27.0, 28.0, 50.0, 4.0),
    (30.0, 31.0, 56.0, 4.0),
    (33.0, 34.0, 60.0, 5.0),
    (36.0, 37.0, 66.0, 5.0),
];

/// ISO 7093-1, Table 1.
const LARGE: [WasherRow; 15] = [
    (2.5, 2.7, 8.0, 0.8),
    (3.0, 3.2, 9.0, 0.8),
    (3.5, 3.7, 11.0, 0.8),
    (4.0, 4.3, 12.0, 1.0),
    (5.0, 5.3, 15.0, 1.0),
    (6.0, 6.4, 18.0, 1.6),
    (8.0, 8.4, 24.0, 2.0),
    (10.0, 10.5, 30.0, 2.5),
    (12.0, 13.0, 37.0, 3.0),
    (14.0, 15.0, 44.0, 3.0),
    (16.0, 17.0, 50.0, 3.0),
    (20.0, 21.0, 60.0, 4.0),
    (24.0, 25.0, 72.0, 5.0),
    (30.0, 33.0, 92.0, 6.0),
    (36.0, 39.0, 110.0, 8.0),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn washers_cover_their_bolt() {
        for row in NORMAL.iter().chain(&LARGE) {
            assert!(row.0 < row.1 && 1.5 * row.1 < row.2 && row.3 < row.0, "M{}", row.0);
        }
        assert_eq!(
            washers(Length::from_millimeters(8.0)).iter().map(|w| w.outside.millimeters()).collect::<Vec<_>>(),
            [16.0, 24.0]
        );
    }
}
