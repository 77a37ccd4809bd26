//! Tables that the audit was not made with: the public ones changed as other documents would have them, and tables worked
//! out from the mechanics. How many right rows are called wrong, and how many misprints put into them are found.

use crate::corpus::{Published, Row, rows};
use crate::dice::Dice;
use crate::published::{audited, each_document, is_about_number};
use crate::synthetic;
use crate::tally::share;
use crate::unseen::{of_tables, wrong_rows};
use clampbook::units::{Number, TorqueUnit, Unit};
use std::collections::{BTreeMap, BTreeSet};

/// So many tables are worked out: about 3,000 rows.
const TABLES: u64 = 80;
const SEED: u64 = 11;

/// What becomes of a table.
type Variant = fn(Vec<Row>) -> Vec<Row>;

const VARIANTS: [(&str, Variant); 12] = [
    ("as they are", |rows| rows),
    ("without the second unit", |rows| each(rows, without_second)),
    ("without the class", |rows| each(rows, |row| set(row, &[("grade", ""), ("grade_system", "")]))),
    ("without the condition", |rows| each(rows, |row| set(row, &[("condition", "unknown")]))),
    ("in another order", shuffled),
    ("reprinted in the other unit, two figures", |rows| each(rows, |row| reprinted(row, 2, 1.0))),
    ("reprinted in the other unit, three figures", |rows| each(rows, |row| reprinted(row, 3, 1.0))),
    ("for drier bolts: 1.3 times", |rows| each(rows, |row| scaled(row, 1.3))),
    ("for oiled bolts: 0.75 times", |rows| each(rows, |row| scaled(row, 0.75))),
    ("every other size", |rows| some_sizes(rows, |place, _| place % 2 == 0)),
    ("the smallest five sizes", |rows| some_sizes(rows, |place, _| place < 5)),
    ("the largest five sizes", |rows| some_sizes(rows, |place, count| place + 5 >= count)),
];

/// Prints what was found in all of them.
pub fn report() {
    println!("\nTables that the audit was not made with");
    let wrong = wrong_rows();
    let public: Vec<Row> = rows("tables.csv").into_iter().filter(|row| !wrong.contains(&row["row_id"])).collect();
    for (name, variant) in VARIANTS {
        let set = of_tables(variant(public.clone()));
        alarms(&format!("the public tables {name}"), &set);
    }
    let made = synthetic::tables(TABLES, SEED);
    let set = of_tables(made.clone());
    alarms(&format!("{TABLES} tables worked out from the mechanics"), &set);
    misprints("the public tables", &public);
    misprints("the tables worked out", &made);
}

/// The right rows that are called wrong, each document for itself and all in one book.
fn alarms(name: &str, set: &[Published]) {
    let is_alarm =
        |findings: &crate::published::Findings, row: &Published| findings[&row.row].iter().any(is_about_number);
    let (alone, together) = (each_document(set), audited(set.iter()));
    let count = |findings| set.iter().filter(|row| is_alarm(findings, row)).count();
    let (first, second) = (count(&alone), count(&together));
    println!(
        "  {name}: {first} of {} right rows called wrong ({:.2} %), all in one book {second} ({:.2} %)",
        set.len(),
        share(first, set.len()),
        share(second, set.len())
    );
    if std::env::var_os("CLAMPBOOK_WHICH").is_some() {
        for row in set.iter().filter(|row| is_alarm(&alone, row) || is_alarm(&together, row)) {
            let own = alone[&row.row].iter().chain(&together[&row.row]).find(|finding| is_about_number(finding));
            if let Some(own) = own {
                println!("    {} {} {} {}: {}", row.row, row.fastener().thread, own.severity, own.rule, own.message);
            }
        }
    }
}

/// A misprint that is put into a row: what it makes of it, given the row beside it in its column.
type Misprint = fn(&Row, Option<&Row>, &mut Dice) -> Option<Row>;

const MISPRINTS: [(&str, Misprint); 10] = [
    ("wrong digit, second unit right", |row, _, dice| with_second(row)?.digits(dice, wrong_digit, First)),
    ("wrong digit in the second unit", |row, _, dice| with_second(row)?.digits(dice, wrong_digit, Second)),
    ("digit lost, second unit right", |row, _, dice| with_second(row)?.digits(dice, lost_digit, First)),
    ("digit lost in the second unit", |row, _, dice| with_second(row)?.digits(dice, lost_digit, Second)),
    ("neighbouring cell, second unit right", |row, beside, _| taken(with_second(row)?, beside?, false)),
    ("neighbouring cell, both units", |row, beside, _| taken(with_second(row)?, beside?, true)),
    ("neighbouring cell, one unit printed", |row, beside, _| taken(alone(row), beside?, true)),
    ("wrong digit, one unit printed", |row, _, dice| alone(row).digits(dice, wrong_digit, First)),
    ("digit lost, one unit printed", |row, _, dice| alone(row).digits(dice, lost_digit, First)),
    ("point lost, one unit printed", |row, _, dice| alone(row).digits(dice, lost_point, First)),
];

