//! Which unit a torque is likely to be stated in: that of its column, and small units only for small torques.

use super::entry::Value;
use crate::units::{TorqueUnit, Unit};

/// How often the values around one are stated in which unit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct UnitHabit {
    counts: [f64; TorqueUnit::ALL.len()],
}

/// So many values are the general habits worth beside the column's own.
const GENERAL_WEIGHT: f64 = 0.5;
/// Above this torque nobody states small units without a column of them, in newton-metres (common practice, no
/// source).
const SMALL_UNITS_NM: f64 = 40.0;

impl UnitHabit {
    /// Counts a value of the column.
    pub fn count(&mut self, unit: TorqueUnit, times: f64) {
        self.counts[unit as usize] += times;
    }

    /// The unit of most values of the column; nothing without a column.
    #[must_use]
    pub fn most(&self) -> Option<TorqueUnit> {
        let count = |unit: &TorqueUnit| self.counts[*unit as usize];
        let most = TorqueUnit::ALL.iter().copied().max_by(|a, b| count(a).total_cmp(&count(b)));
        most.filter(|unit| count(unit) > 0.5)
    }

    /// Is it the unit of a fair share of the column?
    #[must_use]
    pub fn is_usual(&self, unit: TorqueUnit) -> bool {
        const FAIR: f64 = 0.2;
        let sum: f64 = self.counts.iter().sum();
        sum < 1.5 || self.counts[unit as usize] >= FAIR * sum
    }

    /// How probable the value's unit is.
    #[must_use]
    pub fn share(&self, value: Value) -> f64 {
        let sum: f64 = self.counts.iter().sum();
        let counted = self.counts[value.unit as usize].max(0.0);
        (counted + GENERAL_WEIGHT * general(value)) / (sum.max(0.0) + GENERAL_WEIGHT)
    }
}

fn general(value: Value) -> f64 {
    let newton_meters = value.figures.middle() * value.unit.in_base();
    let small = 1.0 / (1.0 + (newton_meters / SMALL_UNITS_NM).powi(2));
    match value.unit {
        TorqueUnit::NewtonMeter | TorqueUnit::PoundFoot => 0.4,
        TorqueUnit::PoundInch => 0.1 * small,
        TorqueUnit::KilogramMeter => 0.06,
        TorqueUnit::KilogramCentimeter | TorqueUnit::CentinewtonMeter => 0.02 * small,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audit::slip::Figures;

    #[test]
    fn a_column_in_one_unit_does_not_change_it_for_one_row() {
        let mut habit = UnitHabit::default();
        habit.count(TorqueUnit::PoundFoot, 12.0);
        let of = |unit| Value { figures: Figures::One("25".parse().expect("25")), unit };
        assert!(habit.share(of(TorqueUnit::PoundFoot)) > 40.0 * habit.share(of(TorqueUnit::NewtonMeter)));
        let none = UnitHabit::default();
        assert!(none.share(of(TorqueUnit::NewtonMeter)) > 3.0 * none.share(of(TorqueUnit::PoundInch)));
    }
}
