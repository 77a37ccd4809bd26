//! Stripping: shear areas at the tolerance limits, the force that strips, the engagement that is needed.
//!
//! ```text
//! bolt thread:   ASGS = π m/P · D1max · [P/2 + (d2min − D1max) tan(α/2)]
//! tapped thread: ASGM = π m/P · dmin  · [P/2 + (dmin − D2max) tan(α/2)]
//! RS = τBM ASGM / (τBS ASGS)                       strength ratio
//! FmGS = ASGS τBS C1 C2      FmGM = ASGM τBM C1 C3
//! C1 = 3.8 s/d − (s/d)² − 2.61     1.4 ≤ s/d < 1.9  (narrow nut; else 1)
//! C2 = 0.897 for RS ≤ 1, 5.594 − 13.682 RS + 14.107 RS² − 6.057 RS³ + 0.9353 RS⁴ up to 2.2
//! C3 = 0.897 for RS ≥ 1, 0.728 + 1.769 RS − 2.896 RS² + 1.296 RS³ down to 0.4
//! ```
//!
//! VDI 2230-1:2015, 5.5.5 (after Alexander, SAE 770420). FED-STD-H28/2 writes the same shear areas with
//! n = 1/P, Es = d2, Kn = D1, Ds = d, En = D2, and knows no factors C.

use super::limit::{self, OutOfRange};
use crate::units::{Angle, Area, Force, Length, Stress};
use std::f64::consts::PI;

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.5.5; FED-STD-H28/2";

/// Engagement that doesn't carry because of the incomplete turns at its ends, over the pitch: 0.8 P
/// (VDI 2230-1:2015, 5.5.5, from memory).
const LOST_TURNS: f64 = 0.8;

/// The two threads that engage, at the limits that shear first.
///
/// | symbol | what | range |
/// |---|---|---|
/// | P | pitch | 0.01–50 mm |
/// | d | least major diameter of the bolt | 0.1–1000 mm |
/// | d2 | least pitch diameter of the bolt | d − P to d |
/// | D2 | greatest pitch diameter of the tapped thread | d − P to d |
/// | D1 | greatest minor diameter of the tapped thread | d − 2 P to d − P/10 |
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EngagedThread {
    pitch: f64,
    bolt_major: f64,
    bolt_pitch: f64,
    tapped_pitch: f64,
    tapped_minor: f64,
    flank_tangent: f64,
}

impl EngagedThread {
    /// Two 60° threads; basic dimensions may be given where the limits are not known.
    ///
    /// # Errors
    /// If a dimension is out of the range in the table above.
    pub fn new(
        pitch: Length,
        bolt_major_min: Length,
        bolt_pitch_min: Length,
        tapped_pitch_max: Length,
        tapped_minor_max: Length,
    ) -> Result<Self, OutOfRange> {
        let p = limit::length("pitch", (0.01, 50.0), pitch)?.millimeters();
        let d = limit::length("major diameter of the bolt", (0.1, 1000.0), bolt_major_min)?.millimeters();
        let about_pitch = (0.05_f64.max(d - p), d);
        let d2 = limit::length("pitch diameter of the bolt", about_pitch, bolt_pitch_min)?.millimeters();
        let big_d2 = limit::length("pitch diameter of the tapped thread", about_pitch, tapped_pitch_max)?;
        let about_minor = (0.05_f64.max(d - 2.0 * p), (d - 0.1 * p).min(d2 + 0.8 * p));
        let d1 = limit::length("minor diameter of the tapped thread", about_minor, tapped_minor_max)?;
        Ok(Self {
            pitch: p,
            bolt_major: d,
            bolt_pitch: d2,
            tapped_pitch: big_d2.millimeters(),
            tapped_minor: d1.millimeters(),
            flank_tangent: Angle::from_degrees(30.0).degrees().to_radians().tan(),
        })
    }

    /// Shear area of the bolt thread per millimetre of engagement, in mm. Positive: d2 − D1 is above −0.8 P, and
    /// 0.8 tan 30° is below 1/2.
    fn bolt_shear(&self) -> f64 {
        let tooth = self.pitch / 2.0 + (self.bolt_pitch - self.tapped_minor) * self.flank_tangent;
        PI / self.pitch * self.tapped_minor * tooth
    }

    /// Shear area of the tapped thread per millimetre of engagement, in mm.
    fn tapped_shear(&self) -> f64 {
        let tooth = self.pitch / 2.0 + (self.bolt_major - self.tapped_pitch) * self.flank_tangent;
        PI / self.pitch * self.bolt_major * tooth
    }

    /// Shear area ASGS of the bolt thread over an effective engagement.
    ///
    /// # Errors
    /// If the engagement is not from 0 to 10 000 mm.
    pub fn bolt_shear_area(&self, engagement: Length) -> Result<Area, OutOfRange> {
        let m = engagement_within(engagement)?;
        Ok(Area::from_square_millimeters(self.bolt_shear() * m.millimeters()))
    }

