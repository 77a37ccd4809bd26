//! What a card warns of, the worst first.

use super::build::Lettered;
use super::standing::open_findings;
use super::{Alternative, CardInput, CardPass, Caution, CautionFrom};
use crate::audit::{Finding, Severity};
use crate::card::apart::tell_apart;
use crate::card::fits::{fits_words, suits};
use crate::card::passes::sits_at;
use crate::card::shapes::head_words;
use crate::record::Fastener;
use crate::thread::Hand;
use std::collections::BTreeMap;

/// The cautions of a card.
pub(super) fn cautions(
    input: &CardInput<'_>,
    lettered: &[Lettered<'_>],
    alternatives: &[Alternative],
    passes: &[CardPass],
) -> Vec<Caution> {
    let mut cautions = Vec::new();
    cautions.extend(of_the_past(input));
    cautions.extend(withdrawn(input, lettered));
    cautions.extend(found(input, lettered, Severity::Error));
    cautions.extend(machines(input));
    cautions.extend(shared_places(alternatives));
    cautions.extend(heads(lettered));
    cautions.extend(stated(input, lettered));
    cautions.extend(left_hand(lettered));
    cautions.extend(found(input, lettered, Severity::Warning));
    cautions.extend(unchecked(input, lettered));
    cautions.extend(gaps(lettered, passes));
    cautions
}

fn caution(from: CautionFrom, about: Option<&Lettered<'_>>, text: impl Into<String>) -> Caution {
    Caution { from, about: about.map(|one| one.letter.clone()), text: text.into() }
}

/// The card is not about what holds now.
fn of_the_past(input: &CardInput<'_>) -> Option<Caution> {
    let moment = input.options.as_of?;
    let text = format!("This is the book as it was at {moment}. Look up what holds now before you set a value.");
    Some(caution(CautionFrom::Record, None, text))
}

fn withdrawn(input: &CardInput<'_>, lettered: &[Lettered<'_>]) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if input.joint.is_withdrawn {
        cautions.push(caution(
            CautionFrom::Record,
            None,
            "This joint has been withdrawn from the book. Do not use this card.",
        ));
    }
    for one in lettered.iter().filter(|one| one.numbered.is_withdrawn) {
        cautions.push(caution(CautionFrom::Record, Some(one), "withdrawn from the book: do not use"));
    }
    cautions
}

/// Findings of one severity, each in its sentence, with what was perhaps meant.
fn found(input: &CardInput<'_>, lettered: &[Lettered<'_>], severity: Severity) -> Vec<Caution> {
    let of_severity = open_findings(input, lettered).filter(|finding| finding.severity == severity);
    let said = of_severity.map(|finding| {
        let about = lettered.iter().find(|one| one.record().id.as_str() == finding.record);
        caution(CautionFrom::Audit, about, finding_words(finding))
    });
    said.collect()
}

fn finding_words(finding: &Finding) -> String {
    let perhaps =
        finding.perhaps.first().map_or(String::new(), |perhaps| format!(" Perhaps {} was meant.", perhaps.value));
    let message = finding.message.trim_end_matches('.');
    format!("audit {}: {message}.{perhaps}", finding.severity)
}

/// The joint is for some machines only.
fn machines(input: &CardInput<'_>) -> Option<Caution> {
    let fits = input.joint.record.fits.as_ref()?;
    let text = match input.options.variant.as_deref() {
        Some(variant) if !suits(Some(fits), Some(variant)) => {
            format!("This joint is only for {}; the card was made for {variant}", fits_words(fits))
        }
        _ => format!("Only for {}", fits_words(fits)),
    };
    Some(caution(CautionFrom::Lookalike, None, text))
}

/// Several kinds of fastener are said to sit at one place.
fn shared_places(alternatives: &[Alternative]) -> Vec<Caution> {
    let said = alternatives.iter().map(|one| {
        let at = one.positions.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
        let text = if one.depends_on_machine {
            format!("At {at} sits {}, one of them: {}", one.letters.join(" or "), one.told_apart)
        } else {
            format!(
                "At {at} the book names {}: look whether both are there. {}",
                one.letters.join(" and "),
                one.told_apart
            )
        };
        caution(CautionFrom::Lookalike, None, text)
    });
    said.collect()
}

