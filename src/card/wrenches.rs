//! The fewest torque wrenches that cover a list of torques.

use crate::record::TorqueSetting;
use crate::standards::{WRENCH_USE_FROM, workshop_wrenches};
use crate::units::{Number, Torque, TorqueUnit};

/// A torque wrench by its scale, used from a fifth of its greatest torque on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WrenchRange {
    /// The beginning of its scale.
    pub from: Torque,
    /// Its greatest torque.
    pub to: Torque,
    /// How the range is written.
    written: TorqueSetting,
}

impl WrenchRange {
    /// A wrench whose scale is written as a range, such as `10-60 N·m`; `None` if it is no range.
    #[must_use]
    pub fn new(scale: TorqueSetting) -> Option<Self> {
        let (from, to) = scale.ends();
        (from < to).then_some(Self { from, to, written: scale })
    }

    /// The wrenches that workshops usually have (common practice, no source), the smallest first.
    #[must_use]
    pub fn usual() -> Vec<Self> {
        let number = |torque: Torque| Number::from_f64(torque.newton_meters(), 4);
        let scale = |(from, to)| {
            TorqueSetting::new(crate::record::Form::Range(number(from), number(to)), TorqueUnit::NewtonMeter)
        };
        workshop_wrenches().filter_map(|wrench| Self::new(scale(wrench))).collect()
    }

    /// The least torque it is used for.
    #[must_use]
    pub fn least(&self) -> Torque {
        let share = self.to * WRENCH_USE_FROM;
        if share > self.from { share } else { self.from }
    }

    /// Whether it may be set to this torque.
    #[must_use]
    pub fn serves(&self, torque: Torque) -> bool {
        // A setting at the very end of a scale is on it, whatever the conversion of its unit left over.
        let spare = 1.0 + 1e-9;
        torque * spare >= self.least() && torque <= self.to * spare
    }
}

impl std::str::FromStr for WrenchRange {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let scale: TorqueSetting = text.parse().map_err(|error| format!("{error}"))?;
        Self::new(scale).ok_or_else(|| format!("\"{text}\" is no range. Write from where to where, such as 10-60 N·m"))
    }
}

impl std::fmt::Display for WrenchRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.written.fmt(f)
    }
}

/// The fewest of the wrenches that serve all torques, the smallest first, and the torques that none serves.
///
/// From below: the lowest torque not yet served needs a wrench, and of those that serve it the one that reaches
/// farthest leaves the least for others. Equal reach goes to the one used lower. Then each gives way to a smaller one
/// that serves as well: a smaller wrench is finer and easier to hold.
#[must_use]
pub fn fewest(wrenches: &[WrenchRange], torques: &[Torque]) -> (Vec<WrenchRange>, Vec<Torque>) {
    let mut torques: Vec<Torque> = torques.to_vec();
    torques.sort_by(|a, b| a.newton_meters().total_cmp(&b.newton_meters()));
    let mut taken: Vec<WrenchRange> = Vec::new();
    let mut unserved = Vec::new();
    for &torque in &torques {
        if taken.iter().any(|wrench| wrench.serves(torque)) {
            continue;
        }
        let serving = wrenches.iter().filter(|wrench| wrench.serves(torque));
        let reach = |wrench: &&WrenchRange| (wrench.to.newton_meters(), -wrench.least().newton_meters());
        match serving.max_by(|a, b| reach(a).partial_cmp(&reach(b)).unwrap_or(std::cmp::Ordering::Equal)) {
            Some(wrench) => taken.push(*wrench),
            None => unserved.push(torque),
        }
    }
    for at in 0..taken.len() {
        taken[at] = smaller(wrenches, &taken, at, &torques);
    }
    (taken, unserved)
}

