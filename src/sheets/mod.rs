//! What the tables say about one thread or one property class, and conversions, as sheets for people and programs.
//!
//! The command line and the HTTP API show the same sheets. Nothing here needs a store, and nothing is judged.

mod class;
mod conversion;
mod thread;

pub use class::{ClassSheet, ClassSize};
pub use conversion::{Conversion, NoConversion, convert};
pub use thread::ThreadSheet;

use crate::units::Number;

/// A computed number for people and programs, rounded to six significant figures.
fn six_figures(value: f64) -> f64 {
    let rounded = Number::from_f64(value, 6).value();
    if value < 0.0 { -rounded } else { rounded }
}
