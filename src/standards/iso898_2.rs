//! ISO 898-2: nuts of carbon and alloy steel. Unit: MPa, N. Rounding: as printed.
//!
//! Stress under proof load and hardness: edition 1992, Table 5 (coarse pitch, from memory; the proof loads below, read from a
//! reprint, confirm them) and ISO 898-6:1994, Table 4 (fine pitch, class 5 and the thin classes read, the rest from memory).
//! The edition of 2012 joined the two parts, starts at M5, dropped class 4 and kept the other values.
//! Proof loads: ISO 898-2:1992, Table 6, read from a reprint for the classes 4 to 12, the thin classes and class 9 from memory.

use super::citation::{Citation, Origin};
use super::nuts::NutStyle;
use super::table::{Cell, Table};
use NutStyle::{High, Regular, Thin};
use Origin::{FromMemory, Read};

/// The stress under proof load of a class in sizes over one, up to another diameter.
pub(super) struct StressRow {
    pub class: &'static str,
    pub style: NutStyle,
    pub over_mm: f64,
    pub to_mm: f64,
    pub stress_mpa: f64,
    /// Vickers hardness, least and greatest.
    pub vickers: (u16, u16),
    pub origin: Origin,
}

const fn row(
    class: &'static str,
    style: NutStyle,
    (over_mm, to_mm): (f64, f64),
    stress_mpa: f64,
    vickers: (u16, u16),
) -> StressRow {
    StressRow { class, style, over_mm, to_mm, stress_mpa, vickers, origin: FromMemory }
}

const fn read(
    class: &'static str,
    style: NutStyle,
    (over_mm, to_mm): (f64, f64),
    stress_mpa: f64,
    vickers: (u16, u16),
) -> StressRow {
    StressRow { class, style, over_mm, to_mm, stress_mpa, vickers, origin: Read }
}

/// Where the coarse stresses stand.
pub(super) const COARSE: Citation = Citation::new("ISO 898-2", "1992", "Table 5");
/// Where the fine stresses stand.
pub(super) const FINE: Citation = Citation::new("ISO 898-6", "1994", "Table 4");
/// Where the proof loads stand.
pub(super) const LOADS: Citation = Citation::new("ISO 898-2", "1992", "Table 6");

/// Coarse pitch. The first size step, up to M4, begins at M1.6; the last ends at M39.
pub(super) const COARSE_STRESSES: [StressRow; 37] = [
    row("04", Thin, (0.0, 39.0), 380.0, (188, 302)),
    row("05", Thin, (0.0, 39.0), 500.0, (272, 353)),
    row("4", Regular, (16.0, 39.0), 510.0, (117, 302)),
    row("5", Regular, (0.0, 4.0), 520.0, (130, 302)),
    row("5", Regular, (4.0, 7.0), 580.0, (130, 302)),
    row("5", Regular, (7.0, 10.0), 590.0, (130, 302)),
    row("5", Regular, (10.0, 16.0), 610.0, (130, 302)),
    row("5", Regular, (16.0, 39.0), 630.0, (146, 302)),
    row("6", Regular, (0.0, 4.0), 600.0, (150, 302)),
    row("6", Regular, (4.0, 7.0), 670.0, (150, 302)),
    row("6", Regular, (7.0, 10.0), 680.0, (150, 302)),
    row("6", Regular, (10.0, 16.0), 700.0, (150, 302)),
    row("6", Regular, (16.0, 39.0), 720.0, (170, 302)),
    row("8", Regular, (0.0, 4.0), 800.0, (180, 302)),
    row("8", Regular, (4.0, 7.0), 855.0, (200, 302)),
    row("8", Regular, (7.0, 10.0), 870.0, (200, 302)),
    row("8", Regular, (10.0, 16.0), 880.0, (200, 302)),
    row("8", Regular, (16.0, 39.0), 920.0, (233, 353)),
    row("8", High, (16.0, 39.0), 890.0, (180, 302)),
    row("9", High, (0.0, 4.0), 900.0, (170, 302)),
    row("9", High, (4.0, 7.0), 915.0, (188, 302)),
    row("9", High, (7.0, 10.0), 940.0, (188, 302)),
    row("9", High, (10.0, 16.0), 950.0, (188, 302)),
    row("9", High, (16.0, 39.0), 920.0, (188, 302)),
    row("10", Regular, (0.0, 4.0), 1040.0, (272, 353)),
    row("10", Regular, (4.0, 7.0), 1040.0, (272, 353)),
    row("10", Regular, (7.0, 10.0), 1040.0, (272, 353)),
    row("10", Regular, (10.0, 16.0), 1050.0, (272, 353)),
    row("10", Regular, (16.0, 39.0), 1060.0, (272, 353)),
    row("12", Regular, (0.0, 7.0), 1140.0, (295, 353)),
    row("12", Regular, (7.0, 10.0), 1140.0, (295, 353)),
    row("12", Regular, (10.0, 16.0), 1170.0, (295, 353)),
    row("12", High, (0.0, 4.0), 1150.0, (272, 353)),
    row("12", High, (4.0, 7.0), 1150.0, (272, 353)),
    row("12", High, (7.0, 10.0), 1160.0, (272, 353)),
    row("12", High, (10.0, 16.0), 1190.0, (272, 353)),
    row("12", High, (16.0, 39.0), 1200.0, (272, 353)),
];

