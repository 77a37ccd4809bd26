//! `amend`: change single fields of a record.

use super::book::{BookArguments, Which, read_id};
use super::failure::Failure;
use super::output::Output;
use super::put::Stored;
use crate::catalog::{Expected, Write};

pub mod assignment;

use super::layout;
use super::said::text;
use crate::record::{Fault, Record, Refused};
use assignment::Assignment;
use serde_json::{Map, Value, json};

/// Change single fields of a record.
///
/// FIELD=VALUE sets a field, FIELD= takes it away, FIELD+=VALUE adds to a list. Fields are named by their paths:
/// drive.size, source.page, `stages[1]` (counted from 0). A value is written as in a CSV file (entries of a list joined by
/// " | ", parts of an entry by "; "), or as JSON if it begins with a brace, a bracket or a double quote.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The record.
    #[arg(value_name = "ID")]
    id: String,
    /// What to change.
    #[arg(value_name = "FIELD=VALUE", required_unless_present = "accept")]
    assignments: Vec<String>,
    /// Accept the findings of this rule, with the reason in --why.
    #[arg(long, value_name = "RULE", requires = "why")]
    accept: Option<String>,
    /// Why the findings are accepted.
    #[arg(long, value_name = "TEXT", requires = "accept")]
    why: Option<String>,
    /// Only if this is the revision that stands there.
    #[arg(long, value_name = "N")]
    revision: Option<u64>,
}

/// Changes the record; what it has become is read like any other record.
///
/// # Errors
/// If it is not in the book, a field has a fault, or the book has changed meanwhile.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let id = read_id(&arguments.id)?;
    let mut assignments: Vec<Assignment> =
        arguments.assignments.iter().map(|text| Assignment::read(text)).collect::<Result<_, _>>()?;
    if let Some(rule) = &arguments.accept {
        let rule = super::explain::known_rule(rule)?.name;
        assignments.push(Assignment::accept(rule, arguments.why.as_deref().unwrap_or_default()));
    }
    let author = book.author()?;
    let book = book.open_to_write()?;
    let Some(said) = book.entry(&id, Which::Last)? else {
        return Err(Failure::no(Some(super::show::not_there(&book.ids_near(&id)?, &id, Which::Last))));
    };
    let shown = said.value();
    if shown.pointer("/book/state") == Some(&json!("withdrawn")) {
        return Err(Failure::no(Some(format!("{id} is withdrawn. \"clampbook put\" brings it back"))));
    }
    let stands = shown.pointer("/book/revision").and_then(Value::as_u64).unwrap_or(0);
    let before = without_book(shown);
    let record = amended(&before, &assignments)?;
    if *record.id() != id {
        return Err(Failure::usage(format!("the id of a record stays. Put it as a new one and withdraw {id}")));
    }
    let expected = Expected::Revision(arguments.revision.unwrap_or(stands));
    let after = serde_json::to_value(&record).unwrap_or_default();
    let written = book.apply(vec![Write::Put { record: Box::new(record), expected }], &author)?;
    output.show(&Stored(written))?;
    if super::output::Form::Table == output.form() {
        output.text(&differences(&before, &after))?;
    }
    if let Some(hint) = check_is_older(&before, &after) {
        eprintln!("{hint}");
    }
    Ok(())
}

fn without_book(shown: &Value) -> Map<String, Value> {
    let mut members = shown.as_object().cloned().unwrap_or_default();
    members.shift_remove("book");
    members
}

/// The record with the assignments done. A value that was taken for text and should have been a number is read again as
/// one.
fn amended(before: &Map<String, Value>, assignments: &[Assignment]) -> Result<Record, Failure> {
    let kind = if before.get("kind") == Some(&json!("joint")) { "joint" } else { "fastener" };
    let mut as_number = vec![false; assignments.len()];
    loop {
        let mut members = before.clone();
        for (assignment, number) in assignments.iter().zip(&as_number) {
            assignment.apply(&mut members, kind, *number)?;
        }
        let Refused(faults) = match Record::from_json(&Value::Object(members)) {
            Ok(record) => return Ok(record),
            Err(refused) => refused,
        };
        let is_about = |assignment: &Assignment| {
            faults.iter().any(|fault| fault.code == "wrong-type" && fault.pointer == assignment.pointer())
        };
        let mut again = false;
        for (assignment, number) in assignments.iter().zip(&mut as_number) {
            if !*number && assignment.may_be_number() && is_about(assignment) {
                (*number, again) = (true, true);
            }
        }
        if !again {
            return Err(refused(&faults));
        }
    }
}

fn refused(faults: &[Fault]) -> Failure {
    let line = |fault: &Fault| {
        let field = fault.pointer.trim_start_matches('/').replace('/', ".");
        let field = if field.is_empty() { String::new() } else { format!("{field}: ") };
        let hint =
            fault.hint.as_ref().map(|hint| format!(" {hint}{}", if hint.starts_with("Did") { "?" } else { "." }));
        format!("{field}{}.{}", fault.detail, hint.unwrap_or_default())
    };
    let lines: Vec<String> = faults.iter().map(line).collect();
    Failure::usage(format!(
        "{}\nNothing was stored. \"clampbook explain FIELD\" says what may stand there",
        lines.join("\n")
    ))
}

/// What has changed, a line for each field.
fn differences(before: &Map<String, Value>, after: &Value) -> String {
    let Value::Object(after) = after else { return String::new() };
    let names = before.keys().chain(after.keys().filter(|name| !before.contains_key(*name)));
    let shown = |value: Option<&Value>| match value {
        Some(value) => short(value),
        None => "nothing".to_owned(),
    };
    let width = super::terminal::width();
    let line = |name: &String| {
        let (was, is) = (before.get(name), after.get(name));
        let words = format!("{}: {} became {}", name.replace('_', " "), shown(was), shown(is));
        (was != is).then(|| layout::fill(&words, width, "  ", "    "))
    };
    names.filter_map(line).collect()
}

fn short(value: &Value) -> String {
    match value {
        Value::Array(items) => items.iter().map(short).collect::<Vec<_>>().join(" → "),
        value => super::table::cell(value),
    }
}

/// That a check was made before the change, where one was.
fn check_is_older(before: &Map<String, Value>, after: &Value) -> Option<String> {
    let checked_by = |source: Option<&Value>| source.map(|source| text(source, "checked_by").to_owned());
    let was = checked_by(before.get("source")).filter(|name| !name.is_empty())?;
    let is = checked_by(after.get("source"))?;
    let is_changed = Some(before) != after.as_object();
    (is_changed && was == is).then(|| {
        format!("The record still reads as checked by {was}, who saw it before this change. source.checked_by= takes that away")
    })
}
