//! Resilience of the clamped parts, δP: the deformation cone of VDI 2230-1:2015, 5.1.2.1.
//!
//! Pressure spreads from the bearing face (diameter dw) as a cone, until it meets the cone from the nut's side
//! (through-bolted joint) or ends at the tapped part, or becomes a sleeve where the parts are no wider (DA).
//!
//! ```text
//! tan φD = 0.362 + 0.032 ln(βL/2) + 0.153 ln y      through-bolted (w = 1)
//! tan φE = 0.348 + 0.013 ln βL    + 0.193 ln y      tapped         (w = 2)
//! βL = lK/dw    y = DA/dw
//! cone from D0 to D1:   ln[(D0 + dh)(D1 − dh) / ((D0 − dh)(D1 + dh))] / (E π dh tan φ)
//! sleeve of length l:   4 l / (E π (DA² − dh²))
//! ```
//!
//! The standard writes these sums out for one material (cone alone, cone and sleeve, sleeve alone); here the same
//! pieces are summed layer by layer, so that the layers may differ. Tests hold both against each other.

use super::limit::{self, OutOfRange};
use super::resilience::{Resilience, modulus};
use crate::units::{Length, Stress};
use std::f64::consts::PI;

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.1.2.1";

/// The range in which the fits for the cone's angle are used; beyond it the value at its end stands.
const SLENDERNESS_RANGE: (f64, f64) = (0.1, 10.0);
/// Likewise for the ratio of diameters y.
const WIDTH_RANGE: (f64, f64) = (1.0, 10.0);

/// How the pressure spreads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JointKind {
    /// Head and nut: a cone from each side.
    ThroughBolted,
    /// Head and tapped part: one cone from the head.
    Tapped,
}

/// One clamped part: thickness 0.001–10 000 mm and modulus of elasticity 1–1000 GPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    thickness: Length,
    modulus: Stress,
}

impl Layer {
    /// A part.
    ///
    /// # Errors
    /// If a number is out of its range.
    pub fn new(thickness: Length, elasticity: Stress) -> Result<Self, OutOfRange> {
        let thickness = limit::length("thickness of a clamped part", (0.001, 10_000.0), thickness)?;
        Ok(Self { thickness, modulus: modulus("modulus of elasticity of a clamped part", elasticity)? })
    }
}

/// The clamped parts around one bolt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClampedParts {
    kind: JointKind,
    bearing_diameter: f64,
    hole_diameter: f64,
    part_diameter: f64,
    cone: Option<f64>,
}

impl ClampedParts {
    /// Parts with a hole dh, under a bearing face dw, that reach out to a diameter DA around the bolt.
    /// Where the parts are not round, DA is the diameter of the largest circle about the bolt within them.
    ///
    /// # Errors
    /// If dh is not from 0.05 to 5000 mm, dw not above 1.001 dh (up to 5000 mm), or DA not above 1.001 dh (up to
    /// 100 000 mm).
    pub fn new(
        kind: JointKind,
        bearing_diameter: Length,
        hole_diameter: Length,
        part_diameter: Length,
    ) -> Result<Self, OutOfRange> {
        let hole = limit::length("hole diameter", (0.05, 5000.0), hole_diameter)?.millimeters();
        let bearing = limit::length("bearing diameter", (1.001 * hole, 6000.0), bearing_diameter)?.millimeters();
        let part = limit::length("diameter of the parts", (1.001 * hole, 100_000.0), part_diameter)?.millimeters();
        Ok(Self { kind, bearing_diameter: bearing, hole_diameter: hole, part_diameter: part, cone: None })
    }

    /// The same parts with a given tan φ in place of the standard's fit: 0.577 (30°) in many textbooks.
    ///
    /// # Errors
    /// If it is not from 0.01 to 2.
    pub fn with_cone(self, tangent: f64) -> Result<Self, OutOfRange> {
        Ok(Self { cone: Some(limit::number("tangent of the cone's half angle", (0.01, 2.0), tangent)?), ..self })
    }

    /// tan φ for a clamped length.
    fn tangent(&self, grip: f64) -> f64 {
        if let Some(tangent) = self.cone {
            return tangent;
        }
        let slenderness = (grip / self.bearing_diameter).clamp(SLENDERNESS_RANGE.0, SLENDERNESS_RANGE.1);
        let width = (self.part_diameter / self.bearing_diameter).clamp(WIDTH_RANGE.0, WIDTH_RANGE.1);
        match self.kind {
            JointKind::ThroughBolted => 0.362 + 0.032 * (slenderness / 2.0).ln() + 0.153 * width.ln(),
            JointKind::Tapped => 0.348 + 0.013 * slenderness.ln() + 0.193 * width.ln(),
        }
    }

