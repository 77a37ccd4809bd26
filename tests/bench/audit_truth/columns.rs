//! Whole columns taken in under a wrong heading: how many are told, and how many right columns are called wrong.

use crate::corpus::{Row, rows};
use crate::published::{audited, is_about_number};
use crate::synthetic;
use crate::tally::share;
use crate::unseen::{of_tables, wrong_rows};
use std::collections::BTreeMap;

/// What becomes of every row of a column; nothing where it cannot.
type Change = fn(&Row) -> Option<Row>;

const CHANGES: [(&str, Change); 8] = [
    ("as it is", |row| Some(row.clone())),
    ("in lbf·in instead of lbf·ft, or back", |row| other_unit(row, [("lbf·ft", "lbf·in"), ("lbf·in", "lbf·ft")])),
    ("in kgf·m instead of N·m, or back", |row| other_unit(row, [("N·m", "kgf·m"), ("kgf·m", "N·m")])),
    ("in N·m instead of lbf·ft, or back", |row| other_unit(row, [("lbf·ft", "N·m"), ("N·m", "lbf·ft")])),
    ("with every point moved to the right", |row| moved(row, 10.0)),
    ("with every point moved to the left", |row| moved(row, 0.1)),
    ("under the weakest class of its standard", |row| other_class(row, "4.6", "2")),
    ("under the strongest class of its standard", |row| other_class(row, "12.9", "8")),
];

/// Prints what was told of the columns of the public tables and of those worked out.
pub fn report() {
    let wrong = wrong_rows();
    let public: Vec<Row> = rows("tables.csv").into_iter().filter(|row| !wrong.contains(&row["row_id"])).collect();
    println!(
        "\nWhole columns of at least five sizes and known class, each alone in its document, without a second unit"
    );
    for (name, all) in [("the public tables", public), ("the tables worked out", synthetic::tables(80, 11))] {
        let columns = columns(all);
        for (change, of_row) in CHANGES {
            let changed = columns.iter().filter_map(|column| column.iter().map(of_row).collect::<Option<Vec<Row>>>());
            let (mut made, mut told, mut noise) = (0, 0, 0);
            for column in changed {
                made += 1;
                let set = of_tables(column);
                let findings = audited(set.iter());
                let all = findings.values().flatten();
                told += usize::from(all.clone().any(|finding| finding.rule == "whole-column-improbable"));
                noise += all.filter(|f| is_about_number(f) && f.rule != "whole-column-improbable").count();
            }
            println!("  {name}, {change}: {told} of {made} told ({:.1} %), {noise} other alarms", share(told, made));
        }
    }
    swapped();
}

/// Columns that print two units, with their headings swapped or as they are: how many are told as one fault, and how many
/// rows are called wrong one by one all the same.
pub fn swapped() {
    println!("\nColumns of at least four sizes with a second unit, each alone in its document");
    let wrong = wrong_rows();
    let public: Vec<Row> = rows("tables.csv").into_iter().filter(|row| !wrong.contains(&row["row_id"])).collect();
    for (name, all) in [("the public tables", public), ("the tables worked out", synthetic::tables(80, 11))] {
        let mut columns: BTreeMap<[String; 4], Vec<Row>> = BTreeMap::new();
        for row in all.into_iter().filter(|row| !row["unit2"].is_empty()) {
            let key = ["source_id", "grade", "condition", "unit"].map(|field| row[field].clone());
            columns.entry(key).or_default().push(row);
        }
        for (how, change) in [("as they are", false), ("with their units swapped", true)] {
            let (mut told, mut made, mut noise) = (0, 0, 0);
            for column in columns.values().filter(|column| column.len() >= 4) {
                let swap = |row: &Row| with(&with(row, "unit", &row["unit2"]), "unit2", &row["unit"]);
                let column = column.iter().map(|row| if change { swap(row) } else { row.clone() }).collect();
                let set = of_tables(column);
                let findings = audited(set.iter());
                let is_whole = |f: &&clampbook::audit::Finding| f.rule == "whole-column-units-disagree";
                made += 1;
                told += usize::from(findings.values().flatten().any(|finding| is_whole(&finding)));
                noise += findings.values().flatten().filter(|f| is_about_number(f) && !is_whole(f)).count();
            }
            println!("  {name} {how}: {told} of {made} told, {noise} other alarms");
        }
    }
}

fn columns(all: Vec<Row>) -> Vec<Vec<Row>> {
    let mut columns: BTreeMap<[String; 4], Vec<Row>> = BTreeMap::new();
    for mut row in all {
        let known = ["SAE-J429", "ISO"].contains(&row["grade_system"].as_str()) && !row["grade"].contains('-');
        if !known {
            continue;
        }
        for field in ["torque2_min", "torque2_max", "unit2"] {
            row.insert(field.to_owned(), String::new());
        }
        let key = ["source_id", "grade", "condition", "unit"].map(|field| row[field].clone());
        columns.entry(key).or_default().push(row);
    }
    columns.into_values().filter(|column| column.len() >= 5).collect()
}

fn other_unit(row: &Row, pairs: [(&str, &str); 2]) -> Option<Row> {
    let (_, other) = pairs.into_iter().find(|(unit, _)| *unit == row["unit"])?;
    Some(with(row, "unit", other))
}

fn moved(row: &Row, factor: f64) -> Option<Row> {
    let mut row = row.clone();
    for field in ["torque_min", "torque_max"] {
        let value: f64 = row[field].parse().ok()?;
        let number = clampbook::units::Number::from_f64(value * factor, 5);
        row = with(&row, field, &number.to_string());
    }
    Some(row)
}

/// Under another class, where that is at least twice as strong or as weak; otherwise tables of one class differ by as much.
fn other_class(row: &Row, metric: &str, inch: &str) -> Option<Row> {
    let other = if row["grade_system"] == "ISO" { metric } else { inch };
    let (own, new) = (yield_mpa(&row["grade"])?, yield_mpa(other)?);
    let apart: f64 = own / new;
    (apart.max(1.0 / apart) >= 2.0).then(|| with(row, "grade", other))
}

/// The yield strength that the name of a class means, or that of the smaller sizes of a grade.
fn yield_mpa(class: &str) -> Option<f64> {
    match class {
        "2" => Some(393.0),
        "5" => Some(634.0),
        "8" => Some(896.0),
        _ => class.split_once('.').and_then(|(tensile, ratio)| {
            Some(tensile.parse::<f64>().ok()? * 100.0 * ratio.parse::<f64>().ok()? / 10.0)
        }),
    }
}

fn with(row: &Row, field: &str, text: &str) -> Row {
    let mut row = row.clone();
    row.insert(field.to_owned(), text.to_owned());
    row
}
