//! From a verdict of the slip model to a finding: how bad, in which words, with what was perhaps meant.

use super::finding::{Allowed, Finding, Perhaps, Severity};
use super::rule::FastenerCase;
use super::slip::{Basis, Judged, Meaning, Value};
use super::torques::JudgedTorque;
use crate::units::{Stated, Torque, TorqueUnit};

/// What a doubt mainly rests on; each has its rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ground {
    /// The other values of its series.
    Series,
    /// Comparable records of the book.
    Comparable,
    /// The strength of its class.
    Class,
    /// The same value printed in another unit.
    Units,
}

/// Near certain to be wrong.
const ERROR: f64 = 0.95;
/// More likely wrong than right.
const WARNING: f64 = 0.5;
/// Worth a second look.
const NOTE: f64 = 0.3;

/// The findings of a fastener that rest on this ground.
pub(super) fn doubts(case: &FastenerCase<'_>, ground: Ground) -> Vec<Finding> {
    let torques = case.book.torques().of_fastener(case.fastener.id.as_str());
    let judged = torques.filter_map(|torque| torque.judged.map(|judged| (torque, judged)));
    judged
        .filter(|(_, judged)| ground_of(judged) == ground)
        .filter_map(|(torque, judged)| finding(&torque, judged, ground))
        .collect()
}

/// Is it clear for every torque of the fastener what the source prints for it?
pub(super) fn is_weighed(case: &FastenerCase<'_>) -> bool {
    let mut torques = case.book.torques().of_fastener(case.fastener.id.as_str()).peekable();
    torques.peek().is_some() && torques.all(|torque| !torque.entry.printed.is_empty())
}

/// What was perhaps meant by the torque of this stage, for any rule that doubts it.
pub fn perhaps_meant(case: &FastenerCase<'_>, stage: usize) -> Vec<Perhaps> {
    let mut torques = case.book.torques().of_fastener(case.fastener.id.as_str());
    let judged = torques.find(|torque| torque.stage == stage).and_then(|torque| torque.judged);
    judged.map(|judged| perhaps(&judged.verdict.meant)).unwrap_or_default()
}

/// Does the torque of this stage stand in line with a smooth series of its own? Then what a rule holds against it, it
/// holds against the whole table: that counts on other friction or other strength more often than it is wrong.
pub(super) fn is_in_line(case: &FastenerCase<'_>, stage: usize) -> bool {
    let mut torques = case.book.torques().of_fastener(case.fastener.id.as_str());
    torques.any(|torque| torque.stage == stage && torque.in_line)
}

fn ground_of(judged: &Judged) -> Ground {
    match judged.basis {
        _ if judged.units_disagree => Ground::Units,
        Basis::Series { .. } => Ground::Series,
        Basis::Comparable { .. } => Ground::Comparable,
        Basis::Class | Basis::Nothing => Ground::Class,
    }
}

fn finding(torque: &JudgedTorque<'_>, judged: &Judged, ground: Ground) -> Option<Finding> {
    let verdict = &judged.verdict;
    let sure = verdict.wrong + verdict.printed_wrong;
    let severity = match sure {
        _ if sure >= ERROR => Severity::Error,
        _ if sure >= WARNING => Severity::Warning,
        _ if sure >= NOTE => Severity::Note,
        _ => return None,
    };
    let stated = torque.entry.stated;
    let of_printed = verdict.printed_wrong > verdict.wrong;
    let meant = if of_printed { &verdict.printed_meant } else { &verdict.meant };
    let field = if of_printed { "source.printed".to_owned() } else { format!("stages[{}]", torque.stage) };
    let mut finding = Finding::new(severity, field, message(torque, judged, ground, meant, of_printed)).found(stated);
    if ground == Ground::Units {
        finding = finding.because_of("printed", others(&torque.entry.printed, stated), "the record's source");
    } else if let Some((low, high)) = judged.usual_nm {
        finding = finding.allowed(Allowed::Range {
            min: Some(rounded(low, stated.unit).to_string()),
            max: Some(rounded(high, stated.unit).to_string()),
        });
    }
    finding.perhaps = perhaps(meant);
    finding.sure = Some(two_places(sure));
    Some(finding)
}

fn message(torque: &JudgedTorque<'_>, judged: &Judged, ground: Ground, meant: &[Meaning], of_printed: bool) -> String {
    let stated = torque.entry.stated;
    let usual = judged.usual_nm.map_or(String::new(), |(low, high)| {
        let (low, high) = (rounded(low, stated.unit), rounded(high, stated.unit));
        format!("{} to {high}", low.number())
    });
    let compared = match (ground, judged.basis) {
        (Ground::Units, _) => format!("{stated} and {} are not the same torque", others(&torque.entry.printed, stated)),
        (_, Basis::Series { others }) => {
            format!("{stated} is out of line with the {others} other values of its series, which expect {usual}")
        }
        (_, Basis::Comparable { records: 1 }) => {
            format!("{stated} is unlike the comparable record, which expects {usual}")
        }
        (_, Basis::Comparable { records }) => {
            format!("{stated} is unlike the {records} comparable records of the book, which expect {usual}")
        }
        (_, Basis::Class) => format!("{stated} is improbable for this thread and class, which expect {usual}"),
        (_, Basis::Nothing) => format!("{stated} contradicts itself"),
    };
    let Some(first) = meant.first() else { return compared };
    let what = if of_printed { "the figure was" } else { "it was" };
    format!("{compared}; perhaps {what} meant to be {}: {}", first.meant, first.slip.sentence())
}

fn perhaps(meant: &[Meaning]) -> Vec<Perhaps> {
    let one = |meaning: &Meaning| Perhaps {
        value: meaning.meant.to_string(),
        slip: meaning.slip.name().to_owned(),
        probability: two_places(meaning.probability),
    };
    meant.iter().map(one).filter(|perhaps| perhaps.probability >= 0.01).collect()
}

/// The other figures, without the stated one over again.
fn others(printed: &[Value], stated: Value) -> String {
    let others = printed.iter().filter(|value| **value != stated);
    others.map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

fn rounded(newton_meters: f64, unit: TorqueUnit) -> Stated<TorqueUnit> {
    Stated::of(Torque::from_newton_meters(newton_meters), unit, 2)
}

/// A probability to two places. It is never called certain: 0.99 stands for all from there on.
pub(super) fn two_places(probability: f64) -> f64 {
    const MOST: f64 = 0.99;
    if probability >= MOST { MOST } else { ((probability * 100.0).round() / 100.0).min(MOST - 0.01) }
}
