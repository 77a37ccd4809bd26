//! How coarsely a column is rounded: a column of fives and tens does not print 83, and one that does prints anything.

use crate::units::Number;

/// Upper limits of the steps, as shares of the value; the last is open.
const LIMITS: [f64; LEVELS - 1] = [0.002, 0.005, 0.012, 0.03, 0.07, 0.15];
/// How many sizes of step are told apart.
pub const LEVELS: usize = 7;
/// Numbers are taken to four decimals.
const PARTS: f64 = 10_000.0;
/// How many numbers the learned prior is worth beside the column's own.
const PRIOR_WEIGHT: f64 = 4.0;

/// How often values are rounded to steps of which size, relative to the value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grain([f64; LEVELS]);

impl Grain {
    /// These shares of steps.
    #[must_use]
    pub fn new(shares: [f64; LEVELS]) -> Self {
        Self(shares)
    }

    /// The habits that these numbers show, beside what tables usually do.
    #[must_use]
    pub fn of(numbers: &[Number], usual: &Self) -> Self {
        Self::learn(numbers, usual, PRIOR_WEIGHT)
    }

    /// The habits that these numbers show, with `prior` counting as `weight` numbers.
    #[must_use]
    pub fn learn(numbers: &[Number], prior: &Self, weight: f64) -> Self {
        let mut now = *prior;
        for _ in 0..3 {
            let mut counts = prior.0.map(|share| share * weight);
            for number in numbers {
                let shares = now.shares(*number);
                let sum: f64 = shares.iter().sum();
                if sum > 0.0 {
                    counts.iter_mut().zip(shares).for_each(|(count, share)| *count += share / sum);
                }
            }
            let sum: f64 = counts.iter().sum();
            now = Self(counts.map(|count| count / sum));
        }
        now
    }

    /// The shares of the steps.
    #[must_use]
    pub fn weights(&self) -> [f64; LEVELS] {
        self.0
    }

    /// How much of the logarithmic scale the number stands for: its step over its value, averaged over the steps
    /// that it may have been rounded to.
    #[must_use]
    pub fn mass(&self, number: Number) -> f64 {
        self.shares(number).iter().sum::<f64>().max(1e-6)
    }

    fn shares(&self, number: Number) -> [f64; LEVELS] {
        let mut shares = [0.0; LEVELS];
        let mut steps = [0.0; LEVELS];
        let parts = parts(number);
        for step in steps_within(parts) {
            let relative = step as f64 / parts as f64;
            let level = LIMITS.iter().position(|limit| relative < *limit).unwrap_or(LEVELS - 1);
            steps[level] += 1.0;
            if parts.is_multiple_of(step) {
                shares[level] += relative;
            }
        }
        for level in 0..LEVELS {
            shares[level] *= if steps[level] > 0.0 { self.0[level] / steps[level] } else { 0.0 };
        }
        shares
    }
}

/// The number in ten-thousandths.
fn parts(number: Number) -> u64 {
    (number.value() * PARTS).round() as u64
}

/// The steps that people round to, in ten-thousandths: 1, 2, 2.5 and 5 of each decade.
const STEPS: [u64; 39] = {
    let mut steps = [0; 39];
    let (mut decade, mut i) = (1, 0);
    while i < 39 {
        // 2.5 is no whole number of ten-thousandths in the first decade: 2 stands there twice.
        let step = [decade, 2 * decade, if decade == 1 { 2 } else { decade / 2 * 5 }, 5 * decade][i % 4];
        steps[i] = step;
        if i % 4 == 3 {
            decade *= 10;
        }
        i += 1;
    }
    steps
};

/// The steps from a two-thousandth to a quarter of the value.
fn steps_within(parts: u64) -> impl DoubleEndedIterator<Item = u64> {
    let from = STEPS.partition_point(|step| step * 2000 < parts);
    let to = STEPS.partition_point(|step| step * 4 <= parts);
    STEPS[from..to.max(from)].iter().copied()
}

/// The largest step that people round to and that this number is a multiple of, at most `limit` of its value.
#[must_use]
pub fn roundest_step(number: Number, limit: f64) -> f64 {
    let parts = parts(number);
    let fits = |step: &u64| parts.is_multiple_of(*step) && *step as f64 <= limit * parts as f64;
    steps_within(parts).rev().find(fits).unwrap_or(0) as f64 / PARTS
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(texts: &[&str]) -> Vec<Number> {
        texts.iter().map(|text| text.parse().expect(text)).collect()
    }

    #[test]
    fn a_column_of_tens_does_not_print_odd_numbers() {
        let column = numbers(&["110", "120", "150", "180", "210", "240", "300", "360", "420", "500"]);
        let grain = Grain::of(&column, &Grain::new(crate::audit::slip::priors::Priors::LEARNED.grain));
        let [odd, even] = [&numbers(&["263"])[0], &numbers(&["260"])[0]].map(|number| grain.mass(*number));
        assert!(even > 8.0 * odd, "{even} {odd}");
    }

    #[test]
    fn the_roundest_step_is_what_the_number_is_a_multiple_of() {
        let step = |text: &str| roundest_step(text.parse().expect(text), 0.08);
        assert!((step("110") - 5.0).abs() < 1e-9, "{}", step("110"));
        assert!((step("113") - 1.0).abs() < 1e-9);
        assert!((step("35") - 2.5).abs() < 1e-9);
        assert!((step("3.8132") - 0.0002).abs() < 1e-9 || step("3.8132") < 0.003, "{}", step("3.8132"));
    }
}
