//! Heads and nuts by thread size: what the tool is, how wide they bear, how high they are.
//!
//! The tables are in `iso_hexagons`, `iso_sockets` and `asme_heads`; this file is the way into them.

use super::citation::{Citation, Origin};
use super::size::Size;
use super::table::{Cell, Table};
use super::{asme_heads, iso_hexagons, iso_sockets};
use crate::units::{Length, LengthUnit, Number, Unit};
use std::fmt;
use std::sync::LazyLock;

/// The forms of head and nut that a table here has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HeadForm {
    /// Hexagon: ISO 4014, ISO 4017, DIN 931, ASME B18.2.1.
    Hexagon,
    /// Hexagon with flange: ISO 4162, EN 1665, ASME B18.2.1.
    HexagonFlange,
    /// Cylindrical with hexagon socket: ISO 4762, DIN 912, ASME B18.3.
    SocketCap,
    /// Button with hexagon socket: ISO 7380-1, ASME B18.3.
    Button,
    /// Button with flange and hexagon socket: ISO 7380-2.
    ButtonFlange,
    /// Countersunk with hexagon socket: ISO 10642.
    Countersunk,
    /// Cylindrical with hexalobular socket: ISO 14579.
    HexalobularCap,
    /// Pan with hexalobular socket: ISO 14583.
    HexalobularPan,
    /// External hexalobular with flange.
    ExternalHexalobularFlange,
    /// Pan with cross recess: ISO 7045.
    CrossPan,
    /// Hexagon nut: ISO 4032, ASME B18.2.2.
    HexagonNut,
    /// Hexagon nut with flange: EN 1661.
    FlangeNut,
}

/// The tool that turns a head, and its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tool {
    /// A wrench or socket, across flats.
    Flats(Length),
    /// A hexagon key, across flats.
    Key(Length),
    /// A hexalobular driver by the number of ISO 10664: 30 for T30.
    Hexalobular(u8),
    /// A socket for external hexalobular heads by its number: 10 for E10.
    ExternalHexalobular(u8),
    /// A cross-recess driver by its number (ISO 4757).
    CrossRecess(u8),
}

impl Tool {
    /// Across flats, for the hexagon tools.
    #[must_use]
    pub fn across_flats(self) -> Option<Length> {
        match self {
            Self::Flats(length) | Self::Key(length) => Some(length),
            Self::Hexalobular(_) | Self::ExternalHexalobular(_) | Self::CrossRecess(_) => None,
        }
    }
}

impl fmt::Display for Tool {
    /// `13 mm`, `9/16 in`, `T30`, `E10`, `recess 2`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Hexalobular(number) => write!(f, "T{number}"),
            Self::ExternalHexalobular(number) => write!(f, "E{number}"),
            Self::CrossRecess(number) => write!(f, "recess {number}"),
            Self::Flats(length) | Self::Key(length) => f.write_str(&flats_text(*length)),
        }
    }
}

/// A fraction of an inch where it is one exactly (no metric tool is), or else millimetres or inches, whichever is rounder.
fn flats_text(length: Length) -> String {
    let mm = length.millimeters();
    let inches = mm / LengthUnit::Inch.in_base();
    let is_whole = |value: f64| (value - value.round()).abs() < 1e-6;
    if is_whole(inches * 64.0) {
        return Size::In(inches).to_string();
    }
    if is_whole(mm * 10.0) {
        format!("{} mm", Number::from_f64(mm, 3))
    } else {
        format!("{} in", Number::from_f64(inches, 3))
    }
}

/// One head or nut in one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadSize {
    /// Its form.
    pub form: HeadForm,
    /// The thread size.
    pub size: Size,
    /// What turns it.
    pub tool: Tool,
    /// `dw`: the least diameter of the bearing face, where the standard states one.
    pub bearing_diameter: Option<Length>,
    /// `dk`, `dc`: the greatest diameter of a round head or a flange.
    pub head_diameter: Option<Length>,
    /// `k`, `m`: nominal height of a head, greatest height of a nut.
    pub height: Option<Length>,
    /// Where it stands.
    pub source: Citation,
}

impl HeadSize {
    /// The outer diameter that the head bears on: `dw`, or else the head's own diameter, which is a little larger.
    #[must_use]
    pub fn bearing_or_head_diameter(&self) -> Option<Length> {
        self.bearing_diameter.or(self.head_diameter)
    }
}

