//! What the rest of its table says about a value: its own column, and the other columns beside it.
//!
//! A series is the entries of one document that share class, condition and role: one column. Other columns of the
//! document are companions: the distance to a companion (another class, another condition) changes even less from
//! thread to thread than the torque itself. This module does not look outside the document.
//!
//! Most values lie where their neighbours put them at a glance, and most columns of a workshop's book are assorted
//! joints that foresee nothing. Only what is neither is worth the curve of [`super::smooth`].

use super::entry::Entry;
use super::expect::bell_density;
use super::index::Index;
use super::priors::Priors;
use super::smooth::{Expected, Point, Shape, leave_one_out, median};

/// What its series says about one entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InSeries {
    /// What is expected of ln(torque in newton-metres).
    pub torque: Expected,
    /// What is expected of the width of its range; nothing where the column has no ranges.
    pub width: Option<Expected>,
    /// How probable it is that the column is a smooth table at all, and not a set of assorted joints.
    pub smooth: f64,
    /// How many other entries of the column were looked at.
    pub others: usize,
}

/// The fewest entries that make a column.
const COLUMN_MIN: usize = 3;
/// The fewest threads that two columns must share to be compared.
const SHARED_MIN: usize = 4;
/// The most companions that are asked: more of them say the same again.
const COMPANIONS_MAX: usize = 6;
/// Before it is looked at, a set of entries of one class in one document is as likely as this a table.
const TABLE: f64 = 0.3;
/// How assorted joints scatter around their middle, on a logarithmic scale.
const ASSORTED: f64 = 0.45;
/// What one entry can say against its column being smooth, as a logarithm: it may be the wrong one.
const AGAINST_MAX: f64 = -3.0;
/// Within this distance of its neighbours a value is calm: nothing about it asks for more.
const CALM: f64 = 0.07;
/// A column of which not even a third stands as near as this to its neighbours is no table.
const RESTLESS_COLUMN: f64 = 0.15;

/// One column: the places of its entries in the list, by size, coarse before fine.
pub(super) struct Column {
    pub(super) members: Vec<usize>,
    points: Vec<Point>,
    widths: Option<Vec<Point>>,
    /// What the neighbours expect at a glance.
    glance: Vec<Glance>,
}

/// What the nearest neighbours say at a glance.
#[derive(Clone, Copy)]
struct Glance {
    torque: f64,
    width: f64,
    calm: bool,
}

/// The columns of one document, in the order of their first entries.
pub(super) fn columns_of(entries: &[Entry], places: impl Iterator<Item = usize>) -> Vec<Column> {
    let mut places: Vec<(u64, usize)> = places.map(|i| (entries[i].column, i)).collect();
    places.sort_unstable();
    let column = |group: &[(u64, usize)]| Column::new(entries, group.iter().map(|(_, i)| *i).collect());
    let mut columns: Vec<Column> = places.chunk_by(|a, b| a.0 == b.0).map(column).collect();
    columns.sort_by_key(|column| column.members.iter().min().copied());
    columns
}

impl Column {
    pub(super) fn new(entries: &[Entry], mut members: Vec<usize>) -> Self {
        let size = |i: usize| entries[i].size.map_or((0.0, 0.0), |size| (size.diameter_mm, -size.pitch_mm));
        members.sort_by(|a, b| size(*a).partial_cmp(&size(*b)).unwrap_or(std::cmp::Ordering::Equal));
        let points: Vec<Point> = members.iter().map(|i| point(&entries[*i])).collect();
        let widths = width_points(entries, &members, &points);
        let glance = (0..points.len()).map(|k| glance(&points, widths.as_deref(), k)).collect();
        Self { members, points, widths, glance }
    }

    /// What the column of this place says about each of its entries.
    pub(super) fn judge(entries: &[Entry], columns: &[Self], at: usize, priors: &Priors) -> Vec<(usize, InSeries)> {
        let column = &columns[at];
        if column.members.len() < COLUMN_MIN {
            return Vec::new();
        }
        if column.scatter() > RESTLESS_COLUMN || column.again() > 0.5 {
            return column.at_a_glance(entries, 0.0, ASSORTED);
        }
        if column.glance.iter().all(|glance| glance.calm) {
            return column.at_a_glance(entries, column.once(), CALM);
        }
        column.closely(entries, columns, at, priors)
    }

