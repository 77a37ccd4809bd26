//! ISO socket screws: hexagon, hexalobular and cross recess. Unit: mm. Rounding: as printed.
//!
//! Read from reprints and open part libraries; head diameters are the greatest of plain (not knurled) heads. Bearing faces are
//! stated by ISO 4762 only; ISO 14579 heads are those of ISO 4762. For the other round heads the least head diameter stands where
//! it was read. Sizes that only DIN 912 has (M18, M22, M27, M33) are from memory.

use super::citation::{Citation, Origin};
use super::heads::{HeadForm, HeadTable, RowTool, round};
use super::size::Size::M;
use crate::units::LengthUnit;
use Origin::{FromMemory, Read};
use RowTool::{CrossRecess, External, Hexalobular, Key};

/// Hexagon socket head cap screws.
pub(super) const ISO_4762: HeadTable = HeadTable {
    name: "iso-4762",
    title: "Hexagon socket head cap screws",
    form: HeadForm::SocketCap,
    citation: Citation::new("ISO 4762", "2004", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(1.6), Key(1.5), 3.0, 2.72, 1.6, Read),
        round(M(2.0), Key(1.5), 3.8, 3.48, 2.0, Read),
        round(M(2.5), Key(2.0), 4.5, 4.18, 2.5, Read),
        round(M(3.0), Key(2.5), 5.5, 5.07, 3.0, Read),
        round(M(4.0), Key(3.0), 7.0, 6.53, 4.0, Read),
        round(M(5.0), Key(4.0), 8.5, 8.03, 5.0, Read),
        round(M(6.0), Key(5.0), 10.0, 9.38, 6.0, Read),
        round(M(8.0), Key(6.0), 13.0, 12.33, 8.0, Read),
        round(M(10.0), Key(8.0), 16.0, 15.33, 10.0, Read),
        round(M(12.0), Key(10.0), 18.0, 17.23, 12.0, Read),
        round(M(14.0), Key(12.0), 21.0, 20.17, 14.0, Read),
        round(M(16.0), Key(14.0), 24.0, 23.17, 16.0, Read),
        round(M(20.0), Key(17.0), 30.0, 28.87, 20.0, Read),
        round(M(24.0), Key(19.0), 36.0, 34.81, 24.0, Read),
        round(M(30.0), Key(22.0), 45.0, 43.61, 30.0, Read),
        round(M(36.0), Key(27.0), 54.0, 52.54, 36.0, Read),
        round(M(42.0), Key(32.0), 63.0, 61.34, 42.0, Read),
        round(M(48.0), Key(36.0), 72.0, 70.34, 48.0, Read),
        round(M(56.0), Key(41.0), 84.0, 82.26, 56.0, Read),
        round(M(64.0), Key(46.0), 96.0, 94.26, 64.0, Read),
    ],
};

/// The sizes that DIN 912 had and ISO 4762 has not.
pub(super) const DIN_912: HeadTable = HeadTable {
    name: "din-912",
    title: "Hexagon socket head cap screws, sizes not in ISO 4762",
    form: HeadForm::SocketCap,
    citation: Citation::new("DIN 912", "1983", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(18.0), Key(14.0), 27.0, 0.0, 18.0, FromMemory),
        round(M(22.0), Key(17.0), 33.0, 0.0, 22.0, FromMemory),
        round(M(27.0), Key(19.0), 40.0, 0.0, 27.0, FromMemory),
        round(M(33.0), Key(24.0), 50.0, 0.0, 33.0, FromMemory),
    ],
};

/// Hexagon socket button head screws.
pub(super) const ISO_7380_1: HeadTable = HeadTable {
    name: "iso-7380-1",
    title: "Hexagon socket button head screws",
    form: HeadForm::Button,
    citation: Citation::new("ISO 7380-1", "2011", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(3.0), Key(2.0), 5.7, 0.0, 1.65, Read),
        round(M(4.0), Key(2.5), 7.6, 0.0, 2.2, Read),
        round(M(5.0), Key(3.0), 9.5, 0.0, 2.75, Read),
        round(M(6.0), Key(4.0), 10.5, 0.0, 3.3, Read),
        round(M(8.0), Key(5.0), 14.0, 0.0, 4.4, Read),
        round(M(10.0), Key(6.0), 17.5, 0.0, 5.5, Read),
        round(M(12.0), Key(8.0), 21.0, 0.0, 6.6, Read),
        round(M(16.0), Key(10.0), 28.0, 0.0, 8.8, Read),
    ],
};

