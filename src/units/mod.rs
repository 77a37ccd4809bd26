//! Quantities of the trade: torque, length, area, force, stress, angle.
//!
//! A *quantity* ([`Torque`], [`Length`] …) is a finite number in one base unit and is what calculations
//! take and give. A *stated* quantity ([`Stated`]) is what a person wrote: the number with its digits and
//! the unit it was written in, so that `8.50 N·m` stays `8.50 N·m`.
//!
//! This module knows no threads, no tables and no records.

mod number;
mod quantity;
mod stated;
mod text;
mod unit;

pub use number::Number;
pub use quantity::{Angle, Area, Force, Length, Quantity, Stress, Torque};
pub(crate) use stated::scan_unit;
pub use stated::{Stated, StatedAngle, StatedForce, StatedLength, StatedStress, StatedTorque};
pub use text::{Scanner, TextError};
pub use unit::{AngleUnit, ForceUnit, LengthUnit, StressUnit, TorqueUnit, Unit};

/// Millimetres in an inch, exact by definition (international yard and pound agreement, 1959).
pub const MILLIMETERS_PER_INCH: f64 = 25.4;
/// Kilograms in an avoirdupois pound, exact by definition (international yard and pound agreement, 1959).
pub const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;
/// Standard gravity in m/s², exact by definition (3rd CGPM, 1901).
pub const STANDARD_GRAVITY: f64 = 9.806_65;
/// Newtons in a pound-force, from the two definitions above.
pub const NEWTONS_PER_POUND_FORCE: f64 = KILOGRAMS_PER_POUND * STANDARD_GRAVITY;
