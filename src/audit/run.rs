//! Running the rules over records.

use super::book::Book;
use super::finding::{Finding, Severity};
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

    /// Tells the findings of these records of the book in their order, some records at a time, with how many are done: on
    /// all cores, and before the last ones are audited.
    ///
    /// # Errors
    /// If `tell` fails.
    pub fn each<E>(
        &self,
        records: &[&Record],
        mut tell: impl FnMut(usize, Vec<Finding>) -> Result<(), E>,
    ) -> Result<(), E> {
        const AT_A_TIME: usize = 4096;
        // The first ones are told soon, the later ones many at a time.
        let (mut done, mut next) = (0, 64);
        while done < records.len() {
            let some = &records[done..(done + next).min(records.len())];
            let findings = some.par_iter().flat_map_iter(|record| self.findings_of(record)).collect();
            (done, next) = (done + some.len(), (2 * next).min(AT_A_TIME));
            tell(done, findings)?;
        }
        Ok(())
    }

    /// The findings of one record, the worst first, accepted ones marked.
    #[must_use]
    pub fn findings_of(&self, record: &Record) -> Vec<Finding> {
        let mut findings = Vec::new();
        match record {
            Record::Fastener(fastener) => {
                let case = FastenerCase::new(fastener, self.book);
                for (rule, check) in fastener_rules() {
                    add(&mut findings, check(&case), rule, record);
                }
            }
            Record::Joint(joint) => {
                let case = JointCase { joint, fasteners: self.book.fasteners_of(&joint.id), book: self.book };
                for (rule, check) in joint_rules() {
                    add(&mut findings, check(&case), rule, record);
                }
            }
        }
        for rule in RULES {
            if let Check::Outcome(check) = rule.check {
                let found = check(record, &findings);
                add(&mut findings, found, rule, record);
            }
        }
        if findings.len() > 1 {
            findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
        }
        findings
    }
}

fn fastener_rules() -> impl Iterator<Item = (&'static Rule, fn(&FastenerCase<'_>) -> Vec<Finding>)> {
    RULES.iter().filter_map(|rule| if let Check::Fastener(check) = rule.check { Some((*rule, check)) } else { None })
}

fn joint_rules() -> impl Iterator<Item = (&'static Rule, fn(&JointCase<'_>) -> Vec<Finding>)> {
    RULES.iter().filter_map(|rule| if let Check::Joint(check) = rule.check { Some((*rule, check)) } else { None })
}

/// Adds the findings of a rule, with the rule, the record and the acceptance filled in.
fn add(findings: &mut Vec<Finding>, found: Vec<Finding>, rule: &'static Rule, record: &Record) {
    if found.is_empty() {
        return;
    }
    let accepted = record.accepted().iter().find(|accepted| accepted.rule.as_str() == rule.name);
    let (id, reason) = (record.id().to_string(), accepted.map(|accepted| accepted.reason.to_string()));
    findings.extend(found.into_iter().map(|finding| Finding {
        rule: rule.name,
        record: id.clone(),
        accepted: reason.clone(),
        look_up: (finding.severity > Severity::Note).then(|| look_up(record)),
        ..finding
    }));
}

/// Where a record can be looked up, in words.
fn look_up(record: &Record) -> String {
    let source = match record {
        Record::Joint(joint) => joint.source.as_ref(),
        Record::Fastener(fastener) => fastener.source.as_ref(),
    };
    let Some((source, document)) = source.and_then(|source| Some((source, source.document.as_ref()?))) else {
        return "no document is named; ask whoever entered it for one".to_owned();
    };
    let part = |word: &str, text: Option<&crate::record::Text>| text.map(|text| format!(", {word} {text}"));
    let page = source.page.as_ref().map(|page| {
        // "41" is a page; "Table G-1, page 3" says what it is by itself.
        let is_number = page.as_str().starts_with(|c: char| c.is_ascii_digit());
        if is_number { format!(", page {page}") } else { format!(", {page}") }
    });
    let edition = part("edition", source.edition.as_ref()).unwrap_or_default();
    let printed = source.printed.as_ref().map(|text| format!(": \"{text}\"")).unwrap_or_default();
    format!("{document}{edition}{}{printed}", page.unwrap_or_else(|| ", whose page is not stated".to_owned()))
}
