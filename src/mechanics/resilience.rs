//! Resilience of the bolt, δS: VDI 2230-1:2015, 5.1.1.
//!
//! ```text
//! δ = l / (E A)                                        a rod
//! δS = δSK + δ1 + δGew + δG + δM
//! δSK = lSK / (ES AN)    lSK = 0.5 d hexagon head, 0.4 d cylindrical head with internal drive
//! δ1  = l1  / (ES A1)    shank
//! δGew = lGew / (ES Ad3) loaded thread that is not engaged
//! δG  = 0.5 d / (ES Ad3) engaged thread
//! δM  = lM / (EM AN)     lM = 0.4 d nut, 0.33 d tapped part
//! ```
//!
//! The clamped parts are in `clamped`.

use super::form::{ThreadForm, circle};
use super::limit::{self, OutOfRange};
use crate::units::{Area, Force, Length, Stress};
use std::ops::{Add, Mul};

/// Where the formulas of this module stand.
pub const SOURCE: &str = "VDI 2230-1:2015, 5.1.1";

/// Length of engaged thread that is reckoned to stretch, lG over d.
pub(super) const ENGAGED_THREAD: f64 = 0.5;

/// How far something gives under a newton: δ, in millimetres per newton. Never negative.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Resilience(f64);

impl Resilience {
    /// From a number of millimetres per newton, such as 1/stiffness.
    ///
    /// # Errors
    /// If it is not from 0 to 1 mm/N.
    pub fn from_millimeters_per_newton(value: f64) -> Result<Self, OutOfRange> {
        Ok(Self(limit::within("resilience", " mm/N", (0.0, 1.0), value)?))
    }

    /// Of a rod in tension or compression: δ = l/(E A).
    ///
    /// # Errors
    /// If the length is not from 0 to 10 000 mm, the area not from 0.001 to 10⁶ mm² or the modulus not from 1 to
    /// 1000 GPa.
    pub fn rod(length: Length, area: Area, elasticity: Stress) -> Result<Self, OutOfRange> {
        let length = limit::length("length of a rod", (0.0, 10_000.0), length)?;
        limit::within("area of a rod", " mm²", (1e-3, 1e6), area.square_millimeters())?;
        Ok(Self::of_rod(length, area, modulus("modulus of elasticity of a rod", elasticity)?))
    }

    /// Of a rod whose numbers have been checked.
    pub(super) fn of_rod(length: Length, area: Area, modulus: Stress) -> Self {
        Self(length.millimeters() / (modulus.megapascals() * area.square_millimeters()))
    }

    pub(super) fn new_unchecked(value: f64) -> Self {
        Self(value)
    }

    /// Millimetres per newton.
    #[must_use]
    pub fn millimeters_per_newton(self) -> f64 {
        self.0
    }
}

/// One after the other: resiliences in series add.
impl Add for Resilience {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

/// What gives way under a force.
impl Mul<Resilience> for Force {
    type Output = Length;
    fn mul(self, resilience: Resilience) -> Length {
        Length::from_millimeters(self.newtons() * resilience.0)
    }
}

/// The head's shape, as far as it counts for resilience.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeadShape {
    /// Hexagon and all other heads driven from outside: lSK = 0.5 d.
    Hexagon,
    /// Cylindrical and other heads with internal drive: lSK = 0.4 d.
    Cylindrical,
}

impl HeadShape {
    fn length_over_d(self) -> f64 {
        match self {
            Self::Hexagon => 0.5,
            Self::Cylindrical => 0.4,
        }
    }
}

/// What the bolt's thread is screwed into, with its modulus of elasticity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Counterpart {
    /// A nut (through-bolted joint): lM = 0.4 d.
    Nut(Stress),
    /// A tapped part (tapped joint): lM = 0.33 d.
    Tapped(Stress),
}

impl Counterpart {
    fn length_over_d(self) -> f64 {
        match self {
            Self::Nut(_) => 0.4,
            Self::Tapped(_) => 0.33,
        }
    }

    fn modulus(self) -> Stress {
        match self {
            Self::Nut(modulus) | Self::Tapped(modulus) => modulus,
        }
    }
}

/// A bolt in its joint: what stretches under preload.
///
/// | symbol | what | range |
/// |---|---|---|
/// | l1, d1 | shank without thread | 0–10 000 mm; 0.2–2 times d |
/// | lGew | loaded thread outside the counterpart | 0–10 000 mm |
/// | ES, EM | moduli of elasticity | 1 000–1 000 000 MPa |
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoltShape {
    head: HeadShape,
    form: ThreadForm,
    shank_length: Length,
    shank_diameter: Length,
    free_thread: Length,
    counterpart: Counterpart,
    modulus: Stress,
}

impl BoltShape {
    /// A bolt threaded up to its head, with steel's modulus of 205 GPa; `grip` is the clamped length lK.
    ///
    /// # Errors
    /// If the grip is not from 0 to 10 000 mm or the counterpart's modulus not from 1 to 1000 GPa.
    pub fn threaded(
        form: ThreadForm,
        head: HeadShape,
        grip: Length,
        counterpart: Counterpart,
    ) -> Result<Self, OutOfRange> {
        let free_thread = limit::length("clamped length", (0.0, 10_000.0), grip)?;
        modulus("modulus of elasticity of nut or tapped part", counterpart.modulus())?;
        let modulus = Stress::from_megapascals(205_000.0);
        let (shank_length, shank_diameter) = (Length::from_millimeters(0.0), form.major());
        Ok(Self { head, form, shank_length, shank_diameter, free_thread, counterpart, modulus })
    }

