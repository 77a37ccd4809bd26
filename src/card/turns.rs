//! Splitting a turn into steps that a wrench swing allows, with the same sum.

use crate::record::{Form, Setting};
use crate::units::{Angle, AngleUnit, Number, Stated, Unit};

/// The largest step of a turn unless somebody asks for another: what a hand tool swings.
pub const LARGEST_STEP_DEGREES: f64 = 90.0;

/// Reads the largest step of a turn, such as `60°`.
///
/// # Errors
/// If it is no angle, or one that no step has.
pub fn largest_step(text: &str) -> Result<Angle, String> {
    let angle: Stated<AngleUnit> = text.parse().map_err(|error| format!("{error}"))?;
    let angle = angle.quantity();
    if (1.0..=360.0).contains(&angle.degrees()) { Ok(angle) } else { Err("a step is from 1° to 360°".to_owned()) }
}

/// The steps of a turn, none larger than `largest`: whole steps first, then the rest with the tolerance of the turn.
///
/// One step if the turn is not larger. A range whose lower end is smaller than its whole steps is split evenly.
/// A `largest` below 1° counts as 1°.
#[must_use]
pub fn steps(turn: Setting<AngleUnit>, largest: Angle) -> Vec<Setting<AngleUnit>> {
    let largest = largest.degrees().max(1.0);
    let degrees = turn.middle().degrees();
    if degrees <= largest * (1.0 + 1e-9) {
        return vec![turn];
    }
    let whole = (degrees / largest - 1e-9).floor();
    let taken = whole * largest;
    match rest(turn, taken) {
        Some(rest) => {
            let mut steps = vec![exact(largest); whole as usize];
            steps.push(rest);
            steps
        }
        None => evenly(turn, largest),
    }
}

/// What is left of a turn after `taken` degrees; `None` if its lower end is used up.
fn rest(turn: Setting<AngleUnit>, taken: f64) -> Option<Setting<AngleUnit>> {
    let degrees = |number: Number| number.value() * turn.unit().in_base();
    if turn.ends().0.degrees() - taken < 1e-6 {
        return None;
    }
    let form = match turn.form() {
        Form::Exact(value) => Form::Exact(rounded(degrees(value) - taken)),
        Form::Range(from, to) => Form::Range(rounded(degrees(from) - taken), rounded(degrees(to) - taken)),
        Form::PlusMinus(value, off) => Form::PlusMinus(rounded(degrees(value) - taken), rounded(degrees(off))),
        Form::Percent(value, percent) => {
            let off = degrees(value) * percent.value() / 100.0;
            Form::PlusMinus(rounded(degrees(value) - taken), rounded(off))
        }
    };
    Some(Setting::new(form, AngleUnit::Degree))
}

fn evenly(turn: Setting<AngleUnit>, largest: f64) -> Vec<Setting<AngleUnit>> {
    let (low, high) = turn.ends();
    let count = (high.degrees() / largest - 1e-9).ceil().max(1.0);
    let form = Form::Range(rounded(low.degrees() / count), rounded(high.degrees() / count));
    vec![Setting::new(form, AngleUnit::Degree); count as usize]
}

fn exact(degrees: f64) -> Setting<AngleUnit> {
    Setting::new(Form::Exact(rounded(degrees)), AngleUnit::Degree)
}

/// Degrees to a tenth of a thousandth: far finer than any gauge.
fn rounded(degrees: f64) -> Number {
    Number::from_f64((degrees * 1e4).round() / 1e4, 8)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn splits(turn: &str, largest: f64, expected: &[&str]) {
        let steps = steps(turn.parse().unwrap(), Angle::from_degrees(largest));
        assert_eq!(steps.iter().map(ToString::to_string).collect::<Vec<_>>(), expected, "{turn}");
    }

    #[test]
    fn whole_steps_first_then_the_rest() {
        splits("90°", 90.0, &["90°"]);
        splits("120°", 90.0, &["90°", "30°"]);
        splits("180°", 90.0, &["90°", "90°"]);
        splits("180 ± 10°", 90.0, &["90°", "90 ± 10°"]);
        splits("270-290°", 90.0, &["67.5-72.5°"; 4]);
        splits("110-130°", 90.0, &["90°", "20-40°"]);
        splits("3/4 turn", 90.0, &["90°", "90°", "90°"]);
        splits("120°", 60.0, &["60°", "60°"]);
        splits("60-160°", 90.0, &["30-80°", "30-80°"]);
    }

    proptest! {
        #[test]
        fn the_sum_is_the_same_and_no_step_is_larger(tenths in 1_u64..10_000, largest in 5_u32..181) {
            let turn = Setting::new(Form::Exact(Number::decimal(tenths, 1)), AngleUnit::Degree);
            let steps = steps(turn, Angle::from_degrees(f64::from(largest)));
            let sum: f64 = steps.iter().map(|step| step.middle().degrees()).sum();
            prop_assert!((sum - turn.middle().degrees()).abs() < 1e-6);
            prop_assert!(steps.iter().all(|step| step.middle().degrees() <= f64::from(largest) + 1e-6));
            prop_assert!(steps.iter().all(|step| step.middle().degrees() > 0.0));
        }
    }
}
