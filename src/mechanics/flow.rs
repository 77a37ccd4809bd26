//! An elastic-plastic bolt in its joint: how far the thread has advanced at a preload, and the way back.
//!
//! ```text
//! advance(F) = F (δS + δP) + Σ li εp,i σi/σred,i       elastic stretch and squeeze, and what stays
//! ```
//!
//! While the wrench turns, tension and torsion rise in proportion (the torque in the thread is F times an arm), so the
//! von Mises stress of a section is F times a constant, and the plastic strain follows from the flow curve without
//! stepping (for proportional loading flow theory and deformation theory are the same). Of an equivalent plastic
//! strain the share σ/σred stretches the bolt; the rest twists it.
//!
//! Left out: the twist of the bolt itself, which uses up 3 to 8 % of the turn (so the stretch is overrated by that),
//! and yielding that begins at the rim of the section before its middle (so the preload is underrated by up to 1.5 %).
//! Both figures are from an integration that has them, in the tests.

use super::angle::AngleModel;
use super::resilience::ENGAGED_THREAD;
use super::strength::Strength;
use crate::units::{Force, Length};
use std::f64::consts::PI;

/// How close to the turn asked for the solution must come, as a share of it.
const TOLERANCE: f64 = 1e-13;
/// Bisection alone would get there in this many steps.
const STEPS_MAX: u32 = 100;

/// A part of the bolt with one section.
#[derive(Debug, Clone, Copy)]
struct Section {
    length: f64,
    /// Tension per newton of preload, 1/mm².
    tension: f64,
    /// Combined stress per newton of preload, 1/mm².
    combined: f64,
}

impl Section {
    fn new(length: Length, diameter: Length, thread_arm: f64, torsion_modulus: f64) -> Self {
        let d = diameter.millimeters();
        let tension = 4.0 / (PI * d.powi(2));
        let torsion = thread_arm / (torsion_modulus * d.powi(3));
        let combined = (tension.powi(2) + 3.0 * torsion.powi(2)).sqrt();
        Self { length: length.millimeters(), tension, combined }
    }

    /// What of an equivalent plastic strain is stretch along the axis.
    fn axial_share(&self) -> f64 {
        self.tension / self.combined
    }
}

/// The bolt at one friction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flow {
    weakest: Section,
    other: Section,
    strength: Strength,
    /// δS + δP in mm/N.
    resilience: f64,
    pitch: f64,
}

impl Flow {
    pub(super) fn new(model: &AngleModel) -> Self {
        let bolt = model.bolt();
        let shape = model.shape();
        let form = shape.form();
        let section = |length, diameter| Section::new(length, diameter, bolt.thread_arm(), bolt.torsion.modulus());
        let thread = section(shape.free_thread() + form.major() * ENGAGED_THREAD, form.stress_diameter());
        let shank = section(shape.shank_length(), shape.shank_diameter());
        let shank_is_weakest = shank.length > 0.0 && shank.combined > thread.combined;
        let (weakest, other) = if shank_is_weakest { (shank, thread) } else { (thread, shank) };
        let resilience = model.resilience().millimeters_per_newton();
        Self { weakest, other, strength: model.strength(), resilience, pitch: form.pitch().millimeters() }
    }

    /// Preload with the weakest section at an equivalent plastic strain and the wrench pulling.
    pub(super) fn preload_at_strain(&self, plastic_strain: f64) -> f64 {
        self.strength.flow_stress(plastic_strain) / self.weakest.combined
    }

    /// Equivalent plastic strain of the weakest section after a preload was reached with the wrench pulling.
    fn strain_after(&self, preload: f64) -> f64 {
        self.strength.plastic_strain(preload * self.weakest.combined)
    }

    /// Permanent strain along the axis in the weakest section.
    pub(super) fn axial(&self, plastic_strain: f64) -> f64 {
        plastic_strain * self.weakest.axial_share()
    }

    /// Equivalent plastic strain at which the weakest section has stretched by the elongation after fracture.
    pub(super) fn breaking_strain(&self) -> f64 {
        self.strength.elongation() / self.weakest.axial_share()
    }

    /// Permanent stretch of the whole bolt in mm, with the weakest section at an equivalent plastic strain.
    pub(super) fn permanent_stretch(&self, plastic_strain: f64) -> f64 {
        let other_strain = if self.other.length > 0.0 {
            self.strength.plastic_strain(self.preload_at_strain(plastic_strain) * self.other.combined)
        } else {
            0.0
        };
        self.weakest.length * self.axial(plastic_strain) + self.other.length * other_strain * self.other.axial_share()
    }

    /// Degrees of turn for an advance along the axis in mm.
    pub(super) fn degrees(&self, advance: f64) -> f64 {
        advance / self.pitch * 360.0
    }

    /// Turns further from a snug preload. `before`: the equivalent plastic strain that the bolt brought along from
    /// earlier tightenings. Gives the preload in newtons and the equivalent plastic strain of the weakest section.
    /// `None` if the bolt breaks before the snug preload is reached.
    pub(super) fn turn(&self, snug: Force, degrees: f64, before: f64) -> Option<(f64, f64)> {
        let snug = snug.newtons();
        if snug >= self.preload_at_strain(self.breaking_strain()) {
            return None;
        }
        let start = before.max(self.strain_after(snug));
        let advance = degrees / 360.0 * self.pitch;
        let elastic = (self.preload_at_strain(start) - snug) * self.resilience;
        if advance <= elastic {
            return Some((snug + advance / self.resilience, start));
        }
        let stretch_at_start = self.permanent_stretch(start);
        let missing = |strain: f64| {
            (self.preload_at_strain(strain) - snug) * self.resilience + self.permanent_stretch(strain)
                - stretch_at_start
                - advance
        };
        // All of the advance as plastic stretch of the weakest section is the most that its strain can be.
        let most = start + advance / (self.weakest.length * self.weakest.axial_share());
        let strain = root(missing, start, most, TOLERANCE * advance);
        Some((self.preload_at_strain(strain), strain))
    }
}

/// The root of a rising function between two places, by false position with the Illinois rule, and by bisection where
/// that is slow. `function(low) ≤ 0 ≤ function(high)`, up to rounding.
fn root(function: impl Fn(f64) -> f64, mut low: f64, mut high: f64, tolerance: f64) -> f64 {
    let (mut at_low, mut at_high) = (function(low), function(high));
    let mut last_side = 0;
    for step in 0..STEPS_MAX {
        let guess = (low * at_high - high * at_low) / (at_high - at_low);
        let bisect = step % 4 == 3 || !(guess > low && guess < high);
        let middle = if bisect { f64::midpoint(low, high) } else { guess };
        let value = function(middle);
        if value.abs() <= tolerance || middle <= low || middle >= high {
            return middle;
        }
        let side = if value < 0.0 { -1 } else { 1 };
        if side < 0 {
            (low, at_low) = (middle, value);
            at_high /= if last_side == side { 2.0 } else { 1.0 };
        } else {
            (high, at_high) = (middle, value);
            at_low /= if last_side == side { 2.0 } else { 1.0 };
        }
        last_side = side;
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_roots() {
        assert!((root(|x| x * x - 2.0, 0.0, 2.0, 1e-14) - 2.0_f64.sqrt()).abs() < 1e-12);
        assert!((root(|x| x.powi(9) - 1e-9, 0.0, 10.0, 1e-22) - 0.1).abs() < 1e-6);
        assert!((root(|x| if x < 0.3 { x - 0.4 } else { 50.0 * x - 15.1 }, 0.0, 1.0, 1e-13) - 0.302).abs() < 1e-12);
    }
}
