//! Torque and then an angle: preload, yield and permanent stretch.
//!
//! ```text
//! F0 from the snug torque                        `torque`
//! F = F0 + P θ/360 / (δS + δP)                   while elastic
//! Fy: utilisation 1 under tension and torsion    `stress`
//! θy = 360/P · (Fy − F0) (δS + δP)               the turn at which the bolt yields
//! P θ/360 = (F − F0)(δS + δP) + permanent stretch    beyond: see `flow`
//! ```
//!
//! Torsion is there as long as the wrench pulls, so the bolt yields under combined stress. When the wrench comes off,
//! about half of the torsion goes (VDI 2230-1:2015, 5.5.2, kτ = 0.5) and the preload stays: the bolt then has the
//! reserve that [`TorquedBolt::reduced_stress_after_release`] tells.
//!
//! An angle that is turned in steps is the sum of its steps.

use super::flow::Flow;
use super::friction::{Friction, FrictionRange};
use super::limit::{self, OutOfRange};
use super::resilience::{BoltShape, Resilience};
use super::strength::Strength;
use super::torque::TorquedBolt;
use crate::units::{Angle, Force, Length, Torque};

/// Where the formulas of this module stand.
pub const SOURCE: &str =
    "VDI 2230-1:2015, 5.1, 5.4.3 and 5.5.1; beyond yield: own model (von Mises flow, Voce hardening)";

/// The most that can be asked for: ten turns.
const DEGREES_MAX: f64 = 3600.0;
/// The most tightenings of one bolt that can be asked for.
const TIMES_MAX: f64 = 100.0;

/// A bolt in its joint, ready to be turned by an angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AngleModel {
    bolt: TorquedBolt,
    shape: BoltShape,
    parts: Resilience,
    strength: Strength,
}

impl AngleModel {
    /// Joins what is turned, what stretches, what is squeezed (δP, see `clamped`) and how strong the bolt is. A shank
    /// thinner than the stress area counts as the bolt's waist.
    ///
    /// # Errors
    /// If bolt and shape don't have the same thread.
    pub fn new(bolt: TorquedBolt, shape: BoltShape, parts: Resilience, strength: Strength) -> Result<Self, OutOfRange> {
        let d = bolt.form().major().millimeters();
        limit::length("major diameter of the bolt's shape", (d, d), shape.form().major())?;
        let has_shank = shape.shank_length() > Length::from_millimeters(0.0);
        let mut bolt = bolt;
        bolt.waist = has_shank.then(|| shape.shank_diameter());
        Ok(Self { bolt, shape, parts, strength })
    }

    /// The same joint at another friction.
    #[must_use]
    pub fn with_friction(self, friction: Friction) -> Self {
        Self { bolt: self.bolt.with_friction(friction), ..self }
    }

    /// What is turned.
    #[must_use]
    pub fn bolt(&self) -> &TorquedBolt {
        &self.bolt
    }

    /// What stretches.
    #[must_use]
    pub fn shape(&self) -> &BoltShape {
        &self.shape
    }

    /// The bolt's strength.
    #[must_use]
    pub fn strength(&self) -> Strength {
        self.strength
    }

    /// δS + δP.
    #[must_use]
    pub fn resilience(&self) -> Resilience {
        self.shape.resilience() + self.parts
    }

    /// What a new bolt has come to after a snug torque and a turn.
    ///
    /// # Errors
    /// If the torque is not from 0 to 10⁷ N·m or the angle not from 0 to 3600°.
    pub fn after(&self, snug: Torque, angle: Angle) -> Result<Turned, OutOfRange> {
        self.after_times(snug, angle, 1)
    }

    /// What a bolt has come to when it is tightened for the nth time in the same way. Each time beyond yield adds to
    /// its permanent stretch; the friction is taken as unchanged.
    ///
    /// # Errors
    /// As [`AngleModel::after`], or if `times` is not from 1 to 100.
    pub fn after_times(&self, snug: Torque, angle: Angle, times: u32) -> Result<Turned, OutOfRange> {
        let snug_preload = self.bolt.preload_for(snug)?;
        limit::within("angle of turn", "°", (0.0, DEGREES_MAX), angle.degrees())?;
        limit::number("number of tightenings", (1.0, TIMES_MAX), f64::from(times))?;
        let flow = Flow::new(self);
        let mut reached = Some((0.0, 0.0));
        for _ in 0..times {
            reached = reached.and_then(|(_, strain)| flow.turn(snug_preload, angle.degrees(), strain));
        }
        self.turned(&flow, snug, snug_preload, angle, reached)
    }