    /// How far the calmer third of the values stands from its neighbours, at most. The rest may be pulled by a slip.
    fn scatter(&self) -> f64 {
        let mut off: Vec<f64> = self.points.iter().zip(&self.glance).map(|(p, g)| (p.value - g.torque).abs()).collect();
        off.sort_by(f64::total_cmp);
        off[off.len() / 3]
    }

    fn at_a_glance(&self, entries: &[Entry], smooth: f64, scale: f64) -> Vec<(usize, InSeries)> {
        let others = self.members.len() - 1;
        let one = |k: usize| {
            let torque = Expected { mean: self.glance[k].torque, scale };
            let width = self.widths.as_ref().map(|_| Expected { mean: self.glance[k].width, scale });
            (
                self.members[k],
                InSeries { torque: in_newton_meters(torque, &entries[self.members[k]]), width, smooth, others },
            )
        };
        (0..self.members.len()).map(one).collect()
    }

    /// With the curve of the column and the distances to its companions.
    fn closely(&self, entries: &[Entry], columns: &[Self], at: usize, priors: &Priors) -> Vec<(usize, InSeries)> {
        let expected = self.expected(entries, &priors.torque);
        let beside = self.companions(entries, columns, at, &priors.torque);
        let widths = self.widths.as_ref().map(|points| leave_one_out(points, &priors.width));
        let one = |k: usize| {
            let torque = in_newton_meters(together(expected[k], &beside[k]), &entries[self.members[k]]);
            let width = widths.as_ref().map(|widths| widths[k]);
            let smooth = self.smooth_without(k, &expected);
            (self.members[k], InSeries { torque, width, smooth, others: self.members.len() - 1 })
        };
        (0..self.members.len()).map(one).collect()
    }

    /// How probable it is that the column is smooth, as the entries other than `without` show it.
    fn smooth_without(&self, without: usize, expected: &[Expected]) -> f64 {
        let middle = median(self.points.iter().map(|point| point.value).collect());
        let says = |k: usize| {
            let (point, expected) = (&self.points[k], &expected[k]);
            let smooth = bell_density(point.value, expected.mean, expected.scale);
            let assorted = bell_density(point.value, middle, ASSORTED);
            (smooth / assorted).ln().max(AGAINST_MAX)
        };
        let others = self.points.len() as f64 - 1.0;
        let sum: f64 = (0..self.points.len()).filter(|k| *k != without).map(says).sum();
        // Each distance is seen from both of its ends: k entries have k - 1 independent ones.
        let odds = TABLE / (1.0 - TABLE) * (sum * (others - 1.0) / others).min(50.0).exp();
        odds / (1.0 + odds) * self.once()
    }

    /// How far the column is a table at all: there each thread stands once. Where the joints of one document share
    /// a class, threads come again and again, and each has its reasons.
    fn once(&self) -> f64 {
        1.0 - 0.7 * self.again()
    }

    /// The share of entries whose thread stands in the column before them.
    fn again(&self) -> f64 {
        let same = |pair: &&[Point]| pair[0].ln_size == pair[1].ln_size && pair[0].fine == pair[1].fine;
        self.points.windows(2).filter(same).count() as f64 / self.points.len() as f64
    }

    /// Some columns follow the steps that the strength of a class makes at a size, others ignore them: whichever makes
    /// the column smoother holds.
    fn expected(&self, entries: &[Entry], shape: &Shape) -> Vec<Expected> {
        const STEP_MIN: f64 = 0.01;
        let plain = leave_one_out(&self.points, shape);
        let strengths: Option<Vec<f64>> = self.members.iter().map(|i| entries[*i].yield_mpa.map(f64::ln)).collect();
        let Some(strengths) = strengths else { return plain };
        let (low, high) = strengths.iter().fold((f64::MAX, f64::MIN), |(low, high), s| (low.min(*s), high.max(*s)));
        if high - low < STEP_MIN {
            return plain;
        }
        let used = |(p, s): (&Point, &f64)| Point { value: p.value - s, ..*p };
        let used: Vec<Point> = self.points.iter().zip(&strengths).map(used).collect();
        let stepped = leave_one_out(&used, shape);
        if fit(&used, &stepped) <= fit(&self.points, &plain) {
            return plain;
        }
        let back = |(expected, s): (&Expected, &f64)| Expected { mean: expected.mean + s, scale: expected.scale };
        stepped.iter().zip(&strengths).map(back).collect()
    }

