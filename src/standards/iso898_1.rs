//! ISO 898-1: bolts, screws and studs of carbon and alloy steel. Unit: MPa (N/mm²). Rounding: as printed.
//!
//! Edition 2013, Tables 3 (mechanical properties) and 4 to 7 (loads, in `iso898_1_loads`). Strengths of all classes
//! but 5.8 were read from published summaries of the table, 5.8 twice; hardness, elongation, impact from memory.
//! Edition 1999 adds class 3.6, ISO/R 898-1:1968 the classes 6.6, 6.9 and 14.9, all withdrawn and from memory:
//! old drawings still name them.

use super::citation::{Citation, Origin};
use super::size::{Size, SizeRange};
use super::strength::{Elongation, StrengthRow, StrengthTable, YieldKind, metric};
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
    citation: Citation::new("ISO 898-1", "1999", "Table 3"),
    unit: StressUnit::Megapascal,
    rows: &[row("3.6", ALL, 330.0, (ReL, 190.0), Some(180.0), TestPiece(0.25), FromMemory)],
};

/// Edition 1968: what later editions no longer have.
pub(super) const EDITION_1968: StrengthTable = StrengthTable {
    citation: Citation::new("ISO/R 898-1", "1968", "Table 2"),
    unit: StressUnit::Megapascal,
    rows: &[
        row("6.6", ALL, 600.0, (ReL, 360.0), None, TestPiece(0.16), FromMemory),
        row("6.9", ALL, 600.0, (Rp02, 540.0), None, TestPiece(0.12), FromMemory),
        row("14.9", ALL, 1400.0, (Rp02, 1260.0), None, TestPiece(0.07), FromMemory),
    ],
};
