//! What the model takes in: one tightening value as written, and what is known about its thread and its source.

use super::index::joined;
use crate::units::{Number, TorqueUnit, Unit};
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::{Deref, DerefMut};
use std::sync::Arc;

/// The numbers of a torque as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Figures {
    /// One value.
    One(Number),
    /// From one value to another.
    Range(Number, Number),
    /// A value and how far it may be off, in the same unit.
    Around(Number, Number),
}

impl Figures {
    /// The lower and the higher end, in the unit they were written in.
    #[must_use]
    pub fn ends(self) -> (f64, f64) {
        match self {
            Self::One(n) => (n.value(), n.value()),
            Self::Range(a, b) => (a.value(), b.value()),
            Self::Around(n, off) => ((n.value() - off.value()).max(0.0), n.value() + off.value()),
        }
    }

    /// The value to aim at, in the unit it was written in.
    #[must_use]
    pub fn middle(self) -> f64 {
        match self {
            Self::One(n) | Self::Around(n, _) => n.value(),
            Self::Range(a, b) => (a.value() * b.value()).sqrt(),
        }
    }

    /// How wide the range is: the logarithm of its ratio, negative with its ends swapped, nothing for one value.
    #[must_use]
    pub fn width(self) -> Option<f64> {
        match self {
            Self::Range(a, b) if a.value() > 0.0 && b.value() > 0.0 => Some((b.value() / a.value()).ln()),
            _ => None,
        }
    }

    /// The numbers that were written as values.
    pub fn numbers(self) -> impl Iterator<Item = Number> {
        let (first, second) = match self {
            Self::One(n) | Self::Around(n, _) => (n, None),
            Self::Range(a, b) => (a, Some(b)),
        };
        std::iter::once(first).chain(second)
    }

    /// The same form with every value changed.
    pub(crate) fn map(self, change: impl Fn(Number) -> Option<Number>) -> Option<Self> {
        Some(match self {
            Self::One(n) => Self::One(change(n)?),
            Self::Range(a, b) => Self::Range(change(a)?, change(b)?),
            Self::Around(n, off) => Self::Around(change(n)?, change(off).unwrap_or(off)),
        })
    }

    /// Are these the same numbers, however they were written?
    #[must_use]
    pub fn same_as(self, other: Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs().max(b.abs());
        let ((a, b), (c, d)) = (self.ends(), other.ends());
        near(a, c) && near(b, d)
    }
}

/// Numbers with their unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Value {
    /// The numbers.
    pub figures: Figures,
    /// The unit they were written with.
    pub unit: TorqueUnit,
}

impl Value {
    /// Natural logarithm of the value to aim at in newton-metres; nothing for zero.
    #[must_use]
    pub fn ln_newton_meters(self) -> Option<f64> {
        let value = self.figures.middle() * self.unit.in_base();
        (value > 0.0).then(|| value.ln())
    }

    /// Are these the same figures in the same unit?
    #[must_use]
    pub fn is_copy_of(self, other: Self) -> bool {
        self.unit == other.unit && self.figures.same_as(other.figures)
    }

    /// Is it the same torque to a part in ten thousand?
    #[must_use]
    pub fn equals(self, other: Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-4 * a.abs().max(b.abs());
        let ((a, b), (c, d)) = (self.figures.ends(), other.figures.ends());
        let (mine, its) = (self.unit.in_base(), other.unit.in_base());
        near(a * mine, c * its) && near(b * mine, d * its)
    }
}

impl std::fmt::Display for Value {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.figures {
            Figures::One(n) => write!(f, "{n} {}", self.unit),
            Figures::Range(a, b) => write!(f, "{a}-{b} {}", self.unit),
            Figures::Around(n, off) => write!(f, "{n} ± {off} {}", self.unit),
        }
    }
}

/// The thread as far as the model needs it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Nominal diameter in millimetres.
    pub diameter_mm: f64,
    /// Pitch in millimetres.
    pub pitch_mm: f64,
    /// Finer than the coarse series of its system?
    pub fine: bool,
    /// Torque in newton-metres that loads the thread to a combined stress of one megapascal at friction 0.12.
    pub torque_per_mpa: f64,
}

impl Size {
    /// Diameter and pitch in micrometres: the same for the same thread.
    #[must_use]
    pub fn key(&self) -> (i64, i64) {
        let micrometers = |mm: f64| (mm * 1000.0).round() as i64;
        (micrometers(self.diameter_mm), micrometers(self.pitch_mm))
    }

