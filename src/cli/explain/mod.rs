//! `explain`: what a rule, a field, a slip, the stage notation or an exit code means, without a network.

mod fields;
mod topics;

use super::failure::{EXIT_CODES, Failure};
use super::layout;
use super::markdown;
use super::output::{Answer, Output};
use super::table::{self, Table};
use super::terminal;
use crate::audit::{RULES, Rule, rule_named, slip::Slip};
use crate::record::{did_you_mean, near_words};
use serde::Serialize;
use serde_json::{Value, json};

/// What a rule, field, slip, stage or exit code means.
///
/// Offline. Without a name, everything that can be explained. "rules", "fields", "slips" and "exit-codes" are lists.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// A rule, a field such as drive.size, a slip, or: rules, fields, slips, stages, exit-codes.
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Shows the page of a name, or a list.
///
/// # Errors
/// If nothing has this name.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let Some(name) = arguments.name.as_deref() else { return output.show(&Overview) };
    match name {
        "rules" => output.show(&List::rules()),
        "fields" => output.show(&List::fields()),
        "slips" => output.show(&List::slips()),
        "exit-codes" => output.show(&List::exit_codes()),
        _ => page_of(name, output),
    }
}

fn page_of(name: &str, output: &Output) -> Result<(), Failure> {
    let path = fields::without_indexes(name);
    let fields: Vec<_> = fields::fields().into_iter().filter(|field| field.field == path).collect();
    if let Some(rule) = rule_named(name) {
        output.show(&RulePage::of(rule))
    } else if !fields.is_empty() {
        output.show(&FieldPages(fields))
    } else if topics::is_stages(name) {
        output.show(&topics::Notation)
    } else if let Some(slip) = Slip::ALL.into_iter().find(|slip| slip.name() == name) {
        output.show(&List { name: "slip", items: vec![slip_item(slip)] })
    } else {
        Err(unknown(name))
    }
}

fn unknown(name: &str) -> Failure {
    let known: Vec<String> = known_names();
    let near = near_words(name, known.iter().map(String::as_str));
    let hint = if near.is_empty() { String::new() } else { format!(" Did you mean {}?", near.join(", ")) };
    Failure::usage(format!("nothing called \"{name}\" can be explained.{hint} \"clampbook explain\" lists what can"))
}

/// Everything that can be explained.
fn known_names() -> Vec<String> {
    let lists = ["rules", "fields", "slips", "stages", "exit-codes"].map(str::to_owned);
    let rules = RULES.iter().map(|rule| rule.name.to_owned());
    let slips = Slip::ALL.iter().map(|slip| slip.name().to_owned());
    let mut names: Vec<String> =
        lists.into_iter().chain(rules).chain(slips).chain(fields::fields().into_iter().map(|f| f.field)).collect();
    names.sort();
    names.dedup();
    names
}

/// The rule of this name.
///
/// # Errors
/// If there is none; names that are near are offered.
pub fn known_rule(name: &str) -> Result<&'static Rule, Failure> {
    rule_named(name).ok_or_else(|| {
        let names: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
        let hint = did_you_mean(name, &names).map(|hint| format!(" {hint}?")).unwrap_or_default();
        Failure::usage(format!("no rule is called \"{name}\".{hint} \"clampbook explain rules\" lists them"))
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
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        table::of_members(self)
    }
    fn for_people(&self, width: usize) -> String {
        format!("{}\n\n{}", terminal::heading(self.rule), markdown::for_terminal(&self.page, width))
    }
}

/// A field of joints, of fasteners, or of both.
struct FieldPages(Vec<fields::FieldPage>);

impl Answer for FieldPages {
    fn json(&self) -> impl Serialize {
        json!({ "items": self.0 })
    }
    fn lines(&self) -> Vec<Value> {
        self.0.iter().filter_map(|page| serde_json::to_value(page).ok()).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.0)
    }
    fn for_people(&self, width: usize) -> String {
        let mut text = self.0.iter().map(|page| page.for_people(width)).collect::<Vec<_>>().join("\n");
        if self.0.iter().any(|page| page.field == "stages") {
            text += &format!("\n{}", topics::Notation.for_people(width));
        }
        text
    }
}

/// A list of what can be explained.
struct List {
    name: &'static str,
    items: Vec<Value>,
}

fn slip_item(slip: Slip) -> Value {
    json!({ "slip": slip.name(), "summary": slip.sentence() })
}

impl List {
    fn rules() -> Self {
        let item = |rule: &&Rule| json!({ "rule": rule.name, "summary": rule.summary() });
        Self { name: "rules", items: RULES.iter().map(item).collect() }
    }

    fn slips() -> Self {
        Self { name: "slips", items: Slip::ALL.into_iter().map(slip_item).collect() }
    }

    fn fields() -> Self {
        let item = |page: fields::FieldPage| json!({ "field": page.field, "kind": page.kind, "required": page.required, "summary": page.summary });
        Self { name: "fields", items: fields::fields().into_iter().map(item).collect() }
    }

    fn exit_codes() -> Self {
        let item = |(code, meaning): &(u8, &str)| json!({ "code": code, "meaning": meaning });
        Self { name: "exit codes", items: EXIT_CODES.iter().map(item).collect() }
    }
}

impl Answer for List {
    fn json(&self) -> impl Serialize {
        json!({ "items": self.items })
    }
    fn lines(&self) -> Vec<Value> {
        self.items.clone()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.items)
    }
}

/// Everything that can be explained, by name.
struct Overview;

impl Overview {
    fn lists() -> [List; 4] {
        [List::rules(), List::slips(), List::fields(), List::exit_codes()]
    }
}

impl Answer for Overview {
    fn json(&self) -> impl Serialize {
        json!({ "items": self.lines() })
    }
    fn lines(&self) -> Vec<Value> {
        known_names().into_iter().map(|name| json!({ "name": name })).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.lines())
    }
    fn for_people(&self, width: usize) -> String {
        let mut text = layout::paragraph("\"clampbook explain NAME\" explains any of these.", width);
        for list in Self::lists().into_iter().filter(|list| list.name != "exit codes") {
            text += &format!("\n{}\n", terminal::heading(list.name));
            let mut names: Vec<String> =
                list.items.iter().filter_map(|item| item.as_object()?.values().next()).map(table::cell).collect();
            if list.name == "fields" {
                names.sort();
                names.dedup();
            }
            text += &layout::fill(&names.join("  "), width, "  ", "  ");
        }
        text + &format!("\n{}\n  stages  exit-codes\n", terminal::heading("and"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_things_share_a_name() {
        let rules = RULES.iter().map(|rule| rule.name.to_owned());
        let slips = Slip::ALL.iter().map(|slip| slip.name().to_owned());
        let mut fields: Vec<String> = fields::fields().into_iter().map(|field| field.field).collect();
        fields.sort();
        fields.dedup();
        let all: Vec<String> =
            rules.chain(slips).chain(fields).chain(["rules", "fields", "slips"].map(str::to_owned)).collect();
        let different: std::collections::BTreeSet<&String> = all.iter().collect();
        assert_eq!(different.len(), all.len());
    }
}
