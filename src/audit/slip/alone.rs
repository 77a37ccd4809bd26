//! What is expected of a torque that has no series: from its class, and from comparable records of the book.

use super::entry::{Entry, Part};
use super::expect::{Bell, Expectation};
use super::priors::{Priors, Spread};
use super::series::InSeries;
use std::collections::HashMap;

/// What comparable records of the book say: the same thread and class in another document.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparable {
    /// How many there are.
    pub count: usize,
    /// The middle of ln(torque in newton-metres).
    pub mean: f64,
    /// The scale within which another one is expected.
    pub scale: f64,
}

/// Same thread and class in two documents: general tables differ by this much on a logarithmic scale.
const BETWEEN_DOCUMENTS: f64 = 0.2;
/// So many comparable records is that figure worth beside their own scatter.
const BETWEEN_WEIGHT: f64 = 2.0;
/// How far comparable records are believed over the class.
const COMPARABLE_SHARE: f64 = 0.6;

/// Particular joints, and those with gaskets or soft parts: of 65 bolted joints of published manuals the least stood
/// at 0.30, a tenth below 0.48, half below 1.00 and the most at 1.79 of the torque for 90 % utilisation at friction
/// 0.12. Both are learned from that summary, not from rows.
const JOINTS: Spread = Spread { mean: 0.0, scale: 0.27 };
const SOFT_JOINTS: Spread = Spread { mean: -0.6, scale: 0.35 };
/// What is neither: right for a reason that nobody here knows.
const ANYHOW: Spread = Spread { mean: -0.3, scale: 0.7 };
/// Torques that an angle or a higher torque follows are a fifth to three fifths of the full one (common practice, no
/// source): the logarithm of that, and its scale.
const SNUG: Spread = Spread { mean: -1.0, scale: 0.5 };
/// The stress at which a torque is 1 on the scale of the learned priors: 0.9 of the yield strength (VDI 2230-1).
const UTILISATION: f64 = 0.9;

/// For each entry, what comparable records say; nothing where there are none.
#[must_use]
pub fn comparables(entries: &[Entry]) -> Vec<Option<Comparable>> {
    let key = |entry: &Entry| {
        let size = entry.size?;
        Some((entry.class?, size.key(), entry.part, entry.bolted))
    };
    let mut groups: HashMap<_, Vec<(Option<u32>, u32, f64)>> = HashMap::new();
    for entry in entries {
        if let (Some(key), Some(value)) = (key(entry), entry.stated.ln_newton_meters()) {
            groups.entry(key).or_default().push((entry.document, entry.joint, value));
        }
    }
    let one = |entry: &Entry| {
        let group = groups.get(&key(entry)?)?;
        let elsewhere = group.iter().filter(|(document, joint, _)| {
            if entry.document.is_some() { *document != entry.document } else { *joint != entry.joint }
        });
        summary(elsewhere.map(|(_, _, value)| *value))
    };
    entries.iter().map(one).collect()
}

fn summary(values: impl Iterator<Item = f64> + Clone) -> Option<Comparable> {
    let count = values.clone().count();
    if count == 0 {
        return None;
    }
    let number = count as f64;
    let mean = values.clone().sum::<f64>() / number;
    let squares: f64 = values.map(|value| (value - mean) * (value - mean)).sum();
    let variance = (BETWEEN_WEIGHT * BETWEEN_DOCUMENTS * BETWEEN_DOCUMENTS + squares) / (BETWEEN_WEIGHT + number - 1.0);
    Some(Comparable { count, mean, scale: (variance * (1.0 + 1.0 / number)).sqrt() })
}

/// What the class alone lets expect of ln(torque in newton-metres); nothing where strength is unknown or does not
/// limit the fastening.
#[must_use]
pub fn by_class(entry: &Entry, priors: &Priors) -> Option<Expectation> {
    if !entry.bolted {
        return None;
    }
    let full = (entry.size?.torque_per_mpa * UTILISATION * entry.yield_mpa?).ln();
    let bell = |spread: Spread, weight, light| Bell { weight, mean: full + spread.mean, scale: spread.scale, light };
    Some(match entry.part {
        Part::Final => Expectation::new(vec![
            bell(priors.tables, 0.5, true),
            bell(JOINTS, 0.3, true),
            bell(SOFT_JOINTS, 0.2, true),
            bell(ANYHOW, 0.004, false),
        ]),
        Part::Snug | Part::Step => Expectation::new(vec![bell(SNUG, 1.0, false)]),
    })
}

/// All that is expected of ln(torque in newton-metres); nothing where nothing can be said.
#[must_use]
pub fn expected(
    entry: &Entry,
    series: Option<&InSeries>,
    comparable: Option<&Comparable>,
    priors: &Priors,
) -> Option<Expectation> {
    let alone = by_class(entry, priors);
    let elsewhere =
        comparable.map(|c| Expectation::new(vec![Bell { weight: 1.0, mean: c.mean, scale: c.scale, light: false }]));
    let outside = match (alone, elsewhere) {
        (Some(alone), Some(elsewhere)) => Some(alone.mixed(&elsewhere, COMPARABLE_SHARE)),
        (alone, elsewhere) => alone.or(elsewhere.filter(|_| comparable.is_some_and(|c| c.count > 1))),
    };
    let Some(series) = series else { return outside };
    let (aside, far) = (priors.aside, priors.aside_scale);
    let bell = |weight, scale| Bell { weight, mean: series.torque.mean, scale, light: false };
    let inside =
        Expectation::new(vec![bell(1.0 - aside, series.torque.scale), bell(aside, series.torque.scale.max(far))]);
    let outside = outside.unwrap_or_else(|| {
        // Nothing is known of the bolt: assorted joints of one document scatter around each other.
        const ASSORTED: f64 = 0.6;
        Expectation::new(vec![bell(1.0, ASSORTED.max(series.torque.scale))])
    });
    Some(inside.mixed(&outside, 1.0 - series.smooth))
}
