//! May it go back: what stays of a tightening, and what a measured length says.
//!
//! A bolt that was taken beyond yield keeps a stretch. The stretch sits in the free thread and the first engaged
//! turns (or in the waist), not in the whole bolt, so a small change of length is a large strain there.
//!
//! This module doesn't decide: makers allow none, one or a few reuses, or a greatest length.

use super::angle::AngleModel;
use super::flow::Flow;
use super::limit::{self, OutOfRange};
use super::resilience::ENGAGED_THREAD;
use crate::units::{Angle, Length, Torque};

/// Where the formulas of this module stand.
pub const SOURCE: &str = "stretch over the length that stretches; flow beyond yield: own model";

/// The most tightenings that are tried.
const TIMES_MAX: u32 = 100;

/// What a measured length says about a bolt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StretchVerdict {
    /// No longer than a new one may be: not stretched as far as the length can tell.
    AsNew,
    /// Longer than any new one: it has been beyond yield.
    Stretched,
    /// Stretched by its elongation after fracture or more: it is necking.
    Necking,
}

/// A measured length and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredStretch {
    /// Input: the length when new.
    pub new_length: Length,
    /// Input: by how much a new one may be longer than that.
    pub tolerance: Length,
    /// Input: the length now.
    pub measured: Length,
    /// How much longer it is than when new; negative if shorter.
    pub stretch: Length,
    /// Strain of the part that stretches, if all the difference is stretch; never negative.
    pub plastic_strain: f64,
    /// That strain over the elongation after fracture.
    pub strain_share: f64,
    /// What it says.
    pub verdict: StretchVerdict,
}

impl AngleModel {
    /// The length over which a permanent stretch is spread: the waist if the shank is one, else the free thread and
    /// half a diameter of engaged thread.
    #[must_use]
    pub fn stretching_length(&self) -> Length {
        let shape = self.shape();
        let form = shape.form();
        let waisted =
            shape.shank_length() > Length::from_millimeters(0.0) && shape.shank_diameter() < form.stress_diameter();
        if waisted { shape.shank_length() } else { shape.free_thread() + form.major() * ENGAGED_THREAD }
    }

    /// What a measured length says. `tolerance`: by how much a new bolt may be longer than `new_length` (0 if this
    /// very bolt was measured when new).
    ///
    /// # Errors
    /// If `new_length` is not from 0.1 to 10 000 mm, the tolerance not from 0 to a tenth of it, or `measured` not from
    /// half of it to twice as much.
    pub fn measured_stretch(
        &self,
        new_length: Length,
        tolerance: Length,
        measured: Length,
    ) -> Result<MeasuredStretch, OutOfRange> {
        let new = limit::length("length of the new bolt", (0.1, 10_000.0), new_length)?.millimeters();
        let tolerance = limit::length("tolerance of the length", (0.0, 0.1 * new), tolerance)?;
        let measured = limit::length("measured length", (0.5 * new, 2.0 * new), measured)?;
        let stretch = measured - new_length;
        let plastic_strain = (stretch / self.stretching_length()).max(0.0);
        let strain_share = plastic_strain / self.strength().elongation();
        let verdict = if stretch <= tolerance {
            StretchVerdict::AsNew
        } else if strain_share < 1.0 {
            StretchVerdict::Stretched
        } else {
            StretchVerdict::Necking
        };
        Ok(MeasuredStretch { new_length, tolerance, measured, stretch, plastic_strain, strain_share, verdict })
    }

    /// The length at which the plastic strain is a share (0 to 1) of the elongation after fracture.
    ///
    /// # Errors
    /// If `new_length` is not from 0.1 to 10 000 mm or the share not from 0 to 1.
    pub fn length_at_share(&self, new_length: Length, share: f64) -> Result<Length, OutOfRange> {
        limit::length("length of the new bolt", (0.1, 10_000.0), new_length)?;
        let share = limit::number("share of the elongation", (0.0, 1.0), share)?;
        Ok(new_length + self.stretching_length() * (share * self.strength().elongation()))
    }

    /// How many times a bolt can be tightened in this way before its plastic strain passes a share (0 to 1) of the
    /// elongation after fracture; `None` if it stays elastic or that takes more than 100 times.
    ///
    /// # Errors
    /// If the share is not from 0 to 1, or as [`AngleModel::after`].
    pub fn tightenings_within(&self, snug: Torque, angle: Angle, share: f64) -> Result<Option<u32>, OutOfRange> {
        let share = limit::number("share of the elongation", (0.0, 1.0), share)?;
        let snug_preload = self.bolt().preload_for(snug)?;
        // Checks the angle as well.
        if !self.after(snug, angle)?.yields {
            return Ok(None);
        }
        let flow = Flow::new(self);
        let mut strain = 0.0;
        for times in 1..=TIMES_MAX {
            let reached = flow.turn(snug_preload, angle.degrees(), strain);
            strain = reached.map_or(flow.breaking_strain(), |(_, strain)| strain);
            if flow.axial(strain) > share * self.strength().elongation() {
                return Ok(Some(times - 1));
            }
        }
        Ok(None)
    }
}

#[cfg(test)]
mod tests {
    use super::super::angle::tests::m10;
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_millimeters(value)
    }

    #[test]
    fn a_measured_length_agrees_with_the_model() {
        let model = m10(40.0);
        let turned = model.after(Torque::from_newton_meters(30.0), Angle::from_degrees(150.0)).unwrap();
        let measured = mm(60.0) + turned.permanent_stretch;
        let says = model.measured_stretch(mm(60.0), mm(0.0), measured).unwrap();
        assert_eq!(says.verdict, StretchVerdict::Stretched);
        assert!((says.plastic_strain / turned.plastic_strain - 1.0).abs() < 1e-6);
        let limit = model.length_at_share(mm(60.0), turned.strain_share).unwrap();
        assert!((limit - measured).millimeters().abs() < 1e-6);
    }

    #[test]
    fn within_tolerance_says_nothing() {
        let says = m10(40.0).measured_stretch(mm(60.0), mm(0.95), mm(60.4)).unwrap();
        assert_eq!(says.verdict, StretchVerdict::AsNew);
        let says = m10(40.0).measured_stretch(mm(60.0), mm(0.0), mm(63.0)).unwrap();
        assert_eq!(says.verdict, StretchVerdict::Necking);
        assert!(m10(40.0).measured_stretch(mm(60.0), mm(0.0), mm(600.0)).is_err());
    }

    #[test]
    fn counts_tightenings() {
        let (snug, turn) = (Torque::from_newton_meters(30.0), Angle::from_degrees(120.0));
        let few = m10(40.0).tightenings_within(snug, turn, 0.25).unwrap().unwrap();
        let more = m10(40.0).tightenings_within(snug, turn, 0.5).unwrap().unwrap();
        assert!(few < more, "{few} {more}");
        assert_eq!(m10(40.0).tightenings_within(snug, Angle::from_degrees(10.0), 0.5).unwrap(), None);
    }
}
