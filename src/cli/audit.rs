//! `audit`: what is wrong, improbable or missing.

use super::book::BookArguments;
use super::failure::Failure;
use super::import::read_file;
use super::output::{Answer, Output};
use super::table::Table;
use crate::audit::{Evidence, Finding, Severity};
use crate::catalog::{AuditScope, Catalog};
use crate::record::Id;
use crate::view::FindingList;
use serde::Serialize;
use std::collections::{HashMap, HashSet};
use std::fmt::Write as _;
use std::path::PathBuf;

/// What is wrong, improbable or missing: the whole book, some records, or a file that is not stored.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Records by their id; without any, the whole book.
    #[arg(value_name = "ID")]
    ids: Vec<String>,
    /// A file of records (NDJSON, JSON list or CSV), audited as a book of its own and not stored; - for standard input.
    #[arg(long, value_name = "FILE", conflicts_with = "ids")]
    file: Option<PathBuf>,
    /// Only findings at least this bad; they decide the exit code too.
    #[arg(long, value_name = "SEVERITY", default_value = "warning")]
    at_least: Severity,
    /// Only findings of this rule.
    #[arg(long, value_name = "NAME")]
    rule: Option<String>,
    /// Only findings about a number whose probability of being wrong is at least this, 0 to 1.
    #[arg(long, value_name = "PROBABILITY")]
    sure: Option<f64>,
    /// Only records whose ids begin with this path.
    #[arg(long, value_name = "PATH", conflicts_with_all = ["ids", "file"])]
    within: Option<String>,
    /// Show findings that were accepted too.
    #[arg(long)]
    accepted: bool,
}

/// Shows the findings; the answer is no if any is at least as bad as asked for.
///
/// # Errors
/// If the book or the file cannot be read, or there are findings.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    if let Some(name) = &arguments.rule {
        super::explain::known_rule(name)?;
    }
    let findings = match &arguments.file {
        Some(path) => Catalog::audit_records(&read_file(path)?),
        None => book.open()?.audit(&arguments.scope()?)?,
    };
    let list = FindingList::of(findings.into_iter().filter(|finding| arguments.wants(finding)).collect());
    let open = list.errors + list.warnings + list.notes;
    output.show(&list)?;
    if open > 0 { Err(Failure::no(None)) } else { Ok(()) }
}

impl Arguments {
    fn scope(&self) -> Result<AuditScope, Failure> {
        if let Some(path) = &self.within {
            return Ok(AuditScope::Within(path.clone()));
        }
        if self.ids.is_empty() {
            return Ok(AuditScope::Whole);
        }
        let ids: Result<Vec<Id>, Failure> = self.ids.iter().map(|id| id.parse().map_err(Failure::usage)).collect();
        Ok(AuditScope::Ids(ids?))
    }

    fn wants(&self, finding: &Finding) -> bool {
        finding.severity >= self.at_least
            && self.rule.as_ref().is_none_or(|rule| rule == finding.rule)
            && self.sure.is_none_or(|least| finding.sure.is_some_and(|sure| sure >= least))
            && (self.accepted || finding.accepted.is_none())
    }
}

impl Answer for FindingList {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.items.iter().filter_map(|finding| serde_json::to_value(finding).ok()).collect()
    }
    fn table(&self) -> Table {
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
            "accepted",
        ]);
        for finding in &self.items {
            let first = finding.perhaps.first();
            table.row([
                finding.severity.to_string(),
                finding.record.clone(),
                finding.field.clone(),
                finding.found.clone().unwrap_or_default(),
                finding.rule.to_owned(),
                finding.message.clone(),
                first.map(|perhaps| perhaps.value.clone()).unwrap_or_default(),
                first.map(|perhaps| perhaps.slip.clone()).unwrap_or_default(),
                first.map(|perhaps| format!("{:.2}", perhaps.probability)).unwrap_or_default(),
                finding.allowed.as_ref().map(ToString::to_string).unwrap_or_default(),
                because(finding),
                finding.accepted.clone().unwrap_or_default(),
            ]);
        }
        table
    }
    fn for_people(&self, _width: u16) -> String {
        page(self)
    }
}

