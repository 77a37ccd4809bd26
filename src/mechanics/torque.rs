//! Torque and preload: the exact form of VDI 2230-1:2015, 5.4.3.
//!
//! ```text
//! φ = atan(P / (π d2))          lead angle
//! ρ′ = atan(µG / cos(α/2))      friction angle in the thread
//! MG = F · d2/2 · tan(φ + ρ′)   torque in the thread (and in the shank while tightening)
//! MK = F · µK · DKm/2           torque under the head
//! MA = MG + MK + MÜ             tightening torque, MÜ: prevailing torque of a self-locking nut
//! ```
//!
//! The standard's linearised form (0.16 P + 0.58 d2 µG) is not used: it drifts by up to 1 %.
//! This module doesn't say how far a bolt may be tightened; `stress` does.

use super::form::ThreadForm;
use super::friction::Friction;
use super::limit::{self, OutOfRange};
use super::stress::Torsion;
use crate::units::{Angle, Force, Length, Torque};

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.4.3 (exact form)";

/// The ring on which the turned part (head or nut) rubs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadBearing {
    mean_diameter: Length,
}

impl HeadBearing {
    /// A flat ring: DKm = (dw + dh)/2, `outer` dw the bearing face, `inner` dh the hole or the chamfer under
    /// the head, whichever is larger (VDI 2230-1:2015, 5.4.3).
    ///
    /// # Errors
    /// If `outer` is not from 0.1 to 5000 mm, or `inner` not from 0 to `outer`.
    pub fn flat(outer: Length, inner: Length) -> Result<Self, OutOfRange> {
        let outer = limit::length("outer diameter of the bearing face", (0.1, 5000.0), outer)?;
        let inner = limit::length("inner diameter of the bearing face", (0.0, outer.millimeters()), inner)?;
        Ok(Self { mean_diameter: (outer + inner) / 2.0 })
    }

    /// A cone, as under a countersunk head: the normal force is 1/sin(half the cone's angle) times the preload,
    /// so friction acts as on a flat ring that much larger. `cone` is the full angle, 90° for ISO 10642.
    /// From the equilibrium of a cone; VDI 2230-1 has flat faces only.
    ///
    /// # Errors
    /// As [`HeadBearing::flat`], or if the cone's angle is not from 30° to 180°.
    pub fn cone(outer: Length, inner: Length, cone: Angle) -> Result<Self, OutOfRange> {
        let flat = Self::flat(outer, inner)?;
        let half = limit::within("angle of the cone", "°", (30.0, 180.0), cone.degrees())? / 2.0;
        Ok(Self { mean_diameter: flat.mean_diameter / half.to_radians().sin() })
    }

    /// A ring of which only the mean friction diameter DKm is known.
    ///
    /// # Errors
    /// If it is not from 0.1 to 5000 mm.
    pub fn of_mean_diameter(diameter: Length) -> Result<Self, OutOfRange> {
        Ok(Self { mean_diameter: limit::length("mean friction diameter", (0.1, 5000.0), diameter)? })
    }

    /// Mean friction diameter DKm.
    #[must_use]
    pub fn mean_diameter(self) -> Length {
        self.mean_diameter
    }
}

/// A bolt that is tightened by turning its head or nut: thread, head bearing and friction.
///
/// Forces from 0 to 10⁹ N and torques from 0 to 10⁷ N·m are accepted by the methods; for these, every result is
/// finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorquedBolt {
    pub(super) form: ThreadForm,
    bearing: HeadBearing,
    friction: Friction,
    prevailing: Torque,
    pub(super) waist: Option<Length>,
    pub(super) torsion: Torsion,
}

impl TorquedBolt {
    /// A bolt with a full shank and no prevailing torque, judged by plastic torsion (VDI 2230-1:2015).
    #[must_use]
    pub fn new(form: ThreadForm, bearing: HeadBearing, friction: Friction) -> Self {
        let prevailing = Torque::from_newton_meters(0.0);
        Self { form, bearing, friction, prevailing, waist: None, torsion: Torsion::Plastic }
    }

