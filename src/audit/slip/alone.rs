//! What is expected of a torque that has no series: from its class, and from comparable records of the book.

use super::entry::{Entry, Part};
use super::expect::{Bell, Expectation};
use super::index::{Index, joined};
use super::priors::{Priors, Spread};
use super::series::InSeries;
use super::smooth::median;
use rayon::prelude::*;
use std::collections::{BTreeSet, HashMap};

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

/// What comparable records say of each entry; it follows a book that changes. Kept is what their groups come to, from which
/// what is said of one of them is soon worked out.
#[derive(Debug)]
pub struct Comparables {
    members: Index,
    groups: HashMap<u64, Group>,
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
        let members = Index::of(entries.len(), |i| group(&entries[i]));
        let come_to = |(key, group): &(u64, &[u32])| {
            let members: Vec<Member> = group.iter().map(|i| Member::of(&entries[*i as usize])).collect();
            (*key, Group::of(&members))
        };
        let groups = members.groups().par_iter().map(come_to).collect();
        Self { members, groups }
    }

    /// What they say of one of the entries; nothing where there are none.
    #[must_use]
    pub fn get(&self, entry: &Entry) -> Option<Comparable> {
        self.groups.get(&group(entry)?)?.says(Member::of(entry))
    }

    /// Enters an entry that has come; gives the group that is to be looked at again.
    pub fn enter(&mut self, entry: &Entry, place: u32, comes_before: impl Fn(usize) -> bool) -> Option<u64> {
        let group = group(entry)?;
        self.members.add(group, place, comes_before);
        Some(group)
    }

    /// Strikes out an entry that has gone; gives the group that is to be looked at again.
    pub fn strike(&mut self, entry: &Entry, place: u32) -> Option<u64> {
        let group = group(entry)?;
        self.members.remove(group, place);
        Some(group)
    }

    /// Looks at groups again, and gives the entries of which something else is said now, those that have come aside.
    pub fn look_again(&mut self, entries: &[Entry], groups: &BTreeSet<u64>) -> Vec<usize> {
        let again = |key: &u64| {
            let members: Vec<Member> = self.members.group(*key).map(|i| Member::of(&entries[i])).collect();
            let (now, before) = (Group::of(&members), self.groups.get(key));
            let said_before = |member| before.and_then(|before| before.says(member));
            let is_other = |(_, member): &(usize, &Member)| now.says(**member) != said_before(**member);
            let changed = self.members.group(*key).zip(&members).filter(is_other).map(|(i, _)| i);
            let changed: Vec<usize> = changed.collect();
            (*key, (!members.is_empty()).then_some(now), changed)
        };
        let found: Vec<_> = groups.par_iter().map(again).collect();
        let mut all = Vec::new();
        for (key, now, changed) in found {
            match now {
                Some(now) => drop(self.groups.insert(key, now)),
                None => drop(self.groups.remove(&key)),
            }
            all.extend(changed);
        }
        all
    }
}

/// A count with the sum and the sum of squares of its values.
#[derive(Debug, Clone, Copy, Default)]
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

/// What is compared of an entry: ln(torque in newton-metres), and its joint in its document.
#[derive(Debug, Clone, Copy)]
struct Member {
    value: f64,
    place: u64,
}

impl Member {
    fn of(entry: &Entry) -> Self {
        let value = entry.stated.ln_newton_meters().unwrap_or(0.0);
        Self { value, place: joined(entry.joint, entry.document) }
    }
}

/// What the members of a group come to.
#[derive(Debug)]
struct Group {
    /// The middle of their values, and how far from it one counts.
    middle: f64,
    reach: f64,
    all: Sums,
    /// Of each joint with more than one of them.
    joints: HashMap<u64, Sums>,
}

impl Group {
    fn of(members: &[Member]) -> Self {
        // A few wrong values among many must not make everything probable: what lies far out counts as if nearer.
        const FAR: f64 = 3.0;
        let middle = median(members.iter().map(|member| member.value).collect());
        let deviation = 1.5 * median(members.iter().map(|member| (member.value - middle).abs()).collect());
        let reach = FAR * deviation.max(BETWEEN_DOCUMENTS);
        let mut group = Self { middle, reach, all: Sums::default(), joints: HashMap::new() };
        for member in members {
            let value = group.value(*member);
            group.all = group.all.plus(value);
            let joint = group.joints.entry(member.place).or_default();
            *joint = joint.plus(value);
        }
        group.joints.retain(|_, sums| sums.0 > 1.5);
        group.joints.shrink_to_fit();
        group
    }

    fn value(&self, member: Member) -> f64 {
        member.value.clamp(self.middle - self.reach, self.middle + self.reach)
    }

    /// What the others say of one of them: those of other joints, or of the same joint in another document.
    fn says(&self, member: Member) -> Option<Comparable> {
        let own = self.joints.get(&member.place).copied();
        let own = own.unwrap_or_else(|| Sums::default().plus(self.value(member)));
        self.all.minus(own).comparable()
    }
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
