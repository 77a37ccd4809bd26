//! How well two printed units agree: conversions are rounded, truncated, rounded to fives and tens, or made with a
//! rough factor, and only what none of these explains speaks for a wrong figure.

use super::entry::{Entry, Figures, Value};
use super::grain::roundest_step;
use super::index::Index;
use super::priors::Priors;
use crate::units::{Number, Unit};
use rayon::prelude::*;
use std::collections::HashMap;

/// Ways in which right figures in two units go together, from the strictest on.
pub const WAYS: usize = 6;
/// Conversion factors are given to three or four figures.
const FACTOR: f64 = 0.0005;
/// A rough conversion is off by about this much.
const ROUGH: f64 = 0.01;
/// Rounding to fives and tens moves a right figure by no more than this.
const ROUND_MAX: f64 = 0.035;
/// The roundest steps that conversions are rounded to, as a share of the value.
const STEP_MAX: f64 = 0.1;
/// How many pairs of figures the learned shares are worth beside the document's own.
const PRIOR_WEIGHT: f64 = 0.5;

/// How the figures of a document agree: shares of second figures rounded from the first, of first figures rounded
/// from the second, of those cut off, rounded to a round step, roughly converted, and not explained.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement([f64; WAYS]);

impl Agreement {
    /// These shares.
    #[must_use]
    pub fn new(shares: [f64; WAYS]) -> Self {
        Self(shares)
    }

    /// The habits that the counted pairs of a document show, beside what tables usually do. What nothing explains
    /// is no habit: a document with many misprints must not excuse them.
    #[must_use]
    fn of(counts: [f64; WAYS], usual: &Self) -> Self {
        const HABITS: usize = WAYS - 1;
        const ROUGHLY: usize = WAYS - 2;
        let mut counts = counts;
        // One rough conversion among exact ones is a misprint sooner than a habit.
        counts[ROUGHLY] = (counts[ROUGHLY] - 1.0).max(0.0);
        let sum: f64 = counts[..HABITS].iter().sum::<f64>() + PRIOR_WEIGHT;
        let mut shares = usual.0;
        for way in 0..HABITS {
            shares[way] = (counts[way] + PRIOR_WEIGHT * usual.0[way]) / sum;
        }
        Self(shares)
    }

    /// How probable the second figure is where the first is right, per unit of its logarithm.
    #[must_use]
    pub fn likelihood(&self, first: Value, second: Value) -> f64 {
        let sizes = (first.unit.in_base(), second.unit.in_base());
        match (first.figures, second.figures) {
            (Figures::Range(a, b), Figures::Range(c, d)) => {
                let ends = self.pair(a, c, sizes) * self.pair(b, d, sizes);
                0.9 * ends + 0.1 * self.middle_and_half((a, b), (c, d), sizes)
            }
            (Figures::Around(a, off), Figures::Around(c, its_off)) => {
                self.pair(a, c, sizes) * (0.9 * self.pair(off, its_off, sizes) + 0.1)
            }
            (Figures::Range(a, b), Figures::One(c)) => (self.pair(a, c, sizes) + self.pair(b, c, sizes)) / 2.0,
            (Figures::One(a) | Figures::Around(a, _), Figures::One(c) | Figures::Around(c, _)) => {
                self.pair(a, c, sizes)
            }
            (Figures::One(a), Figures::Range(c, d)) => (self.pair(a, c, sizes) + self.pair(a, d, sizes)) / 2.0,
            // A range in one unit and a tolerance in the other: their ends are compared.
            _ => {
                let ((a, b), (c, d)) = (ends_as_numbers(first.figures), ends_as_numbers(second.figures));
                self.pair(a, c, sizes) * self.pair(b, d, sizes)
            }
        }
    }

    fn pair(&self, a: Number, b: Number, sizes: (f64, f64)) -> f64 {
        if sizes.0 == sizes.1 {
            return self.copy(a, b);
        }
        let windows = windows(a, b, sizes);
        let explained: f64 = windows.iter().zip(self.0).map(|(window, share)| window.map_or(0.0, |w| share / w)).sum();
        explained.max(1e-9)
    }

