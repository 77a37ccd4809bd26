//! The published tables, every row of `tests/it/published/` against what the product says, and that the tables are complete.
//!
//! - `strengths`: property classes, loads, breaking torques
//! - `nuts`: stress under proof load, proof loads
//! - `sizes`: heads, drives, holes
//! - `materials`: friction classes, tightening factors, limiting pressures, shear ratios
//! - `properties`: what must hold for any text and any size
//! - `complete`: the ranges that the tables must fill, held-back rows among them

mod complete;
mod materials;
mod nuts;
mod properties;
mod sizes;
mod strengths;

use clampbook::standards::PropertyClass;
use clampbook::thread::{Geometry, Thread};
use clampbook::units::Length;
use std::collections::HashMap;

/// One row of a file, by column.
pub struct Row(HashMap<String, String>);

impl Row {
    /// The text of a column; empty where the file has none.
    #[track_caller]
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    /// The number of a column, if it has one.
    #[track_caller]
    pub fn maybe(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{column}: {text} is no number")))
    }

    /// The number of a column.
    #[track_caller]
    pub fn number(&self, column: &str) -> f64 {
        self.maybe(column).unwrap_or_else(|| panic!("{column} is empty"))
    }
}

/// The rows of a file, of which there must be so many: a file that lost its rows must not pass.
#[track_caller]
pub fn rows(csv: &str, count: usize) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<Row> = reader.deserialize().map(|row| Row(row.expect("a row"))).collect();
    assert_eq!(rows.len(), count, "rows of the file");
    rows
}

#[track_caller]
pub fn class(text: &str) -> PropertyClass {
    text.parse().unwrap_or_else(|error| panic!("{error}"))
}

#[track_caller]
pub fn thread(text: &str) -> Thread {
    text.parse().unwrap_or_else(|error| panic!("{error}"))
}

#[track_caller]
pub fn geometry(text: &str) -> Geometry {
    thread(text).geometry().unwrap_or_else(|| panic!("{text} has no dimensions"))
}

pub fn mm(value: f64) -> Length {
    Length::from_millimeters(value)
}

/// Fails unless a number is what was published; the tolerance covers binary fractions only.
#[track_caller]
pub fn same(what: &str, got: f64, published: f64) {
    assert!((got - published).abs() <= 1e-9 * published.abs().max(1.0), "{what}: {got}, published {published}");
}
