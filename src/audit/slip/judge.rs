//! From all entries of a book to a verdict on each.

use super::alone::{Comparable, comparables, expected};
use super::copies::copies;
use super::entry::{Entry, Value};
use super::expect::{Bell, Expectation};
use super::peers::Peers;
use super::printed::{Agreement, agreements};
use super::priors::Priors;
use super::series::{InSeries, in_series};
use super::weigh::{Evidence, Verdict, weigh};
use rayon::prelude::*;

/// What a value was mainly judged by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Basis {
    /// The other values of its series.
    Series {
        /// How many there are.
        others: usize,
    },
    /// Comparable records of the book, or copies of its column in other documents.
    Comparable {
        /// How many there are.
        records: usize,
    },
    /// The strength of its class.
    Class,
    /// Nothing: the value itself could not be judged.
    Nothing,
}

/// The verdict on one entry, and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// What it mainly rests on.
    pub basis: Basis,
    /// Between which torques in newton-metres nineteen of twenty such values lie.
    pub usual_nm: Option<(f64, f64)>,
    /// Do the printed units contradict each other?
    pub units_disagree: bool,
}

/// Half of the width within which nineteen of twenty values lie, in scales of the bell.
const NINETEEN_OF_TWENTY: f64 = 2.8;
/// Below this density of the second figure the printed units are said to disagree.
const DISAGREE: f64 = 1.0;

/// The verdict on every entry.
#[must_use]
pub fn judge(entries: &[Entry], priors: &Priors) -> Vec<Judged> {
    let series = in_series(entries, priors);
    let comparables = comparables(entries);
    let agreements = agreements(entries, &Agreement::new(priors.agreement));
    let (peers, copies) = (Peers::of(entries, priors), copies(entries));
    let one = |i: usize| {
        let (series, comparable) = (series[i].as_ref(), comparables[i].as_ref());
        let around = Around { series, comparable, agreement: agreements[i], copies: &copies[i] };
        judge_one(entries, i, &around, &peers, priors)
    };
    (0..entries.len()).into_par_iter().with_min_len(64).map(one).collect()
}

/// What stands around one entry.
struct Around<'a> {
    series: Option<&'a InSeries>,
    comparable: Option<&'a Comparable>,
    agreement: Agreement,
    copies: &'a [Value],
}

fn judge_one(entries: &[Entry], i: usize, around: &Around<'_>, peers: &Peers, priors: &Priors) -> Judged {
    let entry = &entries[i];
    let Around { series, comparable, agreement, copies } = *around;
    // The same figure in the same unit only says that the source was copied rightly, not that it is right.
    let is_copy = |second: &&Value| second.unit == entry.stated.unit && second.figures.same_as(entry.stated.figures);
    let printed: Vec<Value> = entry.printed.iter().filter(|second| !is_copy(second)).copied().collect();
    let mut units = peers.units(entry);
    entry.printed.iter().for_each(|second| units.count(second.unit, 1.0));
    let torque = expected(entry, series, comparable, priors);
    let width = width_expected(series, priors);
    let evidence = Evidence {
        stated: entry.stated,
        printed: &printed,
        torque: torque.as_ref(),
        width: entry.stated.figures.width().map(|_| &width),
        grain: peers.grain(entry),
        agreement,
        units,
        follows_torque: peers.follows_torque(entries, i),
        takeable: &peers.takeable(entries, i),
        copies,
        elsewhere: &peers.elsewhere(entries, i),
    };
    let main = torque.as_ref().and_then(Expectation::main);
    let usual_nm = main.map(|bell| {
        let half = NINETEEN_OF_TWENTY * bell.scale;
        ((bell.mean - half).exp(), (bell.mean + half).exp())
    });
    let units_disagree = printed.iter().any(|second| agreement.likelihood(entry.stated, *second) < DISAGREE);
    Judged { verdict: weigh(&evidence), basis: basis(entry, around), usual_nm, units_disagree }
}

fn basis(entry: &Entry, around: &Around<'_>) -> Basis {
    if around.copies.iter().any(|copy| !copy.equals(entry.stated)) {
        return Basis::Comparable { records: around.copies.len() };
    }
    match (around.series, around.comparable) {
        (Some(series), _) if series.smooth > 0.5 => Basis::Series { others: series.others },
        (_, Some(comparable)) => Basis::Comparable { records: comparable.count },
        (Some(series), None) if entry.yield_mpa.is_none() => Basis::Series { others: series.others },
        _ if entry.yield_mpa.is_some() && entry.bolted && entry.size.is_some() => Basis::Class,
        _ => Basis::Nothing,
    }
}

fn width_expected(series: Option<&InSeries>, priors: &Priors) -> Expectation {
    /// Share of right rows whose range is of a width of its own, and how far such rows go.
    const ASIDE: (f64, f64) = (0.02, 0.3);
    let (mean, scale) = (priors.range.mean, priors.range.scale);
    let alone = Expectation::new(vec![Bell { weight: 1.0, mean, scale, light: false }]);
    let Some((series, width)) = series.and_then(|series| Some((series, series.width?))) else { return alone };
    let (aside, far) = ASIDE;
    let bell = |weight, scale| Bell { weight, mean: width.mean, scale, light: false };
    let inside = Expectation::new(vec![bell(1.0 - aside, width.scale), bell(aside, width.scale.max(far))]);
    inside.mixed(&alone, 1.0 - series.smooth)
}
