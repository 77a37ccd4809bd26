//! What is expected of a value: a mixture of heavy-tailed bells on a logarithmic scale.

/// One bell: Student's t with four degrees of freedom, or a normal one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bell {
    /// Share of the mixture.
    pub weight: f64,
    /// Middle.
    pub mean: f64,
    /// Scale.
    pub scale: f64,
    /// Has it the light tails of a normal bell?
    pub light: bool,
}

impl Bell {
    fn height(&self, at: f64) -> f64 {
        if !self.light {
            return bell_density(at, self.mean, self.scale);
        }
        let distance = (at - self.mean) / self.scale;
        (-distance * distance / 2.0).exp() / (self.scale * (2.0 * std::f64::consts::PI).sqrt())
    }
}

/// A mixture of bells whose weights add up to one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Expectation {
    bells: Vec<Bell>,
}

impl Expectation {
    /// The mixture of these bells; their weights are brought to a sum of one.
    #[must_use]
    pub fn new(mut bells: Vec<Bell>) -> Self {
        let sum: f64 = bells.iter().map(|bell| bell.weight).sum();
        bells.iter_mut().for_each(|bell| bell.weight /= sum);
        Self { bells }
    }

    /// Mixes with another: `share` of the other, the rest of this one.
    #[must_use]
    pub fn mixed(self, other: &Self, share: f64) -> Self {
        let mine = self.bells.iter().map(|bell| Bell { weight: bell.weight * (1.0 - share), ..*bell });
        let its = other.bells.iter().map(|bell| Bell { weight: bell.weight * share, ..*bell });
        Self { bells: mine.chain(its).collect() }
    }

    /// Probability per unit of the logarithm.
    #[must_use]
    pub fn density(&self, at: f64) -> f64 {
        self.bells.iter().map(|bell| bell.weight * bell.height(at)).sum()
    }

    /// Where the highest bell stands, and how wide it is.
    #[must_use]
    pub fn main(&self) -> Option<Bell> {
        let height = |bell: &&Bell| bell.weight / bell.scale;
        self.bells.iter().max_by(|a, b| height(a).total_cmp(&height(b))).copied()
    }

    /// The density at the top of the highest bell.
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.main().map_or(0.0, |bell| self.density(bell.mean))
    }
}

/// Density of Student's t with four degrees of freedom.
#[must_use]
pub fn bell_density(at: f64, mean: f64, scale: f64) -> f64 {
    let distance = (at - mean) / scale;
    let base = 1.0 + distance * distance / 4.0;
    // base^-2.5 without a power function: this is the innermost loop.
    0.375 / scale / (base * base * base.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bell_adds_up_to_one() {
        let steps = 200_000;
        let step = 400.0 / f64::from(steps);
        let sum: f64 = (0..steps).map(|i| bell_density(-200.0 + step * f64::from(i), 1.0, 0.7) * step).sum();
        assert!((sum - 1.0).abs() < 1e-4, "{sum}");
    }

    #[test]
    fn mixing_keeps_the_sum() {
        let narrow = Expectation::new(vec![Bell { weight: 3.0, mean: 0.0, scale: 0.1, light: false }]);
        let wide = Expectation::new(vec![
            Bell { weight: 1.0, mean: 1.0, scale: 1.0, light: false },
            Bell { weight: 1.0, mean: 2.0, scale: 1.0, light: false },
        ]);
        let mixed = narrow.mixed(&wide, 0.25);
        assert!((mixed.bells.iter().map(|bell| bell.weight).sum::<f64>() - 1.0).abs() < 1e-12);
        assert!(mixed.main().is_some_and(|bell| bell.mean == 0.0));
    }
}
