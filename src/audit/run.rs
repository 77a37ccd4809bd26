//! Running the rules over records.

use super::book::Book;
use super::finding::Finding;
use super::rule::{Check, FastenerCase, JointCase, Rule};
use super::rules::RULES;
use crate::record::Record;
use rayon::prelude::*;

/// An audit of one book.
#[derive(Debug)]
pub struct Audit<'b> {
    book: &'b Book<'b>,
}

impl<'b> Audit<'b> {
    /// The audit of this book with every rule.
    #[must_use]
    pub fn of(book: &'b Book<'b>) -> Self {
        Self { book }
    }

    /// Every finding of the book, in the order of its records, on all cores.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        self.book.records().par_iter().flat_map_iter(|record| self.findings_of(record)).collect()
    }

    /// The findings of one record, the worst first, accepted ones marked.
    #[must_use]
    pub fn findings_of(&self, record: &Record) -> Vec<Finding> {
        let mut findings = Vec::new();
        for rule in RULES {
            let found = match rule.check {
                Check::Fastener(check) => self.fastener_case(record).map(|case| check(&case)),
                Check::Joint(check) => self.joint_case(record).map(|case| check(&case)),
                Check::Outcome(_) => None,
            };
            findings.extend(signed(found.unwrap_or_default(), rule, record));
        }
        for rule in RULES {
            if let Check::Outcome(check) = rule.check {
                let found = check(record, &findings);
                findings.extend(signed(found, rule, record));
            }
        }
        findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
        findings
    }

    fn fastener_case(&self, record: &'b Record) -> Option<FastenerCase<'b>> {
        let fastener = record.as_fastener()?;
        Some(FastenerCase { fastener, joint: self.book.joint(&fastener.joint), book: self.book })
    }

    fn joint_case(&self, record: &'b Record) -> Option<JointCase<'b>> {
        let joint = record.as_joint()?;
        Some(JointCase { joint, fasteners: self.book.fasteners_of(&joint.id), book: self.book })
    }
}

/// The findings with the rule, the record and the acceptance filled in.
fn signed(findings: Vec<Finding>, rule: &'static Rule, record: &Record) -> impl Iterator<Item = Finding> {
    let accepted = record.accepted().iter().find(|accepted| accepted.rule.as_str() == rule.name);
    let (id, reason) = (record.id().to_string(), accepted.map(|accepted| accepted.reason.to_string()));
    findings.into_iter().map(move |finding| Finding {
        rule: rule.name,
        record: id.clone(),
        accepted: reason.clone(),
        ..finding
    })
}