fn because(finding: &Finding) -> String {
    let one = |because: &crate::audit::Because| {
        let value = match &because.value {
            Evidence::Number(number) => number.to_string(),
            Evidence::Text(text) => text.clone(),
        };
        format!("{} {value} ({})", because.quantity.replace('_', " "), because.source)
    };
    finding.because.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// A page to read with coffee: joint by joint, the worst first, each finding with why and what was perhaps meant.
fn page(list: &FindingList) -> String {
    let mut text = String::new();
    for (joint, findings) in by_joint(&list.items) {
        let _ = writeln!(text, "{joint}");
        for finding in findings {
            let _ = write!(text, "{}", paragraph(joint, finding));
        }
        text.push('\n');
    }
    let _ = writeln!(
        text,
        "{}, {}, {}{}.",
        counted(list.errors, "error"),
        counted(list.warnings, "warning"),
        counted(list.notes, "note"),
        if list.accepted > 0 { format!(", {} accepted", list.accepted) } else { String::new() }
    );
    text.push_str(
        "No finding does not mean that a number is right: each was compared with tables and mechanics only.\n",
    );
    text
}

/// A finding in two lines: the sentence, and what was perhaps meant.
pub fn finding_line(finding: &Finding) -> String {
    let mut text = format!("  {}: {}. [{}]\n", finding.severity, finding.message, finding.rule);
    if let Some(perhaps) = finding.perhaps.first() {
        let _ = writeln!(text, "  perhaps {} ({}, {:.0} %)", perhaps.value, perhaps.slip, perhaps.probability * 100.0);
    }
    text
}

fn paragraph(joint: &str, finding: &Finding) -> String {
    let mut text = String::new();
    let record =
        finding.record.strip_prefix(joint).map_or(finding.record.as_str(), |rest| rest.trim_start_matches('.'));
    let place =
        [record, finding.field.as_str()].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
    let found = finding.found.as_ref().map(|found| format!(" \"{found}\"")).unwrap_or_default();
    let _ = writeln!(text, "  {:8} {place}{found}", finding.severity);
    let _ = writeln!(text, "           {}. [{}]", finding.message, finding.rule);
    if let Some(allowed) = &finding.allowed {
        let _ = writeln!(text, "           compared with: {allowed}");
    }
    if !finding.because.is_empty() {
        let _ = writeln!(text, "           because: {}", because(finding));
    }
    for perhaps in &finding.perhaps {
        let percent = perhaps.probability * 100.0;
        let _ = writeln!(text, "           perhaps {} ({}, {percent:.0} %)", perhaps.value, perhaps.slip);
    }
    if let Some(reason) = &finding.accepted {
        let _ = writeln!(text, "           accepted: {reason}");
    }
    text
}

/// The findings grouped by joint, the joint with the worst finding first.
fn by_joint(findings: &[Finding]) -> Vec<(&str, Vec<&Finding>)> {
    fn parent(finding: &Finding) -> &str {
        finding.record.rsplit_once('.').map_or(finding.record.as_str(), |(joint, _)| joint)
    }
    let joints: HashSet<&str> = findings.iter().map(parent).collect();
    let mut groups: Vec<(&str, Vec<&Finding>)> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    for finding in findings {
        let own = finding.record.as_str();
        let joint = if joints.contains(own) { own } else { parent(finding) };
        let place = *places.entry(joint).or_insert_with(|| {
            groups.push((joint, Vec::new()));
            groups.len() - 1
        });
        groups[place].1.push(finding);
    }
    for (_, group) in &mut groups {
        group.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    }
    groups.sort_by_key(|(_, group)| std::cmp::Reverse(group.iter().map(|finding| finding.severity).max()));
    groups
}

fn counted(count: usize, word: &str) -> String {
    format!("{count} {word}{}", if count == 1 { "" } else { "s" })
}