    /// Is it a thread of the inch system? Its pitch is a whole number of threads per inch, a half at the most from 2 in on.
    #[must_use]
    pub fn is_inch(&self) -> bool {
        let whole = |n: f64| (n - n.round()).abs() < 1e-6;
        let per_inch = 25.4 / self.pitch_mm;
        whole(per_inch) || (per_inch < 6.0 && whole(2.0 * per_inch))
    }

    /// A number of the thread: the same for the same thread.
    #[must_use]
    pub fn number(&self) -> u64 {
        let (diameter, pitch) = self.key();
        ((diameter as u64) << 32) | pitch as u64
    }
}

/// Which torque of its plan a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// The torque that the fastener is left at.
    Final,
    /// A torque that an angle follows.
    Snug,
    /// A torque that a later, higher torque follows.
    Step,
}

/// One stated torque with what the model may know about it. A book has very many of them, and most are alike but for the
/// record and the joint, so the rest is shared and read through the entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Which record it is of: a number that the caller chose. The entries of a record stand together, in the order of its
    /// stages.
    pub record: usize,
    /// Which joint it closes.
    pub joint: u64,
    /// What is written, and what is known about it.
    pub written: Arc<Written>,
}

/// A torque as it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The torque as stated.
    pub stated: Value,
    /// The same torque as the source prints it, in other units.
    pub printed: Box<[Value]>,
    /// What it has in common with others of its kind, which its fields can be read through.
    pub common: Arc<Common>,
}

/// What many torques of a book have in common.
#[derive(Debug, PartialEq)]
pub struct Common {
    /// Which document it was read from.
    pub document: u64,
    /// Which column of that document: the same class, condition, role and tapped part, the same torque of the plan.
    /// No two documents share one.
    pub column: u64,
    /// Which property class; nothing where none is stated.
    pub class: Option<u64>,
    /// The thread; nothing where it is unknown.
    pub size: Option<Size>,
    /// Yield strength in megapascals for that class and size; nothing where a standard gives none.
    pub yield_mpa: Option<f64>,
    /// Where the record states the friction: the torque it takes over that at friction 0.12; else 1.
    pub friction_ratio: f64,
    /// Does the record name a size, a class and a condition, and no place? Then it is like a row of a general table.
    pub general: bool,
    /// Is it a fastening that the bolt's strength limits?
    pub bolted: bool,
    /// Which torque of its plan it is.
    pub part: Part,
}

impl Deref for Entry {
    type Target = Written;
    fn deref(&self) -> &Written {
        &self.written
    }
}

/// An entry that is changed shares no more what is written.
impl DerefMut for Entry {
    fn deref_mut(&mut self) -> &mut Written {
        Arc::make_mut(&mut self.written)
    }
}

impl Deref for Written {
    type Target = Common;
    fn deref(&self) -> &Common {
        &self.common
    }
}

/// Lets all entries that are alike share what they have in common.
#[derive(Debug, Default)]
pub struct Sharing {
    common: HashMap<u64, Arc<Common>>,
    written: HashMap<u64, Arc<Written>>,
}

impl Sharing {
    /// Lets these share it among each other and with those before.
    pub fn share(&mut self, entries: &mut [Entry]) {
        for entry in entries {
            let common = entry.common.number();
            let mut hasher = DefaultHasher::new();
            (common, entry.stated, &entry.printed).hash(&mut hasher);
            let number = hasher.finish();
            if !self.written.contains_key(&number) {
                let shared = self.common.entry(common).or_insert_with(|| entry.common.clone());
                if !Arc::ptr_eq(shared, &entry.common) && *shared == entry.common {
                    entry.common = shared.clone();
                }
            }
            let shared = self.written.entry(number).or_insert_with(|| entry.written.clone());
            if *shared == entry.written {
                entry.written = shared.clone();
            }
        }
    }
}

impl Common {
    /// A number of it: the same for the same, and hardly ever for another.
    fn number(&self) -> u64 {
        let size = self.size.map_or(0, |size| size.number());
        joined(joined(self.column, size), joined(self.class.unwrap_or(0), self.friction_ratio.to_bits()))
    }
}

impl Entry {
    /// ln(torque ÷ what the thread bears per megapascal): the logarithm of a stress in megapascals.
    #[must_use]
    pub fn ln_stress(&self) -> Option<f64> {
        Some(self.stated.ln_newton_meters()? - self.size?.torque_per_mpa.ln())
    }

    /// What rounding alone may have moved it by, as a standard deviation of its logarithm.
    #[must_use]
    pub fn rounding(&self) -> f64 {
        /// Standard deviation of an even spread of half-width one.
        const EVEN: f64 = 0.577;
        let relative = |n: Number| if n.value() > 0.0 { EVEN * n.rounding() / n.value() } else { 0.0 };
        self.stated.figures.numbers().map(relative).fold(0.0, f64::max)
    }
}