    fn turned(
        &self,
        flow: &Flow,
        snug: Torque,
        snug_preload: Force,
        angle: Angle,
        reached: Option<(f64, f64)>,
    ) -> Result<Turned, OutOfRange> {
        let at_break = (flow.preload_at_strain(flow.breaking_strain()), flow.breaking_strain());
        let (preload, strain) = reached.unwrap_or(at_break);
        let yield_preload = self.bolt.preload_at(1.0, self.strength.yield_strength())?;
        let elastic = (yield_preload - snug_preload) * self.resilience();
        let preload = Force::from_newtons(preload);
        Ok(Turned {
            friction: self.bolt.friction(),
            snug,
            angle,
            snug_preload,
            preload,
            final_torque: self.bolt.torque_for(preload)?,
            utilisation: self.bolt.utilisation(preload, self.strength.yield_strength())?,
            yield_preload,
            yield_angle: Angle::from_degrees(flow.degrees(elastic.millimeters()).max(0.0)),
            yields: strain > 0.0,
            breaks: strain >= flow.breaking_strain(),
            plastic_strain: flow.axial(strain),
            strain_share: flow.axial(strain) / self.strength.elongation(),
            permanent_stretch: Length::from_millimeters(flow.permanent_stretch(strain)),
        })
    }

    /// The same at the lowest, the middle and the highest friction of a range.
    ///
    /// # Errors
    /// As [`AngleModel::after`].
    pub fn over(&self, friction: FrictionRange, snug: Torque, angle: Angle) -> Result<TurnedOver, OutOfRange> {
        Ok(TurnedOver {
            lowest: self.with_friction(friction.lowest()).after(snug, angle)?,
            middle: self.with_friction(friction.middle()).after(snug, angle)?,
            highest: self.with_friction(friction.highest()).after(snug, angle)?,
        })
    }
}

/// What a bolt has come to after a snug torque and a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// Input: friction.
    pub friction: Friction,
    /// Input: snug torque.
    pub snug: Torque,
    /// Input: angle turned after it.
    pub angle: Angle,
    /// Preload F0 after the snug torque.
    pub snug_preload: Force,
    /// Preload F after the turn; never above the tensile load. If the bolt breaks, the preload at which it did.
    pub preload: Force,
    /// Torque at the end of the turn.
    pub final_torque: Torque,
    /// Combined stress over yield strength while the wrench pulls; at most Rm/Rp0.2.
    pub utilisation: f64,
    /// Preload Fy at which the bolt, when new, yields.
    pub yield_preload: Force,
    /// Turn after the snug torque at which the bolt, when new, yields, whether or not it was turned so far; 0 if the
    /// snug torque was enough.
    pub yield_angle: Angle,
    /// Whether the bolt was taken beyond yield.
    pub yields: bool,
    /// Whether it was stretched by its elongation after fracture or more: then it is in two pieces.
    pub breaks: bool,
    /// Permanent strain along the axis in the weakest section; 0.01 is 1 %.
    pub plastic_strain: f64,
    /// Plastic strain over elongation after fracture.
    pub strain_share: f64,
    /// How much longer the bolt stays.
    pub permanent_stretch: Length,
}

