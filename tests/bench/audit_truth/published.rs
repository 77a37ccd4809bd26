//! Real misprints and false alarms, through the whole audit.

use crate::corpus::Published;
use crate::tally::share;
use clampbook::audit::{Audit, Book, Finding, Severity};
use clampbook::record::{Record, Role};
use std::collections::{BTreeMap, BTreeSet};

/// The misprints of a set, the false alarms on its right rows: each document for itself, then all in one book.
pub fn report(tables: &[Published], joints: &[Published]) {
    for (name, set) in [("tables", tables), ("particular joints", joints)] {
        let by_itself = each_document(set);
        let together = audited(set.iter());
        println!("\nReal misprints in {name}, by event (each document for itself | all documents in one book)");
        for confidence in ["high", "medium", "low"] {
            let (found, all) = events(set, &by_itself, confidence);
            let (found_together, _) = events(set, &together, confidence);
            println!(
                "  {confidence:6} {} of {} found | {} of {}; not found: {} | {}",
                found.len(),
                all.len(),
                found_together.len(),
                all.len(),
                words(all.difference(&found)),
                words(all.difference(&found_together))
            );
        }
        false_alarms(name, set, &by_itself, "each document for itself");
        false_alarms(name, set, &together, "all documents in one book");
    }
}

fn words<'w>(words: impl Iterator<Item = &'w String>) -> String {
    let words: Vec<&str> = words.map(String::as_str).collect();
    if words.is_empty() { "none".to_owned() } else { words.join(", ") }
}

/// The findings of warning or error of each row, by the row's id.
pub type Findings = BTreeMap<String, Vec<Finding>>;

/// The findings of these rows, each document a book of its own.
pub fn each_document(set: &[Published]) -> Findings {
    let sources: BTreeSet<&str> = set.iter().map(|row| row.source.as_str()).collect();
    sources.into_iter().flat_map(|source| audited(set.iter().filter(move |row| row.source == source))).collect()
}

/// The findings of these rows in one book.
pub fn audited<'p>(rows: impl Iterator<Item = &'p Published>) -> Findings {
    let rows: Vec<&Published> = rows.collect();
    let records: Vec<&Record> = rows.iter().map(|row| &row.record).collect();
    let book = Book::new(records);
    let audit = Audit::of(&book);
    let findings = |row: &&Published| {
        let findings = audit.findings_of(&row.record);
        let grave = findings.into_iter().filter(|finding| finding.severity >= Severity::Warning);
        (row.row.clone(), grave.collect())
    };
    rows.iter().map(findings).collect()
}

/// Is the finding about the number, and not about what is missing beside it?
pub fn is_about_number(finding: &Finding) -> bool {
    finding.field.starts_with("stages") || finding.field == "source.printed"
}

fn events(set: &[Published], findings: &Findings, confidence: &str) -> (BTreeSet<String>, BTreeSet<String>) {
    let (mut found, mut all) = (BTreeSet::new(), BTreeSet::new());
    for row in set {
        let Some(misprint) = row.misprint.as_ref().filter(|misprint| misprint.confidence == confidence) else {
            continue;
        };
        all.insert(misprint.event.clone());
        let of_thread = misprint.field == "thread";
        let hit = |finding: &Finding| if of_thread { finding.field == "thread" } else { is_about_number(finding) };
        if findings[&row.row].iter().any(hit) {
            found.insert(misprint.event.clone());
        }
    }
    (found, all)
}

fn false_alarms(name: &str, set: &[Published], findings: &Findings, how: &str) {
    let right: Vec<&Published> = set.iter().filter(|row| row.misprint.is_none()).collect();
    let bolted = |row: &&&Published| matches!(row.fastener().role(), Role::Bolt | Role::Nut | Role::Wheel);
    let groups: [(&str, Vec<&Published>); 2] = [
        ("bolted", right.iter().filter(bolted).copied().collect()),
        ("other fastenings", right.iter().filter(|row| !bolted(row)).copied().collect()),
    ];
    for (group, rows) in groups.iter().filter(|(_, rows)| !rows.is_empty()) {
        let alarmed: Vec<&&Published> =
            rows.iter().filter(|row| findings[&row.row].iter().any(is_about_number)).collect();
        println!(
            "  false alarms about the number, {name}, {group}, {how}: {} of {} right rows ({:.2} %)",
            alarmed.len(),
            rows.len(),
            share(alarmed.len(), rows.len())
        );
        for row in alarmed {
            for finding in findings[&row.row].iter().filter(|finding| is_about_number(finding)) {
                println!("    {} {} {}: {}", row.row, finding.severity, finding.rule, finding.message);
            }
        }
    }
}
