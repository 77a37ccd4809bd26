//! `audit`: what is wrong, improbable or missing.

use super::book::{BookArguments, FindingReader, Trait, Which, read_id};
use super::failure::Failure;
use super::findings_as_they_come::AsTheyCome;
use super::import::read_file;
use super::output::Output;
use crate::audit::Severity;
use crate::catalog::{AuditScope, Catalog};
use crate::record::Id;
use std::path::{Path, PathBuf};

/// What is wrong, improbable or missing.
///
/// In the whole book, in some records, or in a file that is not stored. The answer is no (exit code 1) if anything is
/// at least as bad as --at-least and nobody has accepted it.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Records by their id; without any, the whole book.
    #[arg(value_name = "ID")]
    ids: Vec<String>,
    /// A file of records (NDJSON, JSON list or CSV), audited as a book of its own and not stored; - for standard input.
    #[arg(long, value_name = "FILE", conflicts_with = "ids")]
    file: Option<PathBuf>,
    /// Only findings at least this bad: note, warning or error.
    #[arg(long, value_name = "SEVERITY", default_value = "warning")]
    at_least: Severity,
    /// Only findings of this rule; "clampbook explain" lists them.
    #[arg(long, value_name = "NAME")]
    rule: Option<String>,
    /// Only findings about a number whose probability of being wrong is at least this, 0 to 1.
    #[arg(long, value_name = "PROBABILITY", value_parser = probability)]
    sure: Option<f64>,
    /// Only records whose ids begin with this path.
    #[arg(long, value_name = "PATH", conflicts_with_all = ["ids", "file"])]
    within: Option<String>,
    /// Show findings that were accepted too.
    #[arg(long)]
    accepted: bool,
}

fn probability(text: &str) -> Result<f64, String> {
    let number = text.parse().ok().filter(|number| (0.0..=1.0).contains(number));
    number.ok_or_else(|| "a probability is a number from 0 to 1, such as 0.8".to_owned())
}

/// Shows the findings; the answer is no if any is at least as bad as asked for.
///
/// # Errors
/// If the book or the file cannot be read, or there are findings.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    if let Some(name) = &arguments.rule {
        super::explain::known_rule(name)?;
    }
    let wanted = |finding: &Trait<'_>| arguments.wants(finding);
    let mut shown = AsTheyCome::new(output, &wanted, arguments.asked());
    match &arguments.file {
        Some(path) => {
            let records = read_file(path)?;
            Catalog::audit_records_once(&records, &mut |step| shown.takes(step))?;
        }
        None => {
            let scope = arguments.scope()?;
            let book = book.open()?;
            if let AuditScope::Ids(ids) = &scope {
                for id in ids {
                    if !book.has(id)? {
                        return Err(Failure::no(Some(super::show::not_there(&book.ids_near(id)?, id, Which::Last))));
                    }
                }
            }
            book.audit(&scope, &mut shown)?;
        }
    }
    if shown.end()? > 0 { Err(Failure::no(None)) } else { Ok(()) }
}

impl Arguments {
    fn scope(&self) -> Result<AuditScope, Failure> {
        if let Some(path) = &self.within {
            return Ok(AuditScope::Within(path.trim_end_matches('.').to_owned()));
        }
        if self.ids.is_empty() {
            return Ok(AuditScope::Whole);
        }
        let read = |text: &String| {
            read_id(text).map_err(|failure| {
                if Path::new(text).is_file() {
                    Failure::usage(format!("{text} is a file. \"clampbook audit --file {text}\" audits what is in it"))
                } else {
                    failure
                }
            })
        };
        let ids: Result<Vec<Id>, Failure> = self.ids.iter().map(read).collect();
        Ok(AuditScope::Ids(ids?))
    }

    /// What a server can choose by.
    fn asked(&self) -> Vec<(&'static str, String)> {
        let rule = self.rule.iter().map(|rule| ("rule", rule.clone()));
        rule.chain([("at_least", self.at_least.to_string())]).collect()
    }

    fn wants(&self, finding: &Trait<'_>) -> bool {
        finding.severity >= self.at_least
            && self.rule.as_ref().is_none_or(|rule| rule == finding.rule)
            && self.sure.is_none_or(|least| finding.sure.is_some_and(|sure| sure >= least))
            && (self.accepted || !finding.is_accepted)
    }
}