/// Puts one misprint of each kind into a row of every document, and counts those found.
fn misprints(name: &str, all: &[Row]) {
    println!("  misprints put into {name}, one at a time (of 15 % or more; 5 % where the other unit is right):");
    let mut documents: BTreeMap<&str, Vec<&Row>> = BTreeMap::new();
    all.iter().for_each(|row| documents.entry(row["source_id"].as_str()).or_default().push(row));
    let (mut found_all, mut made_all) = (0, 0);
    for (k, (kind, misprint)) in MISPRINTS.iter().enumerate() {
        let (mut found, mut made, mut missed) = (0, 0, Vec::new());
        for (n, rows) in documents.values().enumerate() {
            let mut dice = Dice::new((k * 1000 + n) as u64);
            let alone = kind.contains("one unit printed");
            for _ in 0..events(all.len()) {
                let Some((at, row)) = misprinted(rows, *misprint, &mut dice, kind) else { continue };
                let mut table: Vec<Row> = rows.iter().map(|row| (*row).clone()).collect();
                if alone {
                    table = each(table, without_second);
                }
                table[at] = row;
                let set = of_tables(table);
                let hit = audited(set.iter())[&set[at].row].iter().any(is_about_number);
                made += 1;
                found += usize::from(hit);
                if !hit {
                    missed.push(format!("{} {}", set[at].row, set[at].fastener().stages));
                }
            }
        }
        println!("    {kind}: {found} of {made} ({:.1} %)", share(found, made));
        if std::env::var_os("CLAMPBOOK_WHICH").is_some() {
            println!("      missed: {}", missed.join("; "));
        }
        (found_all, made_all) = (found_all + found, made_all + made);
    }
    println!("    all: {found_all} of {made_all} ({:.1} %)", share(found_all, made_all));
}

/// How many misprints of a kind go into each document, one after the other.
fn events(rows: usize) -> usize {
    if rows < 1000 { 5 } else { 1 }
}

/// A row of the table after a misprint, and its place; a few rows are tried.
fn misprinted(rows: &[&Row], misprint: Misprint, dice: &mut Dice, kind: &str) -> Option<(usize, Row)> {
    const TRIES: usize = 12;
    let other_right = kind.contains("second unit");
    (0..TRIES).find_map(|_| {
        let at = dice.below(rows.len());
        let row = rows[at];
        let same_column = |other: &&&Row| {
            ["grade", "condition", "unit"].iter().all(|field| other[*field] == row[*field])
                && other["thread"] != row["thread"]
        };
        let beside = rows[at + 1..].iter().find(same_column).copied();
        let wrong = misprint(row, beside, dice)?;
        let least = if other_right { 1.05 } else { 1.15 };
        (apart(row, &wrong) >= least).then_some((at, wrong))
    })
}

/// By how much the figures of two rows differ, at most.
fn apart(one: &Row, other: &Row) -> f64 {
    let ratio = |field: &str| {
        let value = |row: &Row| row[field].parse::<f64>().ok();
        value(one).zip(value(other)).map_or(1.0, |(a, b)| (a / b).max(b / a))
    };
    FIGURES.iter().map(|field| ratio(field)).fold(1.0, f64::max)
}

const FIGURES: [&str; 4] = ["torque_min", "torque_max", "torque2_min", "torque2_max"];

/// Which of the printed units a misprint is in.
#[derive(Clone, Copy)]
enum Unit2 {
    First,
    Second,
}

use Unit2::{First, Second};

/// A row that a misprint will be put into.
struct Printed(Row);

fn with_second(row: &Row) -> Option<Printed> {
    (!row["unit2"].is_empty()).then(|| Printed(row.clone()))
}

fn alone(row: &Row) -> Printed {
    let mut row = row.clone();
    without_second(&mut row);
    Printed(row)
}

