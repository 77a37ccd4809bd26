//! What a live audit keeps of a record: not the record, and of its findings only what they come to.
//!
//! A record takes some 2 kB decoded and its findings as much again, which for a large book is many times its JSON. Both can
//! be had again: the record from the store, the findings from the record.

#[cfg(debug_assertions)]
use super::finding::{Allowed, Evidence};
use super::finding::{Finding, Severity};
use super::rules::RULES;
use super::summary::AuditSummary;
use crate::record::{Id, Record};
use std::hash::{DefaultHasher, Hash, Hasher};

/// What is kept of a record of the book.
#[derive(Debug, Clone)]
pub(super) struct Kept {
    /// Which state of the record was audited.
    pub version: u64,
    /// A number of its part, the same for the same part; none where no part is stated.
    pub part: Option<PartKey>,
    /// The rules that have found something, as bits by their places in the list.
    rules: u64,
    /// Tells these findings from others.
    #[cfg(debug_assertions)]
    fingerprint: u32,
    count: u16,
    accepted: u16,
    /// The severity of the worst finding, accepted ones left out.
    worst: Option<Severity>,
    /// The severity of the worst finding of all.
    worst_of_all: Option<Severity>,
    /// How long the id of its joint is, with which its own begins; none for a joint.
    joint: Option<u8>,
}

/// A number of a part, the same for the same part.
pub(super) type PartKey = std::num::NonZeroU64;

/// The number of this part.
pub(super) fn part_key(part_no: &str) -> PartKey {
    let mut hash = DefaultHasher::new();
    part_no.hash(&mut hash);
    PartKey::new(hash.finish()).unwrap_or(PartKey::MIN)
}

/// The number of the part of a record, if it states one.
pub(super) fn part_of(record: &Record) -> Option<PartKey> {
    record.as_fastener()?.part_no.as_ref().map(|part| part_key(part))
}

/// The joint that a record closes, or that it is.
pub(super) fn joint_of(record: &Record) -> &Id {
    record.as_fastener().map_or(record.id(), |fastener| &fastener.joint)
}

impl Kept {
    /// What is kept of a record, with nothing found yet.
    pub fn of(record: &Record, version: u64) -> Self {
        let joint = record.as_fastener().map(|fastener| fastener.joint.as_str().len());
        Self {
            version,
            part: part_of(record),
            rules: 0,
            #[cfg(debug_assertions)]
            fingerprint: fingerprint(&[]),
            count: 0,
            accepted: 0,
            worst: None,
            worst_of_all: None,
            // An id has at most 160 bytes.
            joint: joint.map(|length| u8::try_from(length).unwrap_or(u8::MAX)),
        }
    }

    /// Enters what was found about the record.
    pub fn enter(&mut self, findings: &[Finding]) {
        let AuditSummary { worst, count, accepted } = AuditSummary::of(findings);
        let number = |count: usize| u16::try_from(count).unwrap_or(u16::MAX);
        (self.worst, self.count, self.accepted) = (worst, number(count), number(accepted));
        self.worst_of_all = findings.iter().map(|finding| finding.severity).max();
        self.rules = findings.iter().fold(0, |bits, finding| bits | bit_of(finding.rule));
        #[cfg(debug_assertions)]
        {
            self.fingerprint = fingerprint(findings);
        }
    }

    /// The joint that the record of this id closes; nothing for a joint.
    pub fn joint<'i>(&self, id: &'i str) -> Option<&'i str> {
        id.get(..self.joint_length()?)
    }

    /// How many bytes of the id of its record are that of the joint that it closes; nothing for a joint.
    pub fn joint_length(&self) -> Option<usize> {
        self.joint.map(usize::from)
    }

    /// Whether it is a joint.
    pub fn is_joint(&self) -> bool {
        self.joint.is_none()
    }

    /// What was found, in short.
    pub fn summary(&self) -> AuditSummary {
        AuditSummary { worst: self.worst, count: self.count.into(), accepted: self.accepted.into() }
    }

    /// How many findings there are, accepted ones among them.
    pub fn findings(&self) -> usize {
        usize::from(self.count) + usize::from(self.accepted)
    }

    /// Whether there may be a finding at least this bad, of this rule if one is named.
    pub fn may_have(&self, at_least: Severity, rule: Option<&str>) -> bool {
        self.worst_of_all.is_some_and(|worst| worst >= at_least)
            && rule.is_none_or(|rule| self.rules & bit_of(rule) != 0)
    }

    /// Whether these are the findings that were entered.
    #[cfg(debug_assertions)]
    pub fn is_of(&self, findings: &[Finding]) -> bool {
        self.fingerprint == fingerprint(findings)
    }
}

