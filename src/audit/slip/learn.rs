//! Learning the priors from tables that are known to be right. Nothing here runs in an audit.

use super::entry::Entry;
use super::grain::Grain;
use super::printed::{Agreement, WAYS, way};
use super::priors::{Priors, Spread};
use super::series::{Kind, columns, fit};
use super::smooth::{Expected, Point, Shape, leave_one_out};
use std::collections::BTreeMap;

/// A column with the document that it stands in.
type Columns = Vec<(u64, Vec<Point>)>;

/// The priors that these entries teach. Every document counts the same, however long.
#[must_use]
pub fn learn(entries: &[Entry]) -> Priors {
    let start = &Priors::BEFORE;
    let torques = columns(entries, Kind::Torque);
    let widths = columns(entries, Kind::Width);
    let torque = searched(&torques, start.torque);
    let (aside, aside_scale) = aside(&torques, &torque);
    let ranges: Vec<f64> = entries.iter().filter_map(|entry| entry.stated.figures.width()).collect();
    Priors {
        torque,
        width: if widths.is_empty() { start.width } else { searched(&widths, start.width) },
        aside,
        aside_scale,
        tables: utilisations(entries),
        range: if ranges.is_empty() { start.range } else { spread(&ranges) },
        grain: grain(entries, start),
        agreement: agreement(entries, start),
    }
}

/// The shape that foresees the columns best: one constant after the other is moved, until none helps.
fn searched(columns: &Columns, start: Shape) -> Shape {
    const STEPS: [f64; 4] = [0.5, 0.75, 1.35, 2.0];
    type Constant = fn(&mut Shape) -> &mut f64;
    // The limits keep a few dozen columns from teaching what could not hold for the next one.
    const CONSTANTS: [(Constant, f64, f64); 7] = [
        (|shape| &mut shape.wander, 1.0, 10.0),
        (|shape| &mut shape.reach, 1.0, 6.0),
        (|shape| &mut shape.fine_wander, 1.0, 10.0),
        (|shape| &mut shape.fine_reach, 1.0, 6.0),
        (|shape| &mut shape.scale, 0.005, 0.1),
        (|shape| &mut shape.scale_weight, 1.0, 8.0),
        (|shape| &mut shape.tail, 3.0, 8.0),
    ];
    let mut best = (foresight(columns, &start), start);
    for _ in 0..3 {
        let before = best.0;
        for (constant, least, most) in CONSTANTS {
            for step in STEPS {
                let mut tried = best.1;
                let value = constant(&mut tried);
                *value = two_figures(*value * step).clamp(least, most);
                let score = foresight(columns, &tried);
                if score > best.0 {
                    best = (score, tried);
                }
            }
        }
        // Beyond this nothing is learned but the accidents of the tables.
        if best.0 - before < 0.002 {
            break;
        }
    }
    best.1
}

/// How well a shape foresees each point from the others: the mean logarithm of the density, documents alike.
fn foresight(columns: &Columns, shape: &Shape) -> f64 {
    let mut documents: BTreeMap<u64, (f64, f64)> = BTreeMap::new();
    for (document, points) in columns {
        let sum = documents.entry(*document).or_default();
        sum.0 += fit(points, &leave_one_out(points, shape));
        sum.1 += points.len() as f64;
    }
    let means = documents.values().map(|(sum, count)| sum / count);
    means.sum::<f64>() / documents.len().max(1) as f64
}

/// The share of rows that leave their column, and how far, that foresee the columns best.
fn aside(columns: &Columns, shape: &Shape) -> (f64, f64) {
    let expected: Vec<(&[Point], Vec<Expected>)> =
        columns.iter().map(|(_, points)| (points.as_slice(), leave_one_out(points, shape))).collect();
    let score = |share: f64, scale: f64| -> f64 {
        let one = |point: &Point, expected: &Expected| {
            let bell = |scale| super::expect::bell_density(point.value, expected.mean, scale);
            ((1.0 - share) * bell(expected.scale) + share * bell(expected.scale.max(scale))).ln()
        };
        expected.iter().flat_map(|(points, all)| points.iter().zip(all)).map(|(p, e)| one(p, e)).sum()
    };
    // What happens less than once in a hundred rows, or how far it goes, a few hundred rows cannot tell: the cautious
    // end is taken.
    let tried = [0.01, 0.02, 0.03, 0.05].into_iter().flat_map(|share| [0.15, 0.2, 0.3].map(|scale| (share, scale)));
    tried.max_by(|a, b| score(a.0, a.1).total_cmp(&score(b.0, b.1))).unwrap_or((0.01, 0.15))
}

/// How far general tables load the bolt: the middle of the documents, and the spread over all of them.
fn utilisations(entries: &[Entry]) -> Spread {
    let mut documents: BTreeMap<u64, Vec<f64>> = BTreeMap::new();
    for entry in entries {
        if let (Some(stress), Some(strength)) = (entry.ln_stress(), entry.yield_mpa) {
            documents.entry(entry.document).or_default().push(stress - (0.9 * strength).ln());
        }
    }
    let each: Vec<Spread> = documents.values().map(|values| spread(values)).collect();
    let between = spread(&each.iter().map(|one| one.mean).collect::<Vec<_>>());
    let within = each.iter().map(|one| one.scale * one.scale).sum::<f64>() / each.len().max(1) as f64;
    // A dozen documents of one kind do not know the other kinds.
    const OTHER_KINDS: f64 = 1.5;
    let scale = OTHER_KINDS * (between.scale * between.scale + within).sqrt();
    Spread { mean: two_figures(between.mean), scale: two_figures(scale) }
}

fn spread(values: &[f64]) -> Spread {
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    Spread { mean: two_figures(mean), scale: two_figures((squares / (count - 1.0).max(1.0)).sqrt()) }
}

fn grain(entries: &[Entry], start: &Priors) -> [f64; super::grain::LEVELS] {
    let numbers: Vec<_> = entries.iter().flat_map(|entry| entry.stated.figures.numbers()).collect();
    let mut grain = Grain::new(start.grain);
    for _ in 0..10 {
        grain = Grain::learn(&numbers, &grain, 1.0);
    }
    // No step is impossible.
    grain.weights().map(|share| two_figures(share.max(0.005)))
}

fn agreement(entries: &[Entry], start: &Priors) -> [f64; WAYS] {
    let mut shares = start.agreement;
    for _ in 0..10 {
        let usual = Agreement::new(shares);
        let mut documents: BTreeMap<u64, (f64, [f64; WAYS])> = BTreeMap::new();
        for entry in entries {
            if let Some(ways) = way(entry, &usual) {
                let (count, sums) = documents.entry(entry.document).or_default();
                *count += 1.0;
                (0..WAYS).for_each(|i| sums[i] += ways[i]);
            }
        }
        let means: Vec<[f64; WAYS]> = documents.values().map(|(count, sums)| sums.map(|sum| sum / count)).collect();
        for (i, share) in shares.iter_mut().enumerate() {
            let mean = means.iter().map(|mean| mean[i]).sum::<f64>() / means.len().max(1) as f64;
            // A few dozen pairs a document cannot show what happens once in two hundred times.
            *share = mean.max(if i == WAYS - 1 { 0.002 } else { 0.005 });
        }
    }
    let sum: f64 = shares.iter().sum();
    shares.map(|share| two_figures(share / sum))
}

fn two_figures(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}
