//! SAE J429: externally threaded inch fasteners. Unit: psi, exact as printed. Rounding: as printed.
//!
//! Edition 2014, Table 1. Grades 1, 2, 4, 5, 5.2, 7, 8 and 8.2 were read from a textbook's reprint of the table, 5.1 and 8.1 are
//! from memory, as are all elongations. Grade 2 holds for bolts up to 6 in long and for studs; longer bolts
//! are grade 1. Grades 4 and 8.1 are studs, 5.1 is a screw with a captive washer (its yield strength is not stated).

use super::citation::{Citation, Origin};
use super::size::{Size, SizeRange};
use super::strength::{Elongation, StrengthRow, StrengthTable, YieldKind, inch, over_inch};
use crate::units::StressUnit;
use Origin::{FromMemory, Read};
use YieldKind::{Proof, Rp02};

const fn row(
    class: &'static str,
    sizes: SizeRange,
    proof: f64,
    (kind, yield_): (YieldKind, f64),
    tensile: f64,
    strain: f64,
    origin: Origin,
) -> StrengthRow {
    StrengthRow {
        class,
        sizes,
        tensile,
        yield_,
        kind,
        proof: Some(proof),
        elongation: Some(Elongation::TestPiece(strain)),
        origin,
    }
}

/// The sizes of screws with a captive washer.
const SEMS: SizeRange = SizeRange::new(Size::No(6), Size::In(0.625));

/// Table 1: proof stress, yield strength, tensile strength, elongation.
pub(super) const EDITION_2014: StrengthTable = StrengthTable {
    name: "sae-j429",
    title: "Grades of inch bolts",
    citation: Citation::new("SAE J429", "2014", "Table 1"),
    unit: StressUnit::PoundPerSquareInch,
    rows: &[
        row("grade 1", inch(0.25, 1.5), 33_000.0, (Rp02, 36_000.0), 60_000.0, 0.18, Read),
        row("grade 2", inch(0.25, 0.75), 55_000.0, (Rp02, 57_000.0), 74_000.0, 0.18, Read),
        row("grade 2", over_inch(0.75, 1.5), 33_000.0, (Rp02, 36_000.0), 60_000.0, 0.18, Read),
        row("grade 4", inch(0.25, 1.5), 65_000.0, (Rp02, 100_000.0), 115_000.0, 0.10, Read),
        row("grade 5", inch(0.25, 1.0), 85_000.0, (Rp02, 92_000.0), 120_000.0, 0.14, Read),
        row("grade 5", over_inch(1.0, 1.5), 74_000.0, (Rp02, 81_000.0), 105_000.0, 0.14, Read),
        row("grade 5.1", SEMS, 85_000.0, (Proof, 85_000.0), 120_000.0, 0.14, FromMemory),
        row("grade 5.2", inch(0.25, 1.0), 85_000.0, (Rp02, 92_000.0), 120_000.0, 0.14, Read),
        row("grade 7", inch(0.25, 1.5), 105_000.0, (Rp02, 115_000.0), 133_000.0, 0.12, Read),
        row("grade 8", inch(0.25, 1.5), 120_000.0, (Rp02, 130_000.0), 150_000.0, 0.12, Read),
        row("grade 8.1", inch(0.25, 1.5), 120_000.0, (Rp02, 130_000.0), 150_000.0, 0.10, FromMemory),
        row("grade 8.2", inch(0.25, 1.0), 120_000.0, (Rp02, 130_000.0), 150_000.0, 0.10, Read),
    ],
};