/// Fine pitch, from M8×1. The first size step includes M8.
pub(super) const FINE_STRESSES: [StressRow; 19] = [
    read("04", Thin, (7.0, 39.0), 380.0, (188, 302)),
    read("05", Thin, (7.0, 39.0), 500.0, (272, 353)),
    read("5", Regular, (7.0, 16.0), 690.0, (175, 302)),
    read("5", Regular, (16.0, 39.0), 720.0, (190, 302)),
    row("6", Regular, (7.0, 10.0), 770.0, (188, 302)),
    row("6", Regular, (10.0, 16.0), 780.0, (188, 302)),
    row("6", Regular, (16.0, 33.0), 870.0, (233, 302)),
    row("6", Regular, (33.0, 39.0), 930.0, (233, 302)),
    row("8", Regular, (7.0, 16.0), 955.0, (250, 353)),
    row("8", Regular, (16.0, 33.0), 1030.0, (295, 353)),
    row("8", Regular, (33.0, 39.0), 1090.0, (295, 353)),
    row("8", High, (7.0, 16.0), 890.0, (195, 302)),
    row("8", High, (16.0, 39.0), 890.0, (210, 302)),
    row("10", Regular, (7.0, 10.0), 1100.0, (295, 353)),
    row("10", Regular, (10.0, 16.0), 1110.0, (295, 353)),
    row("10", High, (7.0, 16.0), 1055.0, (250, 353)),
    row("10", High, (16.0, 39.0), 1080.0, (260, 353)),
    row("12", High, (7.0, 16.0), 1200.0, (295, 353)),
    row("12", High, (16.0, 39.0), 1200.0, (295, 353)),
];

/// Proof loads of one coarse thread in N; 0 where the standard has none.
pub(super) struct LoadRow {
    pub diameter_mm: f64,
    pub pitch_mm: f64,
    pub area_mm2: f64,
    pub loads: [u32; 11],
}

/// The columns of the proof loads: class and style.
pub(super) const COLUMNS: [(&str, NutStyle); 11] = [
    ("04", Thin),
    ("05", Thin),
    ("4", Regular),
    ("5", Regular),
    ("6", Regular),
    ("8", Regular),
    ("8", High),
    ("9", High),
    ("10", Regular),
    ("12", Regular),
    ("12", High),
];

const fn load(diameter_mm: f64, pitch_mm: f64, area_mm2: f64, loads: [u32; 11]) -> LoadRow {
    LoadRow { diameter_mm, pitch_mm, area_mm2, loads }
}