/// The bit of a rule. Beyond sixty-four rules some share one.
fn bit_of(rule: &str) -> u64 {
    let place = RULES.iter().position(|known| known.name == rule).unwrap_or_default();
    1 << (place % 64)
}

/// A number of these findings to the letter: the same for the same findings, and hardly ever for others. It says whether every
/// record has been audited again that had to be, which tests ask; a book that is served has no room for it.
#[cfg(debug_assertions)]
fn fingerprint(findings: &[Finding]) -> u32 {
    let mut crc = Fingerprint::default();
    for finding in findings {
        let Finding { rule, severity, record: _, field, found, allowed, message, because, perhaps, .. } = finding;
        [*rule, severity.word(), field, message].into_iter().for_each(|text| crc.text(text));
        [found, &finding.look_up, &finding.accepted].into_iter().for_each(|text| crc.option(text.as_ref()));
        match allowed {
            Some(Allowed::Range { min, max }) => [min, max].into_iter().for_each(|end| crc.option(end.as_ref())),
            Some(Allowed::OneOf { one_of }) => one_of.iter().for_each(|one| crc.text(one)),
            None => crc.option(None),
        }
        for because in because {
            crc.text(&because.quantity);
            crc.text(&because.source);
            match &because.value {
                Evidence::Number(number) => crc.number(*number),
                Evidence::Text(value) => crc.text(value),
            }
        }
        for perhaps in perhaps {
            crc.text(&perhaps.value);
            crc.text(&perhaps.slip);
            crc.number(perhaps.probability);
        }
        crc.number(finding.sure.unwrap_or(f64::NAN));
    }
    crc.0.finalize()
}

#[cfg(debug_assertions)]
#[derive(Default)]
struct Fingerprint(crc32fast::Hasher);

#[cfg(debug_assertions)]
impl Fingerprint {
    fn text(&mut self, text: &str) {
        // No text has this byte.
        self.0.update(text.as_bytes());
        self.0.update(&[0xff]);
    }

    fn option(&mut self, text: Option<&String>) {
        match text {
            Some(text) => self.text(text),
            None => self.0.update(&[0xfe]),
        }
    }

    fn number(&mut self, number: f64) {
        self.0.update(&number.to_bits().to_be_bytes());
    }
}

#[cfg(all(test, debug_assertions))]
mod tests {
    use super::*;
    use serde_json::json;

    fn fastener() -> Record {
        let json = json!({ "kind": "fastener", "id": "skua.a.b.c", "joint": "skua.a.b", "thread": "M8",
            "part_no": "SY-1", "stages": ["20 N·m"] });
        Record::from_json(&json).expect("a record")
    }

    #[test]
    fn what_findings_come_to_is_kept_and_other_findings_are_told_from_them() {
        let record = fastener();
        let mut kept = Kept::of(&record, 7);
        assert_eq!((kept.joint("skua.a.b.c"), kept.part), (Some("skua.a.b"), Some(part_key("SY-1"))));
        assert!(kept.is_of(&[]) && !kept.may_have(Severity::Note, None));
        let named = |finding: Finding, rule| Finding { rule, ..finding };
        let error = named(Finding::error("stages[0]", "too much"), RULES[3].name);
        let note = named(Finding::note("grip", "not stated"), RULES[70 % RULES.len()].name);
        let accepted = Finding { accepted: Some("so it is".to_owned()), ..error.clone() };
        kept.enter(&[accepted.clone(), note.clone()]);
        assert_eq!(kept.summary(), AuditSummary { worst: Some(Severity::Note), count: 1, accepted: 1 });
        assert!(kept.may_have(Severity::Error, Some(RULES[3].name)), "an accepted one is one");
        assert!(!kept.may_have(Severity::Note, Some(RULES[4].name)));
        assert!(kept.is_of(&[accepted, note.clone()]));
        assert!(!kept.is_of(&[error, note]));
    }
}
