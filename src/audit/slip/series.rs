//! What the rest of its table says about a value: its own column, and the other columns beside it.
//!
//! A series is the entries of one document that share class, condition and role: one column. Other columns of the
//! document are companions: the distance to a companion (another class, another condition) changes even less from
//! thread to thread than the torque itself. This module does not look outside the document.

use super::entry::{Entry, Part};
use super::expect::bell_density;
use super::priors::Priors;
use super::smooth::{Expected, Point, Shape, leave_one_out, median};
use std::collections::BTreeMap;

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

/// One column: the places of its entries in the list, by size, coarse before fine.
struct Column {
    members: Vec<usize>,
    points: Vec<Point>,
    expected: Vec<Expected>,
}

/// For each entry, what its series says; nothing where it has none.
#[must_use]
pub fn in_series(entries: &[Entry], priors: &Priors) -> Vec<Option<InSeries>> {
    let mut answers = vec![None; entries.len()];
    for columns in documents(entries).into_values() {
        let columns: Vec<Column> = columns.into_values().map(|members| Column::new(entries, members, priors)).collect();
        for (at, column) in columns.iter().enumerate() {
            if column.members.len() >= COLUMN_MIN {
                column.judge(entries, &columns, at, priors, &mut answers);
            }
        }
    }
    answers
}

/// The places of the entries of each column of each document.
type Documents = BTreeMap<u32, BTreeMap<(u32, Part), Vec<usize>>>;

fn documents(entries: &[Entry]) -> Documents {
    let mut documents = Documents::new();
    for (i, entry) in entries.iter().enumerate() {
        if let (Some(document), Some(_)) = (entry.document, entry.ln_stress()) {
            documents.entry(document).or_default().entry((entry.column, entry.part)).or_default().push(i);
        }
    }
    documents
}

impl Column {
    fn new(entries: &[Entry], mut members: Vec<usize>, priors: &Priors) -> Self {
        let size = |i: usize| entries[i].size.map_or((0.0, 0.0), |size| (size.diameter_mm, -size.pitch_mm));
        members.sort_by(|a, b| size(*a).partial_cmp(&size(*b)).unwrap_or(std::cmp::Ordering::Equal));
        let points: Vec<Point> = members.iter().map(|i| point(&entries[*i])).collect();
        let strengths: Option<Vec<f64>> = members.iter().map(|i| entries[*i].yield_mpa.map(f64::ln)).collect();
        let expected = expected_with_strength(&points, strengths.as_deref(), &priors.torque);
        Self { members, points, expected }
    }

    fn judge(&self, entries: &[Entry], columns: &[Self], at: usize, priors: &Priors, answers: &mut [Option<InSeries>]) {
        let beside = self.companions(entries, columns, at, &priors.torque);
        let widths = self.widths(entries, &priors.width);
        for (k, member) in self.members.iter().enumerate() {
            let mut torque = together(self.expected[k], &beside[k]);
            if let Some(size) = entries[*member].size {
                torque.mean += size.torque_per_mpa.ln();
            }
            answers[*member] = Some(InSeries {
                torque,
                width: widths.as_ref().map(|widths| widths[k]),
                smooth: self.smooth_without(k),
                others: self.members.len() - 1,
            });
        }
    }

