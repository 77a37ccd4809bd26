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
        let value = number.value() * PARTS;
        if value < 1.0 {
            return shares;
        }
        for step in steps_within(value) {
            let relative = step / value;
            let level = LIMITS.iter().position(|limit| relative < *limit).unwrap_or(LEVELS - 1);
            steps[level] += 1.0;
            let times = value / step;
            if (times - times.round()).abs() < 1e-6 * times {
                shares[level] += relative;
            }
        }
        for level in 0..LEVELS {
            shares[level] *= if steps[level] > 0.0 { self.0[level] / steps[level] } else { 0.0 };
        }
        shares
    }
}

/// The steps that people round to, in ten-thousandths, from a two-thousandth to a quarter of the value.
fn steps_within(value: f64) -> impl Iterator<Item = f64> {
    let decades = (0..12).map(|power| 10_f64.powi(power));
    decades.flat_map(|decade| [decade, 2.0 * decade, 2.5 * decade, 5.0 * decade]).filter(move |step| {
        let relative = step / value;
        (0.0005..=0.25).contains(&relative) && step.fract() == 0.0
    })
}

/// The largest step that people round to and that this number is a multiple of, at most `limit` of its value.
#[must_use]
pub fn roundest_step(number: Number, limit: f64) -> f64 {
    let value = number.value() * PARTS;
    let fits = |step: &f64| {
        let times = value / step;
        (times - times.round()).abs() < 1e-6 * times && step / value <= limit
    };
    steps_within(value).filter(fits).fold(0.0, f64::max) / PARTS
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
