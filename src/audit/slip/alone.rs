//! What is expected of a torque that has no series: from its class, and from comparable records of the book.

use super::entry::{Entry, Part};
use super::expect::{Bell, Expectation};
use super::index::{Index, joined};
use super::priors::{Priors, Spread};
use super::series::InSeries;
use super::smooth::median;
use rayon::prelude::*;
use std::collections::HashMap;

/// What comparable records of the book say: the same thread and class in another joint.
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
/// How often a record is one of a general table, of a particular joint, of one with soft parts: where it names a place,
/// or leaves much open, and where it names nothing but size, class and condition, as tables do (judgement).
const PARTICULAR: [f64; 3] = [0.5, 0.3, 0.2];
const GENERAL: [f64; 3] = [0.95, 0.04, 0.01];
/// What is neither: right for a reason that nobody here knows.
const ANYHOW: Spread = Spread { mean: -0.3, scale: 0.7 };
/// Torques that an angle or a higher torque follows are a fifth to three fifths of the full one (common practice, no
/// source): the logarithm of that, and its scale.
const SNUG: Spread = Spread { mean: -1.0, scale: 0.5 };
/// The stress at which a torque is 1 on the scale of the learned priors: 0.9 of the yield strength (VDI 2230-1).
const UTILISATION: f64 = 0.9;

/// What comparable records say of each entry; it follows a book that changes.
#[derive(Debug)]
pub struct Comparables {
    groups: Index,
    by_entry: Vec<Option<Comparable>>,
}

/// Thread, class and part of the plan: whose torques are compared.
fn group(entry: &Entry) -> Option<u64> {
    let (class, size) = entry.class.zip(entry.size)?;
    entry.stated.ln_newton_meters()?;
    Some(joined(joined(class, size.number()), entry.part as u64 * 2 + u64::from(entry.bolted)))
}

impl Comparables {
    /// What these entries say of each other.
    #[must_use]
    pub fn of(entries: &[Entry]) -> Self {
        let groups = Index::of(entries.len(), |i| group(&entries[i]));
        let found = groups.groups().into_par_iter().flat_map_iter(|(_, group)| {
            let members: Vec<usize> = group.iter().map(|i| *i as usize).collect();
            of_group(entries, &members)
        });
        let found: Vec<(usize, Option<Comparable>)> = found.collect();
        let mut by_entry = vec![None; entries.len()];
        for (i, comparable) in found {
            by_entry[i] = comparable;
        }
        Self { groups, by_entry }
    }

    /// What they say of entry `i`; nothing where there are none.
    #[must_use]
    pub fn get(&self, i: usize) -> Option<&Comparable> {
        self.by_entry[i].as_ref()
    }

    /// Enters an entry that has come; gives the group that is to be looked at again.
    pub fn enter(&mut self, entry: &Entry, place: u32, comes_before: impl Fn(usize) -> bool) -> Option<u64> {
        self.by_entry.resize(self.by_entry.len().max(place as usize + 1), None);
        let group = group(entry)?;
        self.groups.add(group, place, comes_before);
        Some(group)
    }

    /// Strikes out an entry that has gone; gives the group that is to be looked at again.
    pub fn strike(&mut self, entry: &Entry, place: u32) -> Option<u64> {
        self.by_entry[place as usize] = None;
        let group = group(entry)?;
        self.groups.remove(group, place);
        Some(group)
    }

    /// Looks at a group again, and gives the entries of which something else is said now.
    pub fn look_again(&mut self, entries: &[Entry], group: u64) -> Vec<usize> {
        let members: Vec<usize> = self.groups.group(group).collect();
        let found = of_group(entries, &members);
        let changed = found.into_iter().filter(|(i, comparable)| self.by_entry[*i] != *comparable);
        let changed: Vec<(usize, Option<Comparable>)> = changed.collect();
        changed.iter().for_each(|(i, comparable)| self.by_entry[*i] = *comparable);
        changed.into_iter().map(|(i, _)| i).collect()
    }
}

/// A count with the sum and the sum of squares of its values.
#[derive(Clone, Copy, Default)]
struct Sums(f64, f64, f64);

impl Sums {
    fn plus(self, value: f64) -> Self {
        Self(self.0 + 1.0, self.1 + value, self.2 + value * value)
    }

    fn minus(self, other: Self) -> Self {
        Self(self.0 - other.0, self.1 - other.1, self.2 - other.2)
    }

    fn comparable(self) -> Option<Comparable> {
        let Self(count, sum, squares) = self;
        if count < 0.5 {
            return None;
        }
        let mean = sum / count;
        let scatter = (squares - count * mean * mean).max(0.0);
        let between = BETWEEN_DOCUMENTS * BETWEEN_DOCUMENTS;
        let variance = (BETWEEN_WEIGHT * between + scatter) / (BETWEEN_WEIGHT + count - 1.0);
        Some(Comparable { count: count as usize, mean, scale: (variance * (1.0 + 1.0 / count)).sqrt() })
    }
}

/// What the others of a group say to each: those of other joints, or of the same joint in another document.
fn of_group(entries: &[Entry], members: &[usize]) -> Vec<(usize, Option<Comparable>)> {
    let value = |i: usize| entries[i].stated.ln_newton_meters().unwrap_or(0.0);
    // A few wrong values among many must not make everything probable: what lies far out counts as if nearer.
    const FAR: f64 = 3.0;
    let middle = median(members.iter().map(|i| value(*i)).collect());
    let deviation = 1.5 * median(members.iter().map(|i| (value(*i) - middle).abs()).collect());
    let reach = FAR * deviation.max(BETWEEN_DOCUMENTS);
    let value = |i: usize| value(i).clamp(middle - reach, middle + reach);
    let place = |i: usize| joined(entries[i].joint, entries[i].document);
    let mut joints: HashMap<u64, Sums> = HashMap::new();
    let mut all = Sums::default();
    for i in members {
        all = all.plus(value(*i));
        let joint = joints.entry(place(*i)).or_default();
        *joint = joint.plus(value(*i));
    }
    members.iter().map(|i| (*i, all.minus(joints[&place(*i)]).comparable())).collect()
}

/// What the class alone lets expect of ln(torque in newton-metres); nothing where strength is unknown or does not
/// limit the fastening.
#[must_use]
pub fn by_class(entry: &Entry, priors: &Priors) -> Option<Expectation> {
    if !entry.bolted {
        return None;
    }
    let full = (entry.size?.torque_per_mpa * entry.friction_ratio * UTILISATION * entry.yield_mpa?).ln();
    let bell = |spread: Spread, weight, light| Bell { weight, mean: full + spread.mean, scale: spread.scale, light };
    Some(match entry.part {
        Part::Final => {
            let [tables, joints, soft] = if entry.general { GENERAL } else { PARTICULAR };
            Expectation::new(vec![
                bell(priors.tables, tables, true),
                bell(JOINTS, joints, true),
                bell(SOFT_JOINTS, soft, true),
                bell(ANYHOW, 0.004, false),
            ])
        }
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