    /// What each companion expects at each member.
    fn companions(&self, entries: &[Entry], columns: &[Self], at: usize, shape: &Shape) -> Vec<Vec<Expected>> {
        let mut beside = vec![Vec::new(); self.members.len()];
        let mut asked = 0;
        for other in nearest(columns, at) {
            if asked == COMPANIONS_MAX {
                break;
            }
            let pairs = self.shared_with(entries, other);
            if pairs.len() < SHARED_MIN {
                continue;
            }
            asked += 1;
            let apart: Vec<Point> =
                pairs.iter().map(|(mine, its)| distance(&self.points[*mine], &other.points[*its])).collect();
            for ((mine, its), expected) in pairs.iter().zip(leave_one_out(&apart, shape)) {
                let mean = expected.mean + other.points[*its].value;
                beside[*mine].push(Expected { mean, scale: expected.scale });
            }
        }
        beside
    }

    /// The places of the same threads in both columns. Both are sorted by size, so one walk finds them.
    fn shared_with(&self, entries: &[Entry], other: &Self) -> Vec<(usize, usize)> {
        let key = |column: &Self, k: usize| {
            entries[column.members[k]].size.map_or((0, 0), |size| (size.key().0, -size.key().1))
        };
        let (mut mine, mut its) = (0, 0);
        let mut pairs = Vec::new();
        while mine < self.members.len() && its < other.members.len() {
            match key(self, mine).cmp(&key(other, its)) {
                std::cmp::Ordering::Less => mine += 1,
                std::cmp::Ordering::Greater => its += 1,
                std::cmp::Ordering::Equal => {
                    pairs.push((mine, its));
                    mine += 1;
                }
            }
        }
        pairs
    }
}

/// How many columns to either side are asked.
pub(super) const EACH_WAY: usize = 12;

/// The columns that stand next to this one in the document, the nearest first.
fn nearest(columns: &[Column], at: usize) -> impl Iterator<Item = &Column> {
    let both = move |way: usize| [at.checked_sub(way), at.checked_add(way)];
    let places = (1..=EACH_WAY).flat_map(both).flatten();
    places.filter_map(|place| columns.get(place)).filter(|column| column.members.len() >= SHARED_MIN)
}

fn in_newton_meters(expected: Expected, entry: &Entry) -> Expected {
    let size = entry.size.map_or(0.0, |size| size.torque_per_mpa.ln());
    Expected { mean: expected.mean + size, ..expected }
}

fn point(entry: &Entry) -> Point {
    let (ln_size, fine) = entry.size.map_or((0.0, false), |size| (size.diameter_mm.ln(), size.fine));
    Point { ln_size, fine, value: entry.ln_stress().unwrap_or(0.0), rounding: entry.rounding() }
}

/// The widths of the column's ranges; nothing where it has none.
fn width_points(entries: &[Entry], members: &[usize], points: &[Point]) -> Option<Vec<Point>> {
    let width = |i: &usize| entries[*i].stated.figures.width().unwrap_or(0.0);
    let widths: Vec<f64> = members.iter().map(width).collect();
    if widths.iter().all(|width| *width == 0.0) {
        return None;
    }
    let point = |(point, width): (&Point, &f64)| Point { value: *width, rounding: 1.4 * point.rounding, ..*point };
    Some(points.iter().zip(&widths).map(point).collect())
}

