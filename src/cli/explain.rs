//! `explain`: what a rule or an exit code means, without a network.

use super::failure::{EXIT_CODES, Failure};
use super::output::{Answer, Output};
use super::table::Table;
use crate::audit::{RULES, Rule, rule_named};
use crate::record::did_you_mean;
use serde::Serialize;

/// What a rule of the audit or an exit code means, offline; without a name, the list of rules.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The name of a rule, or "exit-codes".
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Shows the page of a rule, the exit codes, or the list of rules.
///
/// # Errors
/// If nothing has this name.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    match arguments.name.as_deref() {
        None => output.show(&RuleList),
        Some("exit-codes") => output.show(&ExitCodes),
        Some(name) => output.show(&RulePage::of(known_rule(name)?)),
    }
}

/// The rule of this name.
///
/// # Errors
/// If there is none; names that are near are offered.
pub fn known_rule(name: &str) -> Result<&'static Rule, Failure> {
    rule_named(name).ok_or_else(|| {
        let names: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
        let hint = did_you_mean(name, &names).map(|hint| format!(" {hint}?")).unwrap_or_default();
        Failure::usage(format!("no rule is called \"{name}\".{hint} \"clampbook explain\" lists them"))
    })
}

/// The page of one rule.
#[derive(Debug, Serialize)]
struct RulePage {
    rule: &'static str,
    summary: String,
    page: String,
}

impl RulePage {
    fn of(rule: &'static Rule) -> Self {
        Self { rule: rule.name, summary: rule.summary(), page: rule.page() }
    }
}

impl Answer for RulePage {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        super::table::of_members(self)
    }
    fn for_people(&self, _width: u16) -> String {
        format!("{}\n\n{}\n", self.rule, self.page)
    }
}

/// All rules by name.
struct RuleList;

impl RuleList {
    fn items() -> Vec<serde_json::Value> {
        RULES.iter().map(|rule| serde_json::json!({ "rule": rule.name, "summary": rule.summary() })).collect()
    }
}

impl Answer for RuleList {
    fn json(&self) -> impl Serialize {
        serde_json::json!({ "items": Self::items() })
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        Self::items()
    }
    fn table(&self) -> Table {
        super::table::of_rows(&Self::items())
    }
}

/// The exit codes.
struct ExitCodes;

impl ExitCodes {
    fn items() -> Vec<serde_json::Value> {
        EXIT_CODES.iter().map(|(code, meaning)| serde_json::json!({ "code": code, "meaning": meaning })).collect()
    }
}

impl Answer for ExitCodes {
    fn json(&self) -> impl Serialize {
        serde_json::json!({ "items": Self::items() })
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        Self::items()
    }
    fn table(&self) -> Table {
        super::table::of_rows(&Self::items())
    }
}
