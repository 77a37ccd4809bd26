//! Combined stress while tightening, and how much of the yield strength it uses: VDI 2230-1:2015, 5.5.1.
//!
//! ```text
//! σM = F / A0                        tension
//! τM = MG / WP                       torsion, MG from `torque`
//! WP = π/12 d0³  (fully plastic)     or π/16 d0³ (elastic, older tables)
//! σred = √(σM² + 3 τM²)              combined stress
//! ν = σred / Rp0.2                   utilisation
//! ```
//!
//! `A0`, `d0`: stress area and its diameter, or the waist if that is smaller. This module knows no strengths: they are
//! given.

use super::form::circle;
use super::limit::{self, OutOfRange};
use super::torque::TorquedBolt;
use crate::units::{Area, Force, Length, Stress, Torque};
use std::f64::consts::PI;

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.5.1";

/// The utilisation that the tables A1 to A4 of VDI 2230-1 are made for.
pub const TABLE_UTILISATION: f64 = 0.9;

/// The share of the torsion that stays in the shank when the wrench is off, kτ (VDI 2230-1:2015, 5.5.2).
const TORSION_LEFT: f64 = 0.5;

/// How the torsion of the shank is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Torsion {
    /// Fully plastic over the section, WP = π/12 d0³: VDI 2230-1 since its edition of 2001, because a section that
    /// begins to yield at its rim still carries.
    #[default]
    Plastic,
    /// Elastic, WP = π/16 d0³: yields as soon as the rim does. Older tables are made with it and sit 6–13 % lower;
    /// choose it to judge a number that comes from one.
    Elastic,
}

impl Torsion {
    /// Torsional section modulus over d0³.
    pub(super) fn modulus(self) -> f64 {
        match self {
            Self::Plastic => PI / 12.0,
            Self::Elastic => PI / 16.0,
        }
    }
}

/// The stresses in the governing section while the wrench is pulling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CombinedStress {
    /// Tension σM.
    pub tension: Stress,
    /// Torsion τM.
    pub torsion: Stress,
    /// Combined stress σred (von Mises).
    pub combined: Stress,
}

impl TorquedBolt {
    /// Diameter d0 of the governing section: of the stress area, or of the waist if that is smaller.
    #[must_use]
    pub fn governing_diameter(&self) -> Length {
        let stress = self.form.stress_diameter();
        self.waist.filter(|waist| *waist < stress).unwrap_or(stress)
    }

    /// Area A0 of the governing section.
    #[must_use]
    pub fn governing_area(&self) -> Area {
        circle(self.governing_diameter())
    }

    /// Torsional stress per newton of preload, in 1/mm².
    pub(super) fn torsion_per_newton(&self) -> f64 {
        self.thread_arm() / (self.torsion.modulus() * self.governing_diameter().millimeters().powi(3))
    }

    /// Combined stress per newton of preload, in 1/mm².
    fn combined_per_newton(&self) -> f64 {
        let tension = 1.0 / self.governing_area().square_millimeters();
        (tension.powi(2) + 3.0 * self.torsion_per_newton().powi(2)).sqrt()
    }

    /// The stresses while a preload is being reached with the wrench.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn combined_stress(&self, preload: Force) -> Result<CombinedStress, OutOfRange> {
        let newtons = limit::force("preload", preload)?.newtons();
        Ok(CombinedStress {
            tension: Stress::from_megapascals(newtons / self.governing_area().square_millimeters()),
            torsion: Stress::from_megapascals(newtons * self.torsion_per_newton()),
            combined: Stress::from_megapascals(newtons * self.combined_per_newton()),
        })
    }

    /// Utilisation ν = σred / Rp0.2: 1 where the bolt yields while being tightened.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N or the yield strength not from 1 to 10 000 MPa.
    pub fn utilisation(&self, preload: Force, yield_strength: Stress) -> Result<f64, OutOfRange> {
        let limit = limit::strength("yield strength", yield_strength)?;
        Ok(self.combined_stress(preload)?.combined / limit)
    }

    /// The combined stress that stays when the wrench is off: half of the torsion goes, kτ = 0.5
    /// (VDI 2230-1:2015, 5.5.2).
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn reduced_stress_after_release(&self, preload: Force) -> Result<Stress, OutOfRange> {
        let under_wrench = self.combined_stress(preload)?;
        let (tension, torsion) = (under_wrench.tension.megapascals(), under_wrench.torsion.megapascals());
        Ok(Stress::from_megapascals(tension.hypot(3.0_f64.sqrt() * TORSION_LEFT * torsion)))
    }

    /// The assembly preload FM at a utilisation ν: FM = ν Rp0.2 / √(1/A0² + 3 (MG/F/WP)²).
    /// With ν = [`TABLE_UTILISATION`] these are the preloads of tables A1 to A4.
    ///
    /// # Errors
    /// If the utilisation is not from 0 to 10 or the yield strength not from 1 to 10 000 MPa.
    pub fn preload_at(&self, utilisation: f64, yield_strength: Stress) -> Result<Force, OutOfRange> {
        let utilisation = limit::number("utilisation", (0.0, 10.0), utilisation)?;
        let strength = limit::strength("yield strength", yield_strength)?;
        Ok(Force::from_newtons(utilisation * strength.megapascals() / self.combined_per_newton()))
    }

    /// The tightening torque MA at a utilisation ν.
    ///
    /// # Errors
    /// If the utilisation is not from 0 to 10 or the yield strength not from 1 to 10 000 MPa.
    pub fn torque_at(&self, utilisation: f64, yield_strength: Stress) -> Result<Torque, OutOfRange> {
        self.torque_for(self.preload_at(utilisation, yield_strength)?)
    }
}

#[cfg(test)]
mod tests {
    use super::super::form::tests::metric;
    use super::super::friction::Friction;
    use super::super::torque::HeadBearing;
    use super::*;

    fn m10() -> TorquedBolt {
        let mm = Length::from_millimeters;
        let bearing = HeadBearing::flat(mm(14.63), mm(11.0)).unwrap();
        TorquedBolt::new(metric(10.0, 1.5), bearing, Friction::same(0.12).unwrap())
    }

    fn yield_88() -> Stress {
        Stress::from_megapascals(640.0)
    }

    #[test]
    fn m10_88_carries_29_6_kilonewtons_at_90_percent() {
        // VDI 2230-1:2015, table A1, M10, 8.8, µ 0.12: FM 29.6 kN
        let preload = m10().preload_at(TABLE_UTILISATION, yield_88()).unwrap();
        assert!((preload.newtons() - 29_600.0).abs() < 60.0, "{preload:?}");
        let back = m10().utilisation(preload, yield_88()).unwrap();
        assert!((back - TABLE_UTILISATION).abs() < 1e-12);
    }

    #[test]
    fn elastic_torsion_allows_less() {
        let old = m10().with_torsion(Torsion::Elastic).preload_at(0.9, yield_88()).unwrap();
        let new = m10().preload_at(0.9, yield_88()).unwrap();
        assert!(old < new * 0.95 && old > new * 0.85);
    }

    #[test]
    fn a_waist_governs_only_below_the_stress_area() {
        let thick = m10().with_waist(Length::from_millimeters(9.5)).unwrap();
        assert_eq!(thick.governing_area(), m10().governing_area());
        let thin = m10().with_waist(Length::from_millimeters(7.3)).unwrap();
        assert!(thin.preload_at(0.9, yield_88()).unwrap() < m10().preload_at(0.9, yield_88()).unwrap());
        assert!(m10().with_waist(Length::from_millimeters(0.5)).is_err());
    }
}