/// Hexagon socket button head screws with collar; the diameter is that of the collar.
pub(super) const ISO_7380_2: HeadTable = HeadTable {
    name: "iso-7380-2",
    title: "Hexagon socket button head screws with collar",
    form: HeadForm::ButtonFlange,
    citation: Citation::new("ISO 7380-2", "2011", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(3.0), Key(2.0), 6.9, 0.0, 1.65, Read),
        round(M(4.0), Key(2.5), 9.4, 0.0, 2.2, Read),
        round(M(5.0), Key(3.0), 11.8, 0.0, 2.75, Read),
        round(M(6.0), Key(4.0), 13.6, 0.0, 3.3, Read),
        round(M(8.0), Key(5.0), 17.8, 0.0, 4.4, Read),
        round(M(10.0), Key(6.0), 21.9, 0.0, 5.5, Read),
        round(M(12.0), Key(8.0), 26.0, 0.0, 6.6, Read),
        round(M(16.0), Key(10.0), 34.0, 0.0, 8.8, Read),
    ],
};

/// Hexagon socket countersunk head screws; diameter theoretical, sharp edge.
pub(super) const ISO_10642: HeadTable = HeadTable {
    name: "iso-10642",
    title: "Hexagon socket countersunk head screws",
    form: HeadForm::Countersunk,
    citation: Citation::new("ISO 10642", "2019", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(2.0), Key(1.3), 4.09, 0.0, 1.24, Read),
        round(M(2.5), Key(1.5), 5.08, 0.0, 1.55, Read),
        round(M(3.0), Key(2.0), 6.72, 0.0, 1.86, Read),
        round(M(4.0), Key(2.5), 8.96, 0.0, 2.48, Read),
        round(M(5.0), Key(3.0), 11.2, 0.0, 3.1, Read),
        round(M(6.0), Key(4.0), 13.44, 0.0, 3.72, Read),
        round(M(8.0), Key(5.0), 17.92, 0.0, 4.96, Read),
        round(M(10.0), Key(6.0), 22.4, 0.0, 6.2, Read),
        round(M(12.0), Key(8.0), 26.88, 0.0, 7.44, Read),
        round(M(14.0), Key(10.0), 30.8, 0.0, 8.4, Read),
        round(M(16.0), Key(10.0), 33.6, 0.0, 8.8, Read),
        round(M(20.0), Key(12.0), 40.32, 0.0, 10.16, Read),
    ],
};

/// Hexalobular socket head cap screws, heads as ISO 4762.
pub(super) const ISO_14579: HeadTable = HeadTable {
    name: "iso-14579",
    title: "Hexalobular socket head cap screws",
    form: HeadForm::HexalobularCap,
    citation: Citation::new("ISO 14579", "2011", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(2.0), Hexalobular(6), 3.8, 3.48, 2.0, Read),
        round(M(2.5), Hexalobular(8), 4.5, 4.18, 2.5, Read),
        round(M(3.0), Hexalobular(10), 5.5, 5.07, 3.0, Read),
        round(M(4.0), Hexalobular(20), 7.0, 6.53, 4.0, Read),
        round(M(5.0), Hexalobular(25), 8.5, 8.03, 5.0, Read),
        round(M(6.0), Hexalobular(30), 10.0, 9.38, 6.0, Read),
        round(M(8.0), Hexalobular(45), 13.0, 12.33, 8.0, Read),
        round(M(10.0), Hexalobular(50), 16.0, 15.33, 10.0, Read),
        round(M(12.0), Hexalobular(55), 18.0, 17.23, 12.0, Read),
        round(M(14.0), Hexalobular(60), 21.0, 20.17, 14.0, Read),
        round(M(16.0), Hexalobular(70), 24.0, 23.17, 16.0, Read),
        round(M(18.0), Hexalobular(80), 27.0, 0.0, 18.0, Read),
        round(M(20.0), Hexalobular(90), 30.0, 28.87, 20.0, Read),
    ],
};