/// Proof loads, coarse pitch.
#[rustfmt::skip]
pub(super) const COARSE_LOADS: [LoadRow; 20] = [
    load(3.0, 0.5, 5.03, [1910, 2500, 0, 2600, 3000, 4000, 0, 4500, 5200, 5700, 5800]),
    load(3.5, 0.6, 6.78, [2580, 3400, 0, 3550, 4050, 5400, 0, 6100, 7050, 7700, 7800]),
    load(4.0, 0.7, 8.78, [3340, 4400, 0, 4550, 5250, 7000, 0, 7900, 9150, 10_000, 10_100]),
    load(5.0, 0.8, 14.2, [5400, 7100, 0, 8250, 9500, 12_140, 0, 13_000, 14_800, 16_200, 16_300]),
    load(6.0, 1.0, 20.1, [7640, 10_000, 0, 11_700, 13_500, 17_200, 0, 18_400, 20_900, 22_900, 23_100]),
    load(7.0, 1.0, 28.9, [11_000, 14_500, 0, 16_800, 19_400, 24_700, 0, 26_400, 30_100, 32_900, 33_200]),
    load(8.0, 1.25, 36.6, [13_900, 18_300, 0, 21_600, 24_900, 31_800, 0, 34_400, 38_100, 41_700, 42_500]),
    load(10.0, 1.5, 58.0, [22_000, 29_000, 0, 34_200, 39_400, 50_500, 0, 54_500, 60_300, 66_100, 67_300]),
    load(12.0, 1.75, 84.3, [32_000, 42_200, 0, 51_400, 59_000, 74_200, 0, 80_100, 88_500, 98_600, 100_300]),
    load(14.0, 2.0, 115.0, [43_700, 57_500, 0, 70_200, 80_500, 101_200, 0, 109_300, 120_800, 134_600, 136_900]),
    load(16.0, 2.0, 157.0, [59_700, 78_500, 0, 95_800, 109_900, 138_200, 0, 149_200, 164_900, 183_700, 186_800]),
    load(18.0, 2.5, 192.0, [73_000, 96_000, 97_900, 121_000, 138_200, 176_600, 170_900, 176_600, 203_500, 0, 230_400]),
    load(20.0, 2.5, 245.0, [93_100, 122_500, 125_000, 154_400, 176_400, 225_400, 218_100, 225_400, 259_700, 0, 294_000]),
    load(22.0, 2.5, 303.0, [115_100, 151_500, 154_500, 190_900, 218_200, 278_800, 269_700, 278_800, 321_200, 0, 363_600]),
    load(24.0, 3.0, 353.0, [134_100, 176_500, 180_000, 222_400, 254_200, 324_800, 314_200, 324_800, 374_200, 0, 423_600]),
    load(27.0, 3.0, 459.0, [174_400, 229_500, 234_100, 289_200, 330_500, 422_300, 408_500, 422_300, 486_500, 0, 550_800]),
    load(30.0, 3.5, 561.0, [213_200, 280_500, 286_100, 353_400, 403_900, 516_100, 499_300, 516_100, 594_700, 0, 673_200]),
    load(33.0, 3.5, 694.0, [263_700, 347_000, 353_900, 437_200, 499_700, 638_500, 617_700, 638_500, 735_600, 0, 832_800]),
    load(36.0, 4.0, 817.0, [310_500, 408_500, 416_700, 514_700, 588_200, 751_600, 727_100, 751_600, 866_000, 0, 980_400]),
    load(39.0, 4.0, 976.0, [370_900, 488_000, 497_800, 614_900, 702_700, 897_900, 868_600, 897_900, 1_035_000, 0, 1_171_000]),
];

/// How the proof loads of a column got here.
pub(super) fn column_origin(class: &str) -> Origin {
    if matches!(class, "04" | "05" | "9") { FromMemory } else { Read }
}

/// The three tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let stresses = |name, title, citation, rows: &[StressRow]| {
        let columns = ["class", "style", "over_mm", "up_to_mm", "stress_mpa", "vickers_min", "vickers_max"];
        let mut table = Table::new(name, title, citation, "MPa", &columns);
        for row in rows {
            let (low, high) = row.vickers;
            let numbers = [row.over_mm, row.to_mm, row.stress_mpa, f64::from(low), f64::from(high)].map(Cell::from);
            table.push(row.origin, [Cell::from(row.class), Cell::from(row.style.word())].into_iter().chain(numbers));
        }
        table
    };
    let columns = ["thread", "stress_area_mm2", "04", "05", "4", "5", "6", "8", "8 high", "9", "10", "12", "12 high"];
    let mut loads = Table::new("iso-898-2-proof-loads", "Proof loads of nuts, coarse pitch", LOADS, "N", &columns)
        .note("Classes 04, 05 and 9 from memory, the others read.");
    for row in &COARSE_LOADS {
        let thread = Cell::from(format!("M{}×{}", row.diameter_mm, row.pitch_mm));
        let values = row.loads.iter().map(|load| Cell::from((*load > 0).then_some(*load)));
        loads.push(FromMemory, [thread, Cell::from(row.area_mm2)].into_iter().chain(values));
    }
    vec![
        stresses("iso-898-2-stress-coarse", "Stress of nuts under proof load, coarse pitch", COARSE, &COARSE_STRESSES),
        stresses("iso-898-6-stress-fine", "Stress of nuts under proof load, fine pitch", FINE, &FINE_STRESSES),
        loads,
    ]
}
