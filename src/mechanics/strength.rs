//! The strength of the bolt's material, and the curve along which it flows beyond yield.

use super::limit::{self, OutOfRange};
use crate::units::Stress;

/// How many times closer to the tensile strength the flow stress has come at uniform elongation: e³ ≈ 20.
const FLOW_CONSTANTS_TO_UNIFORM: f64 = 3.0;

/// Yield strength, tensile strength and elongation after fracture of a property class.
///
/// # The flow curve
/// Beyond yield the stress rises from Rp0.2 towards Rm and never above it, by Voce's law:
///
/// ```text
/// k(εp) = Rm − (Rm − Rp0.2) · exp(−εp/ε0)        ε0 = A/6
/// ```
///
/// `A/2` stands for the uniform elongation (the rest of A is necking), at which k has come within 5 % of the way from
/// Rp0.2 to Rm. A model of ours: the standards of property classes give no curve. It starts at Rp0.2 with no plastic
/// strain, so that *yields* means what it means in VDI 2230-1, and the 0.2 % that lie before are neglected. Minimum
/// values of a class make a bolt yield early: a real one is 5 to 15 % stronger and keeps a little more preload.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    yield_strength: Stress,
    tensile_strength: Stress,
    elongation: f64,
}

impl Strength {
    /// Rp0.2 (1 to 10 000 MPa), Rm (above Rp0.2 by at least one part in a thousand), A (0.01 to 0.8; 0.12 is 12 %).
    ///
    /// # Errors
    /// If a number is out of its range.
    pub fn new(yield_strength: Stress, tensile_strength: Stress, elongation: f64) -> Result<Self, OutOfRange> {
        let yield_strength = limit::strength("yield strength", yield_strength)?;
        let above = (1.001 * yield_strength.megapascals(), 20_000.0);
        limit::within("tensile strength", " MPa", above, tensile_strength.megapascals())?;
        let elongation = limit::number("elongation after fracture", (0.01, 0.8), elongation)?;
        Ok(Self { yield_strength, tensile_strength, elongation })
    }

    /// Yield strength Rp0.2 (ReL where a class has a yield point).
    #[must_use]
    pub fn yield_strength(self) -> Stress {
        self.yield_strength
    }

    /// Tensile strength Rm.
    #[must_use]
    pub fn tensile_strength(self) -> Stress {
        self.tensile_strength
    }

    /// Elongation after fracture A; 0.12 is 12 %.
    #[must_use]
    pub fn elongation(self) -> f64 {
        self.elongation
    }

    /// ε0 of the flow curve.
    fn flow_constant(self) -> f64 {
        self.elongation / 2.0 / FLOW_CONSTANTS_TO_UNIFORM
    }

    /// The flow stress k after an equivalent plastic strain, in MPa.
    pub(super) fn flow_stress(self, plastic_strain: f64) -> f64 {
        let (low, high) = (self.yield_strength.megapascals(), self.tensile_strength.megapascals());
        high - (high - low) * (-plastic_strain / self.flow_constant()).exp()
    }

    /// The equivalent plastic strain after a combined stress in MPa below Rm: the flow curve backwards.
    pub(super) fn plastic_strain(self, combined: f64) -> f64 {
        let (low, high) = (self.yield_strength.megapascals(), self.tensile_strength.megapascals());
        if combined <= low {
            return 0.0;
        }
        let left = ((high - combined) / (high - low)).max(f64::MIN_POSITIVE);
        -self.flow_constant() * left.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flows_from_yield_towards_tensile_strength() {
        let mpa = Stress::from_megapascals;
        let strength = Strength::new(mpa(640.0), mpa(800.0), 0.12).unwrap();
        assert_eq!(strength.flow_stress(0.0), 640.0);
        assert!((strength.flow_stress(0.06) - 792.0).abs() < 0.1);
        assert!(strength.flow_stress(1.0) <= 800.0);
        assert!((strength.plastic_strain(strength.flow_stress(0.03)) - 0.03).abs() < 1e-12);
        assert_eq!(strength.plastic_strain(500.0), 0.0);
        assert!(Strength::new(mpa(800.0), mpa(640.0), 0.12).is_err());
    }
}
