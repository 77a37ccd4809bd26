//! ASTM specifications for inch bolts. Unit: ksi, exact as printed. Rounding: as printed. A574, A325, A449 and A490 read
//! from published summaries, the others from memory.
//!
//! A574 alloy steel socket head cap screws; F3125 (2015, grade A325 and A490 structural bolts) with the older A325 and
//! A490 beside it; A449 general bolts and studs; A354 grades BC and BD; A193 grade B7 studs for high temperature, which
//! has no proof load. A307 states no yield strength and is therefore not here.

use super::citation::{Citation, Origin};
use super::size::{Size, SizeRange};
use super::strength::{Elongation, StrengthRow, StrengthTable, YieldKind, inch, over_inch};
use crate::units::StressUnit;

const fn row(
    class: &'static str,
    sizes: SizeRange,
    proof: Option<f64>,
    yield_: f64,
    tensile: f64,
    strain: f64,
) -> StrengthRow {
    let elongation = Some(Elongation::TestPiece(strain));
    StrengthRow { class, sizes, tensile, yield_, kind: YieldKind::Rp02, proof, elongation, origin: Origin::FromMemory }
}

const fn read(
    class: &'static str,
    sizes: SizeRange,
    proof: Option<f64>,
    yield_: f64,
    tensile: f64,
    strain: f64,
) -> StrengthRow {
    StrengthRow { origin: Origin::Read, ..row(class, sizes, proof, yield_, tensile, strain) }
}

const fn table(
    name: &'static str,
    title: &'static str,
    citation: Citation,
    rows: &'static [StrengthRow],
) -> StrengthTable {
    StrengthTable { name, title, citation, unit: StressUnit::KipPerSquareInch, rows }
}

/// Socket head cap screws.
pub(super) const A574: StrengthTable = table(
    "astm-a574",
    "Alloy steel socket head cap screws",
    Citation::new("ASTM A574", "2017", "Tables 2 and 3"),
    &[
        read("A574", SizeRange::new(Size::No(0), Size::In(0.5)), Some(140.0), 153.0, 180.0, 0.10),
        read("A574", over_inch(0.5, 4.0), Some(135.0), 153.0, 170.0, 0.10),
    ],
);

/// Structural bolts, edition in force: one strength in all sizes.
pub(super) const F3125: StrengthTable = table(
    "astm-f3125",
    "Structural bolts",
    Citation::new("ASTM F3125", "2015", "Table 4"),
    &[
        row("A325", inch(0.5, 1.5), Some(85.0), 92.0, 120.0, 0.14),
        row("A490", inch(0.5, 1.5), Some(120.0), 130.0, 150.0, 0.14),
    ],
);

/// Structural bolts before F3125: weaker over 1 in.
pub(super) const A325: StrengthTable = table(
    "astm-a325",
    "Structural bolts, before F3125",
    Citation::new("ASTM A325", "2014", "Tables 2 and 3"),
    &[
        read("A325", inch(0.5, 1.0), Some(85.0), 92.0, 120.0, 0.14),
        read("A325", over_inch(1.0, 1.5), Some(74.0), 81.0, 105.0, 0.14),
    ],
);

/// Alloy steel structural bolts before F3125.
pub(super) const A490: StrengthTable = table(
    "astm-a490",
    "Alloy steel structural bolts, before F3125",
    Citation::new("ASTM A490", "2014", "Tables 2 and 3"),
    &[read("A490", inch(0.5, 1.5), Some(120.0), 130.0, 150.0, 0.14)],
);

/// General bolts and studs.
pub(super) const A449: StrengthTable = table(
    "astm-a449",
    "Bolts and studs",
    Citation::new("ASTM A449", "2014", "Tables 2 and 3"),
    &[
        read("A449", inch(0.25, 1.0), Some(85.0), 92.0, 120.0, 0.14),
        read("A449", over_inch(1.0, 1.5), Some(74.0), 81.0, 105.0, 0.14),
        read("A449", over_inch(1.5, 3.0), Some(55.0), 58.0, 90.0, 0.14),
    ],
);

/// Alloy steel bolts and studs.
pub(super) const A354: StrengthTable = table(
    "astm-a354",
    "Alloy steel bolts and studs",
    Citation::new("ASTM A354", "2017", "Tables 2 and 3"),
    &[
        row("A354 BC", inch(0.25, 2.5), Some(105.0), 109.0, 125.0, 0.16),
        row("A354 BC", over_inch(2.5, 4.0), Some(95.0), 99.0, 115.0, 0.16),
        row("A354 BD", inch(0.25, 2.5), Some(120.0), 130.0, 150.0, 0.14),
        row("A354 BD", over_inch(2.5, 4.0), Some(105.0), 115.0, 140.0, 0.14),
    ],
);

/// Studs for high temperature.
pub(super) const A193: StrengthTable = table(
    "astm-a193",
    "Studs for high temperature",
    Citation::new("ASTM A193", "2016", "Table 2"),
    &[
        row("A193 B7", inch(0.25, 2.5), None, 105.0, 125.0, 0.16),
        row("A193 B7", over_inch(2.5, 4.0), None, 95.0, 115.0, 0.16),
    ],
);
