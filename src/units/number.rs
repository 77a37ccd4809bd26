//! Numbers as people write them: decimal with a point or a comma, or a fraction of an inch.

use super::text::{Scanner, TextError};
use std::fmt;

/// A number that keeps the digits it was written with.
///
/// # Text
/// `48`, `8.50`, `8,5` (printed `8.5`: the comma is a decimal comma), `1/2`, `1 1/2`, `1-1/2`.
/// At most twelve digits. Not accepted: a sign, an exponent, `1,234.5`, `.`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Number(Form);

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Form {
    Decimal { digits: u64, places: u8 },
    Fraction { whole: u32, over: u32, under: u32 },
}

/// The most digits that a number may be written with.
const DIGITS_MAX: usize = 12;

impl Number {
    /// The decimal number `digits / 10^places`.
    ///
    /// # Panics
    /// If there are more than twelve digits or places.
    #[must_use]
    pub fn decimal(digits: u64, places: u8) -> Self {
        assert!(digits < 10_u64.pow(12) && usize::from(places) <= DIGITS_MAX, "at most twelve digits");
        Self(Form::Decimal { digits, places })
    }

    /// The value rounded to `figures` significant figures, trailing zeros after the point dropped.
    /// Values out of reach of twelve digits are clipped to the nearest that is in reach.
    #[must_use]
    pub fn from_f64(value: f64, figures: u8) -> Self {
        let value = if value.is_finite() { value.abs().min(999_999_999_999.0) } else { 0.0 };
        let magnitude = if value > 0.0 { value.log10().floor() as i32 } else { 0 };
        let places = (i32::from(figures) - 1 - magnitude).clamp(0, 11);
        let text = format!("{value:.*}", usize::try_from(places).unwrap_or(0));
        let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
        text.parse().unwrap_or(Self(Form::Decimal { digits: 0, places: 0 }))
    }

    /// The value.
    #[must_use]
    pub fn value(self) -> f64 {
        match self.0 {
            Form::Decimal { digits, places } => digits as f64 / 10_f64.powi(i32::from(places)),
            Form::Fraction { whole, over, under } => f64::from(whole) + f64::from(over) / f64::from(under),
        }
    }

    /// Half of the last digit that was written, in the same unit: how far rounding alone may have moved it.
    /// Trailing zeros of a whole number count as written digits. A fraction is exact.
    #[must_use]
    pub fn rounding(self) -> f64 {
        match self.0 {
            Form::Decimal { places, .. } => 0.5 / 10_f64.powi(i32::from(places)),
            Form::Fraction { .. } => 0.0,
        }
    }

    /// Reads a number from the scanner's place, without leading spaces.
    ///
    /// # Errors
    /// If none is there, or if it has too many digits.
    pub fn scan(scanner: &mut Scanner<'_>) -> Result<Self, TextError> {
        let start = scanner.at();
        let whole = digits(scanner);
        if !whole.is_empty()
            && let Some(fraction) = scan_fraction(scanner, whole)?
        {
            return Ok(fraction);
        }
        let mut decimals = "";
        if matches!(scanner.peek(), Some('.' | ',')) {
            let point = scanner.at();
            scanner.take_while(|c| matches!(c, '.' | ','));
            decimals = digits(scanner);
            if decimals.is_empty() {
                scanner.go_to(point);
            } else if scanner.at() - point > decimals.len() + 1 || matches!(scanner.peek(), Some(',')) {
                scanner.go_to(point);
                return Err(scanner.error("one decimal point or comma and no thousands separator"));
            }
        }
        if whole.is_empty() && decimals.is_empty() {
            scanner.go_to(start);
            return Err(scanner.error("a number"));
        }
        let text = format!("{whole}{decimals}");
        if text.len() > DIGITS_MAX {
            scanner.go_to(start);
            return Err(scanner.error(format!("a number of at most {DIGITS_MAX} digits")));
        }
        let places = u8::try_from(decimals.len()).unwrap_or(u8::MAX);
        Ok(Self(Form::Decimal { digits: text.parse().unwrap_or(0), places }))
    }
}

fn digits<'t>(scanner: &mut Scanner<'t>) -> &'t str {
    scanner.take_while(|c| c.is_ascii_digit())
}

/// Reads the rest of `3/8`, `1 1/2` or `1-1/2` after its first digits; `None` leaves the place as it was.
fn scan_fraction(scanner: &mut Scanner<'_>, first: &str) -> Result<Option<Number>, TextError> {
    let place = scanner.at();
    let (whole, over) = if scanner.peek() == Some('/') {
        ("0", first)
    } else if matches!(scanner.peek(), Some(' ' | '-')) {
        scanner.take_while(|c| matches!(c, ' ' | '-'));
        (first, digits(scanner))
    } else {
        return Ok(None);
    };
    if over.is_empty() || !scanner.take_any(&["/"]) {
        scanner.go_to(place);
        return Ok(None);
    }
    let at_under = scanner.at();
    let under = digits(scanner);
    match (whole.parse(), over.parse(), under.parse()) {
        (Ok(whole), Ok(over), Ok(under)) if under > 0 && under <= 128 && over < under && whole <= 999 => {
            Ok(Some(Number(Form::Fraction { whole, over, under })))
        }
        _ => {
            scanner.go_to(at_under);
            Err(scanner.error("the lower half of a proper fraction, such as 3/8"))
        }
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Form::Decimal { digits, places: 0 } => write!(f, "{digits}"),
            Form::Decimal { digits, places } => {
                let text = format!("{digits:0width$}", width = usize::from(places) + 1);
                let (whole, decimals) = text.split_at(text.len() - usize::from(places));
                write!(f, "{whole}.{decimals}")
            }
            Form::Fraction { whole: 0, over, under } => write!(f, "{over}/{under}"),
            Form::Fraction { whole, over, under } => write!(f, "{whole} {over}/{under}"),
        }
    }
}

impl std::str::FromStr for Number {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        scanner.skip_spaces();
        let number = Self::scan(&mut scanner)?;
        scanner.finish()?;
        Ok(number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(text: &str, canonical: &str, value: f64) {
        let number: Number = text.parse().expect(text);
        assert_eq!(number.to_string(), canonical);
        assert!((number.value() - value).abs() < 1e-12, "{text}");
        assert_eq!(canonical.parse::<Number>().as_ref(), Ok(&number));
    }

    #[test]
    fn keeps_what_was_written() {
        reads("48", "48", 48.0);
        reads("8.50", "8.50", 8.5);
        reads("8,5", "8.5", 8.5);
        reads("0.05", "0.05", 0.05);
        reads("1/2", "1/2", 0.5);
        reads("1-1/2", "1 1/2", 1.5);
        reads("1 1/2", "1 1/2", 1.5);
    }

    #[test]
    fn refuses_what_could_be_read_two_ways() {
        for text in ["1,234.5", "1.234,5", "", ".", "-3", "1e5", "5/0", "9/8", "1234567890123"] {
            assert!(text.parse::<Number>().is_err(), "{text}");
        }
    }

    #[test]
    fn rounds_to_figures() {
        assert_eq!(Number::from_f64(47.449, 3).to_string(), "47.4");
        assert_eq!(Number::from_f64(12345.6, 3).to_string(), "12346");
        assert_eq!(Number::from_f64(0.5, 3).to_string(), "0.5");
    }
}
