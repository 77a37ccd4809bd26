//! The screw thread as the mechanics sees it: diameters, pitch, stress area, flank angle.

use super::limit::{self, OutOfRange};
use crate::thread::Geometry;
use crate::units::{Angle, Area, Length};
use std::f64::consts::PI;

/// A thread's dimensions. Always `minor < pitch diameter < major`, with the stress area between the circles
/// of the first two.
///
/// | symbol | accessor | range |
/// |---|---|---|
/// | d | [`major`](Self::major) | 0.1–1000 mm |
/// | P | [`pitch`](Self::pitch) | 0.01–50 mm |
/// | d2 | [`pitch_diameter`](Self::pitch_diameter) | d3 < d2 < d |
/// | d3 | [`minor_diameter`](Self::minor_diameter) | 0.05 mm < d3, and P < 2 d3 |
/// | As | [`stress_area`](Self::stress_area) | π/4 d3² to π/4 d2² |
/// | α/2 | [`flank_half_angle`](Self::flank_half_angle) | 0–45°, 30° unless said otherwise |
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreadForm {
    major: Length,
    pitch: Length,
    pitch_diameter: Length,
    minor_diameter: Length,
    stress_area: Area,
    flank_half_angle: Angle,
}

impl ThreadForm {
    /// A thread of single start with 60° between its flanks (ISO 68-1, ASME B1.1).
    ///
    /// # Errors
    /// If a dimension is out of the range in the table above, or the diameters are not in order.
    pub fn new(
        major: Length,
        pitch: Length,
        pitch_diameter: Length,
        minor_diameter: Length,
        stress_area: Area,
    ) -> Result<Self, OutOfRange> {
        let d = limit::length("major diameter", (0.1, 1000.0), major)?.millimeters();
        let d2 = limit::length("pitch diameter", (0.1 * d, d), pitch_diameter)?.millimeters();
        let d3 = limit::length("minor diameter", (0.05_f64.max(0.1 * d), d2), minor_diameter)?.millimeters();
        limit::length("pitch", (0.01, (2.0 * d3).min(50.0)), pitch)?;
        // A table's stress area is rounded: up to one part in a hundred beyond the circles is still the same area.
        let circles = (0.99 * PI / 4.0 * d3.powi(2), 1.01 * PI / 4.0 * d2.powi(2));
        limit::within("stress area", " mm²", circles, stress_area.square_millimeters())?;
        let flank_half_angle = Angle::from_degrees(30.0);
        Ok(Self { major, pitch, pitch_diameter, minor_diameter, stress_area, flank_half_angle })
    }

    /// The same thread with another angle between a flank and the plane across the axis: 0° for a square thread.
    ///
    /// # Errors
    /// If the angle is not from 0° to 45°.
    pub fn with_flank_half_angle(self, angle: Angle) -> Result<Self, OutOfRange> {
        limit::within("flank half angle", "°", (0.0, 45.0), angle.degrees())?;
        Ok(Self { flank_half_angle: angle, ..self })
    }

    /// Major diameter d.
    #[must_use]
    pub fn major(&self) -> Length {
        self.major
    }

    /// Pitch P: the way along the axis in one turn.
    #[must_use]
    pub fn pitch(&self) -> Length {
        self.pitch
    }

    /// Pitch diameter d2.
    #[must_use]
    pub fn pitch_diameter(&self) -> Length {
        self.pitch_diameter
    }

    /// Minor diameter of the bolt thread, d3.
    #[must_use]
    pub fn minor_diameter(&self) -> Length {
        self.minor_diameter
    }

    /// Stress area As (ISO 898-1, 9.1.6.1; ASME B1.1, 8.3.2.1).
    #[must_use]
    pub fn stress_area(&self) -> Area {
        self.stress_area
    }

    /// Half the angle between the flanks, α/2.
    #[must_use]
    pub fn flank_half_angle(&self) -> Angle {
        self.flank_half_angle
    }

    /// Area of the minor diameter's circle, A_d3 = π/4 d3².
    #[must_use]
    pub fn minor_area(&self) -> Area {
        circle(self.minor_diameter)
    }

    /// Diameter of the circle with the stress area, dS; for ISO metric threads (d2 + d3)/2.
    #[must_use]
    pub fn stress_diameter(&self) -> Length {
        Length::from_millimeters((4.0 * self.stress_area.square_millimeters() / PI).sqrt())
    }

    /// Lead angle φ = atan(P / (π d2)), in radians (VDI 2230-1:2015, 5.4.3).
    pub(super) fn lead_angle(&self) -> f64 {
        (self.pitch / (self.pitch_diameter * PI)).atan()
    }

    /// Friction angle in the thread ρ′ = atan(µG / cos(α/2)), in radians (VDI 2230-1:2015, 5.4.3).
    pub(super) fn friction_angle(&self, thread_friction: f64) -> f64 {
        (thread_friction / self.flank_half_angle.degrees().to_radians().cos()).atan()
    }
}

/// The thread at its basic dimensions.
///
/// # Errors
/// If the thread is finer or coarser than [`ThreadForm`] allows.
impl TryFrom<&Geometry> for ThreadForm {
    type Error = OutOfRange;
    fn try_from(geometry: &Geometry) -> Result<Self, OutOfRange> {
        Self::new(
            geometry.major(),
            geometry.pitch(),
            geometry.pitch_diameter(),
            geometry.minor_diameter(),
            geometry.stress_area(),
        )?
        .with_flank_half_angle(geometry.half_angle())
    }
}

/// The area of a circle of this diameter.
pub(super) fn circle(diameter: Length) -> Area {
    diameter * diameter * (PI / 4.0)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// An ISO metric thread with its basic diameters (ISO 724; d3 and As as in ISO 898-1).
    pub(in crate::mechanics) fn metric(d: f64, p: f64) -> ThreadForm {
        let (d2, d3) = (d - 0.649_519 * p, d - 1.226_869 * p);
        let mm = Length::from_millimeters;
        let area = circle(mm((d2 + d3) / 2.0));
        ThreadForm::new(mm(d), mm(p), mm(d2), mm(d3), area).expect("a metric thread")
    }

    #[test]
    fn m10_has_the_published_stress_area() {
        // ISO 898-1:2013, table 4: M10, As = 58.0 mm²
        let form = metric(10.0, 1.5);
        assert!((form.stress_area().square_millimeters() - 58.0).abs() < 0.05);
        assert!((form.stress_diameter().millimeters() - (9.0257 + 8.1597) / 2.0).abs() < 1e-3);
    }

    #[test]
    fn every_standard_thread_has_a_form() {
        for thread in crate::thread::Thread::standards() {
            let geometry = thread.geometry().expect("a standard thread has dimensions");
            let form = ThreadForm::try_from(&geometry).unwrap_or_else(|error| panic!("{thread}: {error}"));
            assert!((form.stress_diameter() - geometry.stress_diameter()).millimeters().abs() < 1e-9);
        }
    }

    #[test]
    fn refuses_diameters_out_of_order() {
        let mm = Length::from_millimeters;
        let area = Area::from_square_millimeters(58.0);
        let error = ThreadForm::new(mm(10.0), mm(1.5), mm(8.16), mm(9.03), area).unwrap_err();
        assert_eq!(error.what, "minor diameter");
        let error = ThreadForm::new(mm(10.0), mm(1.5), mm(9.03), mm(8.16), area * 2.0).unwrap_err();
        assert_eq!(error.what, "stress area");
        assert!(metric(10.0, 1.5).with_flank_half_angle(Angle::from_degrees(90.0)).is_err());
    }
}