    /// The same unit twice is a copy: equal, or not.
    fn copy(&self, a: Number, b: Number) -> f64 {
        let window = (2.0 * b.rounding() / b.value().max(1e-9)).clamp(1e-4, 0.5);
        let equal = (a.value() - b.value()).abs() <= 1e-9 * b.value();
        if equal { (1.0 - self.0[WAYS - 1]) / window } else { self.0[WAYS - 1] * 0.25 }
    }

    /// A tolerance around a middle, converted as such and printed as ends.
    fn middle_and_half(&self, first: (Number, Number), second: (Number, Number), sizes: (f64, f64)) -> f64 {
        let parts = |(low, high): (Number, Number)| {
            let (low, high) = (low.value(), high.value());
            (f64::midpoint(low, high), (high - low) / 2.0)
        };
        let ((m1, h1), (m2, h2)) = (parts(first), parts(second));
        if h1 <= 0.0 || h2 <= 0.0 {
            return 0.0;
        }
        let number = |value| Number::from_f64(value, 6);
        /// As often as this the tolerance takes the step of its middle.
        const STEP_OF_MIDDLE: f64 = 0.3;
        let as_middle = half_likelihood((m1, h1), (m2, h2), sizes);
        let half = (1.0 - STEP_OF_MIDDLE) * self.pair(number(h1), number(h2), sizes) + STEP_OF_MIDDLE * as_middle;
        let both = self.pair(number(m1), number(m2), sizes) * half;
        // From (ln middle, ln half) to (ln low, ln high).
        both * second.0.value() * second.1.value() / (2.0 * m2 * h2)
    }
}

/// Whether two figures in two units can be one torque, however coarsely each was rounded.
#[must_use]
pub fn units_agree(first: Value, second: Value, priors: &Priors) -> bool {
    Agreement::new(priors.agreement).likelihood(first, second) > 1.0 || are_rounded_alike(first, second)
}

/// Whether the ends of both lie within the steps that they may have been rounded to.
fn are_rounded_alike(first: Value, second: Value) -> bool {
    let step = |n: Number| roundest_step(n, STEP_MAX).max(2.0 * n.rounding()) / 2.0 / n.value().max(1e-9);
    let reach = |value: Value| value.figures.numbers().map(step).fold(ROUGH, f64::max);
    let within = reach(first) + reach(second);
    let near = |a: f64, b: f64| {
        a > 0.0 && b > 0.0 && (a * first.unit.in_base() / (b * second.unit.in_base())).ln().abs() <= within
    };
    let ((a, b), (c, d)) = (first.figures.ends(), second.figures.ends());
    near(a, c) && near(b, d)
}

/// A tolerance is rounded to the same step as its middle, however coarse that is for it.
fn half_likelihood(first: (f64, f64), second: (f64, f64), sizes: (f64, f64)) -> f64 {
    const NOT_EXPLAINED: f64 = 0.02;
    let factor = sizes.0 / sizes.1;
    let step = |middle: f64| roundest_step(Number::from_f64(middle, 6), STEP_MAX);
    let step = step(second.0).max(step(first.0) * factor);
    let off = (first.1 * factor - second.1).abs();
    if step > 0.0 && off <= step / 2.0 * 1.001 { second.1 / step } else { NOT_EXPLAINED }
}

fn ends_as_numbers(figures: Figures) -> (Number, Number) {
    match figures {
        Figures::One(n) => (n, n),
        Figures::Range(a, b) => (a, b),
        Figures::Around(..) => {
            let (low, high) = figures.ends();
            (Number::from_f64(low, 4), Number::from_f64(high, 4))
        }
    }
}

