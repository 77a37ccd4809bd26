//! What a person wrote: a number and its unit, kept as they stand.

use super::number::Number;
use super::quantity::Quantity;
use super::text::{Scanner, TextError};
use super::unit::{AngleUnit, ForceUnit, LengthUnit, StressUnit, TorqueUnit, Unit};
use std::fmt;
use std::str::FromStr;

/// A quantity in the digits and the unit it was stated in.
///
/// # Text
/// A [`Number`], a unit: `48 N·m`, `15 ft-lb` (printed `15 lbf·ft`), `1/2 in`, `90°`. The unit is never left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Stated<U> {
    number: Number,
    unit: U,
}

/// A torque as stated.
pub type StatedTorque = Stated<TorqueUnit>;
/// A length as stated.
pub type StatedLength = Stated<LengthUnit>;
/// A force as stated.
pub type StatedForce = Stated<ForceUnit>;
/// A stress as stated.
pub type StatedStress = Stated<StressUnit>;
/// An angle as stated.
pub type StatedAngle = Stated<AngleUnit>;

impl<U: Unit> Stated<U> {
    /// A number with its unit.
    #[must_use]
    pub fn new(number: Number, unit: U) -> Self {
        Self { number, unit }
    }

    /// The quantity in `unit`, rounded to `figures` significant figures.
    #[must_use]
    pub fn of(quantity: U::Of, unit: U, figures: u8) -> Self {
        Self { number: Number::from_f64(quantity.base() / unit.in_base(), figures), unit }
    }

    /// The number as written.
    #[must_use]
    pub fn number(self) -> Number {
        self.number
    }

    /// The unit as written.
    #[must_use]
    pub fn unit(self) -> U {
        self.unit
    }

    /// What it amounts to.
    #[must_use]
    pub fn quantity(self) -> U::Of {
        U::Of::from_base(self.number.value() * self.unit.in_base())
    }

    /// The same quantity in another unit, rounded to `figures` significant figures.
    #[must_use]
    pub fn to_unit(self, unit: U, figures: u8) -> Self {
        Self::of(self.quantity(), unit, figures)
    }

    /// Reads number and unit from the scanner's place.
    ///
    /// # Errors
    /// If either is missing or unknown.
    pub fn scan(scanner: &mut Scanner<'_>) -> Result<Self, TextError> {
        scanner.skip_spaces();
        let number = Number::scan(scanner)?;
        let unit = scan_unit(scanner)?;
        Ok(Self { number, unit })
    }
}

/// Reads a unit from the scanner's place; spaces before it are passed over.
///
/// # Errors
/// If no unit of this kind is there.
pub(crate) fn scan_unit<U: Unit>(scanner: &mut Scanner<'_>) -> Result<U, TextError> {
    scanner.skip_spaces();
    let start = scanner.at();
    let expected = || format!("a unit of {} ({})", U::Of::NAME, U::symbols());
    let word = scanner.take_while(is_unit_character);
    // A longer name may swallow what follows ("ft-lb+90", "N·m - 25"): give back from the right until it is a unit.
    let ends = word.char_indices().map(|(i, c)| i + c.len_utf8()).rev();
    for end in ends {
        let name = &word[..end];
        if name.ends_with([' ', '-']) {
            continue;
        }
        if let Some(unit) = U::from_name(name) {
            scanner.go_to(start + end);
            return Ok(unit);
        }
        // Half a word is not a unit: "Nmx" is not N·m.
        let (before, after) = (name.chars().next_back(), word[..end].chars().rev().nth(1));
        if before.is_some_and(char::is_alphabetic)
            && after.is_some_and(char::is_alphabetic)
            && !name.contains([' ', '-'])
        {
            break;
        }
    }
    scanner.go_to(start);
    Err(scanner.error(expected()))
}

fn is_unit_character(c: char) -> bool {
    c.is_alphabetic()
        || matches!(
            c,
            '°' | 'º' | '"' | '″' | '·' | '⋅' | '∙' | '•' | '*' | '.' | '-' | ' ' | '\u{a0}' | '/' | '²' | '2'
        )
}

impl<U: Unit> fmt::Display for Stated<U> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let symbol = self.unit.symbol();
        let space = if symbol == "°" { "" } else { " " };
        write!(f, "{}{space}{symbol}", self.number)
    }
}

impl<U: Unit> FromStr for Stated<U> {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        let stated = Self::scan(&mut scanner)?;
        scanner.finish()?;
        Ok(stated)
    }
}

impl<U: Unit> serde::Serialize for Stated<U> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de, U: Unit> serde::Deserialize<'de> for Stated<U> {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl<U: Unit> utoipa::PartialSchema for Stated<U> {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some(format!("a {} with its unit ({})", U::Of::NAME, U::symbols())))
            .min_length(Some(1))
            .max_length(Some(60))
            .build()
            .into()
    }
}

impl<U: Unit> utoipa::ToSchema for Stated<U> {
    fn name() -> std::borrow::Cow<'static, str> {
        format!("Stated_{}", U::Of::NAME).into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads<U: Unit>(text: &str, canonical: &str) {
        let stated: Stated<U> = text.parse().unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(stated.to_string(), canonical);
        assert_eq!(canonical.parse::<Stated<U>>().as_ref(), Ok(&stated));
    }

    #[test]
    fn lenient_in_canonical_out() {
        for text in ["20 N·m", "20Nm", "20 N m", "20 N.m", "20 n-m", "20 Newton metres"] {
            reads::<TorqueUnit>(text, "20 N·m");
        }
        for text in ["15 ft-lb", "15 lbf·ft", "15 lb ft", "15 ft.lbs", "15 ft-lbf"] {
            reads::<TorqueUnit>(text, "15 lbf·ft");
        }
        reads::<TorqueUnit>("8,5 in-lb", "8.5 lbf·in");
        reads::<LengthUnit>("1/2in", "1/2 in");
        reads::<LengthUnit>("1-1/8 \"", "1 1/8 in");
        reads::<AngleUnit>("90 deg", "90°");
        reads::<StressUnit>("640 N/mm2", "640 MPa");
    }

    #[test]
    fn says_what_it_wanted() {
        let error = "20 Nmx".parse::<StatedTorque>().unwrap_err();
        assert_eq!(
            error.to_string(),
            "expected a unit of torque (N·m, lbf·ft, lbf·in, kgf·m, kgf·cm, cN·m), found \"Nmx\" at character 4 of \"20 Nmx\""
        );
        let error = "95".parse::<StatedTorque>().unwrap_err();
        assert!(error.to_string().ends_with("but \"95\" ends there"), "{error}");
    }
}
