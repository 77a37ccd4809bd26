//! Basic dimensions of a thread with the 60° profile, from its diameter and pitch.
//!
//! Tolerances are not applied here; [`super::Limits`] does that.

use crate::units::{Angle, Area, Length};
use std::f64::consts::{FRAC_PI_4, PI};

/// Height of the fundamental triangle over the pitch, √3/2 (ISO 68-1, ASME B1.1 section 10).
pub(super) const TRIANGLE_HEIGHT: f64 = 0.866_025_403_784_438_6;

/// Basic dimensions of one thread. Every length and area is positive and finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geometry {
    major: Length,
    pitch: Length,
    pitch_diameter: Length,
    minor_diameter: Length,
    minor_diameter_internal: Length,
    stress_diameter: Length,
}

impl Geometry {
    /// ISO metric: d2 = d − 3/4 H, d3 = d − 17/12 H, D1 = d − 5/4 H with H = √3/2 P (ISO 724, ISO 898-1 for
    /// d3), stress diameter (d2 + d3)/2. `None` if the thread would be deeper than the bolt.
    pub(super) fn metric(diameter_mm: f64, pitch_mm: f64) -> Option<Self> {
        let height = TRIANGLE_HEIGHT * pitch_mm;
        let pitch_diameter = diameter_mm - 0.75 * height;
        let minor = diameter_mm - 17.0 / 12.0 * height;
        Self::new(diameter_mm, pitch_mm, minor, (pitch_diameter + minor) / 2.0)
    }

    /// Unified inch: pitch diameter D − 3/4 H, root D − 3/2 H, internal minor D − 5/4 H with H = √3/2 ÷ n
    /// (ASME B1.1 section 10), stress diameter D − 0.9743/n (ASME B1.1 appendix B). The root is the one that
    /// the published minor-diameter areas are computed from. `None` if the thread would be deeper than the bolt.
    pub(super) fn unified(diameter_mm: f64, pitch_mm: f64) -> Option<Self> {
        let minor = diameter_mm - 1.5 * TRIANGLE_HEIGHT * pitch_mm;
        Self::new(diameter_mm, pitch_mm, minor, diameter_mm - 0.9743 * pitch_mm)
    }

    fn new(diameter_mm: f64, pitch_mm: f64, minor_mm: f64, stress_mm: f64) -> Option<Self> {
        if !(minor_mm > 0.0 && pitch_mm > 0.0 && diameter_mm.is_finite()) {
            return None;
        }
        let height = TRIANGLE_HEIGHT * pitch_mm;
        Some(Self {
            major: Length::from_millimeters(diameter_mm),
            pitch: Length::from_millimeters(pitch_mm),
            pitch_diameter: Length::from_millimeters(diameter_mm - 0.75 * height),
            minor_diameter: Length::from_millimeters(minor_mm),
            minor_diameter_internal: Length::from_millimeters(diameter_mm - 1.25 * height),
            stress_diameter: Length::from_millimeters(stress_mm),
        })
    }

    /// d, D: basic major diameter.
    #[must_use]
    pub fn major(&self) -> Length {
        self.major
    }

    /// P: pitch; for an inch thread 1 in divided by the threads per inch.
    #[must_use]
    pub fn pitch(&self) -> Length {
        self.pitch
    }

    /// d2, D2: basic pitch diameter.
    #[must_use]
    pub fn pitch_diameter(&self) -> Length {
        self.pitch_diameter
    }

    /// The root of the bolt thread: d3 of an ISO metric thread, D − 1.299/n of an inch thread.
    #[must_use]
    pub fn minor_diameter(&self) -> Length {
        self.minor_diameter
    }

    /// D1: basic minor diameter of the internal thread.
    #[must_use]
    pub fn minor_diameter_internal(&self) -> Length {
        self.minor_diameter_internal
    }

    /// dS: diameter of the circle with the area [`Geometry::stress_area`].
    #[must_use]
    pub fn stress_diameter(&self) -> Length {
        self.stress_diameter
    }

    /// As, At: nominal stress area, π/4 dS² (ISO 898-1; ASME B1.1 appendix B).
    #[must_use]
    pub fn stress_area(&self) -> Area {
        circle(self.stress_diameter)
    }

    /// A3, Ar: cross-section at the root, π/4 times the square of [`Geometry::minor_diameter`].
    #[must_use]
    pub fn minor_area(&self) -> Area {
        circle(self.minor_diameter)
    }

    /// Half of the thread angle: 30° for every thread that this module computes.
    #[must_use]
    pub fn half_angle(&self) -> Angle {
        Angle::from_degrees(30.0)
    }

    /// φ: helix angle at the pitch diameter, atan(P / (π d2)).
    #[must_use]
    pub fn helix_angle(&self) -> Angle {
        Angle::from_degrees((self.pitch / (self.pitch_diameter * PI)).atan().to_degrees())
    }
}

fn circle(diameter: Length) -> Area {
    Area::from_square_millimeters(FRAC_PI_4 * diameter.millimeters() * diameter.millimeters())
}