    /// Resilience δP of the parts, in their order from the head. No parts have no resilience.
    #[must_use]
    pub fn resilience(&self, layers: &[Layer]) -> Resilience {
        let grip: f64 = layers.iter().map(|layer| layer.thickness.millimeters()).sum();
        let tangent = self.tangent(grip);
        // Without the parts' rim the cones would meet here.
        let middle = match self.kind {
            JointKind::ThroughBolted => grip / 2.0,
            JointKind::Tapped => grip,
        };
        let mut from = 0.0;
        let mut sum = 0.0;
        for layer in layers {
            let to = from + layer.thickness.millimeters();
            let before_middle = self.spread(tangent, from.min(middle), to.min(middle));
            // Seen from the nut, the far half is the near half.
            let after_middle = self.spread(tangent, grip - to.max(middle), grip - from.max(middle));
            sum += (before_middle + after_middle) / layer.modulus.megapascals();
            from = to;
        }
        Resilience::new_unchecked(sum)
    }

    /// E δ of the stretch between two distances from the bearing face from which the cone starts.
    fn spread(&self, tangent: f64, from: f64, to: f64) -> f64 {
        // Where the cone reaches the rim; at once if the parts are narrower than the bearing face.
        let rim = ((self.part_diameter - self.bearing_diameter) / (2.0 * tangent)).max(0.0);
        let (cone_from, cone_to) = (from.min(rim), to.min(rim));
        let hole = self.hole_diameter;
        let start = self.bearing_diameter + 2.0 * tangent * cone_from;
        let end = self.bearing_diameter + 2.0 * tangent * cone_to;
        let cone = ((start + hole) * (end - hole) / ((start - hole) * (end + hole))).ln() / (PI * hole * tangent);
        let sleeve_length = (to - to.min(rim)) - (from - from.min(rim));
        let sleeve = 4.0 * sleeve_length / (PI * (self.part_diameter.powi(2) - hole.powi(2)));
        cone.max(0.0) + sleeve.max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_millimeters(value)
    }

    fn steel(thickness: f64) -> Layer {
        Layer::new(mm(thickness), Stress::from_megapascals(205_000.0)).unwrap()
    }

    fn parts(kind: JointKind, part_diameter: f64) -> ClampedParts {
        ClampedParts::new(kind, mm(16.6), mm(13.5), mm(part_diameter)).unwrap()
    }

    /// δP as the standard writes it for one material: cone alone, cone and sleeve, sleeve alone.
    fn as_printed(kind: JointKind, da: f64, grip: f64) -> f64 {
        let (dw, dh, e) = (16.6, 13.5, 205_000.0);
        let (w, y, beta) = match kind {
            JointKind::ThroughBolted => (1.0, da / dw, grip / dw),
            JointKind::Tapped => (2.0, da / dw, grip / dw),
        };
        let y = f64::clamp(y, 1.0, 10.0);
        let tan = if w < 1.5 {
            0.362 + 0.032 * f64::ln(beta / 2.0) + 0.153 * f64::ln(y)
        } else {
            0.348 + 0.013 * f64::ln(beta) + 0.193 * f64::ln(y)
        };
        let limit = dw + w * grip * tan;
        if da <= dw {
            4.0 * grip / (e * PI * (da * da - dh * dh))
        } else if da >= limit {
            2.0 / (w * e * PI * dh * tan) * f64::ln((dw + dh) * (limit - dh) / ((dw - dh) * (limit + dh)))
        } else {
            (2.0 / (w * dh * tan) * f64::ln((dw + dh) * (da - dh) / ((dw - dh) * (da + dh)))
                + 4.0 / (da * da - dh * dh) * (grip - (da - dw) / (w * tan)))
                / (e * PI)
        }
    }

    #[test]
    fn pieces_sum_to_the_printed_formulas() {
        for kind in [JointKind::ThroughBolted, JointKind::Tapped] {
            for part_diameter in [15.0, 16.6, 18.0, 25.0, 40.0, 200.0] {
                for grip in [5.0, 20.0, 42.0, 100.0] {
                    let sum = parts(kind, part_diameter).resilience(&[steel(grip)]).millimeters_per_newton();
                    let printed = as_printed(kind, part_diameter, grip);
                    assert!((sum / printed - 1.0).abs() < 1e-9, "{kind:?} {part_diameter} {grip}: {sum} {printed}");
                }
            }
        }
    }

    #[test]
    fn cutting_a_part_in_two_changes_nothing() {
        let whole = parts(JointKind::ThroughBolted, 30.0).resilience(&[steel(42.0)]);
        let cut = parts(JointKind::ThroughBolted, 30.0).resilience(&[steel(13.0), steel(20.0), steel(9.0)]);
        let ratio = whole.millimeters_per_newton() / cut.millimeters_per_newton();
        assert!((ratio - 1.0).abs() < 1e-12);
    }

    #[test]
    fn aluminium_gives_more_the_nearer_it_lies_to_the_head() {
        let aluminium = Layer::new(mm(10.0), Stress::from_megapascals(70_000.0)).unwrap();
        let tapped = parts(JointKind::Tapped, 60.0);
        assert!(tapped.resilience(&[aluminium, steel(10.0)]) > tapped.resilience(&[steel(10.0), aluminium]));
        assert_eq!(tapped.resilience(&[]).millimeters_per_newton(), 0.0);
    }
}
