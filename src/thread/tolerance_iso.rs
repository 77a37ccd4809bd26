//! Limits of size of metric threads by ISO 965-1:1998.

use super::class::Part;
use super::geometry::TRIANGLE_HEIGHT;
use super::iso965_table::{DIAMETER_MM_MIN, PITCHES, Pitch, RANGES, Range};
use super::limits::{Limits, Span};
use crate::units::Length;

/// The preferred numbers of series R40 (ISO 3) in one decade, by which ISO 965-1 rounds.
const R40: [f64; 40] = [
    1.0, 1.06, 1.12, 1.18, 1.25, 1.32, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2.0, 2.12, 2.24, 2.36, 2.5, 2.65, 2.8, 3.0, 3.15,
    3.35, 3.55, 3.75, 4.0, 4.25, 4.5, 4.75, 5.0, 5.3, 5.6, 6.0, 6.3, 6.7, 7.1, 7.5, 8.0, 8.5, 9.0, 9.5,
];

/// Steps of R40 from one tolerance grade to the next: 4/40 of a decade, a factor of 1.25 or 1.26.
const STEPS_PER_GRADE: i32 = 4;

/// The tolerance of `grade`, from that of grade 6, in whole µm.
fn graded(grade_6_um: u16, grade: u8) -> f64 {
    let step = (40.0 * f64::from(grade_6_um).log10()).round() as i32 + STEPS_PER_GRADE * (i32::from(grade) - 6);
    let decade = 10_f64.powi(step.div_euclid(40));
    let number = R40[step.rem_euclid(40) as usize] * decade;
    // 26.5 is 26 and 33.5 is 34 in the standard's tables.
    number.round_ties_even()
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

fn pitch_row(pitch_mm: f64) -> Option<&'static Pitch> {
    PITCHES.iter().find(|row| same(row.pitch_mm, pitch_mm))
}

fn range_row(diameter_mm: f64, pitch_mm: f64) -> Option<&'static Range> {
    let end = RANGES.iter().map(|row| row.diameter_mm_max).find(|&max| diameter_mm <= max)?;
    let mut rows = RANGES.iter().filter(|row| same(row.diameter_mm_max, end) && same(row.pitch_mm, pitch_mm));
    rows.next().filter(|_| diameter_mm > DIAMETER_MM_MIN)
}

impl Pitch {
    /// Distance from the basic profile to where the tolerance starts, away from the material; table 1.
    fn deviation_um(&self, position: char) -> Option<f64> {
        match position {
            'h' | 'H' => Some(0.0),
            'g' | 'G' => Some(f64::from(self.deviation_g_um)),
            'f' => self.deviation_f_um.map(f64::from),
            'e' => self.deviation_e_um.map(f64::from),
            _ => None,
        }
    }

    /// Td, table 4: grades 4, 6 and from 0.8 mm pitch 8.
    fn major_um(&self, grade: u8) -> Option<f64> {
        let exists = matches!(grade, 4 | 6) || grade == 8 && self.pitch_mm > 0.79;
        exists.then(|| graded(self.major_um, grade))
    }

    /// TD1, table 3: coarser grades begin at coarser pitches.
    fn minor_um(&self, grade: u8) -> Option<f64> {
        nut_grade_exists(grade, self.pitch_mm).then(|| graded(self.minor_um, grade))
    }
}

/// Tables 3 and 5: grade 4 for all pitches, 5 from 0.25 mm, 6 from 0.3 mm, 7 from 0.5 mm, 8 from 0.8 mm.
fn nut_grade_exists(grade: u8, pitch_mm: f64) -> bool {
    match grade {
        4 => true,
        5 => pitch_mm > 0.24,
        6 => pitch_mm > 0.29,
        7 => pitch_mm > 0.49,
        8 => pitch_mm > 0.79,
        _ => false,
    }
}

/// Table 6: grades 3 to 6 for all pitches, 7 from 0.35 mm, 8 and 9 from 0.8 mm.
fn bolt_grade_exists(grade: u8, pitch_mm: f64) -> bool {
    match grade {
        3..=6 => true,
        7 => pitch_mm > 0.34,
        8 | 9 => pitch_mm > 0.79,
        _ => false,
    }
}

/// Limits of size of diameter × pitch; `None` where the tables have no cell for a part of the class.
pub(super) fn limits(diameter_mm: f64, pitch_mm: f64, pitch: Part, crest: Part) -> Option<Limits> {
    if pitch.position.is_ascii_lowercase() {
        external(diameter_mm, pitch_mm, pitch, crest)
    } else {
        internal(diameter_mm, pitch_mm, pitch, crest)
    }
}

/// ISO 724 gives the basic diameters in whole µm, and the limits are counted from those.
fn whole_um(millimeters: f64) -> f64 {
    (millimeters * 1000.0).round()
}

fn length(um: f64) -> Length {
    Length::from_millimeters(um / 1000.0)
}

fn external(diameter_mm: f64, pitch_mm: f64, pitch: Part, crest: Part) -> Option<Limits> {
    let row = pitch_row(pitch_mm)?;
    let range = range_row(diameter_mm, pitch_mm)?;
    let height_mm = TRIANGLE_HEIGHT * pitch_mm;
    let major_max = whole_um(diameter_mm) - row.deviation_um(crest.position)?;
    let pitch_deviation = row.deviation_um(pitch.position)?;
    let pitch_max = whole_um(diameter_mm - 0.75 * height_mm) - pitch_deviation;
    let tolerance = bolt_grade_exists(pitch.grade, pitch_mm).then(|| graded(range.bolt_um, pitch.grade))?;
    let pitch_min = pitch_max - tolerance;
    // Section 11: the root may reach down to a truncation of P/8 of the triangle, and up to the basic profile.
    let minor_min = pitch_min - whole_um(height_mm - pitch_mm / 4.0);
    let minor_max = whole_um(diameter_mm - 1.25 * height_mm) - pitch_deviation;
    Some(Limits {
        external: true,
        major: Span::between(length(major_max - row.major_um(crest.grade)?), length(major_max)),
        pitch: Span::between(length(pitch_min), length(pitch_max)),
        minor: Span::between(length(minor_min), length(minor_max)),
    })
}

