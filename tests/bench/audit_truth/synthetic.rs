//! Tables that nobody printed: worked out from the mechanics with the habits of printed ones, so that the audit meets
//! tables that it has not learned from.
//!
//! Each table draws its system, sizes, classes, conditions, formula (nut factor, or thread and head apart), how far it
//! uses the bolts, units, rounding, ranges, second unit and how exactly it was worked out. None of this is read from the
//! model, and nothing in the model was chosen by what comes out here but as DEVELOPERS.md says.

use crate::corpus::Row;
use crate::dice::Dice;
use clampbook::standards::{PropertyClass, strength};
use clampbook::thread::Thread;
use clampbook::units::{Number, TorqueUnit, Unit};

const METRIC: [&str; 22] = [
    "M3",
    "M4",
    "M5",
    "M6",
    "M8",
    "M8×1",
    "M10",
    "M10×1.25",
    "M12",
    "M12×1.25",
    "M14",
    "M14×1.5",
    "M16",
    "M16×1.5",
    "M18",
    "M20",
    "M20×1.5",
    "M22",
    "M24",
    "M24×2",
    "M27",
    "M30",
];
const INCH: [&str; 22] = [
    "#8-32 UNC",
    "#10-24 UNC",
    "#10-32 UNF",
    "1/4-20 UNC",
    "1/4-28 UNF",
    "5/16-18 UNC",
    "5/16-24 UNF",
    "3/8-16 UNC",
    "3/8-24 UNF",
    "7/16-14 UNC",
    "7/16-20 UNF",
    "1/2-13 UNC",
    "1/2-20 UNF",
    "9/16-12 UNC",
    "9/16-18 UNF",
    "5/8-11 UNC",
    "5/8-18 UNF",
    "3/4-10 UNC",
    "3/4-16 UNF",
    "7/8-9 UNC",
    "7/8-14 UNF",
    "1-8 UNC",
];
const METRIC_CLASSES: [&str; 8] = ["4.6", "5.6", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9"];
const STAINLESS: [&str; 4] = ["A2-50", "A2-70", "A4-70", "A4-80"];
const GRADES: [&str; 3] = ["2", "5", "8"];
/// The words of a condition, and the nut factors of tables for it (textbooks; the ranges are ours).
const CONDITIONS: [(&str, f64, f64); 7] = [
    ("dry", 0.18, 0.25),
    ("lubricated", 0.13, 0.17),
    ("oiled", 0.14, 0.19),
    ("zinc plated", 0.17, 0.22),
    ("unknown", 0.15, 0.21),
    ("anti-seize compound", 0.11, 0.15),
    ("as received", 0.17, 0.22),
];

/// How a table is rounded.
#[derive(Clone, Copy)]
enum Rounding {
    Figures(u8),
    Whole,
    Fives,
    Steps,
}

/// How a table is made.
struct Habit {
    /// Share of the yield strength in the shank, or combined stress over yield.
    share: f64,
    /// Is the head's face reckoned apart from the thread, or one nut factor used?
    by_parts: bool,
    bearing: f64,
    rounding: Rounding,
    cut: bool,
    unit: TorqueUnit,
    /// Small torques are stated in pound-inches.
    small_in_inches: bool,
    second: Option<TorqueUnit>,
    second_rounding: Rounding,
    /// The second figure comes from the unrounded torque, or from the printed one.
    second_from_exact: bool,
    /// From one over this to this.
    range: Option<f64>,
    jitter: f64,
}

/// The rows of this many tables, as the corpus writes rows.
pub fn tables(count: u64, seed: u64) -> Vec<Row> {
    (0..count).flat_map(|i| table(&mut Dice::new(seed * 1000 + i), i)).collect()
}

fn table(dice: &mut Dice, number: u64) -> Vec<Row> {
    let metric = dice.chance(0.5);
    let stainless = metric && dice.chance(0.2);
    let habit = habit(dice, metric);
    let with_fine = dice.chance(0.5);
    let all = if metric { METRIC } else { INCH };
    let fine = |name: &str| name.contains('×') || name.contains("UNF");
    let sizes: Vec<&str> = all.into_iter().filter(|name| with_fine || !fine(name)).collect();
    let count = 5 + dice.below(sizes.len() - 5);
    let from = dice.below(sizes.len() - count + 1);
    let sizes = &sizes[from..from + count];
    let classes = match (metric, stainless) {
        (true, true) => dice.some(&STAINLESS, 2),
        (true, false) => dice.some(&METRIC_CLASSES, 4),
        _ => dice.some(&GRADES, 3),
    };
    let conditions = dice.some(&CONDITIONS, 2);
    let mut rows = Vec::new();
    for size in sizes {
        for class in &classes {
            for (condition, low, high) in &conditions {
                let nut_factor = f64::midpoint(*low, *high);
                let cell = cell(dice, &habit, size, class, nut_factor, metric);
                rows.extend(cell.map(|cell| row(number, rows.len(), size, class, (metric, condition), cell)));
            }
        }
    }
    rows
}

fn habit(dice: &mut Dice, metric: bool) -> Habit {
    let unit = match (metric, dice.share()) {
        (true, share) if share < 0.85 => TorqueUnit::NewtonMeter,
        (true, share) if share < 0.93 => TorqueUnit::KilogramMeter,
        (false, share) if share < 0.1 => TorqueUnit::PoundInch,
        (false, share) if share < 0.2 => TorqueUnit::NewtonMeter,
        _ => TorqueUnit::PoundFoot,
    };
    let roundings = [Rounding::Figures(2), Rounding::Figures(3), Rounding::Whole, Rounding::Fives, Rounding::Steps];
    let other = if unit == TorqueUnit::NewtonMeter { TorqueUnit::PoundFoot } else { TorqueUnit::NewtonMeter };
    Habit {
        share: dice.between(0.55, 0.85),
        by_parts: dice.chance(0.5),
        bearing: dice.between(1.2, 1.5),
        rounding: dice.one(&roundings),
        cut: dice.chance(0.1),
        unit,
        small_in_inches: unit == TorqueUnit::PoundFoot && dice.chance(0.3),
        second: dice.chance(0.5).then_some(other),
        second_rounding: dice.one(&roundings),
        second_from_exact: dice.chance(0.3),
        range: dice.chance(0.25).then(|| dice.between(1.04, 1.15)),
        jitter: if dice.chance(0.5) { 0.0 } else { dice.between(0.002, 0.015) },
    }
}

/// The torque of one cell in newton-metres, stated and in the second unit.
struct Cell {
    stated: (Number, Number, TorqueUnit),
    second: Option<(Number, Number, TorqueUnit)>,
}

fn cell(dice: &mut Dice, habit: &Habit, size: &str, class: &str, nut_factor: f64, metric: bool) -> Option<Cell> {
    let thread: Thread = size.parse().expect(size);
    let geometry = thread.geometry()?;
    let class: PropertyClass = if metric { class.to_owned() } else { format!("grade {class}") }.parse().expect(class);
    let strength = strength(&class, geometry.major()).ok()?;
    let (d, d2, pitch) =
        (geometry.major().millimeters(), geometry.pitch_diameter().millimeters(), geometry.pitch().millimeters());
    let area = geometry.stress_area().square_millimeters();
    let preload = habit.share * strength.yield_.megapascals() * area;
    let arm = if habit.by_parts {
        // The friction that a nut factor stands for at a coarse M10, the same for all sizes.
        let friction = (nut_factor * 10.0 - 0.159 * 1.5) / (0.577 * 9.026 + 0.65 * 10.0);
        0.159 * pitch + friction * (0.577 * d2 + habit.bearing * d / 2.0)
    } else {
        nut_factor * d
    };
    let exact = preload * arm / 1000.0 * (1.0 + habit.jitter * dice.normal());
    let small = habit.small_in_inches && exact < 20.0;
    let unit = if small { TorqueUnit::PoundInch } else { habit.unit };
    let number = |newton_meters: f64, unit: TorqueUnit, rounding: Rounding| {
        let value = newton_meters / unit.in_base();
        let number = rounded(value, rounding, habit.cut);
        // What a rounding takes away altogether, or nearly, nobody prints so.
        if (number.value() / value).ln().abs() < 0.06 { number } else { Number::from_f64(value, 2) }
    };
    let ends = habit.range.map_or((exact, exact), |range| (exact / range, exact * range));
    let stated = (number(ends.0, unit, habit.rounding), number(ends.1, unit, habit.rounding), unit);
    let second = habit.second.map(|second| {
        let printed = (stated.0.value() * unit.in_base(), stated.1.value() * unit.in_base());
        let (low, high) = if habit.second_from_exact { ends } else { printed };
        (number(low, second, habit.second_rounding), number(high, second, habit.second_rounding), second)
    });
    Some(Cell { stated, second })
}

fn rounded(value: f64, rounding: Rounding, cut: bool) -> Number {
    let step = match rounding {
        Rounding::Figures(figures) => 10_f64.powi(value.log10().floor() as i32 + 1 - i32::from(figures)),
        Rounding::Whole if value < 10.0 => 0.1,
        Rounding::Whole => 1.0,
        Rounding::Fives if value < 10.0 => 0.5,
        Rounding::Fives if value < 50.0 => 1.0,
        Rounding::Fives => 5.0,
        Rounding::Steps => [(10.0, 0.1), (50.0, 1.0), (200.0, 5.0), (1e9, 10.0)]
            .into_iter()
            .find(|(to, _)| value < *to)
            .map_or(1.0, |s| s.1),
    };
    let times = if cut { (value / step + 1e-9).floor() } else { (value / step).round() };
    Number::from_f64(times * step, 6)
}

fn row(table: u64, place: usize, thread: &str, class: &str, (metric, condition): (bool, &str), cell: Cell) -> Row {
    let mut row = Row::new();
    let mut set = |name: &str, text: String| row.insert(name.to_owned(), text);
    set("row_id", format!("S{table:03}-{place:03}"));
    set("source_id", format!("S{table:03}"));
    set("thread", thread.to_owned());
    set("grade_system", if metric { "ISO".to_owned() } else { "SAE-J429".to_owned() });
    set("grade", class.to_owned());
    set("condition", condition.to_owned());
    set("fastened_into", String::new());
    let (low, high, unit) = cell.stated;
    set("torque_min", low.to_string());
    set("torque_max", high.to_string());
    set("unit", unit.to_string());
    let second = cell.second.map(|(low, high, unit)| (low.to_string(), high.to_string(), unit.to_string()));
    let (low, high, unit) = second.unwrap_or_default();
    set("torque2_min", low);
    set("torque2_max", high);
    set("unit2", unit);
    row
}