    /// Shear area ASGM of the tapped thread over an effective engagement.
    ///
    /// # Errors
    /// If the engagement is not from 0 to 10 000 mm.
    pub fn tapped_shear_area(&self, engagement: Length) -> Result<Area, OutOfRange> {
        let m = engagement_within(engagement)?;
        Ok(Area::from_square_millimeters(self.tapped_shear() * m.millimeters()))
    }

    /// The engagement of the handbook rule, at which the screw breaks before either thread strips:
    /// Le = 2 As/(ASGS per length), times J = (ASGS Rm bolt)/(ASGM Rm tapped) if J is above 1. It takes the shear
    /// strength as half of the tensile strength and knows no strength-ratio factors
    /// (Machinery's Handbook, *Length of thread engagement*; FED-STD-H28/2).
    ///
    /// # Errors
    /// If the stress area is not from 0.001 to 10⁶ mm² or a tensile strength not from 1 to 10 000 MPa.
    pub fn handbook_engagement(
        &self,
        stress_area: Area,
        bolt_tensile: Stress,
        tapped_tensile: Stress,
    ) -> Result<Length, OutOfRange> {
        let area = limit::within("stress area", " mm²", (1e-3, 1e6), stress_area.square_millimeters())?;
        let bolt = limit::strength("tensile strength of the bolt", bolt_tensile)?;
        let tapped = limit::strength("tensile strength of the tapped part", tapped_tensile)?;
        let equal = 2.0 * area / self.bolt_shear();
        let ratio = self.bolt_shear() / self.tapped_shear() * (bolt / tapped);
        Ok(Length::from_millimeters(equal * ratio.max(1.0)))
    }
}

fn engagement_within(engagement: Length) -> Result<Length, OutOfRange> {
    limit::length("engagement", (0.0, 10_000.0), engagement)
}

/// Two threads with the shear strengths of their materials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stripping {
    thread: EngagedThread,
    bolt_shear_strength: Stress,
    tapped_shear_strength: Stress,
    nut_factor: f64,
}

/// The forces that strip one thread and the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrippingForces {
    /// Force that strips the bolt thread, FmGS.
    pub bolt: Force,
    /// Force that strips the nut or tapped thread, FmGM.
    pub tapped: Force,
    /// Input: effective engagement.
    pub engagement: Length,
    /// Strength ratio RS.
    pub strength_ratio: f64,
}

impl StrippingForces {
    /// The smaller of the two.
    #[must_use]
    pub fn weaker(&self) -> Force {
        if self.bolt < self.tapped { self.bolt } else { self.tapped }
    }
}

impl Stripping {
    /// A bolt of shear strength τBS in a part of shear strength τBM, each 1 to 10 000 MPa; the part is wide (C1 = 1).
    ///
    /// # Errors
    /// If a strength is out of its range.
    pub fn new(
        thread: EngagedThread,
        bolt_shear_strength: Stress,
        tapped_shear_strength: Stress,
    ) -> Result<Self, OutOfRange> {
        let bolt_shear_strength = limit::strength("shear strength of the bolt", bolt_shear_strength)?;
        let tapped_shear_strength = limit::strength("shear strength of the tapped part", tapped_shear_strength)?;
        Ok(Self { thread, bolt_shear_strength, tapped_shear_strength, nut_factor: 1.0 })
    }

    /// The same with a nut of this width across flats s, which gives way sideways: C1.
    ///
    /// # Errors
    /// If the width is not from 1.4 to 20 times the bolt's diameter.
    pub fn with_nut_width(self, across_flats: Length) -> Result<Self, OutOfRange> {
        let d = self.thread.bolt_major;
        // A nut is made for the nominal diameter, which is above the least one by up to 4 %.
        let s = limit::length("width across flats", (1.4 * d, 20.0 * d), across_flats)?.millimeters();
        Ok(Self { nut_factor: nut_dilation(s / d), ..self })
    }

    /// Strength ratio RS: above 1 the bolt thread is the weaker one.
    #[must_use]
    pub fn strength_ratio(&self) -> f64 {
        self.tapped_shear_strength / self.bolt_shear_strength * (self.thread.tapped_shear() / self.thread.bolt_shear())
    }

    /// Stripping forces per millimetre of effective engagement, in N/mm: bolt, tapped.
    fn per_millimeter(&self) -> (f64, f64) {
        let ratio = self.strength_ratio();
        let bolt = self.thread.bolt_shear() * self.bolt_shear_strength.megapascals() * bolt_bending(ratio);
        let tapped = self.thread.tapped_shear() * self.tapped_shear_strength.megapascals() * tapped_bending(ratio);
        (bolt * self.nut_factor, tapped * self.nut_factor)
    }

