//! Which unit a torque is likely to be stated in: that of its column, and small units only for small torques.

use super::entry::{Size, Value};
use crate::units::{TorqueUnit, Unit};

/// How often the values around one are stated in which unit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct UnitHabit {
    counts: [f64; TorqueUnit::ALL.len()],
    system: Option<System>,
}

/// The system of a thread, which is mostly that of the document.
#[derive(Debug, Clone, Copy, PartialEq)]
enum System {
    Metric,
    Inch,
}

/// So many values are the general habits worth beside the column's own.
const GENERAL_WEIGHT: f64 = 0.5;
/// Above this torque nobody states small units without a column of them, in newton-metres (common practice, no
/// source).
const SMALL_UNITS_NM: f64 = 40.0;

impl UnitHabit {
    /// The general habits for this thread, before any column is looked at.
    #[must_use]
    pub fn of_thread(size: Option<Size>) -> Self {
        Self::default().for_thread(size)
    }

    /// The same counts, with the general habits for this thread.
    #[must_use]
    pub fn for_thread(self, size: Option<Size>) -> Self {
        let system = size.map(|size| if size.is_inch() { System::Inch } else { System::Metric });
        Self { system, ..self }
    }

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

    /// How probable a unit is without a column: of a hundred torques of a metric thread, of an inch thread (judgement; the
    /// 603 rows of inch threads in the corpus are all in pounds).
    fn general(&self, value: Value) -> f64 {
        let newton_meters = value.figures.middle() * value.unit.in_base();
        let small = 1.0 / (1.0 + (newton_meters / SMALL_UNITS_NM).powi(2));
        let [unknown, metric, inch] = match value.unit {
            TorqueUnit::NewtonMeter => [0.4, 0.65, 0.2],
            TorqueUnit::PoundFoot => [0.4, 0.15, 0.6],
            TorqueUnit::PoundInch => [0.1 * small, 0.04 * small, 0.15 * small],
            TorqueUnit::KilogramMeter => [0.06, 0.08, 0.03],
            TorqueUnit::KilogramCentimeter | TorqueUnit::CentinewtonMeter => [0.02 * small, 0.03 * small, 0.01 * small],
        };
        match self.system {
            None => unknown,
            Some(System::Metric) => metric,
            Some(System::Inch) => inch,
        }
    }

    /// How probable the value's unit is.
    #[must_use]
    pub fn share(&self, value: Value) -> f64 {
        let sum: f64 = self.counts.iter().sum();
        let counted = self.counts[value.unit as usize].max(0.0);
        (counted + GENERAL_WEIGHT * self.general(value)) / (sum.max(0.0) + GENERAL_WEIGHT)
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
        let size = |pitch_mm| Some(Size { diameter_mm: 10.0, pitch_mm, fine: false, torque_per_mpa: 0.1 });
        let (metric, inch) = (UnitHabit::of_thread(size(1.5)), UnitHabit::of_thread(size(25.4 / 16.0)));
        assert!(metric.share(of(TorqueUnit::NewtonMeter)) > 3.0 * metric.share(of(TorqueUnit::PoundFoot)));
        assert!(inch.share(of(TorqueUnit::PoundFoot)) > 2.0 * inch.share(of(TorqueUnit::NewtonMeter)));
    }
}
