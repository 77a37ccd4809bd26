//! The units that people state quantities in, each with its symbol, its other spellings and its size.

use super::quantity::{Angle, Force, Length, Quantity, Stress, Torque};
use super::{MILLIMETERS_PER_INCH, NEWTONS_PER_POUND_FORCE, STANDARD_GRAVITY};

/// A unit of one kind of quantity.
pub trait Unit: Copy + Eq + std::hash::Hash + std::fmt::Debug + 'static {
    /// The quantity that the unit measures.
    type Of: Quantity;
    /// Every unit of the kind, the commonest first.
    const ALL: &'static [Self];
    /// How the unit is printed.
    fn symbol(self) -> &'static str;
    /// Other ways to write it, in lower case and without spaces; the symbol itself need not be repeated.
    fn spellings(self) -> &'static [&'static str];
    /// The size of one of it in the base unit.
    fn in_base(self) -> f64;

    /// The symbols of all units of the kind, for an error message.
    fn symbols() -> String {
        Self::ALL.iter().map(|unit| unit.symbol()).collect::<Vec<_>>().join(", ")
    }

    /// The unit with this symbol or spelling. Case, spaces, dots and multiplication signs do not count,
    /// except that `mN` and `MN` would differ: no unit here needs that.
    fn from_name(name: &str) -> Option<Self> {
        let wanted = folded(name);
        Self::ALL.iter().copied().find(|unit| {
            folded(unit.symbol()) == wanted || unit.spellings().iter().any(|spelling| folded(spelling) == wanted)
        })
    }
}

/// A unit name without what people write differently: case, spaces, the product sign.
fn folded(name: &str) -> String {
    name.chars()
        .filter(|c| !matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '·' | '⋅' | '∙' | '•' | '*' | '.' | '-' | '×' | '_'))
        .flat_map(char::to_lowercase)
        .collect()
}

macro_rules! units {
    ($(#[$doc:meta])* $name:ident of $quantity:ty { $( $(#[$vdoc:meta])* $variant:ident = $symbol:literal, [$($spelling:literal),*], $size:expr; )* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $( $(#[$vdoc])* $variant, )* }

        impl Unit for $name {
            type Of = $quantity;
            const ALL: &'static [Self] = &[$(Self::$variant),*];
            fn symbol(self) -> &'static str {
                match self { $(Self::$variant => $symbol,)* }
            }
            fn spellings(self) -> &'static [&'static str] {
                match self { $(Self::$variant => &[$($spelling),*],)* }
            }
            fn in_base(self) -> f64 {
                match self { $(Self::$variant => $size,)* }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.symbol())
            }
        }
    };
}

/// Newton-metres in a pound-force foot: 12 in × 25.4 mm × 0.453 592 37 kg × 9.806 65 m/s².
const POUND_FOOT: f64 = 12.0 * POUND_INCH;
/// Newton-metres in a pound-force inch.
const POUND_INCH: f64 = NEWTONS_PER_POUND_FORCE * MILLIMETERS_PER_INCH / 1000.0;

units! {
    /// Units of torque.
    TorqueUnit of Torque {
        /// Newton-metre.
        NewtonMeter = "N·m", ["nm", "newtonmeter", "newtonmeters", "newtonmetre", "newtonmetres"], 1.0;
        /// Pound-force foot.
        PoundFoot = "lbf·ft", ["lbft", "ftlb", "ftlbf", "ftlbs", "lbsft", "footpound", "footpounds", "poundfoot", "poundfeet"], POUND_FOOT;
        /// Pound-force inch.
        PoundInch = "lbf·in", ["lbin", "inlb", "inlbf", "inlbs", "lbsin", "inchpound", "inchpounds", "poundinch", "poundinches"], POUND_INCH;
        /// Kilogram-force metre.
        KilogramMeter = "kgf·m", ["kgm", "mkg", "mkgf", "mkp", "kpm"], STANDARD_GRAVITY;
        /// Kilogram-force centimetre.
        KilogramCentimeter = "kgf·cm", ["kgcm", "cmkg", "kpcm"], STANDARD_GRAVITY / 100.0;
        /// Centinewton-metre.
        CentinewtonMeter = "cN·m", ["cnm", "ncm"], 0.01;
    }
}

units! {
    /// Units of length.
    LengthUnit of Length {
        /// Millimetre.
        Millimeter = "mm", ["millimeter", "millimeters", "millimetre", "millimetres"], 1.0;
        /// Inch.
        Inch = "in", ["inch", "inches", "\"", "″"], MILLIMETERS_PER_INCH;
        /// Centimetre.
        Centimeter = "cm", ["centimeter", "centimetre"], 10.0;
        /// Metre.
        Meter = "m", ["meter", "metre"], 1000.0;
    }
}

units! {
    /// Units of force.
    ForceUnit of Force {
        /// Newton.
        Newton = "N", ["newton", "newtons"], 1.0;
        /// Kilonewton.
        Kilonewton = "kN", ["kilonewton", "kilonewtons"], 1000.0;
        /// Pound-force.
        PoundForce = "lbf", ["lb", "lbs", "pound", "pounds"], NEWTONS_PER_POUND_FORCE;
        /// Thousand pounds-force.
        Kip = "kip", ["kips"], NEWTONS_PER_POUND_FORCE * 1000.0;
        /// Kilogram-force.
        KilogramForce = "kgf", ["kg", "kp"], STANDARD_GRAVITY;
    }
}

/// Megapascals in a pound-force per square inch.
const POUND_PER_SQUARE_INCH: f64 = NEWTONS_PER_POUND_FORCE / (MILLIMETERS_PER_INCH * MILLIMETERS_PER_INCH);

units! {
    /// Units of stress and strength.
    StressUnit of Stress {
        /// Megapascal, the same as N/mm².
        Megapascal = "MPa", ["n/mm2", "n/mm²", "megapascal", "megapascals"], 1.0;
        /// Gigapascal.
        Gigapascal = "GPa", ["gigapascal", "gigapascals"], 1000.0;
        /// Pound-force per square inch.
        PoundPerSquareInch = "psi", ["lbf/in2", "lbf/in²"], POUND_PER_SQUARE_INCH;
        /// Thousand pounds-force per square inch.
        KipPerSquareInch = "ksi", ["kpsi"], POUND_PER_SQUARE_INCH * 1000.0;
    }
}

units! {
    /// Units of the angle of turn.
    AngleUnit of Angle {
        /// Degree.
        Degree = "°", ["deg", "degree", "degrees", "º"], 1.0;
        /// Full turn.
        Turn = "turn", ["turns", "rev"], 360.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_units_of_a_kind_share_a_name() {
        fn check<U: Unit>() {
            for unit in U::ALL {
                for name in unit.spellings().iter().chain([&unit.symbol()]) {
                    assert_eq!(U::from_name(name), Some(*unit), "{name}");
                }
            }
        }
        check::<TorqueUnit>();
        check::<LengthUnit>();
        check::<ForceUnit>();
        check::<StressUnit>();
        check::<AngleUnit>();
    }

    /// NIST SP 811 (2008), appendix B.8: the factors as printed there, from memory.
    #[test]
    fn factors_as_printed_in_nist_sp_811() {
        let near = |value: f64, printed: f64| (value / printed - 1.0).abs() < 1e-6;
        assert!(near(TorqueUnit::PoundFoot.in_base(), 1.355_818));
        assert!(near(TorqueUnit::PoundInch.in_base(), 0.112_984_8));
        assert!(near(ForceUnit::PoundForce.in_base(), 4.448_222));
        assert!(near(StressUnit::KipPerSquareInch.in_base(), 6.894_757));
    }
}