/// Hexalobular socket pan head screws.
pub(super) const ISO_14583: HeadTable = HeadTable {
    name: "iso-14583",
    title: "Hexalobular socket pan head screws",
    form: HeadForm::HexalobularPan,
    citation: Citation::new("ISO 14583", "2011", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(2.0), Hexalobular(6), 4.0, 0.0, 1.6, Read),
        round(M(2.5), Hexalobular(8), 5.0, 0.0, 2.1, Read),
        round(M(3.0), Hexalobular(10), 5.6, 0.0, 2.4, Read),
        round(M(3.5), Hexalobular(15), 7.0, 0.0, 2.6, Read),
        round(M(4.0), Hexalobular(20), 8.0, 0.0, 3.1, Read),
        round(M(5.0), Hexalobular(25), 9.5, 0.0, 3.7, Read),
        round(M(6.0), Hexalobular(30), 12.0, 0.0, 4.6, Read),
        round(M(8.0), Hexalobular(45), 16.0, 0.0, 6.0, Read),
        round(M(10.0), Hexalobular(50), 20.0, 0.0, 7.5, Read),
    ],
};

/// Cross recess pan head screws, recess type H or Z.
pub(super) const ISO_7045: HeadTable = HeadTable {
    name: "iso-7045",
    title: "Cross recess pan head screws",
    form: HeadForm::CrossPan,
    citation: Citation::new("ISO 7045", "2011", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(1.6), CrossRecess(0), 3.2, 0.0, 1.3, Read),
        round(M(2.0), CrossRecess(0), 4.0, 0.0, 1.6, Read),
        round(M(2.5), CrossRecess(1), 5.0, 0.0, 2.1, Read),
        round(M(3.0), CrossRecess(1), 5.6, 0.0, 2.4, Read),
        round(M(3.5), CrossRecess(2), 7.0, 0.0, 2.6, Read),
        round(M(4.0), CrossRecess(2), 8.0, 0.0, 3.1, Read),
        round(M(5.0), CrossRecess(2), 9.5, 0.0, 3.7, Read),
        round(M(6.0), CrossRecess(3), 12.0, 0.0, 4.6, Read),
        round(M(8.0), CrossRecess(4), 16.0, 0.0, 6.0, Read),
        round(M(10.0), CrossRecess(4), 20.0, 0.0, 7.5, Read),
    ],
};

/// External hexalobular heads with flange: which number is usual on which thread (common practice, no source).
pub(super) const EXTERNAL_HEXALOBULAR: HeadTable = HeadTable {
    name: "external-hexalobular-heads",
    title: "External hexalobular heads with flange, usual numbers",
    form: HeadForm::ExternalHexalobularFlange,
    citation: Citation::common_practice(),
    unit: LengthUnit::Millimeter,
    rows: &[
        round(M(4.0), External(5), 0.0, 0.0, 0.0, FromMemory),
        round(M(5.0), External(6), 0.0, 0.0, 0.0, FromMemory),
        round(M(6.0), External(8), 0.0, 0.0, 0.0, FromMemory),
        round(M(8.0), External(10), 0.0, 0.0, 0.0, FromMemory),
        round(M(10.0), External(12), 0.0, 0.0, 0.0, FromMemory),
        round(M(12.0), External(14), 0.0, 0.0, 0.0, FromMemory),
        round(M(14.0), External(18), 0.0, 0.0, 0.0, FromMemory),
        round(M(16.0), External(20), 0.0, 0.0, 0.0, FromMemory),
        round(M(18.0), External(24), 0.0, 0.0, 0.0, FromMemory),
    ],
};