fn internal(diameter_mm: f64, pitch_mm: f64, pitch: Part, crest: Part) -> Option<Limits> {
    let row = pitch_row(pitch_mm)?;
    let range = range_row(diameter_mm, pitch_mm)?;
    let height_mm = TRIANGLE_HEIGHT * pitch_mm;
    let pitch_deviation = row.deviation_um(pitch.position)?;
    let pitch_min = whole_um(diameter_mm - 0.75 * height_mm) + pitch_deviation;
    let tolerance = nut_grade_exists(pitch.grade, pitch_mm).then(|| graded(range.nut_um, pitch.grade))?;
    let minor_min = whole_um(diameter_mm - 1.25 * height_mm) + row.deviation_um(crest.position)?;
    Some(Limits {
        external: false,
        major: Span::from(length(whole_um(diameter_mm) + pitch_deviation)),
        pitch: Span::between(length(pitch_min), length(pitch_min + tolerance)),
        minor: Span::between(length(minor_min), length(minor_min + row.minor_um(crest.grade)?)),
    })
}

/// The lengths of engagement of group N, table 2.
pub(super) fn normal_engagement(diameter_mm: f64, pitch_mm: f64) -> Option<Span> {
    let range = range_row(diameter_mm, pitch_mm)?;
    let (min, max) = (range.engagement_mm_min, range.engagement_mm_max);
    Some(Span::between(Length::from_millimeters(min), Length::from_millimeters(max)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One step of R40 either way: the standard rounds to the series, and in places to the next number of
    /// it for a smoother table (section 13).
    #[track_caller]
    fn within_a_step(cell_um: u16, formula_um: f64, what: &str) {
        let steps = 40.0 * (f64::from(cell_um) / formula_um).log10().abs();
        assert!(steps < 1.0, "{what}: {cell_um} µm in the table, {formula_um:.1} µm by the formula");
    }

    /// ISO 965-1:1998, 13.1 and 13.3.
    #[test]
    fn pitches_follow_the_formulas() {
        for row in PITCHES {
            let p = row.pitch_mm;
            let what = format!("P = {p}");
            within_a_step(row.deviation_g_um, 15.0 + 11.0 * p, &what);
            // A deviation of whole µm may be half of one off beside the step.
            for (cell, start) in [(row.deviation_f_um, 30.0), (row.deviation_e_um, 50.0)] {
                if let Some(cell) = cell {
                    assert!((f64::from(cell) / (start + 11.0 * p) - 1.0).abs() < 0.1, "{what}: {cell}");
                }
            }
            within_a_step(row.major_um, 180.0 * p.powf(2.0 / 3.0) - 3.15 / p.sqrt(), &what);
            let minor = if p < 0.9 { 433.0 * p - 190.0 * p.powf(1.22) } else { 230.0 * p.powf(0.7) };
            within_a_step(row.minor_um, minor, &what);
        }
    }

    /// ISO 965-1:1998, 13.4, with the geometric mean of the diameter range.
    #[test]
    fn ranges_follow_the_formulas() {
        let ends: Vec<f64> = RANGES.iter().map(|row| row.diameter_mm_max).collect();
        for row in RANGES {
            let start = ends.iter().copied().rfind(|&end| end < row.diameter_mm_max).unwrap_or(DIAMETER_MM_MIN);
            let formula = 90.0 * row.pitch_mm.powf(0.4) * (start * row.diameter_mm_max).sqrt().powf(0.1);
            let what = format!("to {} mm, P = {}", row.diameter_mm_max, row.pitch_mm);
            within_a_step(row.bolt_um, formula, &what);
            within_a_step(row.nut_um, 1.32 * formula, &what);
        }
    }

    /// ISO 965-1:1998, 13.2: 2.24 P d^0.2 and 6.7 P d^0.2 with the smallest diameter that has the pitch;
    /// the table rounds these to preferred numbers, by up to 15 %.
    #[test]
    fn engagements_follow_the_formulas() {
        for row in RANGES {
            let start = RANGES.iter().map(|r| r.diameter_mm_max).rfind(|&end| end < row.diameter_mm_max);
            let start = start.unwrap_or(DIAMETER_MM_MIN);
            for (cell, factor) in [(row.engagement_mm_min, 2.24), (row.engagement_mm_max, 6.7)] {
                let (least, most) = (start.powf(0.2), row.diameter_mm_max.powf(0.2));
                let size = cell / (factor * row.pitch_mm);
                assert!(size > least * 0.85 && size < most * 1.15, "to {}, P = {}", row.diameter_mm_max, row.pitch_mm);
            }
        }
    }

    /// ISO 965-1:1998, table 6, read: 5.6 to 11.2 mm, pitch 1.5; and table 5, 0.99 to 1.4 mm, pitch 0.25.
    #[test]
    fn grades_are_steps_of_the_series() {
        let grades: Vec<f64> = (3..=9).map(|grade| graded(132, grade)).collect();
        assert_eq!(grades, [67.0, 85.0, 106.0, 132.0, 170.0, 212.0, 265.0]);
        assert_eq!([graded(71, 4), graded(71, 5)], [45.0, 56.0]);
        assert_eq!([graded(53, 3), graded(53, 4)], [26.0, 34.0]);
    }
}
