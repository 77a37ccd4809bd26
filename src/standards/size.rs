//! Nominal thread sizes as the tables name them, and ranges of them.

use crate::units::{Length, MILLIMETERS_PER_INCH};
use std::fmt;

/// A nominal thread diameter as a table names it: `M16`, `1 1/2 in`, `#6`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// Metric, in millimetres.
    M(f64),
    /// In inches.
    In(f64),
    /// A numbered inch size: `#6` is 0.060 in + 6 × 0.013 in (ASME B1.1).
    No(u8),
}

impl Size {
    /// The nominal diameter.
    #[must_use]
    pub fn diameter(self) -> Length {
        Length::from_millimeters(match self {
            Self::M(millimeters) => millimeters,
            Self::In(inches) => inches * MILLIMETERS_PER_INCH,
            Self::No(number) => (0.060 + 0.013 * f64::from(number)) * MILLIMETERS_PER_INCH,
        })
    }

    /// Whether a nominal diameter is this one; a thousandth of a millimetre is below any step between sizes.
    #[must_use]
    pub fn is(self, diameter: Length) -> bool {
        (self.diameter() - diameter).millimeters().abs() < SAME_MM
    }
}

/// Nominal diameters closer than this are the same size.
const SAME_MM: f64 = 0.001;

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::M(millimeters) => write!(f, "M{millimeters}"),
            Self::No(number) => write!(f, "#{number}"),
            Self::In(inches) => {
                let (mut over, mut under) = ((inches * 64.0).round() as u32, 64);
                while over % 2 == 0 && under > 1 {
                    (over, under) = (over / 2, under / 2);
                }
                match (over / under, over % under) {
                    (whole, 0) => write!(f, "{whole} in"),
                    (0, rest) => write!(f, "{rest}/{under} in"),
                    (whole, rest) => write!(f, "{whole} {rest}/{under} in"),
                }
            }
        }
    }
}

/// A range of nominal sizes, the upper end always included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeRange {
    /// The lower end.
    pub from: Size,
    /// Whether the lower end itself is left out ("over 16 mm").
    pub over: bool,
    /// The upper end.
    pub to: Size,
}

impl SizeRange {
    /// From one size to another, both included.
    #[must_use]
    pub const fn new(from: Size, to: Size) -> Self {
        Self { from, over: false, to }
    }

    /// Over one size, up to another.
    #[must_use]
    pub const fn over(from: Size, to: Size) -> Self {
        Self { from, over: true, to }
    }

    /// Whether a nominal diameter is in the range.
    #[must_use]
    pub fn contains(&self, diameter: Length) -> bool {
        let mm = diameter.millimeters();
        let (from, to) = (self.from.diameter().millimeters(), self.to.diameter().millimeters());
        let above = if self.over { mm > from + SAME_MM } else { mm > from - SAME_MM };
        above && mm < to + SAME_MM
    }

    /// How far a diameter is outside the range, zero inside.
    #[must_use]
    pub(super) fn distance(&self, diameter: Length) -> f64 {
        let mm = diameter.millimeters();
        (self.from.diameter().millimeters() - mm).max(mm - self.to.diameter().millimeters()).max(0.0)
    }
}

impl fmt::Display for SizeRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let over = if self.over { "over " } else { "" };
        write!(f, "{over}{} to {}", self.from, self.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_print_as_the_tables_do() {
        let printed = [Size::M(1.6), Size::M(16.0), Size::In(0.25), Size::In(1.0), Size::In(1.5), Size::No(6)];
        let printed: Vec<String> = printed.iter().map(Size::to_string).collect();
        assert_eq!(printed, ["M1.6", "M16", "1/4 in", "1 in", "1 1/2 in", "#6"]);
    }

    #[test]
    fn ends_count_as_said() {
        let range = SizeRange::over(Size::M(16.0), Size::M(39.0));
        assert_eq!(range.to_string(), "over M16 to M39");
        assert!(!range.contains(Length::from_millimeters(16.0)));
        assert!(range.contains(Length::from_millimeters(39.0)));
        assert!(SizeRange::new(Size::In(0.25), Size::In(1.5)).contains(Length::from_millimeters(38.1)));
    }
}
