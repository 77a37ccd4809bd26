//! ISO 898-1: bolts, screws and studs of carbon and alloy steel. Unit: MPa (N/mm²). Rounding: as printed.
//!
//! Edition 2013, Tables 3 (mechanical properties) and 4 to 7 (loads, in `iso898_1_loads`). Strengths of all classes
//! but 5.8 were read from published summaries of the table, 5.8 twice; hardness, elongation, impact from memory.
//! Edition 1999 adds class 3.6, ISO/R 898-1:1968 the classes 6.6, 6.9 and 14.9, all withdrawn and from memory:
//! old drawings still name them.

use super::citation::{Citation, Origin};
use super::size::{Size, SizeRange};
use super::strength::{Elongation, StrengthRow, StrengthTable, YieldKind, metric};
use super::table::{Cell, Table};
use crate::units::StressUnit;
use Elongation::{FullSize, TestPiece};
use Origin::{FromMemory, Read};
use YieldKind::{ReL, Rp02, Rpf};

/// M1.6 to M39.
const ALL: SizeRange = metric(1.6, 39.0);
/// Up to M16.
const UP_TO_16: SizeRange = metric(1.6, 16.0);
/// Over M16.
const OVER_16: SizeRange = SizeRange::over(Size::M(16.0), Size::M(39.0));

const fn row(
    class: &'static str,
    sizes: SizeRange,
    tensile: f64,
    (kind, yield_): (YieldKind, f64),
    proof: Option<f64>,
    elongation: Elongation,
    origin: Origin,
) -> StrengthRow {
    StrengthRow { class, sizes, tensile, yield_, kind, proof, elongation: Some(elongation), origin }
}

/// Edition in force: Table 3, least values.
pub(super) const EDITION_2013: StrengthTable = StrengthTable {
    name: "iso-898-1",
    title: "Property classes of bolts",
    citation: Citation::new("ISO 898-1", "2013", "Table 3"),
    unit: StressUnit::Megapascal,
    rows: &[
        row("4.6", ALL, 400.0, (ReL, 240.0), Some(225.0), TestPiece(0.22), Read),
        row("4.8", ALL, 420.0, (Rpf, 340.0), Some(310.0), FullSize(0.24), Read),
        row("5.6", ALL, 500.0, (ReL, 300.0), Some(280.0), TestPiece(0.20), Read),
        row("5.8", ALL, 520.0, (Rpf, 420.0), Some(380.0), FullSize(0.22), Read),
        row("6.8", ALL, 600.0, (Rpf, 480.0), Some(440.0), FullSize(0.20), Read),
        row("8.8", UP_TO_16, 800.0, (Rp02, 640.0), Some(580.0), TestPiece(0.12), Read),
        row("8.8", OVER_16, 830.0, (Rp02, 660.0), Some(600.0), TestPiece(0.12), Read),
        row("9.8", UP_TO_16, 900.0, (Rp02, 720.0), Some(650.0), TestPiece(0.10), Read),
        row("10.9", ALL, 1040.0, (Rp02, 940.0), Some(830.0), TestPiece(0.09), Read),
        row("12.9", ALL, 1220.0, (Rp02, 1100.0), Some(970.0), TestPiece(0.08), Read),
    ],
};

/// Edition 1999: what the edition in force no longer has.
pub(super) const EDITION_1999: StrengthTable = StrengthTable {
    name: "iso-898-1-1999",
    title: "Property classes of bolts, edition 1999, since withdrawn",
    citation: Citation::new("ISO 898-1", "1999", "Table 3"),
    unit: StressUnit::Megapascal,
    rows: &[row("3.6", ALL, 330.0, (ReL, 190.0), Some(180.0), TestPiece(0.25), FromMemory)],
};

