//! The quantities: one finite number in one base unit each.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// What every quantity can do: go to its base unit and come from it.
pub trait Quantity: Copy + PartialOrd {
    /// What the quantity is called in an error: `torque`, `length` …
    const NAME: &'static str;
    /// Makes the quantity from a number in its base unit.
    ///
    /// # Panics
    /// If the number is not finite.
    fn from_base(value: f64) -> Self;
    /// The number in the base unit.
    fn base(self) -> f64;
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $word:literal, $from:ident, $get:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("A ", $word, " from ", $unit, ".")]
            ///
            /// # Panics
            /// If the number is not finite. Numbers from outside are checked where they are read.
            #[must_use]
            pub fn $from(value: f64) -> Self {
                assert!(value.is_finite(), concat!("a ", $word, " must be a finite number"));
                Self(value)
            }

            #[doc = concat!("The ", $word, " in ", $unit, ".")]
            #[must_use]
            pub fn $get(self) -> f64 {
                self.0
            }
        }

        impl Quantity for $name {
            const NAME: &'static str = $word;
            fn from_base(value: f64) -> Self {
                Self::$from(value)
            }
            fn base(self) -> f64 {
                self.0
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::from_base(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self::from_base(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self::from_base(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self::from_base(self.0 / divisor)
            }
        }

        /// The ratio of two quantities of one kind.
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

quantity!(
    /// A tightening torque. Always finite; negative only as a difference.
    Torque, "torque", from_newton_meters, newton_meters, "newton-metres"
);
quantity!(
    /// A length. Always finite.
    Length, "length", from_millimeters, millimeters, "millimetres"
);
quantity!(
    /// An area. Always finite.
    Area, "area", from_square_millimeters, square_millimeters, "square millimetres"
);
quantity!(
    /// A force, such as a preload. Always finite.
    Force, "force", from_newtons, newtons, "newtons"
);
quantity!(
    /// A stress or strength. Always finite.
    Stress, "stress", from_megapascals, megapascals, "megapascals (N/mm²)"
);
quantity!(
    /// An angle of turn. Always finite.
    Angle, "angle", from_degrees, degrees, "degrees"
);

impl Length {
    /// A length from inches.
    ///
    /// # Panics
    /// If the number is not finite.
    #[must_use]
    pub fn from_inches(value: f64) -> Self {
        Self::from_millimeters(value * super::MILLIMETERS_PER_INCH)
    }

    /// The length in inches.
    #[must_use]
    pub fn inches(self) -> f64 {
        self.millimeters() / super::MILLIMETERS_PER_INCH
    }
}

impl Mul for Length {
    type Output = Area;
    fn mul(self, other: Self) -> Area {
        Area::from_square_millimeters(self.0 * other.0)
    }
}

impl Mul<Area> for Stress {
    type Output = Force;
    fn mul(self, area: Area) -> Force {
        Force::from_newtons(self.0 * area.square_millimeters())
    }
}

impl Div<Area> for Force {
    type Output = Stress;
    fn div(self, area: Area) -> Stress {
        Stress::from_megapascals(self.0 / area.square_millimeters())
    }
}
