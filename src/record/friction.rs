//! The coefficient of friction of a record: one value or a range.

use super::field::text_fields;
use crate::units::{Number, Scanner, TextError};
use std::fmt;

/// The coefficient of friction in thread and under the head.
///
/// # Text
/// `0.12` or `0.10-0.16`, each from 0.01 to 1; a range is written from the smaller to the larger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Friction {
    low: Number,
    high: Option<Number>,
}

impl Friction {
    /// The lowest coefficient.
    #[must_use]
    pub fn low(self) -> f64 {
        self.low.value()
    }

    /// The highest coefficient.
    #[must_use]
    pub fn high(self) -> f64 {
        self.high.map_or(self.low.value(), Number::value)
    }

    /// The middle of the range.
    #[must_use]
    pub fn middle(self) -> f64 {
        f64::midpoint(self.low(), self.high())
    }
}

impl fmt::Display for Friction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.high {
            Some(high) => write!(f, "{}-{high}", self.low),
            None => write!(f, "{}", self.low),
        }
    }
}

impl std::str::FromStr for Friction {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        let low = scan_coefficient(&mut scanner, 0.01)?;
        scanner.skip_spaces();
        let high = if scanner.take_any(&["-", "–", "…", "to "]) {
            Some(scan_coefficient(&mut scanner, low.value())?)
        } else {
            None
        };
        scanner.finish()?;
        Ok(Self { low, high })
    }
}

fn scan_coefficient(scanner: &mut Scanner<'_>, least: f64) -> Result<Number, TextError> {
    scanner.skip_spaces();
    let start = scanner.at();
    let number = Number::scan(scanner)?;
    if (least..=1.0).contains(&number.value()) {
        Ok(number)
    } else {
        scanner.go_to(start);
        Err(scanner.error(format!("a coefficient of friction from {least} to 1")))
    }
}

text_fields!(Friction);
super::shown_as_text!(Friction, "coefficient of friction, one value or a range", "0.10-0.16", 20);
