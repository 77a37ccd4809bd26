//! ASME inch heads and nuts. Unit: in, as decimal fractions of the printed basic sizes. Rounding: as printed.
//!
//! B18.2.1 hexagon cap screws, B18.2.2 hexagon nuts, B18.3 socket head and button head cap screws, read from reprints and
//! open part libraries. The bearing face of hexagon cap screws and socket heads is taken as 0.95 of the basic width or
//! diameter, which is how the libraries derive it; the standards give a tolerance instead.

use super::citation::{Citation, Origin};
use super::heads::{HeadForm, HeadTable, RowTool, flange, hexagon, round};
use super::size::Size::{In, No};
use crate::units::LengthUnit;
use Origin::Read;
use RowTool::Key;

/// Bearing face ÷ basic width across flats or head diameter.
const BEARING: f64 = 0.95;

/// Hexagon cap screws.
pub(super) const HEX: HeadTable = HeadTable {
    name: "asme-b18-2-1",
    title: "Hexagon cap screws",
    form: HeadForm::Hexagon,
    citation: Citation::new("ASME B18.2.1", "2012", "Table 6"),
    unit: LengthUnit::Inch,
    rows: &[
        hexagon(In(0.25), 0.4375, 0.4375 * BEARING, 0.15625, Read),
        hexagon(In(0.3125), 0.5, 0.5 * BEARING, 0.203125, Read),
        hexagon(In(0.375), 0.5625, 0.5625 * BEARING, 0.234375, Read),
        hexagon(In(0.4375), 0.625, 0.625 * BEARING, 0.28125, Read),
        hexagon(In(0.5), 0.75, 0.75 * BEARING, 0.3125, Read),
        hexagon(In(0.5625), 0.8125, 0.8125 * BEARING, 0.359375, Read),
        hexagon(In(0.625), 0.9375, 0.9375 * BEARING, 0.390625, Read),
        hexagon(In(0.75), 1.125, 1.125 * BEARING, 0.46875, Read),
        hexagon(In(0.875), 1.3125, 1.3125 * BEARING, 0.546875, Read),
        hexagon(In(1.0), 1.5, 1.5 * BEARING, 0.609375, Read),
        hexagon(In(1.125), 1.6875, 1.6875 * BEARING, 0.6875, Read),
        hexagon(In(1.25), 1.875, 1.875 * BEARING, 0.78125, Read),
        hexagon(In(1.375), 2.0625, 2.0625 * BEARING, 0.84375, Read),
        hexagon(In(1.5), 2.25, 2.25 * BEARING, 0.9375, Read),
    ],
};

/// Hexagon flange screws.
pub(super) const HEX_FLANGE: HeadTable = HeadTable {
    name: "asme-b18-2-1-flange",
    title: "Hexagon flange screws",
    form: HeadForm::HexagonFlange,
    citation: Citation::new("ASME B18.2.1", "2012", "Table 8"),
    unit: LengthUnit::Inch,
    rows: &[
        flange(In(0.25), 0.375, 0.5625, 0.0, 0.0, Read),
        flange(In(0.3125), 0.5, 0.6875, 0.0, 0.0, Read),
        flange(In(0.375), 0.5625, 0.8125, 0.0, 0.0, Read),
        flange(In(0.4375), 0.625, 0.9375, 0.0, 0.0, Read),
        flange(In(0.5), 0.75, 1.078125, 0.0, 0.0, Read),
        flange(In(0.625), 0.9375, 1.328125, 0.0, 0.0, Read),
        flange(In(0.75), 1.125, 1.59375, 0.0, 0.0, Read),
    ],
};

/// Hexagon nuts.
pub(super) const NUT: HeadTable = HeadTable {
    name: "asme-b18-2-2",
    title: "Hexagon nuts",
    form: HeadForm::HexagonNut,
    citation: Citation::new("ASME B18.2.2", "2015", "Table 4"),
    unit: LengthUnit::Inch,
    rows: &[
        hexagon(In(0.25), 0.4375, 0.0, 0.21875, Read),
        hexagon(In(0.3125), 0.5, 0.0, 0.265625, Read),
        hexagon(In(0.375), 0.5625, 0.0, 0.328125, Read),
        hexagon(In(0.4375), 0.6875, 0.0, 0.375, Read),
        hexagon(In(0.5), 0.75, 0.0, 0.4375, Read),
        hexagon(In(0.5625), 0.875, 0.0, 0.484375, Read),
        hexagon(In(0.625), 0.9375, 0.0, 0.546875, Read),
        hexagon(In(0.75), 1.125, 0.0, 0.640625, Read),
        hexagon(In(0.875), 1.3125, 0.0, 0.75, Read),
        hexagon(In(1.0), 1.5, 0.0, 0.859375, Read),
        hexagon(In(1.125), 1.6875, 0.0, 0.96875, Read),
        hexagon(In(1.25), 1.875, 0.0, 1.0625, Read),
        hexagon(In(1.375), 2.0625, 0.0, 1.171875, Read),
        hexagon(In(1.5), 2.25, 0.0, 1.28125, Read),
    ],
};