    /// The same bolt with another friction.
    #[must_use]
    pub fn with_friction(self, friction: Friction) -> Self {
        Self { friction, ..self }
    }

    /// The same bolt with a self-locking nut or thread that takes this torque MÜ before anything is clamped.
    ///
    /// # Errors
    /// If the torque is not from 0 to 10⁷ N·m.
    pub fn with_prevailing_torque(self, torque: Torque) -> Result<Self, OutOfRange> {
        Ok(Self { prevailing: limit::torque("prevailing torque", torque)?, ..self })
    }

    /// The same bolt with a waisted shank of diameter dT, which governs if its area is below the stress area.
    ///
    /// # Errors
    /// If the diameter is not from a fifth of the major diameter to all of it.
    pub fn with_waist(self, diameter: Length) -> Result<Self, OutOfRange> {
        let d = self.form.major().millimeters();
        Ok(Self { waist: Some(limit::length("waist diameter", (0.2 * d, d), diameter)?), ..self })
    }

    /// The same bolt judged by another form of torsion; see [`Torsion`].
    #[must_use]
    pub fn with_torsion(self, torsion: Torsion) -> Self {
        Self { torsion, ..self }
    }

    /// The thread.
    #[must_use]
    pub fn form(&self) -> &ThreadForm {
        &self.form
    }

    /// The ring under the head.
    #[must_use]
    pub fn bearing(&self) -> HeadBearing {
        self.bearing
    }

    /// The friction pair.
    #[must_use]
    pub fn friction(&self) -> Friction {
        self.friction
    }

    /// Torque in the thread per newton of preload, d2/2 · tan(φ + ρ′), in mm.
    /// φ < 33° and ρ′ < 55° by the ranges of form and friction, so the tangent is finite.
    pub(super) fn thread_arm(&self) -> f64 {
        let angle = self.form.lead_angle() + self.form.friction_angle(self.friction.thread());
        self.form.pitch_diameter().millimeters() / 2.0 * angle.tan()
    }

    /// Torque under the head per newton of preload, µK · DKm/2, in mm.
    fn head_arm(&self) -> f64 {
        self.friction.head() * self.bearing.mean_diameter.millimeters() / 2.0
    }

    /// Torque in the thread, MG = F · d2/2 · tan(φ + ρ′).
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn thread_torque(&self, preload: Force) -> Result<Torque, OutOfRange> {
        let preload = limit::force("preload", preload)?;
        Ok(moment(preload, self.thread_arm()))
    }

    /// Torque under the head, MK = F · µK · DKm/2.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn head_torque(&self, preload: Force) -> Result<Torque, OutOfRange> {
        let preload = limit::force("preload", preload)?;
        Ok(moment(preload, self.head_arm()))
    }

    /// The tightening torque that gives a preload, MA = MG + MK + MÜ.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn torque_for(&self, preload: Force) -> Result<Torque, OutOfRange> {
        let preload = limit::force("preload", preload)?;
        Ok(moment(preload, self.thread_arm() + self.head_arm()) + self.prevailing)
    }

    /// The preload that a tightening torque gives; none as long as the prevailing torque is not overcome.
    ///
    /// # Errors
    /// If the torque is not from 0 to 10⁷ N·m.
    pub fn preload_for(&self, torque: Torque) -> Result<Force, OutOfRange> {
        let torque = limit::torque("tightening torque", torque)?;
        let clamping = (torque - self.prevailing).newton_meters().max(0.0) * 1000.0;
        Ok(Force::from_newtons(clamping / (self.thread_arm() + self.head_arm())))
    }

    /// The torque that loosens a bolt again, ML = F · [d2/2 · tan(ρ′ − φ) + µK · DKm/2] + MÜ, with friction as it was
    /// while tightening. Negative if the thread is not self-locking: then the bolt must be held.
    /// Source: equilibrium on the thread's slope with the slope reversed, as any textbook of machine elements has it.
    ///
    /// # Errors
    /// If the preload is not from 0 to 10⁹ N.
    pub fn loosening_torque(&self, preload: Force) -> Result<Torque, OutOfRange> {
        let preload = limit::force("preload", preload)?;
        let angle = self.form.friction_angle(self.friction.thread()) - self.form.lead_angle();
        let arm = self.form.pitch_diameter().millimeters() / 2.0 * angle.tan();
        Ok(moment(preload, arm + self.head_arm()) + self.prevailing)
    }

    /// The nut factor K of the short form `T = K · d · F`, without the prevailing torque.
    #[must_use]
    pub fn nut_factor(&self) -> f64 {
        (self.thread_arm() + self.head_arm()) / self.form.major().millimeters()
    }
}