    /// What of an engagement carries: 0.8 P less, never below 0.
    ///
    /// # Errors
    /// If the engagement is not from 0 to 10 000 mm.
    pub fn effective(&self, engagement: Length) -> Result<Length, OutOfRange> {
        let total = engagement_within(engagement)?.millimeters();
        Ok(Length::from_millimeters((total - LOST_TURNS * self.thread.pitch).max(0.0)))
    }

    /// The stripping forces of an effective engagement.
    ///
    /// # Errors
    /// If the engagement is not from 0 to 10 000 mm.
    pub fn forces(&self, effective_engagement: Length) -> Result<StrippingForces, OutOfRange> {
        let m = engagement_within(effective_engagement)?.millimeters();
        let (bolt, tapped) = self.per_millimeter();
        Ok(StrippingForces {
            bolt: Force::from_newtons(bolt * m),
            tapped: Force::from_newtons(tapped * m),
            engagement: effective_engagement,
            strength_ratio: self.strength_ratio(),
        })
    }

    /// The engagement, incomplete turns included, that holds a load without stripping. With the bolt's tensile load
    /// As Rm as the load, the bolt breaks first.
    ///
    /// # Errors
    /// If the load is not from 0 to 10⁹ N.
    pub fn engagement_for(&self, load: Force) -> Result<Length, OutOfRange> {
        let load = limit::force("load", load)?.newtons();
        let (bolt, tapped) = self.per_millimeter();
        Ok(Length::from_millimeters(load / bolt.min(tapped) + LOST_TURNS * self.thread.pitch))
    }
}

/// C1: a nut that is narrow for its thread opens under load.
fn nut_dilation(width_over_d: f64) -> f64 {
    if width_over_d < 1.9 { 3.8 * width_over_d - width_over_d.powi(2) - 2.61 } else { 1.0 }
}

/// C2: bending of the bolt thread.
fn bolt_bending(ratio: f64) -> f64 {
    let r = ratio.min(2.2);
    if r <= 1.0 { 0.897 } else { 5.594 + r * (-13.682 + r * (14.107 + r * (-6.057 + r * 0.9353))) }
}

/// C3: bending of the tapped thread.
fn tapped_bending(ratio: f64) -> f64 {
    let r = ratio.max(0.4);
    if r >= 1.0 { 0.897 } else { 0.728 + r * (1.769 + r * (-2.896 + r * 1.296)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_millimeters(value)
    }

    fn mpa(value: f64) -> Stress {
        Stress::from_megapascals(value)
    }

    /// M10 at its basic dimensions (ISO 724).
    fn m10() -> EngagedThread {
        EngagedThread::new(mm(1.5), mm(10.0), mm(9.026), mm(9.026), mm(8.376)).unwrap()
    }

    #[test]
    fn factors_meet_at_their_seams() {
        assert!((bolt_bending(1.0 + 1e-12) - 0.897).abs() < 1e-3);
        assert!((tapped_bending(1.0 - 1e-12) - 0.897).abs() < 1e-3);
        assert!((bolt_bending(2.2) - 1.187).abs() < 1e-3);
        assert!((nut_dilation(1.9 - 1e-12) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn the_weaker_material_decides() {
        let aluminium = Stripping::new(m10(), mpa(500.0), mpa(150.0)).unwrap();
        let forces = aluminium.forces(mm(15.0)).unwrap();
        assert!(forces.tapped < forces.bolt && forces.weaker() == forces.tapped && forces.strength_ratio < 1.0);
        let hard = Stripping::new(m10(), mpa(500.0), mpa(900.0)).unwrap();
        assert!(hard.forces(mm(15.0)).unwrap().bolt < hard.forces(mm(15.0)).unwrap().tapped);
    }

    #[test]
    fn needed_engagement_holds_exactly_its_load() {
        let aluminium = Stripping::new(m10(), mpa(500.0), mpa(110.0)).unwrap();
        let load = Force::from_newtons(46_400.0);
        let needed = aluminium.engagement_for(load).unwrap();
        // Common practice, no source: 1.5 to 2.5 d into aluminium castings such as this one.
        assert!(needed > mm(14.0) && needed < mm(25.0), "{needed:?}");
        let holds = aluminium.forces(aluminium.effective(needed).unwrap()).unwrap().weaker();
        assert!((holds - load).newtons().abs() < 1e-6);
    }

    #[test]
    fn a_narrow_nut_holds_less() {
        let nut = Stripping::new(m10(), mpa(500.0), mpa(400.0)).unwrap();
        let narrow = nut.with_nut_width(mm(15.0)).unwrap();
        assert!(narrow.forces(mm(8.0)).unwrap().weaker() < nut.forces(mm(8.0)).unwrap().weaker());
        assert!(nut.with_nut_width(mm(10.0)).is_err());
    }

    #[test]
    fn refuses_threads_that_do_not_engage() {
        assert!(EngagedThread::new(mm(1.5), mm(10.0), mm(9.026), mm(9.026), mm(10.0)).is_err());
        assert!(m10().bolt_shear_area(mm(-1.0)).is_err());
    }
}
