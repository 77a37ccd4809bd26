//! What is not known exactly: the tightening range for a range of friction, and the scatter of the preload.
//!
//! ```text
//! FM min = FM max / αA               tightening factor αA = FM max / FM min   (VDI 2230-1:2015, 5.4.3.3)
//! αA = (1 + s) / (1 − s)             s: scatter of the preload about its mean, ± s
//! ```

use super::friction::FrictionRange;
use super::limit::{self, OutOfRange};
use super::stress::TABLE_UTILISATION;
use super::torque::TorquedBolt;
use crate::units::{Force, Stress, Torque};

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.4.3.3 and 5.5.1";

/// The share of the reference preload that is taken as clamping enough where nobody says otherwise.
/// Common practice, no source: below about half of what the bolt carries, a joint is looser than its bolt was chosen for.
pub const LEAST_SHARE: f64 = 0.5;

/// The torques between *clamps enough* and *yields*, for a bolt whose friction is known as a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TighteningRange {
    /// From this torque on the bolt clamps at least [`least_preload`](Self::least_preload), even at the highest
    /// friction.
    pub clamps_from: Torque,
    /// At this torque the bolt yields if friction is lowest: utilisation 1.
    pub yields_from: Torque,
    /// The preload at utilisation 0.9 and middle friction.
    pub reference_preload: Force,
    /// The preload that `clamps_from` gives at the highest friction: a share of the reference preload.
    pub least_preload: Force,
    /// The friction that the range is for.
    pub friction: FrictionRange,
    /// The share of the reference preload that counts as clamping enough.
    pub least_share: f64,
}

impl TighteningRange {
    /// Whether there is no torque that clamps enough at the highest friction and doesn't yield at the lowest: the
    /// friction is known too poorly for torque alone.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.clamps_from > self.yields_from
    }

    /// Whether a torque lies within.
    #[must_use]
    pub fn contains(&self, torque: Torque) -> bool {
        torque >= self.clamps_from && torque <= self.yields_from
    }
}

/// The tightening range of a bolt (its own friction is not used) for a range of friction.
///
/// `least_share`: the share of the reference preload (utilisation 0.9 at middle friction) that counts as clamping
/// enough, 0 to 1; [`LEAST_SHARE`] where nobody says otherwise.
///
/// # Errors
/// If the share is not from 0 to 1 or the yield strength not from 1 to 10 000 MPa.
pub fn tightening_range(
    bolt: &TorquedBolt,
    friction: FrictionRange,
    yield_strength: Stress,
    least_share: f64,
) -> Result<TighteningRange, OutOfRange> {
    let least_share = limit::number("least share of the reference preload", (0.0, 1.0), least_share)?;
    let middle = bolt.with_friction(friction.middle());
    let reference_preload = middle.preload_at(TABLE_UTILISATION, yield_strength)?;
    let least_preload = reference_preload * least_share;
    Ok(TighteningRange {
        clamps_from: bolt.with_friction(friction.highest()).torque_for(least_preload)?,
        yields_from: bolt.with_friction(friction.lowest()).torque_at(1.0, yield_strength)?,
        reference_preload,
        least_preload,
        friction,
        least_share,
    })
}

/// The preloads that one torque gives over a range of friction: least at the highest friction, greatest at the lowest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PreloadRange {
    /// Least preload.
    pub min: Force,
    /// Greatest preload.
    pub max: Force,
}

/// The preloads that one torque gives over a range of friction.
///
/// # Errors
/// If the torque is not from 0 to 10⁷ N·m.
pub fn preload_over(bolt: &TorquedBolt, friction: FrictionRange, torque: Torque) -> Result<PreloadRange, OutOfRange> {
    Ok(PreloadRange {
        min: bolt.with_friction(friction.highest()).preload_for(torque)?,
        max: bolt.with_friction(friction.lowest()).preload_for(torque)?,
    })
}

/// The tightening factor αA = FM max / FM min of a way of tightening, at least 1, at most 10.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct TighteningFactor(f64);

