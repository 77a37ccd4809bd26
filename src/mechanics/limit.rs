//! The one error of the mechanics: a number outside the range that the formulas are meant for.

use crate::units::{Force, Length, Stress, Torque};

/// A number that was refused: what it is, what is allowed, what was given.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{what} must be from {min}{unit} to {max}{unit}, but is {given}{unit}")]
pub struct OutOfRange {
    /// The quantity, such as `thread friction`.
    pub what: &'static str,
    /// The unit of the three numbers, with a space before it; empty for a number without dimension.
    pub unit: &'static str,
    /// The least value allowed.
    pub min: f64,
    /// The greatest value allowed.
    pub max: f64,
    /// The value given.
    pub given: f64,
}

/// Passes a number within `min..=max`; NaN is never within.
pub(super) fn within(
    what: &'static str,
    unit: &'static str,
    (min, max): (f64, f64),
    given: f64,
) -> Result<f64, OutOfRange> {
    if given >= min && given <= max { Ok(given) } else { Err(OutOfRange { what, unit, min, max, given }) }
}

/// Passes a number without dimension.
pub(super) fn number(what: &'static str, range: (f64, f64), given: f64) -> Result<f64, OutOfRange> {
    within(what, "", range, given)
}

/// Passes a length within a range in millimetres.
pub(super) fn length(what: &'static str, range: (f64, f64), given: Length) -> Result<Length, OutOfRange> {
    within(what, " mm", range, given.millimeters()).map(|_| given)
}

/// Passes a preload or other pull, 0 to 10⁹ N: beyond any fastener, small enough that no formula overflows.
pub(super) fn force(what: &'static str, given: Force) -> Result<Force, OutOfRange> {
    within(what, " N", (0.0, 1e9), given.newtons()).map(|_| given)
}

/// Passes a torque, 0 to 10⁷ N·m.
pub(super) fn torque(what: &'static str, given: Torque) -> Result<Torque, OutOfRange> {
    within(what, " N·m", (0.0, 1e7), given.newton_meters()).map(|_| given)
}

/// Passes a strength, 1 to 10 000 MPa.
pub(super) fn strength(what: &'static str, given: Stress) -> Result<Stress, OutOfRange> {
    within(what, " MPa", (1.0, 10_000.0), given.megapascals()).map(|_| given)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn says_what_is_allowed() {
        let error = number("thread friction", (0.0, 1.0), 12.0).unwrap_err();
        assert_eq!(error.to_string(), "thread friction must be from 0 to 1, but is 12");
        let error = length("pitch", (0.05, 25.0), Length::from_millimeters(-1.0)).unwrap_err();
        assert_eq!(error.to_string(), "pitch must be from 0.05 mm to 25 mm, but is -1 mm");
        assert!(number("share", (0.0, 1.0), f64::NAN).is_err());
    }
}
