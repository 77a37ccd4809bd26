//! Where the clamped length is not known: what a tightening by angle comes to at every length that is plausible.

use super::angle::{AngleModel, Turned};
use super::clamped::JointKind;
use super::limit::{self, OutOfRange};
use crate::units::{Angle, Length, Torque};

/// Where the limits of the plausible lengths stand.
pub const SOURCE: &str = "common practice, no source: nut 0.8 d, engagement 0.8 to 2.5 d, grip at least 0.5 d and \
                          1 to 10 d where the length is unknown";

/// How many clamped lengths are tried, the ends included.
const TRIED: u32 = 7;

/// The clamped lengths that a joint may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GripRange {
    shortest: Length,
    longest: Length,
}

impl GripRange {
    /// A range within 0.001 to 10 000 mm.
    ///
    /// # Errors
    /// If a length is out of it or `longest` is below `shortest`.
    pub fn new(shortest: Length, longest: Length) -> Result<Self, OutOfRange> {
        limit::length("shortest clamped length", (0.001, 10_000.0), shortest)?;
        limit::length("longest clamped length", (shortest.millimeters(), 10_000.0), longest)?;
        Ok(Self { shortest, longest })
    }

    /// What is plausible for a bolt of major diameter d (0.1 to 500 mm) and, where known, nominal length l (up to
    /// 10 000 mm). With a nut of 0.8 d the grip is at most l − 0.8 d, and a thread that sticks out by up to d makes it
    /// less; in a tapped part l − grip is the engagement, 0.8 to 2.5 d. Never below 0.5 d. Without a length: 1 to 10 d.
    ///
    /// # Errors
    /// If a number is out of its range.
    pub fn plausible(kind: JointKind, diameter: Length, length: Option<Length>) -> Result<Self, OutOfRange> {
        let d = limit::length("major diameter", (0.1, 500.0), diameter)?;
        let Some(length) = length else {
            return Self::new(d, d * 10.0);
        };
        let l = limit::length("bolt length", (0.1, 10_000.0), length)?;
        let taken = match kind {
            JointKind::ThroughBolted => (0.8, 1.8),
            JointKind::Tapped => (0.8, 2.5),
        };
        let least = d * 0.5;
        let at_least = |grip: Length| if grip > least { grip } else { least };
        Self::new(at_least(l - d * taken.1), at_least(l - d * taken.0))
    }

    /// Shortest clamped length.
    #[must_use]
    pub fn shortest(self) -> Length {
        self.shortest
    }

    /// Longest clamped length.
    #[must_use]
    pub fn longest(self) -> Length {
        self.longest
    }

    /// The lengths that are tried, from the shortest to the longest.
    pub fn tried(self) -> impl Iterator<Item = Length> {
        let width = self.longest - self.shortest;
        (0..TRIED).map(move |n| self.shortest + width * (f64::from(n) / f64::from(TRIED - 1)))
    }
}

/// Whether a bolt yields, where the clamped length is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum YieldVerdict {
    /// At every plausible clamped length.
    YieldsAtEvery,
    /// At none.
    YieldsAtNone,
    /// At some, not at others.
    DependsOnGrip,
}

/// A tightening by angle over the plausible clamped lengths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnedOverGrips {
    /// Input: the clamped lengths.
    pub grips: GripRange,
    /// At the shortest, where the preload rises fastest.
    pub shortest: Turned,
    /// At the longest.
    pub longest: Turned,
    /// Whether the bolt yields.
    pub verdict: YieldVerdict,
}

/// A tightening by angle over the plausible clamped lengths; `model` builds the joint for one of them.
///
/// # Errors
/// Those of `model` and of [`AngleModel::after`].
pub fn after_over_grips(
    grips: GripRange,
    snug: Torque,
    angle: Angle,
    model: impl Fn(Length) -> Result<AngleModel, OutOfRange>,
) -> Result<TurnedOverGrips, OutOfRange> {
    let shortest = model(grips.shortest())?.after(snug, angle)?;
    let (mut some, mut all, mut longest) = (shortest.yields, shortest.yields, shortest);
    for grip in grips.tried().skip(1) {
        longest = model(grip)?.after(snug, angle)?;
        some |= longest.yields;
        all &= longest.yields;
    }
    let verdict = match (some, all) {
        (_, true) => YieldVerdict::YieldsAtEvery,
        (false, _) => YieldVerdict::YieldsAtNone,
        (true, false) => YieldVerdict::DependsOnGrip,
    };
    Ok(TurnedOverGrips { grips, shortest, longest, verdict })
}

#[cfg(test)]
mod tests {
    use super::super::angle::tests::m10;
    use super::*;

    fn verdict(degrees: f64) -> YieldVerdict {
        let mm = Length::from_millimeters;
        let grips = GripRange::plausible(JointKind::ThroughBolted, mm(10.0), None).unwrap();
        let snug = Torque::from_newton_meters(20.0);
        after_over_grips(grips, snug, Angle::from_degrees(degrees), |grip| Ok(m10(grip.millimeters()))).unwrap().verdict
    }

    #[test]
    fn small_turns_are_safe_and_large_ones_are_not() {
        assert_eq!(verdict(15.0), YieldVerdict::YieldsAtNone);
        assert_eq!(verdict(60.0), YieldVerdict::DependsOnGrip);
        assert_eq!(verdict(270.0), YieldVerdict::YieldsAtEvery);
    }

    #[test]
    fn a_length_narrows_the_grip() {
        let mm = Length::from_millimeters;
        let grips = GripRange::plausible(JointKind::Tapped, mm(8.0), Some(mm(35.0))).unwrap();
        assert!((grips.shortest().millimeters() - 15.0).abs() < 1e-9);
        assert!((grips.longest().millimeters() - 28.6).abs() < 1e-9);
        let short = GripRange::plausible(JointKind::ThroughBolted, mm(8.0), Some(mm(10.0))).unwrap();
        assert_eq!(short.shortest(), mm(4.0));
    }
}