/// Hexagon socket head cap screws; greatest head diameter and height.
pub(super) const SOCKET: HeadTable = HeadTable {
    name: "asme-b18-3",
    title: "Hexagon socket head cap screws",
    form: HeadForm::SocketCap,
    citation: Citation::new("ASME B18.3", "2012", "Table 1"),
    unit: LengthUnit::Inch,
    rows: &[
        round(No(0), Key(0.05), 0.096, 0.096 * BEARING, 0.06, Read),
        round(No(1), Key(0.0625), 0.118, 0.118 * BEARING, 0.073, Read),
        round(No(2), Key(0.078125), 0.14, 0.14 * BEARING, 0.086, Read),
        round(No(3), Key(0.078125), 0.161, 0.161 * BEARING, 0.099, Read),
        round(No(4), Key(0.09375), 0.183, 0.183 * BEARING, 0.112, Read),
        round(No(5), Key(0.09375), 0.205, 0.205 * BEARING, 0.125, Read),
        round(No(6), Key(0.109375), 0.226, 0.226 * BEARING, 0.138, Read),
        round(No(8), Key(0.140625), 0.27, 0.27 * BEARING, 0.164, Read),
        round(No(10), Key(0.15625), 0.312, 0.312 * BEARING, 0.19, Read),
        round(In(0.25), Key(0.1875), 0.375, 0.375 * BEARING, 0.25, Read),
        round(In(0.3125), Key(0.25), 0.469, 0.469 * BEARING, 0.312, Read),
        round(In(0.375), Key(0.3125), 0.562, 0.562 * BEARING, 0.375, Read),
        round(In(0.4375), Key(0.375), 0.656, 0.656 * BEARING, 0.438, Read),
        round(In(0.5), Key(0.375), 0.75, 0.75 * BEARING, 0.5, Read),
        round(In(0.625), Key(0.5), 0.938, 0.938 * BEARING, 0.625, Read),
        round(In(0.75), Key(0.625), 1.125, 1.125 * BEARING, 0.75, Read),
        round(In(0.875), Key(0.75), 1.312, 1.312 * BEARING, 0.875, Read),
        round(In(1.0), Key(0.75), 1.5, 1.5 * BEARING, 1.0, Read),
        round(In(1.125), Key(0.875), 1.688, 1.688 * BEARING, 1.125, Read),
        round(In(1.25), Key(0.875), 1.875, 1.875 * BEARING, 1.25, Read),
        round(In(1.375), Key(1.0), 2.062, 2.062 * BEARING, 1.375, Read),
        round(In(1.5), Key(1.0), 2.25, 2.25 * BEARING, 1.5, Read),
    ],
};

/// Hexagon socket button head cap screws; greatest head diameter and height.
pub(super) const BUTTON: HeadTable = HeadTable {
    name: "asme-b18-3-button",
    title: "Hexagon socket button head cap screws",
    form: HeadForm::Button,
    citation: Citation::new("ASME B18.3", "2012", "Table 3"),
    unit: LengthUnit::Inch,
    rows: &[
        round(No(0), Key(0.035), 0.114, 0.0, 0.032, Read),
        round(No(1), Key(0.05), 0.139, 0.0, 0.039, Read),
        round(No(2), Key(0.05), 0.164, 0.0, 0.046, Read),
        round(No(3), Key(0.0625), 0.188, 0.0, 0.052, Read),
        round(No(4), Key(0.0625), 0.213, 0.0, 0.059, Read),
        round(No(5), Key(0.078125), 0.238, 0.0, 0.066, Read),
        round(No(6), Key(0.078125), 0.262, 0.0, 0.073, Read),
        round(No(8), Key(0.09375), 0.312, 0.0, 0.087, Read),
        round(No(10), Key(0.125), 0.361, 0.0, 0.101, Read),
        round(In(0.25), Key(0.15625), 0.437, 0.0, 0.132, Read),
        round(In(0.3125), Key(0.1875), 0.547, 0.0, 0.166, Read),
        round(In(0.375), Key(0.21875), 0.656, 0.0, 0.199, Read),
        round(In(0.4375), Key(0.25), 0.765, 0.0, 0.231, Read),
        round(In(0.5), Key(0.3125), 0.875, 0.0, 0.265, Read),
        round(In(0.625), Key(0.375), 1.0, 0.0, 0.331, Read),
        round(In(0.75), Key(0.4375), 1.125, 0.0, 0.375, Read),
    ],
};