    /// The same bolt with a shank of this length and diameter; the rest of the clamped length is free thread. A shank
    /// that is longer than the clamped length counts up to it.
    ///
    /// # Errors
    /// If the length is not from 0 to 10 000 mm or the diameter not from 0.2 to 2 times the major diameter.
    pub fn with_shank(self, length: Length, diameter: Length) -> Result<Self, OutOfRange> {
        let d = self.form.major().millimeters();
        let length = limit::length("shank length", (0.0, 10_000.0), length)?;
        let shank_diameter = limit::length("shank diameter", (0.2 * d, 2.0 * d), diameter)?;
        let grip = self.shank_length + self.free_thread;
        let shank_length = if length < grip { length } else { grip };
        Ok(Self { shank_length, shank_diameter, free_thread: grip - shank_length, ..self })
    }

    /// The same bolt of a material with another modulus of elasticity ES.
    ///
    /// # Errors
    /// If it is not from 1 to 1000 GPa.
    pub fn with_modulus(self, elasticity: Stress) -> Result<Self, OutOfRange> {
        Ok(Self { modulus: modulus("modulus of elasticity of the bolt", elasticity)?, ..self })
    }

    /// Clamped length lK.
    #[must_use]
    pub fn grip(&self) -> Length {
        self.shank_length + self.free_thread
    }

    /// Shank length l1 within the clamped length.
    #[must_use]
    pub fn shank_length(&self) -> Length {
        self.shank_length
    }

    /// Shank diameter.
    #[must_use]
    pub fn shank_diameter(&self) -> Length {
        self.shank_diameter
    }

    /// Loaded thread outside the counterpart, lGew.
    #[must_use]
    pub fn free_thread(&self) -> Length {
        self.free_thread
    }

    /// What the bolt is screwed into.
    #[must_use]
    pub fn counterpart(&self) -> Counterpart {
        self.counterpart
    }

    /// The thread.
    #[must_use]
    pub fn form(&self) -> &ThreadForm {
        &self.form
    }

    /// Resilience δS of the whole bolt with head, engaged thread and nut or tapped part.
    #[must_use]
    pub fn resilience(&self) -> Resilience {
        let d = self.form.major();
        let (nominal, minor) = (circle(d), self.form.minor_area());
        let head = Resilience::of_rod(d * self.head.length_over_d(), nominal, self.modulus);
        let shank = Resilience::of_rod(self.shank_length, circle(self.shank_diameter), self.modulus);
        let free_thread = Resilience::of_rod(self.free_thread, minor, self.modulus);
        let engaged = Resilience::of_rod(d * ENGAGED_THREAD, minor, self.modulus);
        let counterpart = Resilience::of_rod(d * self.counterpart.length_over_d(), nominal, self.counterpart.modulus());
        head + shank + free_thread + engaged + counterpart
    }
}

/// Passes a modulus of elasticity.
pub(super) fn modulus(what: &'static str, given: Stress) -> Result<Stress, OutOfRange> {
    limit::within(what, " MPa", (1_000.0, 1_000_000.0), given.megapascals()).map(|_| given)
}

#[cfg(test)]
mod tests {
    use super::super::form::tests::metric;
    use super::*;

    fn steel() -> Stress {
        Stress::from_megapascals(205_000.0)
    }

    #[test]
    fn adds_up_as_by_hand() {
        // By hand: M12, d3 9.8530 (76.25 mm²), AN 113.10 mm², shank 25 mm, free thread 10 mm, steel nut:
        // (6/113.10 + 25/113.10 + 10/76.25 + 6/76.25 + 4.8/113.10)/205 000 = 2.5485e-6 mm/N
        let mm = Length::from_millimeters;
        let bolt = BoltShape::threaded(metric(12.0, 1.75), HeadShape::Hexagon, mm(35.0), Counterpart::Nut(steel()))
            .and_then(|bolt| bolt.with_shank(mm(25.0), mm(12.0)))
            .unwrap();
        let by_hand = (6.0 / 113.10 + 25.0 / 113.10 + 10.0 / 76.25 + 6.0 / 76.25 + 4.8 / 113.10) / 205_000.0;
        let resilience = bolt.resilience().millimeters_per_newton();
        assert!((resilience / by_hand - 1.0).abs() < 1e-4, "{resilience} {by_hand}");
    }

    #[test]
    fn a_shank_never_exceeds_the_grip() {
        let mm = Length::from_millimeters;
        let bolt = BoltShape::threaded(metric(8.0, 1.25), HeadShape::Cylindrical, mm(20.0), Counterpart::Nut(steel()))
            .and_then(|bolt| bolt.with_shank(mm(28.0), mm(8.0)))
            .unwrap();
        assert_eq!((bolt.shank_length(), bolt.free_thread()), (mm(20.0), mm(0.0)));
    }

    #[test]
    fn refuses_a_modulus_in_the_wrong_unit() {
        let mm = Length::from_millimeters;
        let gigapascals = Counterpart::Tapped(Stress::from_megapascals(70.0));
        assert!(BoltShape::threaded(metric(8.0, 1.25), HeadShape::Hexagon, mm(20.0), gigapascals).is_err());
    }
}
