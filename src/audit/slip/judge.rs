//! From what was worked out about the entries of a book to a verdict on each.

use super::alone::{Comparable, Comparables, expected};
use super::copies::Copies;
use super::entry::{Entry, Value};
use super::expect::{Bell, Expectation};
use super::grain::Grain;
use super::ledger::Ledger;
use super::peers::Peers;
use super::printed::{Agreement, Agreements};
use super::priors::Priors;
use super::series::InSeries;
use super::series_of_book::Series;
use super::twins::Twin;
use super::verdict::Verdict;
use super::weigh::{Evidence, weigh};

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

/// The verdict on every entry; nothing for one about which nothing asks for a closer look.
#[must_use]
pub fn judge(entries: &[Entry], priors: &Priors) -> Vec<Option<Judged>> {
    let ledger = Ledger::of(entries.to_vec(), priors);
    (0..entries.len()).map(|i| ledger.get(i).1.judged.cloned()).collect()
}

/// What was found about an entry.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// The verdict; nothing where nothing asks for a closer look.
    pub judged: Option<Box<Judged>>,
    /// Does it stand in line with a smooth series of its own?
    pub in_line: bool,
    /// Is its value that of the other pitch of its diameter? Then the verdict rests on those pairs of its document too.
    pub has_twin: bool,
}

/// All entries with what was worked out about them.
pub(super) struct Book<'e> {
    pub entries: &'e [Entry],
    pub priors: &'e Priors,
    pub series: &'e Series,
    pub comparables: &'e Comparables,
    pub agreements: &'e Agreements,
    pub copies: &'e Copies,
    pub peers: Peers<'e>,
}

impl Book<'_> {
    /// What is found about entry `i`.
    pub(super) fn find(&self, i: usize) -> Found {
        let twin = self.series.get(i).filter(|series| series.smooth > 0.5).and_then(|_| self.twin(i));
        let has_twin = twin.is_some();
        let judged = self.judge(i, twin);
        let in_line = self.is_in_line(i, judged.as_ref());
        Found { judged: judged.map(Box::new), in_line, has_twin }
    }

    /// Does the entry stand where the others of a smooth series put it?
    fn is_in_line(&self, i: usize, judged: Option<&Judged>) -> bool {
        const OTHERS_MIN: usize = 4;
        const SMOOTH: f64 = 0.8;
        const IN_LINE: f64 = 3.0;
        let Some(series) = self.series.get(i) else { return false };
        let Some(at) = self.entries[i].stated.ln_newton_meters() else { return false };
        series.others >= OTHERS_MIN
            && series.smooth >= SMOOTH
            && (at - series.torque.mean).abs() <= IN_LINE * series.torque.scale
            && judged.is_none_or(|judged| judged.verdict.wrong < 0.3)
    }

    /// The twin of an entry, with which of the two is wrong sooner: whose value its own expectation foresees less.
    fn twin(&self, i: usize) -> Option<Twin> {
        const ONE_SIDED_MAX: f64 = 1e4;
        let mut twin = self.peers.twin(i)?;
        let foreseen = |j: usize| {
            let (series, comparable) = (self.series.get(j), self.comparables.get(&self.entries[j]));
            let expectation = expected(&self.entries[j], series.as_ref(), comparable.as_ref(), self.priors)?;
            Some(expectation.density(self.entries[j].stated.ln_newton_meters()?))
        };
        let odds = |(own, other): &(usize, usize)| Some(foreseen(*own)? / foreseen(*other)?.max(f64::MIN_POSITIVE));
        let odds: f64 = twin.pairs.iter().filter_map(odds).product();
        twin.other_wrong = odds.clamp(1.0 / ONE_SIDED_MAX, ONE_SIDED_MAX);
        Some(twin)
    }

    fn judge(&self, i: usize, twin: Option<Twin>) -> Option<Judged> {
        let entry = &self.entries[i];
        let (series, comparable) = (self.series.get(i), self.comparables.get(entry));
        let (series, comparable) = (series.as_ref(), comparable.as_ref());
        // The same figure in the same unit only says that the source was copied rightly, not that it is right.
        let others = entry.printed.iter().filter(|other| !other.is_copy_of(entry.stated));
        let printed: Vec<Value> = others.copied().collect();
        let torque = expected(entry, series, comparable, self.priors);
        let width = width_expected(series, self.priors);
        let mut evidence = Evidence {
            stated: entry.stated,
            printed: &printed,
            torque: torque.as_ref(),
            width: entry.stated.figures.width().map(|_| &width),
            grain: Grain::new(self.priors.grain),
            agreement: if printed.is_empty() {
                Agreement::new(self.priors.agreement)
            } else {
                self.agreements.without(entry)
            },
            units: self.peers.units(entry),
            follows_torque: false,
            takeable: &[],
            twin,
            assorted: 1.0 - series.map_or(0.0, |series| series.smooth),
            copies: self.copies.get(i),
            elsewhere: &[],
        };
        if evidence.is_unsuspicious() {
            return None;
        }
        let (takeable, elsewhere) = (self.peers.takeable(i), self.peers.elsewhere(i));
        (evidence.takeable, evidence.elsewhere) = (&takeable, &elsewhere);
        evidence.grain = self.peers.grain(entry);
        evidence.follows_torque = self.peers.follows_torque(i);
        let differs = evidence.copies.iter().any(|copy| !copy.equals(entry.stated));
        Some(Judged {
            verdict: weigh(&evidence),
            basis: if differs {
                Basis::Comparable { records: evidence.copies.len() }
            } else {
                basis(entry, series, comparable)
            },
            usual_nm: torque.as_ref().and_then(usual_nm),
            units_disagree: printed.iter().any(|other| evidence.agreement.likelihood(entry.stated, *other) < DISAGREE),
        })
    }
}

fn usual_nm(torque: &Expectation) -> Option<(f64, f64)> {
    let bell = torque.main()?;
    let half = NINETEEN_OF_TWENTY * bell.scale;
    Some(((bell.mean - half).exp(), (bell.mean + half).exp()))
}

fn basis(entry: &Entry, series: Option<&InSeries>, comparable: Option<&Comparable>) -> Basis {
    match (series, comparable) {
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
