//! ISO hexagon heads and nuts, with and without flange, and the older DIN and EN series beside them.
//! Unit: mm. Rounding: as printed.
//!
//! Across flats, heights and bearing faces of ISO 4014 were read from reprints and open part libraries, bearing faces of
//! ISO 4032 recalled (the libraries print them rounded). Bearing faces up to M24 are those of product grade A, above of grade B.
//! DIN 931/933 differ from ISO 4014/4017 at M10, M12, M14 and M22; M7 stands only there. DIN 934 nuts have the same
//! across flats as DIN 931 heads. DIN 6921 is listed for M10 only, where it differs from EN 1665. JIS B 1180, small series, is
//! from memory, across flats only: engines of that origin have it. M12 of the small flange series is 15 mm in ISO 4162 and 16 mm in EN 1662: both stand.

use super::citation::{Citation, Origin};
use super::heads::{HeadForm, HeadTable, flange, hexagon};
use super::size::Size::M;
use crate::units::LengthUnit;
use Origin::{FromMemory, Read};

/// Hexagon bolts and screws.
pub(super) const ISO_4014: HeadTable = HeadTable {
    name: "iso-4014",
    title: "Hexagon head bolts and screws (also ISO 4017)",
    form: HeadForm::Hexagon,
    citation: Citation::new("ISO 4014", "2011", "Tables 1 and 2"),
    unit: LengthUnit::Millimeter,
    rows: &[
        hexagon(M(1.6), 3.2, 2.27, 1.1, Read),
        hexagon(M(2.0), 4.0, 3.07, 1.4, Read),
        hexagon(M(2.5), 5.0, 4.07, 1.7, Read),
        hexagon(M(3.0), 5.5, 4.57, 2.0, Read),
        hexagon(M(3.5), 6.0, 5.07, 2.4, Read),
        hexagon(M(4.0), 7.0, 5.88, 2.8, Read),
        hexagon(M(5.0), 8.0, 6.88, 3.5, Read),
        hexagon(M(6.0), 10.0, 8.88, 4.0, Read),
        hexagon(M(8.0), 13.0, 11.63, 5.3, Read),
        hexagon(M(10.0), 16.0, 14.63, 6.4, Read),
        hexagon(M(12.0), 18.0, 16.63, 7.5, Read),
        hexagon(M(14.0), 21.0, 19.37, 8.8, Read),
        hexagon(M(16.0), 24.0, 22.49, 10.0, Read),
        hexagon(M(18.0), 27.0, 25.34, 11.5, Read),
        hexagon(M(20.0), 30.0, 28.19, 12.5, Read),
        hexagon(M(22.0), 34.0, 31.71, 14.0, Read),
        hexagon(M(24.0), 36.0, 33.61, 15.0, Read),
        hexagon(M(27.0), 41.0, 38.0, 17.0, Read),
        hexagon(M(30.0), 46.0, 42.75, 18.7, Read),
        hexagon(M(33.0), 50.0, 46.55, 21.0, Read),
        hexagon(M(36.0), 55.0, 51.11, 22.5, Read),
        hexagon(M(39.0), 60.0, 55.86, 25.0, Read),
        hexagon(M(42.0), 65.0, 59.95, 26.0, Read),
        hexagon(M(45.0), 70.0, 64.7, 28.0, Read),
        hexagon(M(48.0), 75.0, 69.45, 30.0, Read),
        hexagon(M(52.0), 80.0, 74.2, 33.0, Read),
        hexagon(M(56.0), 85.0, 78.66, 35.0, Read),
        hexagon(M(60.0), 90.0, 83.41, 38.0, Read),
        hexagon(M(64.0), 95.0, 88.16, 40.0, Read),
    ],
};