/// The places where several kinds of fastener are said to sit, and what tells them apart.
pub(super) fn alternatives(lettered: &[Lettered<'_>]) -> Vec<Alternative> {
    let mut positions: Vec<u32> =
        lettered.iter().filter_map(|one| one.record().positions.as_ref()).flat_map(|p| p.iter()).collect();
    positions.sort_unstable();
    positions.dedup();
    let mut groups: BTreeMap<Vec<usize>, Vec<u32>> = BTreeMap::new();
    for position in positions {
        let here: Vec<usize> = (0..lettered.len()).filter(|&i| sits_at(lettered[i].record(), position)).collect();
        if here.len() > 1 {
            groups.entry(here).or_default().push(position);
        }
    }
    let told = groups.into_iter().map(|(here, positions)| {
        let kinds: Vec<&Lettered<'_>> = here.iter().map(|&i| &lettered[i]).collect();
        Alternative {
            positions,
            letters: kinds.iter().map(|one| one.letter.clone()).collect(),
            depends_on_machine: kinds.iter().any(|one| one.record().fits.is_some()),
            told_apart: told_apart(&kinds),
        }
    });
    told.collect()
}

/// What tells some kinds apart: first what one sees, and which machine each is for.
fn told_apart(kinds: &[&Lettered<'_>]) -> String {
    let records: Vec<&Fastener> = kinds.iter().map(|one| one.record()).collect();
    let differences = tell_apart(&records).map(|apart| apart.differences).unwrap_or_default();
    let seen = differences.iter().find(|difference| difference.field != "fits");
    let machines = differences.iter().find(|difference| difference.field == "fits");
    let told: Vec<String> = kinds
        .iter()
        .enumerate()
        .map(|(i, one)| {
            let values = machines.iter().chain(seen.iter()).map(|difference| match &difference.values[i] {
                Some(value) => format!("{} {value}", difference.words),
                None => format!("{} not stated", difference.words),
            });
            format!("{}: {}", one.letter, values.collect::<Vec<_>>().join(", "))
        })
        .collect();
    if differences.is_empty() { "the book does not tell them apart".to_owned() } else { told.join("; ") }
}

/// More than one kind of head in the joint: the head is checked before a value is set.
fn heads(lettered: &[Lettered<'_>]) -> Option<Caution> {
    let mut kinds: Vec<(String, Vec<&str>)> = Vec::new();
    for one in lettered {
        let words = head_words(one.record().head, one.record().drive.as_ref());
        match kinds.iter_mut().find(|(known, _)| *known == words) {
            Some((_, letters)) => letters.push(&one.letter),
            None => kinds.push((words, vec![&one.letter])),
        }
    }
    if kinds.len() < 2 {
        return None;
    }
    let told: Vec<String> = kinds.iter().map(|(words, letters)| format!("{}: {words}", letters.join(", "))).collect();
    let text = format!("{} kinds of head: check the head before you set a value. {}", kinds.len(), told.join("; "));
    Some(caution(CautionFrom::Lookalike, None, text))
}

fn stated(input: &CardInput<'_>, lettered: &[Lettered<'_>]) -> Vec<Caution> {
    let joint = input.joint.record.cautions.iter().map(|text| caution(CautionFrom::Record, None, text.as_str()));
    let fasteners = lettered.iter().flat_map(|one| {
        one.record().cautions.iter().map(move |text| caution(CautionFrom::Record, Some(one), text.as_str()))
    });
    joint.chain(fasteners).collect()
}

/// A left-hand thread, unless the record's own caution says it already.
fn left_hand(lettered: &[Lettered<'_>]) -> Vec<Caution> {
    let says_so = |fastener: &Fastener| fastener.cautions.iter().any(|text| text.to_lowercase().contains("left-hand"));
    lettered
        .iter()
        .filter(|one| one.record().hand() == Hand::Left && !says_so(one.record()))
        .map(|one| caution(CautionFrom::Record, Some(one), "Left-hand thread: tightens anticlockwise"))
        .collect()
}

fn unchecked(input: &CardInput<'_>, lettered: &[Lettered<'_>]) -> Option<Caution> {
    let mut about: Vec<&str> =
        lettered.iter().filter(|one| !one.record().is_checked()).map(|one| one.letter.as_str()).collect();
    if !input.joint.record.source.as_ref().is_some_and(crate::record::Source::is_checked) {
        about.insert(0, "the joint");
    }
    if about.is_empty() {
        return None;
    }
    let text = format!("Unchecked: no second person has compared {} with the source", about.join(", "));
    Some(caution(CautionFrom::Gap, None, text))
}

/// What the records leave open that somebody at the bench must know.
fn gaps(lettered: &[Lettered<'_>], passes: &[CardPass]) -> Vec<Caution> {
    let mut gaps = Vec::new();
    if lettered.is_empty() {
        gaps.push(caution(CautionFrom::Gap, None, "The book has no fastener for this joint"));
    }
    for one in lettered.iter().filter(|one| one.record().positions.is_none()) {
        gaps.push(caution(CautionFrom::Gap, Some(one), "where it sits is not stated"));
    }
    for pass in passes.iter().filter(|pass| !pass.left_out.is_empty()) {
        let left_out: Vec<String> = pass.left_out.iter().map(u32::to_string).collect();
        let text = format!("Pass {} leaves out {}: not touched in it", pass.number, left_out.join(", "));
        gaps.push(caution(CautionFrom::Gap, None, text));
    }
    if passes.iter().any(|pass| pass.order == crate::card::order::OrderFrom::Number.words()) {
        gaps.push(caution(CautionFrom::Gap, None, "The record states no order: positions stand by number"));
    }
    gaps
}
