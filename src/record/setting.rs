//! A value to set, with its tolerance as stated.

use super::fault::{Fault, Place};
use crate::units::{AngleUnit, Number, Quantity, Scanner, Stated, TextError, TorqueUnit, Unit};
use std::fmt;

/// A torque or an angle to set: one value, a range, or a value with a tolerance, in the unit it was stated in.
///
/// # Text
/// `20 N·m`, `20-25 N·m`, `20 ± 2 N·m`, `20 N·m ± 10 %`; for an angle `90°`, `90 ± 5°`.
/// A range is kept as written, even with its ends swapped: the audit flags that.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Setting<U> {
    unit: U,
    form: Form,
}

/// A torque to set.
pub type TorqueSetting = Setting<TorqueUnit>;
/// An angle to turn.
pub type AngleSetting = Setting<AngleUnit>;

/// The numbers of a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Form {
    /// One value.
    Exact(Number),
    /// From one value to another, as written.
    Range(Number, Number),
    /// A value and how far it may be off, in the same unit.
    PlusMinus(Number, Number),
    /// A value and how far it may be off, in per cent of it.
    Percent(Number, Number),
}

impl<U: Unit> Setting<U> {
    /// A setting of these numbers.
    #[must_use]
    pub fn new(form: Form, unit: U) -> Self {
        Self { unit, form }
    }

    /// One value.
    #[must_use]
    pub fn exact(stated: Stated<U>) -> Self {
        Self::new(Form::Exact(stated.number()), stated.unit())
    }

    /// The unit as written.
    #[must_use]
    pub fn unit(self) -> U {
        self.unit
    }

    /// The numbers as written.
    #[must_use]
    pub fn form(self) -> Form {
        self.form
    }

    /// The numbers that were written as values (not as tolerances), in their order.
    #[must_use]
    pub fn numbers(self) -> Vec<Number> {
        match self.form {
            Form::Exact(n) | Form::PlusMinus(n, _) | Form::Percent(n, _) => vec![n],
            Form::Range(a, b) => vec![a, b],
        }
    }

    /// The lower and the higher end.
    #[must_use]
    pub fn ends(self) -> (U::Of, U::Of) {
        let (low, high) = match self.form {
            Form::Exact(n) => (n.value(), n.value()),
            Form::Range(a, b) => (a.value().min(b.value()), a.value().max(b.value())),
            Form::PlusMinus(n, off) => ((n.value() - off.value()).max(0.0), n.value() + off.value()),
            Form::Percent(n, percent) => {
                let off = n.value() * percent.value() / 100.0;
                ((n.value() - off).max(0.0), n.value() + off)
            }
        };
        let size = self.unit.in_base();
        (U::Of::from_base(low * size), U::Of::from_base(high * size))
    }

    /// The value to aim at: the one written, or the middle of the range.
    #[must_use]
    pub fn middle(self) -> U::Of {
        let value = match self.form {
            Form::Exact(n) | Form::PlusMinus(n, _) | Form::Percent(n, _) => n.value(),
            Form::Range(a, b) => f64::midpoint(a.value(), b.value()),
        };
        U::Of::from_base(value * self.unit.in_base())
    }

    /// Reads a setting from the scanner's place.
    ///
    /// # Errors
    /// If no number with a unit is there.
    pub fn scan(scanner: &mut Scanner<'_>) -> Result<Self, TextError> {
        scanner.skip_spaces();
        let first = Number::scan(scanner)?;
        if take_plus_minus(scanner) {
            let off = Number::scan(scanner)?;
            return Ok(Self::new(Form::PlusMinus(first, off), scan_unit(scanner)?));
        }
        if take_until(scanner) {
            let last = Number::scan(scanner)?;
            return Ok(Self::new(Form::Range(first, last), scan_unit(scanner)?));
        }
        let unit = scan_unit(scanner)?;
        if take_plus_minus(scanner) {
            return scan_tolerance(scanner, first, unit);
        }
        let place = scanner.at();
        if take_until(scanner)
            && let Ok(last) = Number::scan(scanner)
        {
            // "20 N·m - 25 N·m": the unit written twice must be the same one.
            return match scan_unit::<U>(scanner) {
                Ok(again) if again == unit => Ok(Self::new(Form::Range(first, last), unit)),
                _ => {
                    scanner.go_to(place);
                    Err(scanner.error(format!("a range with {unit} at both ends", unit = unit.symbol())))
                }
            };
        }
        scanner.go_to(place);
        Ok(Self::new(Form::Exact(first), unit))
    }
}

fn scan_unit<U: Unit>(scanner: &mut Scanner<'_>) -> Result<U, TextError> {
    crate::units::scan_unit(scanner)
}

fn scan_tolerance<U: Unit>(scanner: &mut Scanner<'_>, first: Number, unit: U) -> Result<Setting<U>, TextError> {
    let off = Number::scan(scanner)?;
    scanner.skip_spaces();
    if scanner.take_any(&["%"]) {
        return Ok(Setting::new(Form::Percent(first, off), unit));
    }
    let place = scanner.at();
    if scan_unit::<U>(scanner)? == unit {
        Ok(Setting::new(Form::PlusMinus(first, off), unit))
    } else {
        scanner.go_to(place);
        Err(scanner.error(format!("the tolerance in {} or in %", unit.symbol())))
    }
}

fn take_plus_minus(scanner: &mut Scanner<'_>) -> bool {
    take_sign(scanner, &["±", "+/-", "+-"])
}

fn take_until(scanner: &mut Scanner<'_>) -> bool {
    take_sign(scanner, &["-", "–", "…", "..", "to "])
}

/// Reads one of the signs with the spaces around it, or leaves the place as it was.
fn take_sign(scanner: &mut Scanner<'_>, signs: &[&str]) -> bool {
    let place = scanner.at();
    scanner.skip_spaces();
    let taken = scanner.take_any(signs);
    if taken {
        scanner.skip_spaces()
    } else {
        scanner.go_to(place)
    }
    taken
}

impl<U: Unit> fmt::Display for Setting<U> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = self.unit.symbol();
        let space = if unit == "°" { "" } else { " " };
        match self.form {
            Form::Exact(n) => write!(f, "{n}{space}{unit}"),
            Form::Range(a, b) => write!(f, "{a}-{b}{space}{unit}"),
            Form::PlusMinus(n, off) => write!(f, "{n} ± {off}{space}{unit}"),
            Form::Percent(n, percent) => write!(f, "{n}{space}{unit} ± {percent} %"),
        }
    }
}

impl<U: Unit> super::field::Field for Setting<U> {
    fn read(value: &serde_json::Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        super::field::read_text(value, place, faults)
    }
}

impl<U: Unit> serde::Serialize for Setting<U> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<U: Unit> utoipa::PartialSchema for Setting<U> {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        let what = format!("a {} to set, with its unit; a range or a tolerance if it has one", U::Of::NAME);
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some(what))
            .min_length(Some(1))
            .max_length(Some(60))
            .build()
            .into()
    }
}

impl<U: Unit> utoipa::ToSchema for Setting<U> {
    fn name() -> std::borrow::Cow<'static, str> {
        format!("Setting_{}", U::Of::NAME).into()
    }
}

impl<U: Unit> std::str::FromStr for Setting<U> {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        let setting = Self::scan(&mut scanner)?;
        scanner.finish()?;
        Ok(setting)
    }
}