/// What a bolt has come to, over a range of friction. The preload is greatest at the lowest friction, because the snug
/// torque then gives more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnedOver {
    /// At the lowest friction.
    pub lowest: Turned,
    /// At the middle friction.
    pub middle: Turned,
    /// At the highest friction.
    pub highest: Turned,
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::form::tests::metric;
    use super::super::resilience::{Counterpart, HeadShape};
    use super::super::torque::HeadBearing;
    use super::*;
    use crate::units::Stress;

    fn mm(value: f64) -> Length {
        Length::from_millimeters(value)
    }

    fn torque(value: f64) -> Torque {
        Torque::from_newton_meters(value)
    }

    /// M10, 10.9, through steel parts.
    pub(in crate::mechanics) fn m10(grip: f64) -> AngleModel {
        let form = metric(10.0, 1.5);
        let bearing = HeadBearing::flat(mm(14.63), mm(11.0)).unwrap();
        let bolt = TorquedBolt::new(form, bearing, Friction::same(0.12).unwrap());
        let steel = Stress::from_megapascals(205_000.0);
        let shape = BoltShape::threaded(form, HeadShape::Hexagon, mm(grip), Counterpart::Nut(steel))
            .and_then(|shape| shape.with_shank(mm(grip * 0.6), mm(10.0)))
            .unwrap();
        let parts = Resilience::from_millimeters_per_newton(0.8e-6).unwrap();
        let mpa = Stress::from_megapascals;
        AngleModel::new(bolt, shape, parts, Strength::new(mpa(940.0), mpa(1040.0), 0.09).unwrap()).unwrap()
    }

    #[test]
    fn no_turn_leaves_the_snug_preload() {
        let turned = m10(40.0).after(torque(20.0), Angle::from_degrees(0.0)).unwrap();
        assert_eq!(turned.preload, turned.snug_preload);
        assert!(!turned.yields && turned.plastic_strain == 0.0);
    }

    #[test]
    fn yields_where_it_says() {
        let model = m10(40.0);
        let at = model.after(torque(20.0), Angle::from_degrees(30.0)).unwrap().yield_angle;
        let before = model.after(torque(20.0), at - Angle::from_degrees(0.01)).unwrap();
        let after = model.after(torque(20.0), at + Angle::from_degrees(0.01)).unwrap();
        assert!(!before.yields && after.yields);
        assert!((after.preload - before.preload).newtons() < 50.0);
        assert!((after.utilisation - 1.0).abs() < 1e-3);
    }

    #[test]
    fn turns_beyond_yield_stay_as_stretch() {
        let turned = m10(40.0).after(torque(30.0), Angle::from_degrees(180.0)).unwrap();
        assert!(turned.yields && !turned.breaks);
        // 180° are 0.75 mm; what is not elastic is permanent.
        let elastic = (turned.preload - turned.snug_preload) * m10(40.0).resilience();
        assert!(((elastic + turned.permanent_stretch).millimeters() - 0.75).abs() < 1e-9);
        assert!(turned.preload > turned.yield_preload);
    }

    #[test]
    fn too_much_breaks() {
        let turned = m10(40.0).after(torque(300.0), Angle::from_degrees(0.0)).unwrap();
        assert!(turned.breaks && turned.yields && turned.strain_share >= 1.0 - 1e-12);
        assert!(m10(40.0).after(torque(50.0), Angle::from_degrees(1080.0)).unwrap().breaks);
    }

    #[test]
    fn each_tightening_beyond_yield_adds_stretch() {
        let model = m10(40.0);
        let (snug, turn) = (torque(30.0), Angle::from_degrees(150.0));
        let first = model.after_times(snug, turn, 1).unwrap();
        let second = model.after_times(snug, turn, 2).unwrap();
        assert!(second.permanent_stretch > first.permanent_stretch * 1.3);
        assert!(second.preload >= first.preload && second.yields);
        let elastic = Angle::from_degrees(20.0);
        assert_eq!(model.after_times(snug, elastic, 5), model.after(snug, elastic));
    }

    #[test]
    fn a_waist_yields_first() {
        let model = m10(40.0);
        let shape = model.shape().with_shank(mm(30.0), mm(7.5)).unwrap();
        let waisted = AngleModel::new(*model.bolt(), shape, model.parts, model.strength()).unwrap();
        let (snug, turn) = (torque(20.0), Angle::from_degrees(120.0));
        assert!(waisted.after(snug, turn).unwrap().yield_preload < model.after(snug, turn).unwrap().yield_preload);
    }

    #[test]
    fn friction_matters_little_after_the_turn() {
        let range = FrictionRange::new(Friction::same(0.08).unwrap(), Friction::same(0.16).unwrap()).unwrap();
        let over = m10(40.0).over(range, torque(20.0), Angle::from_degrees(90.0)).unwrap();
        assert!(over.lowest.snug_preload > over.highest.snug_preload * 1.5);
        let spread = over.lowest.preload / over.highest.preload;
        assert!(spread > 1.0 && spread < 1.25, "{spread}");
    }
}