impl Printed {
    /// The row with one figure of a unit changed; a single value changes as a whole.
    fn digits(mut self, dice: &mut Dice, change: fn(&str, &mut Dice) -> Option<String>, unit: Unit2) -> Option<Row> {
        let (low, high) = match unit {
            First => ("torque_min", "torque_max"),
            Second => ("torque2_min", "torque2_max"),
        };
        let field = if dice.chance(0.5) { low } else { high };
        let changed = change(&self.0[field], dice)?;
        changed.parse::<f64>().ok().filter(|value| *value > 0.0)?;
        let fields = if self.0[low] == self.0[high] { vec![low, high] } else { vec![field] };
        set(&mut self.0, &fields.into_iter().map(|field| (field, changed.as_str())).collect::<Vec<_>>());
        let value = |field: &str| self.0[field].parse::<f64>().unwrap_or(0.0);
        (value(low) <= value(high)).then_some(self.0)
    }
}

fn wrong_digit(text: &str, dice: &mut Dice) -> Option<String> {
    let places: Vec<usize> = text.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(at, _)| at).collect();
    let at = dice.one(&places);
    let digit = char::from_digit(dice.below(10) as u32, 10)?;
    let changed = format!("{}{digit}{}", &text[..at], &text[at + 1..]);
    (changed != text && !changed.starts_with('0')).then_some(changed)
}

fn lost_digit(text: &str, dice: &mut Dice) -> Option<String> {
    let places: Vec<usize> = text.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(at, _)| at).collect();
    let at = dice.one(&places);
    let changed = format!("{}{}", &text[..at], &text[at + 1..]);
    (changed != text && !changed.is_empty() && !changed.starts_with(['0', '.']) && !changed.ends_with('.'))
        .then_some(changed)
}

fn lost_point(text: &str, _: &mut Dice) -> Option<String> {
    text.contains('.').then(|| text.replace('.', ""))
}

/// The figures of the row beside it.
fn taken(row: Printed, beside: &Row, both: bool) -> Option<Row> {
    let mut row = row.0;
    let fields = if both && !row["unit2"].is_empty() { &FIGURES[..] } else { &FIGURES[..2] };
    fields.iter().for_each(|field| {
        row.insert((*field).to_owned(), beside[*field].clone());
    });
    Some(row)
}

fn each(mut rows: Vec<Row>, change: fn(&mut Row)) -> Vec<Row> {
    rows.iter_mut().for_each(change);
    rows
}

fn set(row: &mut Row, fields: &[(&str, &str)]) {
    for (field, text) in fields {
        row.insert((*field).to_owned(), (*text).to_owned());
    }
}

fn without_second(row: &mut Row) {
    set(row, &[("torque2_min", ""), ("torque2_max", ""), ("unit2", "")]);
}

fn shuffled(mut rows: Vec<Row>) -> Vec<Row> {
    let mut dice = Dice::new(5);
    for at in (1..rows.len()).rev() {
        rows.swap(at, dice.below(at + 1));
    }
    rows
}

fn reprinted(row: &mut Row, figures: u8, factor: f64) {
    let from = *TorqueUnit::ALL.iter().find(|unit| unit.symbol() == row["unit"]).expect("a unit");
    let to = if from == TorqueUnit::NewtonMeter { TorqueUnit::PoundFoot } else { TorqueUnit::NewtonMeter };
    for field in ["torque_min", "torque_max"] {
        let value: f64 = row[field].parse().expect("a number");
        let value = value * factor * from.in_base() / to.in_base();
        row.insert(field.to_owned(), Number::from_f64(value, figures).to_string());
    }
    without_second(row);
    set(row, &[("unit", to.symbol())]);
}

fn scaled(row: &mut Row, factor: f64) {
    for field in FIGURES.iter().filter(|field| field.starts_with("torque_m") || field.starts_with("torque2")) {
        if let Ok(value) = row[*field].parse::<f64>() {
            row.insert((*field).to_owned(), Number::from_f64(value * factor, 3).to_string());
        }
    }
}

/// The rows of some sizes of each document: by the place of the size, and how many there are.
fn some_sizes(rows: Vec<Row>, wanted: fn(usize, usize) -> bool) -> Vec<Row> {
    let mut sizes: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in &rows {
        let own = sizes.entry(row["source_id"].clone()).or_default();
        if !own.contains(&row["thread"]) {
            own.push(row["thread"].clone());
        }
    }
    let keep: BTreeSet<(String, String)> = sizes
        .into_iter()
        .flat_map(|(source, threads)| {
            let count = threads.len();
            threads
                .into_iter()
                .enumerate()
                .filter(move |(place, _)| wanted(*place, count))
                .map(move |(_, thread)| (source.clone(), thread))
        })
        .collect();
    rows.into_iter().filter(|row| keep.contains(&(row["source_id"].clone(), row["thread"].clone()))).collect()
}