/// Edition 1968: what later editions no longer have.
pub(super) const EDITION_1968: StrengthTable = StrengthTable {
    name: "iso-r-898-1-1968",
    title: "Property classes of bolts, edition 1968, since withdrawn",
    citation: Citation::new("ISO/R 898-1", "1968", "Table 2"),
    unit: StressUnit::Megapascal,
    rows: &[
        row("6.6", ALL, 600.0, (ReL, 360.0), None, TestPiece(0.16), FromMemory),
        row("6.9", ALL, 600.0, (Rp02, 540.0), None, TestPiece(0.12), FromMemory),
        row("14.9", ALL, 1400.0, (Rp02, 1260.0), None, TestPiece(0.07), FromMemory),
    ],
};

/// Hardness and impact energy of a class, and the nominal values that its name is made from.
struct HardnessRow {
    class: &'static str,
    sizes: SizeRange,
    /// Nominal tensile and yield strength in MPa.
    nominal: (f64, f64),
    vickers: (f64, f64),
    brinell: (f64, f64),
    rockwell: &'static str,
    /// Least impact energy at −20 °C in J; 0 where none is stated.
    impact: f64,
}

const fn hardness(
    class: &'static str,
    sizes: SizeRange,
    nominal: (f64, f64),
    vickers: (f64, f64),
    brinell: (f64, f64),
    rockwell: &'static str,
    impact: f64,
) -> HardnessRow {
    HardnessRow { class, sizes, nominal, vickers, brinell, rockwell, impact }
}

/// Edition 2013, Table 3, the rest of its lines; Vickers and Rockwell read, Brinell and impact from memory.
const HARDNESS: [HardnessRow; 10] = [
    hardness("4.6", ALL, (400.0, 240.0), (120.0, 220.0), (114.0, 209.0), "67 to 95 HRB", 0.0),
    hardness("4.8", ALL, (400.0, 320.0), (130.0, 220.0), (124.0, 209.0), "71 to 95 HRB", 0.0),
    hardness("5.6", ALL, (500.0, 300.0), (155.0, 220.0), (147.0, 209.0), "79 to 95 HRB", 27.0),
    hardness("5.8", ALL, (500.0, 400.0), (160.0, 220.0), (152.0, 209.0), "82 to 95 HRB", 0.0),
    hardness("6.8", ALL, (600.0, 480.0), (190.0, 250.0), (181.0, 238.0), "89 to 99.5 HRB", 0.0),
    hardness("8.8", UP_TO_16, (800.0, 640.0), (250.0, 320.0), (245.0, 316.0), "22 to 32 HRC", 27.0),
    hardness("8.8", OVER_16, (800.0, 640.0), (255.0, 335.0), (250.0, 331.0), "23 to 34 HRC", 27.0),
    hardness("9.8", UP_TO_16, (900.0, 720.0), (290.0, 360.0), (286.0, 355.0), "28 to 37 HRC", 27.0),
    hardness("10.9", ALL, (1000.0, 900.0), (320.0, 380.0), (316.0, 375.0), "32 to 39 HRC", 27.0),
    hardness("12.9", ALL, (1200.0, 1080.0), (385.0, 435.0), (380.0, 429.0), "39 to 44 HRC", 0.0),
];

/// Hardness, impact energy and nominal values as printed.
pub(super) fn hardness_table() -> Table {
    let columns = [
        "class",
        "sizes",
        "tensile_nominal_mpa",
        "yield_nominal_mpa",
        "vickers_min",
        "vickers_max",
        "brinell_min",
        "brinell_max",
        "rockwell",
        "impact_min_j",
    ];
    let title = "Hardness and impact energy of bolts";
    let mut table = Table::new("iso-898-1-hardness", title, EDITION_2013.citation, "HV, HBW, J", &columns);
    for row in &HARDNESS {
        let words = [Cell::from(row.class), row.sizes.to_string().into()];
        let numbers = [row.nominal.0, row.nominal.1, row.vickers.0, row.vickers.1, row.brinell.0, row.brinell.1];
        let impact = Cell::from((row.impact > 0.0).then_some(row.impact));
        table.push(FromMemory, words.into_iter().chain(numbers.map(Cell::from)).chain([row.rockwell.into(), impact]));
    }
    table
}
