//! The torque wrench: its range, its setting behind an adapter, and what its accuracy does to the preload.
//!
//! ```text
//! Tw = T L / (L + E cos a)      L: square drive to the middle of the grip, E: adapter, a: angle between them
//! ```
//!
//! An adapter at a right angle, or an extension along the axis of the drive, changes nothing.

use super::friction::FrictionRange;
use super::limit::{self, OutOfRange};
use super::scatter::{PreloadRange, TighteningFactor};
use super::torque::TorquedBolt;
use crate::units::{Angle, Length, Torque};

/// Where the formulas of this module stand.
pub const SOURCE: &str = "moments about the bolt (hand-tool manuals); ISO 6789-1 for the range of use";

/// A wrench is used from this share of its greatest torque on: below it the accuracy is not tested (ISO 6789:2003,
/// which tests at 20, 60 and 100 %).
pub const LEAST_SHARE_OF_RANGE: f64 = 0.2;

/// An adapter between wrench and fastener that moves the fastener off the drive's axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adapter {
    wrench_length: Length,
    adapter_length: Length,
    angle: Angle,
}

impl Adapter {
    /// L from 10 to 5000 mm, E from 0 to 2000 mm, angle from −180° to 180° (0 in line, away from the hand; 180 back
    /// towards it); L + E cos a must be at least a tenth of L.
    ///
    /// # Errors
    /// If a number is out of its range.
    pub fn new(wrench_length: Length, adapter_length: Length, angle: Angle) -> Result<Self, OutOfRange> {
        let l = limit::length("length of the wrench", (10.0, 5000.0), wrench_length)?.millimeters();
        let e = limit::length("length of the adapter", (0.0, 2000.0), adapter_length)?.millimeters();
        let a = limit::within("angle of the adapter", "°", (-180.0, 180.0), angle.degrees())?;
        limit::within("lever of wrench and adapter", " mm", (0.1 * l, l + e), l + e * a.to_radians().cos())?;
        Ok(Self { wrench_length, adapter_length, angle })
    }

    /// Torque at the fastener over torque at the wrench, (L + E cos a)/L.
    fn gain(&self) -> f64 {
        1.0 + self.adapter_length / self.wrench_length * self.angle.degrees().to_radians().cos()
    }

    /// The setting Tw of the wrench for a torque T at the fastener.
    ///
    /// # Errors
    /// If the torque is not from 0 to 10⁷ N·m.
    pub fn setting_for(&self, torque: Torque) -> Result<Torque, OutOfRange> {
        Ok(limit::torque("torque", torque)? / self.gain())
    }

    /// The torque T at the fastener for a setting Tw of the wrench.
    ///
    /// # Errors
    /// If the setting is not from 0 to 10⁷ N·m.
    pub fn torque_at(&self, setting: Torque) -> Result<Torque, OutOfRange> {
        Ok(limit::torque("setting", setting)? * self.gain())
    }
}

/// A torque wrench: its scale and its accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wrench {
    min: Torque,
    max: Torque,
    accuracy: f64,
}

/// How a wrench serves a torque.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WrenchUse {
    /// What to set.
    pub setting: Torque,
    /// The setting over the wrench's greatest torque.
    pub share_of_range: f64,
    /// The least torque at the fastener, by the accuracy.
    pub torque_min: Torque,
    /// The greatest torque at the fastener, by the accuracy.
    pub torque_max: Torque,
}

impl Wrench {
    /// A scale from `min` to `max`, and the accuracy ± as a share (0.04 is ± 4 %; 0 to 0.5).
    ///
    /// # Errors
    /// If a torque is not from 0.001 to 10⁶ N·m, `max` below `min`, or the accuracy out of its range.
    pub fn new(min: Torque, max: Torque, accuracy: f64) -> Result<Self, OutOfRange> {
        let low = limit::within("least torque of the wrench", " N·m", (1e-3, 1e6), min.newton_meters())?;
        limit::within("greatest torque of the wrench", " N·m", (low, 1e6), max.newton_meters())?;
        Ok(Self { min, max, accuracy: accuracy_within(accuracy)? })
    }

    /// Greatest torque of the scale.
    #[must_use]
    pub fn max(&self) -> Torque {
        self.max
    }