/// The torque of the short form, `T = K · d · F`: nut factor K from 0.01 to 2, nominal diameter d, preload F.
/// K lumps lead, thread and head together; the exact form above is better where friction is known.
///
/// # Errors
/// If the nut factor is not from 0.01 to 2, the diameter not from 0.1 to 1000 mm or the preload not from 0 to 10⁹ N.
pub fn torque_by_nut_factor(nut_factor: f64, diameter: Length, preload: Force) -> Result<Torque, OutOfRange> {
    let nut_factor = limit::number("nut factor", (0.01, 2.0), nut_factor)?;
    let diameter = limit::length("nominal diameter", (0.1, 1000.0), diameter)?;
    let preload = limit::force("preload", preload)?;
    Ok(moment(preload, nut_factor * diameter.millimeters()))
}

/// A force at an arm in millimetres.
pub(super) fn moment(force: Force, arm_mm: f64) -> Torque {
    Torque::from_newton_meters(force.newtons() * arm_mm / 1000.0)
}

#[cfg(test)]
mod tests {
    use super::super::form::tests::metric;
    use super::*;

    fn m10() -> TorquedBolt {
        // dw of ISO 4014 M10 with 16 mm across flats, hole of ISO 273 medium
        let mm = Length::from_millimeters;
        let bearing = HeadBearing::flat(mm(14.63), mm(11.0)).unwrap();
        TorquedBolt::new(metric(10.0, 1.5), bearing, Friction::same(0.12).unwrap())
    }

    #[test]
    fn m10_at_friction_012_needs_48_newton_meters_for_29_6_kilonewtons() {
        // VDI 2230-1:2015, table A1, M10, 8.8, µ 0.12: FM 29.6 kN, MA 48 N·m, printed to 1 N·m
        let torque = m10().torque_for(Force::from_newtons(29_600.0)).unwrap();
        assert!((torque.newton_meters() - 48.0).abs() < 0.6, "{torque:?}");
    }

    #[test]
    fn prevailing_torque_comes_first() {
        let bolt = m10().with_prevailing_torque(Torque::from_newton_meters(6.0)).unwrap();
        assert_eq!(bolt.preload_for(Torque::from_newton_meters(5.0)).unwrap(), Force::from_newtons(0.0));
        let free = m10().preload_for(Torque::from_newton_meters(42.0)).unwrap();
        assert_eq!(bolt.preload_for(Torque::from_newton_meters(48.0)).unwrap(), free);
    }

    #[test]
    fn loosening_takes_less_than_tightening() {
        let preload = Force::from_newtons(29_600.0);
        let (on, off) = (m10().torque_for(preload).unwrap(), m10().loosening_torque(preload).unwrap());
        // The lead helps on the way out: the difference is about F · P/π.
        assert!(((on - off).newton_meters() - 29.6 * 1.5 / std::f64::consts::PI).abs() < 0.5);
    }

    #[test]
    fn a_countersunk_head_rubs_more() {
        let mm = Length::from_millimeters;
        let cone = HeadBearing::cone(mm(18.0), mm(11.0), Angle::from_degrees(90.0)).unwrap();
        assert!((cone.mean_diameter().millimeters() - 14.5 * 2.0_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn refuses_what_no_bolt_can_have() {
        assert!(m10().preload_for(Torque::from_newton_meters(-1.0)).is_err());
        assert!(m10().torque_for(Force::from_newtons(1e300)).is_err());
        assert!(HeadBearing::flat(Length::from_millimeters(10.0), Length::from_millimeters(11.0)).is_err());
    }
}
