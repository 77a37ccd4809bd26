//! How findings are shown: a page for people, rows for programs.

use super::layout::fill;
use super::said::{ListSaid, Said, count, list, text};
use super::table::{self, Table};
use super::terminal;
use serde_json::{Value, json};
use std::collections::{HashMap, HashSet};

/// Findings, and how many there are of each severity.
pub struct Findings(Said);

/// A row for each finding.
#[must_use]
pub fn rows(findings: &[Value]) -> Table {
    let mut table = Table::new([
        "severity",
        "record",
        "field",
        "found",
        "rule",
        "message",
        "perhaps",
        "slip",
        "probability",
        "allowed",
        "because",
        "look_up",
        "accepted",
    ]);
    for finding in findings {
        let first = list(finding, "perhaps").first().cloned().unwrap_or_default();
        let probability = first.get("probability").and_then(Value::as_f64);
        table.row([
            text(finding, "severity").to_owned(),
            text(finding, "record").to_owned(),
            text(finding, "field").to_owned(),
            text(finding, "found").to_owned(),
            text(finding, "rule").to_owned(),
            text(finding, "message").to_owned(),
            text(&first, "value").to_owned(),
            text(&first, "slip").to_owned(),
            probability.map(|probability| format!("{probability:.2}")).unwrap_or_default(),
            finding.get("allowed").map(allowed).unwrap_or_default(),
            because(finding),
            text(finding, "look_up").to_owned(),
            text(finding, "accepted").to_owned(),
        ]);
    }
    table
}

impl Findings {
    /// These findings, counted as the API counts them.
    #[must_use]
    pub fn of(items: Vec<Value>) -> Self {
        Self(Said::of(&tallied(items)))
    }
}

impl ListSaid for Findings {
    fn said(&self) -> &Said {
        &self.0
    }
    fn rows(&self) -> Table {
        rows(self.0.items())
    }
    fn page(&self, width: usize) -> String {
        page(self.0.value(), width)
    }
}

/// Findings with how many there are of each severity, in the shape of the API.
fn tallied(items: Vec<Value>) -> Value {
    let is_accepted = |finding: &&Value| finding.get("accepted").is_some();
    let count = |severity: &str| {
        items.iter().filter(|finding| !is_accepted(finding) && text(finding, "severity") == severity).count()
    };
    let (errors, warnings, notes) = (count("error"), count("warning"), count("note"));
    let accepted = items.iter().filter(is_accepted).count();
    json!({ "items": items, "errors": errors, "warnings": warnings, "notes": notes, "accepted": accepted })
}

/// What a value was compared with, in words.
fn allowed(value: &Value) -> String {
    let end = |name: &str| value.get(name).and_then(Value::as_str);
    match (end("min"), end("max")) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("at least {min}"),
        (None, Some(max)) => format!("at most {max}"),
        (None, None) => list(value, "one_of").iter().map(table::cell).collect::<Vec<_>>().join(", "),
    }
}

/// What a finding rests on, in words.
fn because(finding: &Value) -> String {
    let one = |because: &Value| {
        let (quantity, value) =
            super::words::named(text(because, "quantity"), because.get("value").unwrap_or(&Value::Null));
        format!("{quantity} {value} ({})", text(because, "source"))
    };
    list(finding, "because").iter().map(one).collect::<Vec<_>>().join("; ")
}

/// What was perhaps meant, in words.
fn perhaps(perhaps: &Value) -> String {
    let probability = perhaps.get("probability").and_then(Value::as_f64).unwrap_or(0.0);
    let chance = crate::audit::chance(probability);
    format!("perhaps {} ({}, {chance})", text(perhaps, "value"), text(perhaps, "slip"))
}

