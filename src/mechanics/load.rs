//! A tightened joint under load along its axis, as textbooks have it: how the load is shared, when the joint opens,
//! what settling costs. Kept to what helps judge a preload; eccentric and changing loads are not treated.
//!
//! ```text
//! C = δP/(δS + δP) = kb/(kb + km)      joint constant (VDI 2230-1: ΦK)
//! bolt F = FM + C P                    clamp force FK = FM − (1 − C) P
//! FZ = fZ/(δS + δP)                    preload lost to embedding fZ (VDI 2230-1:2015, 5.4.2.1)
//! ```

use super::limit::{self, OutOfRange};
use super::resilience::Resilience;
use crate::units::{Force, Length};

/// Where the formulas of this module stand.
pub const SOURCE: &str =
    "Shigley's Mechanical Engineering Design, 9th ed., 8-7 and 8-9; VDI 2230-1:2015, 5.3 and 5.4.2.1";

/// A tightened joint: preload and joint constant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadedJoint {
    preload: Force,
    constant: f64,
}

impl LoadedJoint {
    /// From the preload and the resiliences of bolt and parts.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N, or bolt and parts both have no resilience.
    pub fn new(preload: Force, bolt: Resilience, parts: Resilience) -> Result<Self, OutOfRange> {
        let sum = (bolt + parts).millimeters_per_newton();
        limit::within("resilience of bolt and parts", " mm/N", (1e-15, 2.0), sum)?;
        Self::with_constant(preload, parts.millimeters_per_newton() / sum)
    }

    /// From the preload and the joint constant C.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N or the constant not from 0 to 1.
    pub fn with_constant(preload: Force, constant: f64) -> Result<Self, OutOfRange> {
        let preload = limit::force("preload", preload)?;
        Ok(Self { preload, constant: limit::number("joint constant", (0.0, 1.0), constant)? })
    }

    /// Joint constant C: the share of a load that the bolt feels.
    #[must_use]
    pub fn constant(&self) -> f64 {
        self.constant
    }

    /// Force in the bolt under a load P; once the joint has opened it is the load itself.
    ///
    /// # Errors
    /// If the load is not from 0 to 10⁹ N.
    pub fn bolt_force(&self, load: Force) -> Result<Force, OutOfRange> {
        let load = limit::force("load", load)?;
        Ok(self.clamp_force(load)? + load)
    }

    /// Clamp force left under a load P; none once the joint has opened.
    ///
    /// # Errors
    /// If the load is not from 0 to 10⁹ N.
    pub fn clamp_force(&self, load: Force) -> Result<Force, OutOfRange> {
        let load = limit::force("load", load)?;
        let left = (self.preload - load * (1.0 - self.constant)).newtons();
        Ok(Force::from_newtons(left.max(0.0)))
    }

    /// Times the load that opens the joint: n0 = FM/((1 − C) P).
    ///
    /// # Errors
    /// If the load is not from 0.001 to 10⁹ N, or C is above 0.999 (such a joint is bolt only).
    pub fn separation_factor(&self, load: Force) -> Result<f64, OutOfRange> {
        let load = limit::within("load", " N", (1e-3, 1e9), load.newtons())?;
        let share = 1.0 - limit::number("joint constant", (0.0, 0.999), self.constant)?;
        Ok(self.preload.newtons() / (share * load))
    }

    /// Times the load at which the bolt reaches its proof load: nL = (Sp At − FM)/(C P). Negative if the preload alone
    /// is above it.
    ///
    /// # Errors
    /// If a force is out of range (0 to 10⁹ N, the load from 0.001 N), or C below 0.001 (the bolt feels nothing).
    pub fn load_factor(&self, proof_load: Force, load: Force) -> Result<f64, OutOfRange> {
        let proof_load = limit::force("proof load", proof_load)?;
        let load = limit::within("load", " N", (1e-3, 1e9), load.newtons())?;
        let share = limit::number("joint constant", (1e-3, 1.0), self.constant)?;
        Ok((proof_load - self.preload).newtons() / (share * load))
    }

    /// Proof load over the force in the bolt: np = Sp At/(FM + C P), while the joint is closed.
    ///
    /// # Errors
    /// If a force is out of range (0 to 10⁹ N), or there is neither preload nor load.
    pub fn yield_factor(&self, proof_load: Force, load: Force) -> Result<f64, OutOfRange> {
        let proof_load = limit::force("proof load", proof_load)?;
        let force = self.bolt_force(load)?;
        let force = limit::within("force in the bolt", " N", (1e-3, 3e9), force.newtons())?;
        Ok(proof_load.newtons() / force)
    }
}

/// Preload FZ lost as surfaces embed by fZ (0 to 1 mm; a few micrometres per surface).
///
/// # Errors
/// If the embedding is out of its range or there is no resilience.
pub fn embedding_loss(embedding: Length, bolt: Resilience, parts: Resilience) -> Result<Force, OutOfRange> {
    let embedding = limit::length("embedding", (0.0, 1.0), embedding)?;
    let sum = (bolt + parts).millimeters_per_newton();
    let sum = limit::within("resilience of bolt and parts", " mm/N", (1e-15, 2.0), sum)?;
    Ok(Force::from_newtons(embedding.millimeters() / sum))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn load_is_shared_until_the_joint_opens() {
        let newtons = Force::from_newtons;
        let joint = LoadedJoint::with_constant(newtons(1000.0), 0.25).unwrap();
        assert_eq!(joint.bolt_force(newtons(400.0)).unwrap(), newtons(1100.0));
        assert_eq!(joint.clamp_force(newtons(400.0)).unwrap(), newtons(700.0));
        assert_eq!(joint.bolt_force(newtons(2000.0)).unwrap(), newtons(2000.0));
        assert!((joint.separation_factor(newtons(400.0)).unwrap() - 1000.0 / 300.0).abs() < 1e-12);
        assert!(joint.load_factor(newtons(900.0), newtons(1.0)).unwrap() < 0.0);
    }

    #[test]
    fn stiff_joints_lose_more_by_embedding() {
        let of = |value| Resilience::from_millimeters_per_newton(value).unwrap();
        let loss = embedding_loss(Length::from_millimeters(0.008), of(3e-6), of(1e-6)).unwrap();
        assert!((loss.newtons() - 2000.0).abs() < 1e-6);
    }
}