/// The smallest wrench that can stand in for one of those taken.
fn smaller(wrenches: &[WrenchRange], taken: &[WrenchRange], at: usize, torques: &[Torque]) -> WrenchRange {
    let others = |torque: Torque| taken.iter().enumerate().any(|(i, wrench)| i != at && wrench.serves(torque));
    let needs: Vec<Torque> = torques.iter().copied().filter(|&t| taken[at].serves(t) && !others(t)).collect();
    let able = wrenches.iter().filter(|wrench| needs.iter().all(|&torque| wrench.serves(torque)));
    let smallest = able.min_by(|a, b| a.to.newton_meters().total_cmp(&b.to.newton_meters()));
    *smallest.unwrap_or(&taken[at])
}

/// Of these wrenches the smallest that serves a torque: its scale is the finest.
#[must_use]
pub fn finest(wrenches: &[WrenchRange], torque: Torque) -> Option<&WrenchRange> {
    let serving = wrenches.iter().filter(|wrench| wrench.serves(torque));
    serving.min_by(|a, b| a.to.newton_meters().total_cmp(&b.to.newton_meters()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn newton_meters(values: &[f64]) -> Vec<Torque> {
        values.iter().copied().map(Torque::from_newton_meters).collect()
    }

    fn wrench(scale: &str) -> WrenchRange {
        WrenchRange::new(scale.parse().unwrap()).unwrap()
    }

    #[track_caller]
    fn takes(torques: &[f64], expected: &[&str], unserved: usize) {
        let (taken, left) = fewest(&WrenchRange::usual(), &newton_meters(torques));
        assert_eq!(taken.iter().map(ToString::to_string).collect::<Vec<_>>(), expected, "{torques:?}");
        assert_eq!(left.len(), unserved);
    }

    #[test]
    fn few_wrenches_cover_many_torques() {
        takes(&[8.0, 20.0, 25.0], &["5-25 N·m"], 0);
        takes(&[12.0, 60.0], &["10-60 N·m"], 0);
        takes(&[20.0, 90.0, 200.0], &["20-100 N·m", "40-200 N·m"], 0);
        takes(&[0.2, 20.0, 5000.0], &["5-25 N·m"], 2);
        takes(&[], &[], 0);
    }

    #[test]
    fn a_wrench_is_used_from_a_fifth_of_its_greatest_torque() {
        let own = wrench("10-100 N·m");
        assert!(!own.serves(Torque::from_newton_meters(19.9)) && own.serves(Torque::from_newton_meters(20.0)));
        assert!(wrench("10-80 lbf·ft").serves("80 lbf·ft".parse::<crate::units::StatedTorque>().unwrap().quantity()));
        assert_eq!(WrenchRange::new("40 N·m".parse().unwrap()), None);
        let both = [wrench("10-60 N·m"), wrench("20-100 N·m")];
        assert_eq!(finest(&both, Torque::from_newton_meters(30.0)).unwrap().to_string(), "10-60 N·m");
    }

    proptest! {
        #[test]
        fn no_smaller_set_serves_as_many(
            scales in prop::collection::vec((1_u32..200, 2_u32..10), 0..7),
            torques in prop::collection::vec(1_u32..1500, 0..8),
        ) {
            let wrenches: Vec<WrenchRange> =
                scales.iter().map(|(from, times)| wrench(&format!("{from}-{} N·m", from * times))).collect();
            let torques: Vec<Torque> = torques.iter().map(|&t| Torque::from_newton_meters(f64::from(t))).collect();
            let (taken, unserved) = fewest(&wrenches, &torques);
            let served = |set: &[WrenchRange]| {
                torques.iter().filter(|&&torque| set.iter().any(|wrench| wrench.serves(torque))).count()
            };
            prop_assert_eq!(served(&taken), torques.len() - unserved.len());
            prop_assert_eq!(served(&taken), served(&wrenches));
            for choice in 0_u32..1 << wrenches.len() {
                let set: Vec<WrenchRange> =
                    wrenches.iter().enumerate().filter(|(i, _)| choice >> i & 1 == 1).map(|(_, w)| *w).collect();
                prop_assert!(set.len() >= taken.len() || served(&set) < served(&taken));
            }
        }
    }
}