/// A table of heads in the form that all the standards share; 0 where a standard has no value.
pub(super) struct HeadTable {
    pub name: &'static str,
    pub title: &'static str,
    pub form: HeadForm,
    pub citation: Citation,
    pub unit: LengthUnit,
    pub rows: &'static [HeadRow],
}

/// One row, in the unit of its table.
pub(super) struct HeadRow {
    pub size: Size,
    pub tool: RowTool,
    pub bearing: f64,
    pub diameter: f64,
    pub height: f64,
    pub origin: Origin,
}

/// The tool of a row, in the unit of its table.
pub(super) enum RowTool {
    Flats(f64),
    Key(f64),
    Hexalobular(u8),
    External(u8),
    CrossRecess(u8),
}

/// A hexagon head or nut: across flats, bearing face, height.
pub(super) const fn hexagon(size: Size, flats: f64, bearing: f64, height: f64, origin: Origin) -> HeadRow {
    HeadRow { size, tool: RowTool::Flats(flats), bearing, diameter: 0.0, height, origin }
}

/// A flange head or nut: across flats, flange, bearing face, height.
pub(super) const fn flange(
    size: Size,
    flats: f64,
    diameter: f64,
    bearing: f64,
    height: f64,
    origin: Origin,
) -> HeadRow {
    HeadRow { size, tool: RowTool::Flats(flats), bearing, diameter, height, origin }
}

/// A round head: tool, head diameter, bearing face, height.
pub(super) const fn round(
    size: Size,
    tool: RowTool,
    diameter: f64,
    bearing: f64,
    height: f64,
    origin: Origin,
) -> HeadRow {
    HeadRow { size, tool, bearing, diameter, height, origin }
}

/// Every table, for each form the standard in force before the older ones.
const TABLES: [&HeadTable; 23] = [
    &iso_hexagons::ISO_4014,
    &iso_hexagons::DIN_931,
    &iso_hexagons::JIS_B_1180,
    &iso_hexagons::ISO_4162,
    &iso_hexagons::EN_1665,
    &iso_hexagons::DIN_6921,
    &iso_hexagons::EN_1662,
    &iso_hexagons::ISO_4032,
    &iso_hexagons::EN_1661,
    &iso_sockets::ISO_4762,
    &iso_sockets::DIN_912,
    &iso_sockets::ISO_7380_1,
    &iso_sockets::ISO_7380_2,
    &iso_sockets::ISO_10642,
    &iso_sockets::ISO_14579,
    &iso_sockets::ISO_14583,
    &iso_sockets::EXTERNAL_HEXALOBULAR,
    &iso_sockets::ISO_7045,
    &asme_heads::HEX,
    &asme_heads::HEX_FLANGE,
    &asme_heads::NUT,
    &asme_heads::SOCKET,
    &asme_heads::BUTTON,
];

/// All heads and nuts that the tables have for a nominal diameter, in the order of the tables.
#[must_use]
pub fn heads(diameter: Length) -> Vec<HeadSize> {
    of_size(diameter).to_vec()
}

/// Every size with its heads, made once.
static BY_SIZE: LazyLock<Vec<(Size, Vec<HeadSize>)>> = LazyLock::new(|| {
    let mut sizes: Vec<(Size, Vec<HeadSize>)> = Vec::new();
    for table in TABLES {
        for row in table.rows {
            let head = size_of(table, row);
            match sizes.iter_mut().find(|(size, _)| size.is(row.size.diameter())) {
                Some((_, heads)) => heads.push(head),
                None => sizes.push((row.size, vec![head])),
            }
        }
    }
    sizes
});

fn of_size(diameter: Length) -> &'static [HeadSize] {
    BY_SIZE.iter().find(|(size, _)| size.is(diameter)).map_or(&[], |(_, heads)| heads)
}

/// A head of one form for a nominal diameter, from the standard in force where several have it.
#[must_use]
pub fn head(form: HeadForm, diameter: Length) -> Option<HeadSize> {
    of_size(diameter).iter().find(|head| head.form == form).copied()
}