/// For each way, how wide the window on the logarithmic scale is within which it puts the second figure, where
/// the second figure lies in it.
fn windows(a: Number, b: Number, sizes: (f64, f64)) -> [Option<f64>; WAYS] {
    let (first, second) = (a.value() * sizes.0 / sizes.1, b.value());
    let back = second * sizes.1 / sizes.0;
    if first <= 0.0 || second <= 0.0 {
        return [None; WAYS];
    }
    // Either figure may be the converted one: how far each is off, in its own last digit.
    let (last, last_back) = (2.0 * b.rounding(), 2.0 * a.rounding());
    let (off, off_back) = ((second - first).abs(), (a.value() - back).abs());
    let window = |last: f64, value: f64| (last / value + 2.0 * FACTOR).min(0.5);
    let (forth, back) = (window(last, second), window(last_back, a.value()));
    // Nobody states a torque to two digits more than its conversion.
    let converted_back = figures(b) <= figures(a) + 1;
    let cut = off <= 1.001 * last || (off_back <= 1.001 * last_back && converted_back);
    let steps = (roundest_step(b, STEP_MAX), roundest_step(a, STEP_MAX));
    let distance = (second / first).ln().abs();
    let round = distance <= ROUND_MAX && (off <= steps.0 / 2.0 * 1.001 || off_back <= steps.1 / 2.0 * 1.001);
    let rounder = (steps.0 / second).max(steps.1 / a.value()).max(forth).max(back).min(2.0 * ROUND_MAX);
    [
        (off <= 0.501 * last + FACTOR * second).then_some(forth),
        (off_back <= 0.501 * last_back + FACTOR * a.value() && converted_back).then_some(back),
        cut.then_some(2.0 * forth.max(back)),
        round.then_some(rounder),
        Some(2.0 * ROUGH * (distance / ROUGH).min(60.0).exp()),
        Some(1.0 / odd(distance)),
    ]
}

/// How probable a right pair is that nothing explains, per unit of the logarithm: most are off by little, and only a few
/// have nothing to do with each other.
fn odd(distance: f64) -> f64 {
    const NEAR: f64 = 0.015;
    const ANYTHING: f64 = 0.1;
    (1.0 - ANYTHING) / (2.0 * NEAR) * (-distance / NEAR).exp() + ANYTHING / 4.0
}

/// How many digits a number has, zeros at its ends aside.
fn figures(number: Number) -> usize {
    let digits: String = number.to_string().chars().filter(char::is_ascii_digit).collect();
    digits.trim_matches('0').len()
}

/// How the documents of a book agree with their second figures.
#[derive(Debug)]
pub struct Agreements {
    usual: Agreement,
    documents: HashMap<u64, Counts>,
    /// Entries with printed figures, by their document.
    pub(super) printed: Index,
}

/// How many pairs go which way, in parts: whole numbers add up to the same sum in whatever order.
type Counts = [i64; WAYS];
/// Parts of one pair.
const COUNT_PARTS: f64 = (1_i64 << 40) as f64;

impl Agreements {
    /// What the pairs of these entries show.
    #[must_use]
    pub fn of(entries: &[Entry], usual: Agreement) -> Self {
        let counts: Vec<(u64, Counts)> =
            entries.par_iter().filter_map(|entry| Some((entry.document, counts(entry, &usual)?))).collect();
        let printed = Index::of(entries.len(), |i| has_printed(&entries[i]).then_some(entries[i].document));
        let mut all = Self { usual, documents: HashMap::new(), printed };
        counts.into_iter().for_each(|(document, counts)| all.add(document, counts, 1));
        all
    }

    fn add(&mut self, document: u64, counts: Counts, times: i64) {
        let sums = self.documents.entry(document).or_default();
        (0..WAYS).for_each(|way| sums[way] += times * counts[way]);
    }

    /// Enters an entry that has come. Says whether the document shows another habit now.
    pub fn enter(&mut self, entry: &Entry, place: u32, comes_before: impl Fn(usize) -> bool) -> bool {
        if has_printed(entry) {
            self.printed.add(entry.document, place, comes_before);
        }
        self.change(entry, 1)
    }

    /// Strikes out an entry that has gone. Says whether the document shows another habit now.
    pub fn strike(&mut self, entry: &Entry, place: u32) -> bool {
        if has_printed(entry) {
            self.printed.remove(entry.document, place);
        }
        self.change(entry, -1)
    }