/// A page to read with coffee: joint by joint, the worst first, each finding with why and what was perhaps meant.
fn page(list_of: &Value, width: usize) -> String {
    let mut out = String::new();
    for (joint, findings) in by_joint(list(list_of, "items")) {
        out += &format!("{}\n", terminal::heading(joint));
        for finding in findings {
            out += &paragraph(joint, finding, width);
        }
        out.push('\n');
    }
    let number = |name: &str| count(list_of, name);
    let accepted = if number("accepted") > 0 { format!(", {} accepted", number("accepted")) } else { String::new() };
    out += &format!(
        "{}, {}, {}{accepted}.\n",
        counted(number("errors"), "error"),
        counted(number("warnings"), "warning"),
        counted(number("notes"), "note"),
    );
    let caveat = "No finding does not mean that a number is right: each was compared with tables and mechanics only.";
    out + &fill(caveat, width, "", "")
}

/// A finding in two lines: the sentence, and what was perhaps meant.
#[must_use]
pub fn brief(finding: &Value, width: usize) -> String {
    let sentence = format!("{}. [{}]", text(finding, "message"), text(finding, "rule"));
    let mut out = with_severity(finding, &sentence, width);
    if let Some(first) = list(finding, "perhaps").first() {
        out += &fill(&perhaps(first), width, INDENT, INDENT);
    }
    out
}

/// Where the text beside a severity begins.
const INDENT: &str = "           ";

fn with_severity(finding: &Value, sentence: &str, width: usize) -> String {
    let word = format!("{:8}", text(finding, "severity"));
    let filled = fill(sentence, width, INDENT, INDENT);
    format!("  {} {}", terminal::severity(&word), filled.trim_start())
}

fn paragraph(joint: &str, finding: &Value, width: usize) -> String {
    let record = text(finding, "record");
    let record = record.strip_prefix(joint).map_or(record, |rest| rest.trim_start_matches('.'));
    let parts = [record, text(finding, "field")].into_iter().filter(|part| !part.is_empty());
    let place = parts.collect::<Vec<_>>().join(" ");
    let found = Some(text(finding, "found")).filter(|found| !found.is_empty());
    let found = found.map(|found| format!(" \"{found}\"")).unwrap_or_default();
    let mut out = with_severity(finding, &format!("{place}{found}"), width);
    let mut line = |text: &str| out += &fill(text, width, INDENT, &format!("{INDENT}  "));
    line(&format!("{}. [{}]", text(finding, "message"), text(finding, "rule")));
    if let Some(value) = finding.get("allowed") {
        line(&format!("compared with: {}", allowed(value)));
    }
    let because = because(finding);
    if !because.is_empty() {
        line(&format!("because: {because}"));
    }
    for value in list(finding, "perhaps") {
        line(&perhaps(value));
    }
    if !text(finding, "look_up").is_empty() {
        line(&format!("look up: {}", text(finding, "look_up")));
    }
    if !text(finding, "accepted").is_empty() {
        line(&format!("accepted: {}", text(finding, "accepted")));
    }
    out
}

/// How bad a finding is, as a number.
fn rank(finding: &Value) -> u8 {
    match text(finding, "severity") {
        "error" => 2,
        "warning" => 1,
        _ => 0,
    }
}

/// The findings grouped by joint, the joint with the worst finding first.
fn by_joint(findings: &[Value]) -> Vec<(&str, Vec<&Value>)> {
    fn parent(record: &str) -> &str {
        record.rsplit_once('.').map_or(record, |(joint, _)| joint)
    }
    let joints: HashSet<&str> = findings.iter().map(|finding| parent(text(finding, "record"))).collect();
    let mut groups: Vec<(&str, Vec<&Value>)> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    for finding in findings {
        let own = text(finding, "record");
        let joint = if joints.contains(own) { own } else { parent(own) };
        let place = *places.entry(joint).or_insert_with(|| {
            groups.push((joint, Vec::new()));
            groups.len() - 1
        });
        groups[place].1.push(finding);
    }
    for (_, group) in &mut groups {
        group.sort_by_key(|finding| std::cmp::Reverse(rank(finding)));
    }
    groups.sort_by_key(|(_, group)| std::cmp::Reverse(group.iter().map(|finding| rank(finding)).max()));
    groups
}

fn counted(count: u64, word: &str) -> String {
    format!("{count} {word}{}", if count == 1 { "" } else { "s" })
}
