//! Values that are likely at a place whatever was written there: for slips that do not say what they hid.

use super::entry::{Figures, Value};
use super::expect::Expectation;
use super::weigh::{Evidence, WHOLE_ROW, converted};
use crate::units::{Number, TorqueUnit, Unit};

impl Evidence<'_> {
    /// Values that are likely here whatever was written, with their shares, and the share of all others: what the other unit
    /// prints, what others have, and what lies near the middle of the expectation.
    pub(super) fn likely_values(&self) -> (Vec<(Value, f64)>, f64) {
        let mut values: Vec<Value> = self.elsewhere.to_vec();
        let unit = self.likely_unit();
        for second in self.printed {
            for figures in 2..=4 {
                values.extend(converted(*second, unit, figures));
            }
        }
        values.extend(self.near_the_middle(unit));
        values.retain(|value| !value.equals(self.stated));
        let mut shares: Vec<(Value, f64)> = Vec::with_capacity(values.len());
        for value in values {
            if !shares.iter().any(|(other, _)| other.equals(value)) {
                shares.push((value, self.plausible(value) * self.support(value, WHOLE_ROW)));
            }
        }
        // The support is weighed again by the caller: here it only chooses the values worth naming.
        let sum: f64 = shares.iter().map(|(_, share)| share).sum();
        shares.retain(|(_, share)| *share > sum * 1e-4);
        let plain: Vec<f64> = shares.iter().map(|(value, _)| self.plausible(*value)).collect();
        let named: f64 = plain.iter().sum();
        let sum = self.all_values(named);
        let values = shares.iter().zip(plain).map(|((value, _), share)| (*value, share / sum)).collect();
        (values, (1.0 - named / sum).max(0.0))
    }

    /// What the plausibilities of all values come to, of which some are named.
    fn all_values(&self, named: f64) -> f64 {
        /// Where nothing is expected, those named are a few of very many.
        const NOTHING_EXPECTED: f64 = 1.0;
        /// What lies within reach of the middle.
        const WITHIN_REACH: f64 = 0.95;
        match self.stated.figures {
            _ if self.torque.is_none() => NOTHING_EXPECTED,
            // The plausibility of a single number is a share of one: what is missing has odd figures that are not named.
            Figures::One(_) => named.max(WITHIN_REACH * self.unit_share(self.likely_unit())).max(1e-300),
            _ => named.max(1e-300),
        }
    }

    /// The unit of the column, or the stated one.
    fn likely_unit(&self) -> TorqueUnit {
        self.units.most().unwrap_or(self.stated.unit)
    }

    /// The roundest numbers within reach of the middle of the expectation.
    fn near_the_middle(&self, unit: TorqueUnit) -> Vec<Value> {
        let Some(bell) = self.torque.and_then(Expectation::main) else { return Vec::new() };
        /// As many numbers as fit into the reach at most.
        const NUMBERS_MAX: f64 = 24.0;
        let reach = (2.5 * bell.scale).min(0.4);
        let middle = bell.mean.exp() / unit.in_base();
        let (low, high) = (middle * (-reach).exp(), middle * reach.exp());
        let steps = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
        let step = steps.into_iter().find(|step| (high - low) / step <= NUMBERS_MAX).unwrap_or(1000.0);
        let first = (low / step).ceil();
        let count = ((high / step).floor() - first).max(-1.0) + 1.0;
        let width = self.width.and_then(Expectation::main).map(|bell| bell.mean);
        (0..count as u32)
            .filter_map(|i| self.shaped_like_stated((first + f64::from(i)) * step, step, width, unit))
            .collect()
    }

    /// A value of the stated form with this middle.
    fn shaped_like_stated(&self, middle: f64, step: f64, width: Option<f64>, unit: TorqueUnit) -> Option<Value> {
        let number = |value: f64| {
            let number = Number::from_f64((value / step).round() * step, 5);
            (number.value() > 0.0).then_some(number)
        };
        let figures = match self.stated.figures {
            Figures::One(_) => Figures::One(number(middle)?),
            Figures::Around(_, off) => Figures::Around(number(middle)?, off),
            Figures::Range(..) => {
                let half = (width.or(self.stated.figures.width())?.max(0.0) / 2.0).exp();
                Figures::Range(number(middle / half)?, number(middle * half)?)
            }
        };
        Some(Value { figures, unit })
    }
}