impl TighteningFactor {
    /// A factor from a table, such as VDI 2230-1:2015, table A8.
    ///
    /// # Errors
    /// If it is not from 1 to 10.
    pub fn new(factor: f64) -> Result<Self, OutOfRange> {
        Ok(Self(limit::number("tightening factor", (1.0, 10.0), factor)?))
    }

    /// From the scatter ± s about the mean preload: αA = (1 + s)/(1 − s). `scatter` 0.23 means ± 23 %.
    ///
    /// # Errors
    /// If the scatter is not from 0 to 0.8.
    pub fn from_scatter(scatter: f64) -> Result<Self, OutOfRange> {
        let scatter = limit::number("scatter of the preload", (0.0, 0.8), scatter)?;
        Self::new((1.0 + scatter) / (1.0 - scatter))
    }

    /// The factor αA.
    #[must_use]
    pub fn value(self) -> f64 {
        self.0
    }

    /// The scatter ± s about the mean: s = (αA − 1)/(αA + 1).
    #[must_use]
    pub fn scatter(self) -> f64 {
        (self.0 - 1.0) / (self.0 + 1.0)
    }

    /// The preloads to reckon with if the greatest must not be passed: FM min = FM max / αA.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn below(self, greatest: Force) -> Result<PreloadRange, OutOfRange> {
        let max = limit::force("greatest preload", greatest)?;
        Ok(PreloadRange { min: max / self.0, max })
    }

    /// The preloads to reckon with about a mean.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn about(self, mean: Force) -> Result<PreloadRange, OutOfRange> {
        let mean = limit::force("mean preload", mean)?;
        Ok(PreloadRange { min: mean * (1.0 - self.scatter()), max: mean * (1.0 + self.scatter()) })
    }
}

#[cfg(test)]
mod tests {
    use super::super::form::tests::metric;
    use super::super::friction::Friction;
    use super::super::torque::HeadBearing;
    use super::*;
    use crate::units::Length;

    fn m8() -> TorquedBolt {
        let mm = Length::from_millimeters;
        let bearing = HeadBearing::flat(mm(11.63), mm(9.0)).unwrap();
        TorquedBolt::new(metric(8.0, 1.25), bearing, Friction::same(0.12).unwrap())
    }

    fn friction(low: f64, high: f64) -> FrictionRange {
        FrictionRange::new(Friction::same(low).unwrap(), Friction::same(high).unwrap()).unwrap()
    }

    #[test]
    fn a_range_of_friction_narrows_the_range_of_torque() {
        let strength = Stress::from_megapascals(640.0);
        let one = tightening_range(&m8(), friction(0.12, 0.12), strength, LEAST_SHARE).unwrap();
        // VDI 2230-1:2015, table A1, M8, 8.8, µ 0.12: MA 24.6 N·m at utilisation 0.9
        assert!((one.yields_from.newton_meters() - 24.6 / 0.9).abs() < 0.15);
        assert!((one.clamps_from.newton_meters() - 24.6 * LEAST_SHARE).abs() < 0.1);
        let wide = tightening_range(&m8(), friction(0.10, 0.16), strength, LEAST_SHARE).unwrap();
        assert!(wide.clamps_from > one.clamps_from && wide.yields_from < one.yields_from && !wide.is_empty());
        assert!(wide.contains(Torque::from_newton_meters(20.0)));
        let unknown = tightening_range(&m8(), friction(0.04, 0.5), strength, LEAST_SHARE).unwrap();
        assert!(unknown.is_empty());
    }

    #[test]
    fn published_smallest_preload() {
        // VDI 2230-1 tables of 2021: M12, 8.8, µ 0.14: FM max 41.9 kN, αA 1.8 → FM min 23.3 kN
        let scatter = TighteningFactor::new(1.8).unwrap().below(Force::from_newtons(41_900.0)).unwrap();
        assert!((scatter.min.newtons() - 23_300.0).abs() < 50.0);
        let mean = (scatter.min + scatter.max) / 2.0;
        let again = TighteningFactor::new(1.8).unwrap().about(mean).unwrap();
        assert!(((again.max - scatter.max).newtons()).abs() < 1e-6);
    }
}