    /// How probable it is that the column is smooth, as the entries other than `without` show it.
    fn smooth_without(&self, without: usize) -> f64 {
        let middle = median(self.points.iter().map(|point| point.value).collect());
        let says = |k: usize| {
            let (point, expected) = (&self.points[k], &self.expected[k]);
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
        let same = |pair: &[Point]| pair[0].ln_size == pair[1].ln_size && pair[0].fine == pair[1].fine;
        let again = self.points.windows(2).filter(|pair| same(pair)).count();
        1.0 - 0.7 * again as f64 / self.points.len() as f64
    }

    /// What each companion expects at each member.
    fn companions(&self, entries: &[Entry], columns: &[Self], at: usize, shape: &Shape) -> Vec<Vec<Expected>> {
        let mut beside = vec![Vec::new(); self.members.len()];
        let mut asked = 0;
        for (other_at, other) in columns.iter().enumerate() {
            if other_at == at || asked == COMPANIONS_MAX {
                continue;
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
        let mut pairs = Vec::new();
        let mut from = 0;
        for (mine, member) in self.members.iter().enumerate() {
            let Some(size) = entries[*member].size else { continue };
            while from < other.members.len()
                && entries[other.members[from]].size.is_some_and(|its| its.diameter_mm < size.diameter_mm - 0.001)
            {
                from += 1;
            }
            let same_size = other.members[from..]
                .iter()
                .enumerate()
                .take_while(|(_, i)| entries[**i].size.is_some_and(|its| its.diameter_mm < size.diameter_mm + 0.001));
            for (offset, i) in same_size {
                if entries[*i].size.is_some_and(|its| its.same_as(&size)) {
                    pairs.push((mine, from + offset));
                    break;
                }
            }
        }
        pairs
    }

    /// What the column expects of the widths of its ranges; nothing where it has none.
    fn widths(&self, entries: &[Entry], shape: &Shape) -> Option<Vec<Expected>> {
        self.width_points(entries).map(|points| leave_one_out(&points, shape))
    }

    fn width_points(&self, entries: &[Entry]) -> Option<Vec<Point>> {
        let width = |i: &usize| entries[*i].stated.figures.width().unwrap_or(0.0);
        let widths: Vec<f64> = self.members.iter().map(width).collect();
        if widths.iter().all(|width| *width == 0.0) {
            return None;
        }
        let point = |(point, width): (&Point, &f64)| Point { value: *width, rounding: 1.4 * point.rounding, ..*point };
        Some(self.points.iter().zip(&widths).map(point).collect())
    }
}

fn point(entry: &Entry) -> Point {
    let (ln_size, fine) = entry.size.map_or((0.0, false), |size| (size.diameter_mm.ln(), size.fine));
    Point { ln_size, fine, value: entry.ln_stress().unwrap_or(0.0), rounding: entry.rounding() }
}

fn distance(a: &Point, b: &Point) -> Point {
    Point { value: a.value - b.value, rounding: a.rounding.hypot(b.rounding), ..*a }
}

/// Some columns follow the steps that the strength of a class makes at a size, others ignore them: whichever makes
/// the column smoother holds.
fn expected_with_strength(points: &[Point], ln_strengths: Option<&[f64]>, shape: &Shape) -> Vec<Expected> {
    const STEP_MIN: f64 = 0.01;
    let plain = leave_one_out(points, shape);
    let Some(strengths) = ln_strengths else { return plain };
    let (low, high) = strengths.iter().fold((f64::MAX, f64::MIN), |(low, high), s| (low.min(*s), high.max(*s)));
    if high - low < STEP_MIN {
        return plain;
    }
    let used: Vec<Point> = points.iter().zip(strengths).map(|(p, s)| Point { value: p.value - s, ..*p }).collect();
    let stepped = leave_one_out(&used, shape);
    if fit(&used, &stepped) > fit(points, &plain) {
        let back = |(expected, s): (&Expected, &f64)| Expected { mean: expected.mean + s, scale: expected.scale };
        stepped.iter().zip(strengths).map(back).collect()
    } else {
        plain
    }
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
pub fn columns(entries: &[Entry], kind: Kind) -> Vec<(u32, Vec<Point>)> {
    const LEARNED_FROM_MIN: usize = 5;
    let mut found = Vec::new();
    for (document, columns) in documents(entries) {
        for members in columns.into_values().filter(|members| members.len() >= LEARNED_FROM_MIN) {
            let column = Column::new(entries, members, &Priors::LEARNED);
            match (kind, column.width_points(entries)) {
                (Kind::Torque, _) => found.push((document, column.points)),
                (Kind::Width, Some(points)) => found.push((document, points)),
                (Kind::Width, None) => {}
            }
        }
    }
    found
}
