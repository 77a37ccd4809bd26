//! Torques as people set them: the stated unit first, the other one marked as converted.

use crate::record::{Form, Setting};
use crate::units::{Number, Quantity, Stated, StatedTorque, TorqueUnit, Unit};
use serde::Serialize;

/// Torques below this are converted to lbf·in rather than lbf·ft, in newton-metres.
const SMALL_NEWTON_METERS: f64 = 15.0;

/// A value to set, as stated, and what it is in another unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Amount {
    /// The value in the unit that its source states.
    pub stated: String,
    /// The same in another unit, rounded to three figures: converted, not stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub converted: Option<String>,
}

impl Amount {
    /// A torque to set.
    #[must_use]
    pub fn of_setting(setting: Setting<TorqueUnit>) -> Self {
        let unit = other_unit(setting.unit(), setting.ends().1.newton_meters());
        Self { stated: setting.to_string(), converted: Some(converted(setting, unit).to_string()) }
    }

    /// A torque that must have been reached.
    #[must_use]
    pub fn of_stated(torque: StatedTorque) -> Self {
        let unit = other_unit(torque.unit(), torque.quantity().newton_meters());
        Self { stated: torque.to_string(), converted: Some(torque.to_unit(unit, FIGURES).to_string()) }
    }

    /// A value that needs no other unit, such as an angle.
    #[must_use]
    pub fn plain(stated: impl std::fmt::Display) -> Self {
        Self { stated: stated.to_string(), converted: None }
    }
}

const FIGURES: u8 = 3;

/// The unit that a reader may want beside the stated one.
fn other_unit(unit: TorqueUnit, newton_meters: f64) -> TorqueUnit {
    match unit {
        TorqueUnit::NewtonMeter | TorqueUnit::CentinewtonMeter if newton_meters < SMALL_NEWTON_METERS => {
            TorqueUnit::PoundInch
        }
        TorqueUnit::NewtonMeter | TorqueUnit::CentinewtonMeter => TorqueUnit::PoundFoot,
        TorqueUnit::PoundFoot | TorqueUnit::PoundInch | TorqueUnit::KilogramMeter | TorqueUnit::KilogramCentimeter => {
            TorqueUnit::NewtonMeter
        }
    }
}

/// The setting in another unit, every number rounded to three figures.
fn converted(setting: Setting<TorqueUnit>, unit: TorqueUnit) -> Setting<TorqueUnit> {
    let number = |number: Number| {
        let torque = Stated::new(number, setting.unit()).quantity();
        Number::from_f64(torque.base() / unit.in_base(), FIGURES)
    };
    let form = match setting.form() {
        Form::Exact(value) => Form::Exact(number(value)),
        Form::Range(from, to) => Form::Range(number(from), number(to)),
        Form::PlusMinus(value, off) => Form::PlusMinus(number(value), number(off)),
        Form::Percent(value, percent) => Form::Percent(number(value), percent),
    };
    Setting::new(form, unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn converts(stated: &str, other: &str) {
        let amount = Amount::of_setting(stated.parse().unwrap());
        assert_eq!((amount.stated.as_str(), amount.converted.as_deref()), (stated, Some(other)));
    }

    /// 1 lbf·ft = 1.355818 N·m, 1 lbf·in = 0.1129848 N·m (NIST SP 811, appendix B.8, from memory).
    #[test]
    fn the_stated_unit_stands_first() {
        converts("20 N·m", "14.8 lbf·ft");
        converts("5.5 N·m", "48.7 lbf·in");
        converts("20-25 N·m", "14.8-18.4 lbf·ft");
        converts("20 ± 2 N·m", "14.8 ± 1.48 lbf·ft");
        converts("120 N·m ± 10 %", "88.5 lbf·ft ± 10 %");
        converts("15 lbf·ft", "20.3 N·m");
        converts("49 lbf·in", "5.54 N·m");
        converts("2 kgf·m", "19.6 N·m");
        assert_eq!(Amount::plain("90°").converted, None);
    }
}