    fn change(&mut self, entry: &Entry, times: i64) -> bool {
        let counts = counts(entry, &self.usual);
        if let Some(counts) = counts {
            self.add(entry.document, counts, times);
        }
        counts.is_some()
    }

    /// How the other entries of its document agree.
    #[must_use]
    pub fn without(&self, entry: &Entry) -> Agreement {
        let Some(mut sums) = self.documents.get(&entry.document).copied() else { return self.usual };
        if let Some(counts) = counts(entry, &self.usual) {
            (0..WAYS).for_each(|way| sums[way] -= counts[way]);
        }
        Agreement::of(sums.map(|sum| sum as f64 / COUNT_PARTS), &self.usual)
    }
}

fn has_printed(entry: &Entry) -> bool {
    !entry.printed.is_empty()
}

fn counts(entry: &Entry, usual: &Agreement) -> Option<Counts> {
    Some(way(entry, usual)?.map(|share| (share * COUNT_PARTS).round() as i64))
}

/// Which ways explain an entry's second figures, as shares that add up to one.
#[must_use]
pub fn way(entry: &Entry, usual: &Agreement) -> Option<[f64; WAYS]> {
    let second = entry.printed.iter().find(|second| second.unit != entry.stated.unit)?;
    let (a, b) = (entry.stated.figures.numbers().last()?, second.figures.numbers().last()?);
    let windows = windows(a, b, (entry.stated.unit.in_base(), second.unit.in_base()));
    let mut shares = [0.0; WAYS];
    for way in 0..WAYS {
        shares[way] = windows[way].map_or(0.0, |window| usual.0[way] / window);
    }
    let sum: f64 = shares.iter().sum();
    (sum > 0.0).then(|| shares.map(|share| share / sum))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::TorqueUnit;

    fn value(a: &str, b: &str, unit: TorqueUnit) -> Value {
        let number = |text: &str| text.parse().expect(text);
        let figures = if a == b { Figures::One(number(a)) } else { Figures::Range(number(a), number(b)) };
        Value { figures, unit }
    }

    #[track_caller]
    fn agree(first: (&str, &str), second: (&str, &str)) -> f64 {
        let first = value(first.0, first.1, TorqueUnit::PoundFoot);
        Agreement::new(Priors::LEARNED.agreement).likelihood(first, value(second.0, second.1, TorqueUnit::NewtonMeter))
    }

    #[test]
    fn rounded_conversions_agree_and_wrong_digits_do_not() {
        // Read from published manuals: 25 lbf·ft = 35 N·m and 65 lbf·ft = 90 N·m are right where a page rounds to
        // fives; 20 = 25 is a misprint for 27, 800 = 185 for 1085.
        assert!(agree(("110", "110"), ("149", "149")) > 1000.0 * agree(("110", "110"), ("141", "141")));
        assert!(agree(("25", "25"), ("35", "35")) > 20.0 * agree(("20", "20"), ("25", "25")));
        assert!(agree(("800", "800"), ("1085", "1085")) > 1000.0 * agree(("800", "800"), ("185", "185")));
    }

    #[test]
    fn figures_agree_however_coarsely_they_are_rounded_but_not_in_swapped_units() {
        let pair = |first: &str, second: &str, units: (TorqueUnit, TorqueUnit)| {
            units_agree(value(first, first, units.0), value(second, second, units.1), &Priors::LEARNED)
        };
        let (feet, meters) = (TorqueUnit::PoundFoot, TorqueUnit::NewtonMeter);
        for (first, second) in [("65", "90"), ("25", "35"), ("110", "149"), ("110", "150"), ("33", "45")] {
            assert!(pair(first, second, (feet, meters)), "{first} {second}");
            assert!(!pair(first, second, (meters, feet)), "{first} {second} swapped");
        }
    }

    #[test]
    fn a_tolerance_converted_as_such_agrees() {
        // 75 ± 10 lbf·ft and 100 ± 14 N·m, printed as ends.
        let as_tolerance = agree(("65", "85"), ("86", "114"));
        assert!(as_tolerance > 5.0 * agree(("65", "85"), ("83", "114")), "{as_tolerance}");
    }
}