/// The series before ISO 4014.
pub(super) const DIN_931: HeadTable = HeadTable {
    name: "din-931",
    title: "Hexagon head bolts and screws, old series (also DIN 933)",
    form: HeadForm::Hexagon,
    citation: Citation::new("DIN 931", "1987", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        hexagon(M(1.6), 3.2, 2.27, 1.1, Read),
        hexagon(M(2.0), 4.0, 3.07, 1.4, Read),
        hexagon(M(2.5), 5.0, 4.07, 1.7, Read),
        hexagon(M(3.0), 5.5, 4.57, 2.0, Read),
        hexagon(M(3.5), 6.0, 5.07, 2.4, Read),
        hexagon(M(4.0), 7.0, 5.88, 2.8, Read),
        hexagon(M(5.0), 8.0, 6.88, 3.5, Read),
        hexagon(M(6.0), 10.0, 8.88, 4.0, Read),
        hexagon(M(7.0), 11.0, 9.6, 4.8, FromMemory),
        hexagon(M(8.0), 13.0, 11.63, 5.3, Read),
        hexagon(M(10.0), 17.0, 15.6, 6.4, FromMemory),
        hexagon(M(12.0), 19.0, 17.4, 7.5, FromMemory),
        hexagon(M(14.0), 22.0, 20.5, 8.8, FromMemory),
        hexagon(M(16.0), 24.0, 22.49, 10.0, Read),
        hexagon(M(18.0), 27.0, 25.34, 11.5, Read),
        hexagon(M(20.0), 30.0, 28.19, 12.5, Read),
        hexagon(M(22.0), 32.0, 30.0, 14.0, FromMemory),
        hexagon(M(24.0), 36.0, 33.61, 15.0, Read),
        hexagon(M(27.0), 41.0, 38.0, 17.0, Read),
        hexagon(M(30.0), 46.0, 42.75, 18.7, Read),
        hexagon(M(33.0), 50.0, 46.55, 21.0, Read),
        hexagon(M(36.0), 55.0, 51.11, 22.5, Read),
        hexagon(M(39.0), 60.0, 55.86, 25.0, Read),
        hexagon(M(42.0), 65.0, 59.95, 26.0, Read),
        hexagon(M(45.0), 70.0, 64.7, 28.0, Read),
        hexagon(M(48.0), 75.0, 69.45, 30.0, Read),
        hexagon(M(52.0), 80.0, 74.2, 33.0, Read),
        hexagon(M(56.0), 85.0, 78.66, 35.0, Read),
        hexagon(M(60.0), 90.0, 83.41, 38.0, Read),
        hexagon(M(64.0), 95.0, 88.16, 40.0, Read),
    ],
};

/// Hexagon bolts with flange, small series.
pub(super) const ISO_4162: HeadTable = HeadTable {
    name: "iso-4162",
    title: "Hexagon bolts with flange, small series",
    form: HeadForm::HexagonFlange,
    citation: Citation::new("ISO 4162", "2012", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        flange(M(5.0), 7.0, 11.4, 9.4, 5.6, Read),
        flange(M(6.0), 8.0, 13.6, 11.6, 6.8, Read),
        flange(M(8.0), 10.0, 17.0, 14.9, 8.5, Read),
        flange(M(10.0), 13.0, 20.8, 18.7, 9.7, Read),
        flange(M(12.0), 15.0, 24.7, 22.5, 11.9, Read),
        flange(M(14.0), 18.0, 28.6, 26.4, 12.9, Read),
        flange(M(16.0), 21.0, 32.8, 30.6, 15.1, Read),
    ],
};

/// Hexagon bolts with flange, heavy series; M10 is 15 mm across flats in DIN 6921.
pub(super) const EN_1665: HeadTable = HeadTable {
    name: "en-1665",
    title: "Hexagon bolts with flange, heavy series",
    form: HeadForm::HexagonFlange,
    citation: Citation::new("EN 1665", "1997", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        flange(M(5.0), 8.0, 11.8, 9.8, 5.8, Read),
        flange(M(6.0), 10.0, 14.2, 12.2, 6.6, Read),
        flange(M(8.0), 13.0, 18.0, 15.8, 8.1, Read),
        flange(M(10.0), 16.0, 22.3, 19.6, 10.4, Read),
        flange(M(12.0), 18.0, 26.6, 23.8, 11.8, Read),
        flange(M(14.0), 21.0, 30.5, 27.6, 13.7, Read),
        flange(M(16.0), 24.0, 35.0, 31.9, 15.4, Read),
        flange(M(20.0), 30.0, 43.0, 39.9, 18.9, Read),
    ],
};

