//! Which torques may have been meant by the one that is written, before any evidence about the bolt.

use super::chances;
use super::digits::{MeantNumber, meant_by, with_point_moved};
use super::entry::{Figures, Value};
use super::kind::Slip;
use crate::units::{Number, TorqueUnit};

/// A torque that may have been meant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    /// The torque.
    pub value: Value,
    /// How it became the written one.
    pub slip: Slip,
    /// How probable it is that this slip turns it into the written one, given that some slip happens.
    pub chance: f64,
}

/// Units that are taken for each other: meant, written, share of all such slips onto the written unit.
const UNITS: [(TorqueUnit, TorqueUnit, f64); 18] = {
    use TorqueUnit::{
        CentinewtonMeter as Cn, KilogramCentimeter as Kc, KilogramMeter as Km, NewtonMeter as Nm, PoundFoot as Lf,
        PoundInch as Li,
    };
    [
        (Lf, Nm, 0.45),
        (Km, Nm, 0.2),
        (Li, Nm, 0.15),
        (Cn, Nm, 0.1),
        (Kc, Nm, 0.1),
        (Nm, Lf, 0.45),
        (Li, Lf, 0.4),
        (Km, Lf, 0.15),
        (Lf, Li, 0.7),
        (Nm, Li, 0.3),
        (Nm, Km, 0.45),
        (Lf, Km, 0.3),
        (Kc, Km, 0.25),
        (Km, Kc, 0.5),
        (Nm, Kc, 0.5),
        (Nm, Cn, 0.8),
        (Kc, Cn, 0.1),
        (Li, Cn, 0.1),
    ]
};

/// Every torque that one slip turns into `written`. Slips that take another value of the book for this one are
/// not here: they need the book.
#[must_use]
pub fn suspects(written: Value) -> Vec<Suspect> {
    let mut found = Vec::with_capacity(128);
    let mut add = |figures: Option<Figures>, unit, slip, chance| {
        if let Some(figures) = figures {
            found.push(Suspect { value: Value { figures, unit }, slip, chance });
        }
    };
    let unit = written.unit;
    let point = |places| written.figures.map(|n| with_point_moved(n, places));
    for (places, chance) in [(1, chances::POINT), (2, chances::POINT_FAR), (3, chances::POINT_FAR)] {
        add(point(places), unit, Slip::PointGained, chance);
        add(point(-places), unit, Slip::PointLost, chance);
    }
    for (meant, _, share) in UNITS.iter().filter(|(_, written, _)| *written == unit) {
        add(Some(written.figures), *meant, Slip::WrongUnit, chances::UNIT * share);
    }
    match written.figures {
        Figures::One(n) => {
            for meant in meant_by(n) {
                add(Some(Figures::One(meant.number)), unit, meant.slip, meant.chance);
            }
        }
        Figures::Around(n, off) => {
            for meant in meant_by(n) {
                add(Some(Figures::Around(meant.number, off)), unit, meant.slip, meant.chance);
            }
        }
        Figures::Range(a, b) => {
            for meant in meant_by(a) {
                add(Some(Figures::Range(meant.number, b)), unit, meant.slip, meant.chance / 2.0);
            }
            for meant in meant_by(b) {
                add(Some(Figures::Range(a, meant.number)), unit, meant.slip, meant.chance / 2.0);
            }
            for (range, meant) in shifted(a, b) {
                add(Some(range), unit, meant.slip, meant.chance * AS_TOLERANCE);
            }
            add(Some(Figures::Range(b, a)), unit, Slip::EndsSwapped, chances::UNEXPLAINED / 2.0);
        }
    }
    found
}

/// A range may have been printed as a middle and a tolerance: as often as this the slip was in the middle.
const AS_TOLERANCE: f64 = 0.3;

/// The ranges around what the middle of this one may have been meant to be.
fn shifted(low: Number, high: Number) -> Vec<(Figures, MeantNumber)> {
    let (a, b) = (low.value(), high.value());
    let middle = Number::from_f64(f64::midpoint(a, b), 6);
    let half = (b - a) / 2.0;
    let shift = |meant: MeantNumber| {
        let end = |value: f64| (value > 0.0).then(|| Number::from_f64(value, 6));
        let range = Figures::Range(end(meant.number.value() - half)?, end(meant.number.value() + half)?);
        Some((range, meant))
    };
    meant_by(middle).into_iter().filter_map(shift).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    #[test]
    fn every_unit_is_taken_for_another_with_shares_that_add_up() {
        for unit in TorqueUnit::ALL {
            let sum: f64 = UNITS.iter().filter(|(_, written, _)| written == unit).map(|(_, _, share)| share).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{unit}: {sum}");
        }
    }

    #[test]
    fn of_a_range_one_end_changes_or_both() {
        let figures = Figures::Range("40".parse().expect("40"), "60".parse().expect("60"));
        let found = suspects(Value { figures, unit: TorqueUnit::PoundFoot });
        let has = |text: &str, slip| found.iter().any(|s| s.value.to_string() == text && s.slip == slip);
        assert!(has("40-50 lbf·ft", Slip::DigitMisread));
        assert!(has("400-600 lbf·ft", Slip::PointGained));
        assert!(has("40-60 N·m", Slip::WrongUnit));
        assert!(has("60-40 lbf·ft", Slip::EndsSwapped));
    }
}
