//! Pressure under the head or nut: VDI 2230-1:2015, 5.5.4.
//!
//! ```text
//! p = F / Ap        Ap = π/4 (dw² − dh²)        SP = pG / p
//! dWa = dw + 1.6 hs                             under a washer of thickness hs
//! ```

use super::form::circle;
use super::limit::{self, OutOfRange};
use crate::units::{Area, Force, Length, Stress};

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.5.4";

/// How much a washer of thickness hs widens the bearing face on the part, over hs.
const WASHER_SPREAD: f64 = 1.6;

/// The ring that presses on a part. Its area is never zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BearingFace {
    outer: Length,
    inner: Length,
}

impl BearingFace {
    /// A ring from `inner` (the hole, its chamfer, or the chamfer under the head, whichever is largest) to `outer`.
    ///
    /// # Errors
    /// If `outer` is not from 0.1 to 5000 mm or `inner` not from 0 to 0.999 of it.
    pub fn new(outer: Length, inner: Length) -> Result<Self, OutOfRange> {
        let outer = limit::length("outer diameter of the bearing face", (0.1, 5000.0), outer)?;
        let inside = (0.0, 0.999 * outer.millimeters());
        Ok(Self { outer, inner: limit::length("inner diameter of the bearing face", inside, inner)? })
    }

    /// The ring on the part under a washer: the head's face widened by 1.6 times the washer's thickness, but no wider
    /// than the washer. `hole`: the larger of the washer's hole and the part's.
    ///
    /// # Errors
    /// If the head's outer diameter is not from 0.1 to 5000 mm, the thickness not from 0 to 200 mm, the washer narrower
    /// than 0.1 mm, or the hole not smaller than what remains.
    pub fn under_washer(
        head_outer: Length,
        washer_outer: Length,
        washer_thickness: Length,
        hole: Length,
    ) -> Result<Self, OutOfRange> {
        let head = limit::length("outer diameter of the bearing face", (0.1, 5000.0), head_outer)?;
        let washer = limit::length("outer diameter of the washer", (0.1, 5000.0), washer_outer)?;
        let thickness = limit::length("thickness of the washer", (0.0, 200.0), washer_thickness)?;
        let widened = head + thickness * WASHER_SPREAD;
        Self::new(if widened < washer { widened } else { washer }, hole)
    }

    /// Area Ap.
    #[must_use]
    pub fn area(&self) -> Area {
        circle(self.outer) - circle(self.inner)
    }

    /// Pressure p under a force, against the limit pG of the part (1 to 10 000 MPa).
    ///
    /// # Errors
    /// If the force is not from 0 to 10⁹ N or the limit out of its range.
    pub fn pressure(&self, force: Force, limit: Stress) -> Result<BearingPressure, OutOfRange> {
        let force = limit::force("force under the head", force)?;
        let limit = limit::strength("limit of bearing pressure", limit)?;
        let pressure = force / self.area();
        Ok(BearingPressure { pressure, limit, utilisation: pressure / limit, force_at_limit: limit * self.area() })
    }
}

/// Pressure under a head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BearingPressure {
    /// Pressure p.
    pub pressure: Stress,
    /// Input: limit pG of the part.
    pub limit: Stress,
    /// p/pG: above 1 the part creeps under the head, and preload is lost. 1 over the standard's safety SP.
    pub utilisation: f64,
    /// The force at which the limit is reached.
    pub force_at_limit: Force,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_millimeters(value)
    }

    #[test]
    fn m10_109_on_a_medium_hole() {
        // Computed beforehand: M10, 10.9, µ 0.12: 43.4 kN, dw of ISO 4014 14.6, hole 11: 594 to 600 MPa
        let face = BearingFace::new(mm(14.6), mm(11.0)).unwrap();
        let pressure = face.pressure(Force::from_newtons(43_400.0), Stress::from_megapascals(850.0)).unwrap();
        assert!((pressure.pressure.megapascals() - 600.0).abs() < 7.0, "{pressure:?}");
        assert!(pressure.utilisation < 1.0);
    }

    #[test]
    fn a_washer_spreads_up_to_its_rim() {
        let bare = BearingFace::new(mm(14.6), mm(11.0)).unwrap();
        let washer = BearingFace::under_washer(mm(14.6), mm(20.0), mm(2.0), mm(11.0)).unwrap();
        assert_eq!(washer, BearingFace::new(mm(14.6) + mm(3.2), mm(11.0)).unwrap());
        assert!(washer.area().square_millimeters() > bare.area().square_millimeters());
        let narrow = BearingFace::under_washer(mm(14.6), mm(16.0), mm(2.0), mm(11.0)).unwrap();
        assert_eq!(narrow, BearingFace::new(mm(16.0), mm(11.0)).unwrap());
        assert!(BearingFace::new(mm(10.0), mm(11.0)).is_err());
    }
}
