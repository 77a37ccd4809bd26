//! ISO 3506-1: bolts, screws and studs of stainless steel. Unit: MPa (N/mm²). Rounding: as printed.
//!
//! Yield strength is `Rpf`, the stress at 0.2 % permanent strain of the whole fastener; elongation is the extension of
//! the whole fastener in multiples of d. There is no proof load.
//! Edition 2009, Tables 2 (austenitic) and 3 (martensitic, ferritic), read from published summaries, elongation from
//! memory; classes 70 and 80 up to M24 only, larger by agreement. Edition 2020 extends them to M39 and adds class 100,
//! A8 and the duplex steels D2 to D8, from memory; its martensitic and ferritic classes moved to ISO 3506-1, Table 3.

use super::citation::{Citation, Origin};
use super::size::SizeRange;
use super::strength::{Elongation, StrengthRow, StrengthTable, YieldKind, metric};
use crate::units::StressUnit;
use Origin::{FromMemory, Read};

/// M1.6 to M39.
const ALL: SizeRange = metric(1.6, 39.0);
/// Up to M24.
const UP_TO_24: SizeRange = metric(1.6, 24.0);

const fn row(
    class: &'static str,
    sizes: SizeRange,
    tensile: f64,
    yield_: f64,
    extension: f64,
    origin: Origin,
) -> StrengthRow {
    let elongation = Some(Elongation::Diameters(extension));
    StrengthRow { class, sizes, tensile, yield_, kind: YieldKind::Rpf, proof: None, elongation, origin }
}

/// Edition in force: Tables 2 and 3.
pub(super) const EDITION_2020: StrengthTable = StrengthTable {
    name: "iso-3506-1",
    title: "Property classes of stainless bolts",
    citation: Citation::new("ISO 3506-1", "2020", "Tables 2 and 3"),
    unit: StressUnit::Megapascal,
    rows: &[
        row("A1-50", ALL, 500.0, 210.0, 0.6, FromMemory),
        row("A1-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("A1-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("A2-50", ALL, 500.0, 210.0, 0.6, FromMemory),
        row("A2-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("A2-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("A3-50", ALL, 500.0, 210.0, 0.6, FromMemory),
        row("A3-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("A3-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("A4-50", ALL, 500.0, 210.0, 0.6, FromMemory),
        row("A4-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("A4-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("A4-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("A5-50", ALL, 500.0, 210.0, 0.6, FromMemory),
        row("A5-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("A5-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("A5-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("A8-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("A8-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("A8-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("D2-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("D2-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("D2-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("D4-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("D4-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("D4-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("D6-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("D6-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("D6-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("D8-70", ALL, 700.0, 450.0, 0.4, FromMemory),
        row("D8-80", ALL, 800.0, 600.0, 0.3, FromMemory),
        row("D8-100", ALL, 1000.0, 800.0, 0.2, FromMemory),
        row("C1-50", ALL, 500.0, 250.0, 0.2, FromMemory),
        row("C1-70", ALL, 700.0, 410.0, 0.2, FromMemory),
        row("C1-110", ALL, 1100.0, 820.0, 0.2, FromMemory),
        row("C3-80", ALL, 800.0, 640.0, 0.2, FromMemory),
        row("C4-50", ALL, 500.0, 250.0, 0.2, FromMemory),
        row("C4-70", ALL, 700.0, 410.0, 0.2, FromMemory),
        row("F1-45", UP_TO_24, 450.0, 250.0, 0.2, FromMemory),
        row("F1-60", UP_TO_24, 600.0, 410.0, 0.2, FromMemory),
    ],
};

/// Edition 2009 (the same in 1997): Tables 2 and 3.
pub(super) const EDITION_2009: StrengthTable = StrengthTable {
    name: "iso-3506-1-2009",
    title: "Property classes of stainless bolts, edition 2009",
    citation: Citation::new("ISO 3506-1", "2009", "Tables 2 and 3"),
    unit: StressUnit::Megapascal,
    rows: &[
        row("A1-50", ALL, 500.0, 210.0, 0.6, Read),
        row("A1-70", UP_TO_24, 700.0, 450.0, 0.4, Read),
        row("A1-80", UP_TO_24, 800.0, 600.0, 0.3, Read),
        row("A2-50", ALL, 500.0, 210.0, 0.6, Read),
        row("A2-70", UP_TO_24, 700.0, 450.0, 0.4, Read),
        row("A2-80", UP_TO_24, 800.0, 600.0, 0.3, Read),
        row("A3-50", ALL, 500.0, 210.0, 0.6, Read),
        row("A3-70", UP_TO_24, 700.0, 450.0, 0.4, FromMemory),
        row("A3-80", UP_TO_24, 800.0, 600.0, 0.3, Read),
        row("A4-50", ALL, 500.0, 210.0, 0.6, Read),
        row("A4-70", UP_TO_24, 700.0, 450.0, 0.4, Read),
        row("A4-80", UP_TO_24, 800.0, 600.0, 0.3, Read),
        row("A5-50", ALL, 500.0, 210.0, 0.6, Read),
        row("A5-70", UP_TO_24, 700.0, 450.0, 0.4, Read),
        row("A5-80", UP_TO_24, 800.0, 600.0, 0.3, FromMemory),
        row("C1-50", ALL, 500.0, 250.0, 0.2, Read),
        row("C1-70", ALL, 700.0, 410.0, 0.2, FromMemory),
        row("C1-110", ALL, 1100.0, 820.0, 0.2, FromMemory),
        row("C3-80", ALL, 800.0, 640.0, 0.2, Read),
        row("C4-50", ALL, 500.0, 250.0, 0.2, Read),
        row("C4-70", ALL, 700.0, 410.0, 0.2, FromMemory),
        row("F1-45", UP_TO_24, 450.0, 250.0, 0.2, Read),
        row("F1-60", UP_TO_24, 600.0, 410.0, 0.2, Read),
    ],
};