/// What two neighbours of the same pitch on either side say, or any where there are none.
fn glance(points: &[Point], widths: Option<&[Point]>, k: usize) -> Glance {
    const EACH_SIDE: usize = 2;
    let near = |same_pitch: bool| -> Vec<usize> {
        let fits = |j: &usize| !same_pitch || points[*j].fine == points[k].fine;
        let before = (0..k).rev().filter(fits).take(EACH_SIDE);
        before.chain((k + 1..points.len()).filter(fits).take(EACH_SIDE)).collect()
    };
    let mut others = near(true);
    if others.len() < EACH_SIDE {
        others = near(false);
    }
    let middle = |points: &[Point]| median(others.iter().map(|j| points[*j].value).collect());
    let (torque, width) = (middle(points), widths.map_or(0.0, middle));
    let is_calm = |points: &[Point], middle: f64| (points[k].value - middle).abs() <= CALM;
    let calm =
        others.len() >= EACH_SIDE && is_calm(points, torque) && widths.is_none_or(|widths| is_calm(widths, width));
    Glance { torque, width, calm }
}

fn distance(a: &Point, b: &Point) -> Point {
    Point { value: a.value - b.value, rounding: a.rounding.hypot(b.rounding), ..*a }
}

/// How probable the points are as the others expect them, as a logarithm.
pub(super) fn fit(points: &[Point], expected: &[Expected]) -> f64 {
    let one = |(point, expected): (&Point, &Expected)| bell_density(point.value, expected.mean, expected.scale).ln();
    points.iter().zip(expected).map(one).sum()
}

/// What the own column and its companions expect together: their middle, each counting by its sharpness and less
/// the further it stands off, and as wide as their disagreement asks for.
fn together(own: Expected, beside: &[Expected]) -> Expected {
    if beside.is_empty() {
        return own;
    }
    let all: Vec<Expected> = std::iter::once(own).chain(beside.iter().copied()).collect();
    let mut centre = weighted_median(&all);
    let mut sum = 0.0;
    let mut off = 0.0;
    for _ in 0..4 {
        let weight = |e: &Expected| 5.0 / (4.0 + ((e.mean - centre) / e.scale).powi(2)) / (e.scale * e.scale);
        let weights: Vec<f64> = all.iter().map(weight).collect();
        sum = weights.iter().sum();
        centre = all.iter().zip(&weights).map(|(e, w)| e.mean * w).sum::<f64>() / sum;
        off = all.iter().zip(&weights).map(|(e, w)| w * (e.mean - centre).powi(2)).sum::<f64>() / sum;
    }
    /// How many scales wider than its parts say it is, and how much of their disagreement it takes over.
    const WIDER: f64 = 1.3;
    const DISAGREEMENT: f64 = 0.5;
    Expected { mean: centre, scale: (WIDER / sum.sqrt()).hypot(DISAGREEMENT * off.sqrt()) }
}

fn weighted_median(all: &[Expected]) -> f64 {
    let mut sorted: Vec<(f64, f64)> = all.iter().map(|e| (e.mean, 1.0 / (e.scale * e.scale))).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half: f64 = sorted.iter().map(|(_, weight)| weight).sum::<f64>() / 2.0;
    let mut passed = 0.0;
    for (mean, weight) in &sorted {
        passed += weight;
        if passed >= half {
            return *mean;
        }
    }
    0.0
}

/// What of a column is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Its torques.
    Torque,
    /// The widths of its ranges.
    Width,
}

/// Every column of at least five points with its document, for the learning of the priors.
#[must_use]
pub fn columns(entries: &[Entry], kind: Kind) -> Vec<(u64, Vec<Point>)> {
    const LEARNED_FROM_MIN: usize = 5;
    let documents = Index::of(entries.len(), |i| entries[i].ln_stress().map(|_| entries[i].document));
    let mut found = Vec::new();
    for (document, group) in documents.groups() {
        let columns = columns_of(entries, group.iter().map(|i| *i as usize));
        for column in columns.into_iter().filter(|column| column.members.len() >= LEARNED_FROM_MIN) {
            match (kind, column.widths) {
                (Kind::Torque, _) => found.push((document, column.points)),
                (Kind::Width, Some(points)) => found.push((document, points)),
                (Kind::Width, None) => {}
            }
        }
    }
    found
}