    /// The least torque that the wrench is good for: the beginning of its scale or a fifth of its end.
    #[must_use]
    pub fn least_useful(&self) -> Torque {
        let share = self.max * LEAST_SHARE_OF_RANGE;
        if share > self.min { share } else { self.min }
    }

    /// The setting for a torque at the fastener, through an adapter if there is one; `None` if the setting is off the
    /// range of use.
    ///
    /// # Errors
    /// If the torque is not from 0 to 10⁷ N·m.
    pub fn serves(&self, torque: Torque, adapter: Option<&Adapter>) -> Result<Option<WrenchUse>, OutOfRange> {
        let torque = limit::torque("torque", torque)?;
        let setting = adapter.map_or(Ok(torque), |adapter| adapter.setting_for(torque))?;
        let within = setting >= self.least_useful() && setting <= self.max;
        Ok(within.then(|| WrenchUse {
            setting,
            share_of_range: setting / self.max,
            torque_min: torque * (1.0 - self.accuracy),
            torque_max: torque * (1.0 + self.accuracy),
        }))
    }
}

fn accuracy_within(accuracy: f64) -> Result<f64, OutOfRange> {
    limit::number("accuracy of the wrench", (0.0, 0.5), accuracy)
}

/// What the accuracy of the wrench and the range of friction do together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WrenchScatter {
    /// Preloads from the least torque at the highest friction to the greatest torque at the lowest.
    pub preload: PreloadRange,
    /// FM max/FM min; `None` if it is above 10 or there may be no preload at all.
    pub factor: Option<TighteningFactor>,
}

/// The worst that the accuracy ± (as a share, 0 to 0.5) and the range of friction do together to the preload. Both at
/// their ends at once is rare: a tightening factor of the standard's table is smaller.
///
/// # Errors
/// If the torque is not from 0 to 10⁶ N·m or the accuracy out of its range.
pub fn preload_scatter(
    bolt: &TorquedBolt,
    friction: FrictionRange,
    torque: Torque,
    accuracy: f64,
) -> Result<WrenchScatter, OutOfRange> {
    limit::within("tightening torque", " N·m", (0.0, 1e6), torque.newton_meters())?;
    let accuracy = accuracy_within(accuracy)?;
    let min = bolt.with_friction(friction.highest()).preload_for(torque * (1.0 - accuracy))?;
    let max = bolt.with_friction(friction.lowest()).preload_for(torque * (1.0 + accuracy))?;
    let ratio = if min.newtons() > 0.0 { max / min } else { f64::INFINITY };
    Ok(WrenchScatter { preload: PreloadRange { min, max }, factor: TighteningFactor::new(ratio).ok() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_millimeters(value)
    }

    fn nm(value: f64) -> Torque {
        Torque::from_newton_meters(value)
    }

    #[test]
    fn an_adapter_lengthens_the_wrench() {
        let adapter = Adapter::new(mm(400.0), mm(50.0), Angle::from_degrees(0.0)).unwrap();
        let setting = adapter.setting_for(nm(80.0)).unwrap();
        assert!((setting.newton_meters() - 80.0 * 400.0 / 450.0).abs() < 1e-9);
        assert!((adapter.torque_at(setting).unwrap().newton_meters() - 80.0).abs() < 1e-9);
        assert!(Adapter::new(mm(400.0), mm(390.0), Angle::from_degrees(180.0)).is_err());
    }

    #[test]
    fn a_wrench_serves_from_a_fifth_of_its_range() {
        let wrench = Wrench::new(nm(10.0), nm(100.0), 0.04).unwrap();
        assert_eq!(wrench.serves(nm(15.0), None).unwrap(), None);
        let used = wrench.serves(nm(50.0), None).unwrap().unwrap();
        assert_eq!((used.setting, used.share_of_range), (nm(50.0), 0.5));
        assert!((used.torque_min.newton_meters() - 48.0).abs() < 1e-9);
        let adapter = Adapter::new(mm(300.0), mm(60.0), Angle::from_degrees(0.0)).unwrap();
        assert!(wrench.serves(nm(110.0), None).unwrap().is_none());
        assert!(wrench.serves(nm(110.0), Some(&adapter)).unwrap().is_some());
    }
}
