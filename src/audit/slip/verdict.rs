//! The verdict on a value: the weights of all candidates brought to probabilities.

use super::entry::Value;
use super::kind::Slip;
use super::suspect::Suspect;
use crate::units::Number;

/// What was meant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Meant {
    /// A torque.
    Torque(Value),
    /// A turn by this many degrees, after the torque before it.
    Turn(Number),
}

impl std::fmt::Display for Meant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Torque(value) => value.fmt(f),
            Self::Turn(degrees) => write!(f, "+ {degrees}°"),
        }
    }
}

impl Meant {
    /// Is it this torque, to a part in ten thousand?
    #[must_use]
    pub fn is_torque(self, other: Value) -> bool {
        matches!(self, Self::Torque(value) if value.equals(other))
    }
}

/// Something that may have been meant, with its probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meaning {
    /// What was meant.
    pub meant: Meant,
    /// The slip that made it the stated value.
    pub slip: Slip,
    /// How probable it is, all else considered.
    pub probability: f64,
}

/// What the evidence says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Verdict {
    /// Probability that the stated value is wrong.
    pub wrong: f64,
    /// What it was meant to be, most probable first.
    pub meant: Vec<Meaning>,
    /// Probability that a figure printed in another unit is wrong.
    pub printed_wrong: f64,
    /// What that figure was meant to be, most probable first.
    pub printed_meant: Vec<Meaning>,
}

/// How many candidates are reported.
const REPORTED: usize = 3;

/// Weights that are gathered and then brought to a sum of one.
#[derive(Default)]
pub(super) struct Scale {
    right: f64,
    unnamed: f64,
    meant: Vec<Weighed>,
    printed: Vec<Weighed>,
}

type Weighed = (Meant, Slip, f64);

impl Scale {
    /// With the weight of the stated value being right.
    pub(super) fn of(right: f64) -> Self {
        Self { right, ..Self::default() }
    }

    /// Adds the weight of another way in which the stated value is right.
    pub(super) fn add_right(&mut self, weight: f64) {
        self.right += weight;
    }

    /// Adds a torque that may have been meant.
    pub(super) fn add(&mut self, suspect: &Suspect, weight: f64) {
        gather(&mut self.meant, Meant::Torque(suspect.value), suspect.slip, weight);
    }

    /// Adds the weight of other values that may have been meant and that are too many to name.
    pub(super) fn add_unnamed(&mut self, weight: f64) {
        self.unnamed += weight;
    }

    /// Adds an angle that may have been meant.
    pub(super) fn add_turn(&mut self, degrees: Number, weight: f64) {
        gather(&mut self.meant, Meant::Turn(degrees), Slip::AngleAsTorque, weight);
    }

    /// Adds what a figure in another unit may have been meant to be.
    pub(super) fn add_printed(&mut self, suspect: &Suspect, weight: f64) {
        gather(&mut self.printed, Meant::Torque(suspect.value), suspect.slip, weight);
    }

    /// The verdict that these weights give.
    pub(super) fn verdict(self) -> Verdict {
        let sum = |list: &[Weighed]| list.iter().map(|(_, _, weight)| weight).sum::<f64>();
        let (wrong, printed) = (sum(&self.meant) + self.unnamed, sum(&self.printed));
        let all = self.right + wrong + printed;
        if all <= 0.0 {
            return Verdict::default();
        }
        Verdict {
            wrong: wrong / all,
            meant: best(self.meant, all),
            printed_wrong: printed / all,
            printed_meant: best(self.printed, all),
        }
    }
}

fn gather(list: &mut Vec<Weighed>, meant: Meant, slip: Slip, weight: f64) {
    if weight.is_finite() && weight > 0.0 {
        list.push((meant, slip, weight));
    }
}

/// The most probable meanings. The same value meant by two slips is one of them, named for the likelier slip.
fn best(mut list: Vec<Weighed>, all: f64) -> Vec<Meaning> {
    list.sort_by(|a, b| b.2.total_cmp(&a.2));
    let mut merged: Vec<Weighed> = Vec::new();
    // Beyond the heaviest few nothing is left that could change the order of the first three.
    for (meant, slip, weight) in list.into_iter().take(40) {
        let same = |other: &Meant| match (meant, *other) {
            (Meant::Torque(value), other) => other.is_torque(value),
            (turn, other) => turn == other,
        };
        match merged.iter_mut().find(|(other, _, _)| same(other)) {
            Some((_, named, sum)) => {
                *sum += weight;
                // A slip that explains it is the better name, however seldom it is.
                *named = if *named == Slip::Unexplained { slip } else { *named };
            }
            None => merged.push((meant, slip, weight)),
        }
    }
    merged.sort_by(|a, b| b.2.total_cmp(&a.2));
    let meaning = |(meant, slip, weight)| Meaning { meant, slip, probability: weight / all };
    let mut best: Vec<Meaning> = merged.into_iter().take(REPORTED).map(meaning).collect();
    // Made in the place of the longer list, it would keep the room of that.
    best.shrink_to_fit();
    best
}
