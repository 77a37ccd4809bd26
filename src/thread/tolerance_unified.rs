//! Limits of size of unified inch threads by ASME B1.1-2003, section 5 (formulas from memory).
//!
//! The limits of "unfinished, hot-rolled" class 2A material are not given, nor those after coating.

use super::geometry::TRIANGLE_HEIGHT;
use super::limits::{Limits, Span};
use super::unified::{Series, Unified};
use crate::units::Length;

/// Length of engagement that the pitch-diameter tolerance is computed for: the major diameter for UNC, UNF,
/// 4-UN, 6-UN and 8-UN, nine pitches for the finer constant-pitch series, UNEF and special threads.
pub(super) fn engagement_in(unified: Unified) -> Option<f64> {
    let count = unified.threads_per_inch()?;
    let diameter = match unified.series() {
        Some(Series::Coarse | Series::Fine) => true,
        Some(Series::Constant) => count < 8.5,
        Some(Series::ExtraFine | Series::Special) | None => false,
    };
    Some(if diameter { unified.diameter_in() } else { 9.0 / count })
}

/// Limits of size. `class` is 1 to 3; diameters and engagement in inches. The standard rounds each term to
/// 0.0001 in before it adds them, and so does this.
pub(super) fn limits(diameter: f64, count: f64, engagement: f64, class: u8, external: bool) -> Option<Limits> {
    let pitch = 1.0 / count;
    let height = TRIANGLE_HEIGHT * pitch;
    // 5.1: pitch-diameter tolerance of class 2A, from which all others follow.
    let basic = 0.0015 * (diameter.cbrt() + engagement.sqrt() + 10.0 * pitch.powf(2.0 / 3.0));
    let factor = match class {
        1 => 1.5,
        2 => 1.0,
        3 => 0.75,
        _ => return None,
    };
    let pitch_diameter = tenthous(diameter - 0.75 * height);
    if external {
        let allowance = if class == 3 { 0.0 } else { tenthous(0.3 * basic) };
        let major_tolerance = if class == 1 { 0.09 } else { 0.06 } * pitch.powf(2.0 / 3.0);
        let major_max = tenthous(diameter) - allowance;
        let pitch_max = pitch_diameter - allowance;
        let pitch_min = pitch_max - tenthous(factor * basic);
        Some(Limits {
            external,
            major: Span::between(inches(major_max - tenthous(major_tolerance)), inches(major_max)),
            pitch: Span::between(inches(pitch_min), inches(pitch_max)),
            minor: Span::between(
                inches(pitch_min - tenthous(0.75 * height)),
                inches(major_max - tenthous(1.375 * height)),
            ),
        })
    } else {
        let (minor_min, minor_max) = internal_minor(diameter, pitch, class);
        Some(Limits {
            external,
            major: Span::from(inches(tenthous(diameter))),
            pitch: Span::between(inches(pitch_diameter), inches(pitch_diameter + tenthous(1.3 * factor * basic))),
            minor: Span::between(inches(minor_min), inches(minor_max)),
        })
    }
}

/// Smallest and largest minor diameter of a nut thread, in ten-thousandths of an inch; 5.8.2.
fn internal_minor(diameter: f64, pitch: f64, class: u8) -> (f64, f64) {
    let by_pitch = 0.25 * pitch - 0.4 * pitch * pitch;
    let by_size = (0.05 * pitch.powf(2.0 / 3.0) + 0.03 * pitch / diameter - 0.002).min(0.394 * pitch);
    let tolerance = match class {
        1 | 2 if diameter >= 0.25 => by_pitch,
        1 | 2 => by_size.max(by_pitch),
        // 13 threads and finer; then coarser.
        _ if pitch < 0.08 => by_size.max(0.23 * pitch - 1.5 * pitch * pitch),
        _ => by_size.max(0.12 * pitch),
    };
    let min = tenthous(diameter - 1.25 * TRIANGLE_HEIGHT * pitch);
    let max = min + tenthous(tolerance);
    // From #6 up the standard gives three decimals, but four for the largest of class 3B.
    match (diameter >= 0.138, class) {
        (false, _) => (min, max),
        (true, 3) => (thousandth(min), max),
        (true, _) => (thousandth(min), thousandth(max)),
    }
}

/// Inches in whole ten-thousandths.
fn tenthous(inches: f64) -> f64 {
    // A half that binary fractions put just below itself still rounds up.
    (inches * 10_000.0 + 1e-6).round()
}

/// Ten-thousandths rounded to tens, a five to the even thousandth.
fn thousandth(tenthous: f64) -> f64 {
    (tenthous / 10.0).round_ties_even() * 10.0
}

fn inches(tenthous: f64) -> Length {
    Length::from_inches(tenthous / 10_000.0)
}