fn size_of(table: &HeadTable, row: &HeadRow) -> HeadSize {
    let length = |value: f64| Length::from_millimeters(value * table.unit.in_base());
    let stated = |value: f64| (value > 0.0).then(|| length(value));
    HeadSize {
        form: table.form,
        size: row.size,
        tool: match row.tool {
            RowTool::Flats(flats) => Tool::Flats(length(flats)),
            RowTool::Key(flats) => Tool::Key(length(flats)),
            RowTool::Hexalobular(number) => Tool::Hexalobular(number),
            RowTool::External(number) => Tool::ExternalHexalobular(number),
            RowTool::CrossRecess(number) => Tool::CrossRecess(number),
        },
        bearing_diameter: stated(row.bearing),
        head_diameter: stated(row.diameter),
        height: stated(row.height),
        source: table.citation.with(row.origin),
    }
}

const COLUMNS: [&str; 5] = ["size", "tool", "bearing_diameter", "head_diameter", "height"];

/// The tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let as_table = |heads: &&HeadTable| {
        let mut table = Table::new(heads.name, heads.title, heads.citation, heads.unit.symbol(), &COLUMNS);
        for row in heads.rows {
            table.push(row.origin, cells(heads, row));
        }
        table
    };
    TABLES.iter().map(as_table).collect()
}

/// The rows of all the tables of heads as one table, for comparing them with something else.
pub(super) fn all() -> Table {
    let columns: Vec<&str> = ["table", "unit"].into_iter().chain(COLUMNS).collect();
    let citation = Citation::new("several", "", "");
    let mut table = Table::new("heads", "Heads and nuts of all standards", citation, "by row", &columns);
    for heads in TABLES {
        for row in heads.rows {
            let own = [Cell::from(heads.name), heads.unit.symbol().into()];
            table.push(row.origin, own.into_iter().chain(cells(heads, row)));
        }
    }
    table
}

fn cells(table: &HeadTable, row: &HeadRow) -> [Cell; 5] {
    let [bearing, diameter, height] =
        [row.bearing, row.diameter, row.height].map(|value| Cell::from((value > 0.0).then_some(value)));
    [row.size.to_string().into(), size_of(table, row).tool.to_string().into(), bearing, diameter, height]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn old_and_new_across_flats_stand_side_by_side() {
        let all = heads(Length::from_millimeters(10.0));
        let hexagons = all.iter().filter(|head| head.form == HeadForm::Hexagon);
        let hexagons: Vec<String> = hexagons.map(|head| format!("{} {}", head.source.standard, head.tool)).collect();
        assert_eq!(hexagons, ["ISO 4014 16 mm", "DIN 931 17 mm", "JIS B 1180 14 mm"]);
    }

    #[test]
    fn inch_tools_print_as_fractions() {
        let head = head(HeadForm::Hexagon, Size::In(0.375).diameter()).expect("3/8 hexagon");
        assert_eq!(head.tool.to_string(), "9/16 in");
        let key = |number| {
            super::head(HeadForm::SocketCap, Size::No(number).diameter()).expect("a socket head").tool.to_string()
        };
        assert_eq!([key(0), key(8)], ["0.05 in", "9/64 in"]);
        let half = super::head(HeadForm::Hexagon, Size::In(0.3125).diameter()).expect("5/16 hexagon");
        assert_eq!(half.tool.to_string(), "1/2 in");
    }

    #[test]
    fn rows_rise_and_are_plausible() {
        for table in TABLES {
            for pair in table.rows.windows(2) {
                let sizes = [&pair[0], &pair[1]].map(|row| row.size.diameter());
                assert!(sizes[0] < sizes[1], "{}: {} before {}", table.name, pair[0].size, pair[1].size);
            }
            for row in table.rows {
                let head = size_of(table, row);
                let name = format!("{} {}", table.name, row.size);
                if let Some(bearing) = head.bearing_diameter {
                    assert!(bearing > row.size.diameter(), "{name}: bears wider than the thread");
                    let outer = head.head_diameter.or(head.tool.across_flats()).expect("an outer size");
                    assert!(bearing < outer, "{name}: bearing face within the head");
                }
                if let Tool::Flats(flats) = head.tool {
                    assert!(flats > row.size.diameter(), "{name}: across flats over the thread");
                }
            }
        }
    }
}