/// The one size in which DIN 6921 differs from EN 1665.
pub(super) const DIN_6921: HeadTable = HeadTable {
    name: "din-6921",
    title: "Hexagon bolts with flange, old series, size differing from EN 1665",
    form: HeadForm::HexagonFlange,
    citation: Citation::new("DIN 6921", "1983", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[flange(M(10.0), 15.0, 21.8, 19.6, 0.0, FromMemory)],
};

/// Hexagon bolts with small heads, across flats only.
pub(super) const JIS_B_1180: HeadTable = HeadTable {
    name: "jis-b-1180-small",
    title: "Hexagon bolts with small heads",
    form: HeadForm::Hexagon,
    citation: Citation::new("JIS B 1180", "1994", "small series"),
    unit: LengthUnit::Millimeter,
    rows: &[
        hexagon(M(8.0), 12.0, 0.0, 0.0, FromMemory),
        hexagon(M(10.0), 14.0, 0.0, 0.0, FromMemory),
        hexagon(M(12.0), 17.0, 0.0, 0.0, FromMemory),
        hexagon(M(14.0), 19.0, 0.0, 0.0, FromMemory),
        hexagon(M(16.0), 22.0, 0.0, 0.0, FromMemory),
        hexagon(M(18.0), 24.0, 0.0, 0.0, FromMemory),
        hexagon(M(20.0), 27.0, 0.0, 0.0, FromMemory),
    ],
};

/// The one size in which EN 1662 differs from ISO 4162.
pub(super) const EN_1662: HeadTable = HeadTable {
    name: "en-1662",
    title: "Hexagon bolts with flange, small series, size differing from ISO 4162",
    form: HeadForm::HexagonFlange,
    citation: Citation::new("EN 1662", "1998", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[flange(M(12.0), 16.0, 24.7, 22.5, 12.1, Read)],
};

/// Hexagon nuts, style 1; height is the greatest.
pub(super) const ISO_4032: HeadTable = HeadTable {
    name: "iso-4032",
    title: "Hexagon nuts, style 1",
    form: HeadForm::HexagonNut,
    citation: Citation::new("ISO 4032", "2012", "Tables 1 and 2"),
    unit: LengthUnit::Millimeter,
    rows: &[
        hexagon(M(1.6), 3.2, 2.4, 1.3, FromMemory),
        hexagon(M(2.0), 4.0, 3.1, 1.6, FromMemory),
        hexagon(M(2.5), 5.0, 4.1, 2.0, FromMemory),
        hexagon(M(3.0), 5.5, 4.6, 2.4, FromMemory),
        hexagon(M(3.5), 6.0, 5.1, 2.8, FromMemory),
        hexagon(M(4.0), 7.0, 5.9, 3.2, FromMemory),
        hexagon(M(5.0), 8.0, 6.9, 4.7, FromMemory),
        hexagon(M(6.0), 10.0, 8.9, 5.2, FromMemory),
        hexagon(M(8.0), 13.0, 11.6, 6.8, FromMemory),
        hexagon(M(10.0), 16.0, 14.6, 8.4, FromMemory),
        hexagon(M(12.0), 18.0, 16.6, 10.8, FromMemory),
        hexagon(M(14.0), 21.0, 19.6, 12.8, FromMemory),
        hexagon(M(16.0), 24.0, 22.5, 14.8, FromMemory),
        hexagon(M(18.0), 27.0, 24.9, 15.8, FromMemory),
        hexagon(M(20.0), 30.0, 27.7, 18.0, FromMemory),
        hexagon(M(22.0), 34.0, 31.4, 19.4, FromMemory),
        hexagon(M(24.0), 36.0, 33.3, 21.5, FromMemory),
        hexagon(M(27.0), 41.0, 38.0, 23.8, FromMemory),
        hexagon(M(30.0), 46.0, 42.8, 25.6, FromMemory),
        hexagon(M(33.0), 50.0, 46.6, 28.7, FromMemory),
        hexagon(M(36.0), 55.0, 51.1, 31.0, FromMemory),
        hexagon(M(39.0), 60.0, 55.9, 33.4, FromMemory),
        hexagon(M(42.0), 65.0, 60.0, 34.0, FromMemory),
        hexagon(M(45.0), 70.0, 64.7, 36.0, FromMemory),
        hexagon(M(48.0), 75.0, 69.5, 38.0, FromMemory),
        hexagon(M(52.0), 80.0, 74.2, 42.0, FromMemory),
        hexagon(M(56.0), 85.0, 78.7, 45.0, FromMemory),
        hexagon(M(60.0), 90.0, 83.4, 48.0, FromMemory),
        hexagon(M(64.0), 95.0, 88.2, 51.0, FromMemory),
    ],
};

/// Hexagon nuts with flange; bearing faces from memory.
pub(super) const EN_1661: HeadTable = HeadTable {
    name: "en-1661",
    title: "Hexagon nuts with flange (also ISO 4161)",
    form: HeadForm::FlangeNut,
    citation: Citation::new("EN 1661", "1997", "Table 1"),
    unit: LengthUnit::Millimeter,
    rows: &[
        flange(M(5.0), 8.0, 11.8, 9.8, 5.0, FromMemory),
        flange(M(6.0), 10.0, 14.2, 12.2, 6.0, FromMemory),
        flange(M(8.0), 13.0, 17.9, 15.8, 8.0, FromMemory),
        flange(M(10.0), 15.0, 21.8, 19.6, 10.0, FromMemory),
        flange(M(12.0), 18.0, 26.0, 23.8, 12.0, FromMemory),
        flange(M(14.0), 21.0, 29.9, 27.6, 14.0, FromMemory),
        flange(M(16.0), 24.0, 34.5, 31.9, 16.0, FromMemory),
        flange(M(20.0), 30.0, 42.8, 39.9, 20.0, FromMemory),
    ],
};
