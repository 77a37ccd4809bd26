//! The entry form: what is typed is read, judged and drawn, before anybody stores it.
//!
//! The form's fields are named as the record's members (`drive.size`, `stages` one a line), so that form, script and
//! record are one list. The page stores nothing: the script puts the record through the API, and without script the
//! API reads the form ([`Entered`]) and stores it as if it had been put.

use super::groups::{Group, groups};
use super::page::{Answer, Trouble, html, html_with, id_in_path};
use crate::card::range_bar::{RangeBar, range_bar};
use crate::catalog::Catalog;
use crate::record::{DriveType, Fault, Head, Locking, Record, Refused, ReuseRule, Role};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Data, Query as Asked};
use askama::Template;
use serde_json::{Map, Value};

/// A field of the form.
struct EntryField {
    /// Its path in the record.
    name: &'static str,
    label: &'static str,
    example: &'static str,
    kind: EntryKind,
    value: String,
    fault: Option<String>,
}

impl EntryField {
    /// The name as it may stand in the id of an element.
    fn id(&self) -> String {
        self.name.replace('.', "-")
    }
}

/// How a field is entered.
#[derive(Clone, Copy, PartialEq, Eq)]
enum EntryKind {
    Line,
    Lines,
    Whole,
    Choice(&'static [&'static str]),
}

type Row = (&'static str, &'static str, &'static str, EntryKind);

/// The form, in the order in which people read a fastener off a page.
fn rows() -> Vec<(&'static str, Vec<Row>)> {
    use EntryKind::{Choice, Line, Lines, Whole};
    vec![
        (
            "Which one",
            vec![
                ("joint", "Joint", "skua.diesel.raw-water-pump.cover", Line),
                ("id", "Id: the joint's, and a name", "skua.diesel.raw-water-pump.cover.hex", Line),
                ("name", "Name", "Cover bolt, short", Line),
                ("positions", "Positions", "1-4,6", Line),
                ("count", "How many", "5", Whole),
                ("role", "Kind of fastening", "", Choice(Role::WORDS)),
            ],
        ),
        (
            "What it looks like",
            vec![
                ("head", "Head", "", Choice(Head::WORDS)),
                ("drive.type", "Drive", "", Choice(DriveType::WORDS)),
                ("drive.size", "Size of the drive", "13 mm", Line),
                ("thread", "Thread", "M8×1.25", Line),
                ("hand", "Hand", "", Choice(HANDS)),
                ("length", "Length", "35 mm", Line),
                ("property_class", "Class", "8.8", Line),
                ("finish", "Surface", "zinc-plated", Line),
                ("lubrication", "On thread and head", "oiled", Line),
                ("friction", "Friction, if stated", "0.10-0.16", Line),
            ],
        ),
        (STAGES, vec![("stages", "Stages, one a line", "hand\n8 N·m\n20 N·m + 90°", Lines)]),
        (
            "How it is kept",
            vec![
                ("reuse.rule", "May it go back?", "", Choice(ReuseRule::WORDS)),
                ("reuse.times", "How often, with reuse-up-to", "3", Whole),
                ("reuse.limit", "Longest, with measure", "62.5 mm", Line),
                ("locking", "Locking", "", Choice(Locking::WORDS)),
                ("grip", "Clamped length", "22 mm", Line),
                ("into.material", "Goes into", "EN AC-46000", Line),
                ("into.engagement", "How far", "16 mm", Line),
                ("part_no", "Part number", "SY-08035", Line),
            ],
        ),
        (
            "Where it was read",
            vec![
                ("source.document", "Document", "Skerry Yard workshop book", Line),
                ("source.edition", "Edition", "3", Line),
                ("source.page", "Page", "41", Line),
                ("source.printed", "As printed, second unit too", "20 N·m (15 lbf·ft)", Line),
                ("source.entered_by", "Entered by", "mo", Line),
            ],
        ),
    ]
}

/// The group of the stages; what the audit says stands below it.
const STAGES: &str = "What is done";

/// The words for the hand of a thread.
const HANDS: &[&str] = &["right", "left"];

#[derive(Template)]
#[template(path = "page_entry.html", config = "src/askama.toml")]
struct EntryPage {
    parts: Vec<(&'static str, Vec<EntryField>)>,
    /// Members of the record that the form has no field for; they are kept.
    kept: String,
    /// The revision that is corrected; absent for a new record.
    revision: Option<u64>,
    outcome: Option<Outcome>,
    with_record: bool,
    /// Why nothing was stored, where that was asked for.
    refused: Option<String>,
    /// What says that the form was made here.
    seal: String,
}

/// What was sent with the form.
#[derive(Debug)]
pub struct Entered {
    /// The record that the fields say.
    pub value: Value,
    /// The revision that is corrected; absent for a new record.
    pub revision: Option<u64>,
    /// Whether it is to be stored, and not only judged.
    pub is_to_store: bool,
    /// The token that was given; empty if none was.
    pub token: String,
    /// Whether the form was made by this service, and lately.
    pub is_sealed: bool,
}

impl Entered {
    /// Reads the pairs of a form.
    #[must_use]
    pub fn of(pairs: &[(String, String)]) -> Self {
        let text = |name: &str| pairs.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value.trim());
        Self {
            value: record_of(pairs),
            revision: text("revision").parse().ok(),
            is_to_store: text("do") == "store",
            token: text("token").to_owned(),
            is_sealed: super::seal::holds(text("seal")),
        }
    }
}

/// What came of reading and judging.
struct Outcome {
    others: Vec<Fault>,
    groups: Vec<Group>,
    range: Option<String>,
    record: Option<String>,
}

/// What the empty form is asked for.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct EntryForm {
    /// The fastener to correct.
    id: Option<String>,
    /// The joint of a new one.
    joint: Option<String>,
}

/// The empty form, or the form of a fastener to correct.
pub async fn entry_page(catalog: Data<Catalog>, form: Asked<EntryForm>) -> Answer {
    let (value, revision) = match form.id.as_deref().filter(|id| !id.is_empty()) {
        Some(id) => {
            let stored = catalog.get(&id_in_path(id)?)?.ok_or_else(|| Trouble::not_found(id))?;
            let value = serde_json::to_value(&*stored.record).map_err(|error| Trouble::Internal(error.to_string()))?;
            (value, Some(stored.revision))
        }
        None => {
            let joint = form.joint.clone().filter(|joint| !joint.is_empty());
            (joint.map_or(Value::Null, |joint| serde_json::json!({ "joint": joint })), None)
        }
    };
    html(&page(&value, revision, None))
}

/// The form with what is to be said about what was entered.
///
/// # Errors
/// If the page cannot be made.
pub fn checked_page(catalog: &Catalog, entered: &Entered) -> Result<HttpResponse, actix_web::Error> {
    Ok(html(&page(&entered.value, entered.revision, Some(outcome(catalog, &entered.value))))?)
}

/// The same where it was to be stored and was not: with this status, and the reason.
///
/// # Errors
/// If the page cannot be made.
pub fn refused_page(
    catalog: &Catalog,
    entered: &Entered,
    status: StatusCode,
    why: &str,
) -> Result<HttpResponse, actix_web::Error> {
    let page = page(&entered.value, entered.revision, Some(outcome(catalog, &entered.value)));
    Ok(html_with(status, &EntryPage { refused: Some(why.to_owned()), ..page })?)
}

fn bar_of(record: &Record) -> Option<RangeBar> {
    record.as_fastener().and_then(RangeBar::of_fastener)
}

/// What was entered, judged in the book that it would stand in.
fn outcome(catalog: &Catalog, value: &Value) -> Outcome {
    match Record::from_json(value) {
        Err(Refused(others)) => Outcome { others, groups: Vec::new(), range: None, record: None },
        Ok(record) => {
            let range = bar_of(&record).map(|bar| range_bar(&bar));
            let text = serde_json::to_string_pretty(&record).unwrap_or_default();
            let neighbours = neighbours(catalog, &record);
            let id = record.id().to_string();
            let records: Vec<Record> = neighbours.into_iter().chain([record]).collect();
            let mut findings = Catalog::audit_records(&records);
            findings.retain(|finding| finding.record == id && finding.accepted.is_none());
            Outcome { others: Vec::new(), groups: groups(findings), range, record: Some(text) }
        }
    }
}

/// The joint of a record and its other fasteners: what an entry is judged beside.
fn neighbours(catalog: &Catalog, record: &Record) -> Vec<Record> {
    let Some(fastener) = record.as_fastener() else { return Vec::new() };
    let Ok(Some(view)) = catalog.joint(&fastener.joint) else { return Vec::new() };
    let all = [view.joint].into_iter().chain(view.fasteners).map(|stored| (*stored.record).clone());
    all.filter(|other| other.id() != record.id()).collect()
}

/// The record that the fields of the form say, with what the form has no field for.
fn record_of(pairs: &[(String, String)]) -> Value {
    let kept = pairs.iter().find(|(name, _)| name == "kept").and_then(|(_, text)| serde_json::from_str(text).ok());
    let mut members: Map<String, Value> = kept.unwrap_or_default();
    members.insert("kind".to_owned(), Value::from("fastener"));
    for (name, _, _, kind) in rows().into_iter().flat_map(|(_, rows)| rows) {
        let text = pairs.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value.trim());
        if text.is_empty() {
            continue;
        }
        let value = match kind {
            EntryKind::Lines => text.lines().map(str::trim).filter(|line| !line.is_empty()).map(Value::from).collect(),
            EntryKind::Whole => text.parse::<u64>().map_or_else(|_| Value::from(text), Value::from),
            EntryKind::Line | EntryKind::Choice(_) => Value::from(text),
        };
        match name.split_once('.') {
            None => drop(members.insert(name.to_owned(), value)),
            Some((outer, inner)) => {
                let outer = members.entry(outer).or_insert_with(|| Value::Object(Map::new()));
                if let Value::Object(outer) = outer {
                    outer.insert(inner.to_owned(), value);
                }
            }
        }
    }
    Value::Object(members)
}

fn page(value: &Value, revision: Option<u64>, outcome: Option<Outcome>) -> EntryPage {
    let mut kept = value.clone();
    let mut others = Vec::new();
    let faults = outcome.as_ref().map(|outcome| outcome.others.as_slice()).unwrap_or_default();
    let parts = rows().into_iter().map(|(part, rows)| {
        let fields = rows.into_iter().map(|(name, label, example, kind)| {
            let value = take(&mut kept, name);
            let fault = faults.iter().find(|fault| is_about(fault, name)).map(|fault| fault.detail.clone());
            EntryField { name, label, example, kind, value, fault }
        });
        (part, fields.collect::<Vec<_>>())
    });
    let parts: Vec<_> = parts.collect();
    let has_field =
        |fault: &Fault| parts.iter().flat_map(|(_, fields)| fields).any(|field| is_about(fault, field.name));
    others.extend(faults.iter().filter(|fault| !has_field(fault)).cloned());
    let kept = if kept.is_object() { kept.to_string() } else { "{}".to_owned() };
    let outcome = outcome.map(|outcome| Outcome { others, ..outcome });
    let seal = super::seal::seal().unwrap_or_default();
    EntryPage { parts, kept, revision, outcome, with_record: false, refused: None, seal }
}

/// Takes a member out of the record as the text of its field.
fn take(value: &mut Value, name: &str) -> String {
    let taken = match name.split_once('.') {
        None => value.as_object_mut().and_then(|members| members.remove(name)),
        Some((outer, inner)) => {
            let outer = value.get_mut(outer).and_then(Value::as_object_mut);
            outer.and_then(|members| members.remove(inner))
        }
    };
    match taken {
        None | Some(Value::Null) => String::new(),
        Some(Value::String(text)) => text,
        Some(Value::Array(items)) => {
            items.iter().filter_map(Value::as_str).map(str::to_owned).collect::<Vec<_>>().join("\n")
        }
        Some(other) => other.to_string(),
    }
}

/// Whether a fault is about a field: its pointer is the field's path, or lies below it.
fn is_about(fault: &Fault, name: &str) -> bool {
    let path = format!("/{}", name.replace('.', "/"));
    fault.pointer == path || fault.pointer.starts_with(&format!("{path}/"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    #[test]
    fn the_form_and_the_record_are_one_list() {
        let value = json!({ "kind": "fastener", "id": "a.b.c", "joint": "a.b", "thread": "M8×1.25", "count": 4,
            "drive": { "type": "hexagon", "size": "13 mm" }, "stages": ["hand", "20 N·m"], "cautions": ["hot"],
            "seat": { "material": "steel" }, "source": { "document": "x", "checked_by": "ines" } });
        let page = page(&value, Some(3), None);
        let mut entered: Vec<(String, String)> = page
            .parts
            .iter()
            .flat_map(|(_, fields)| fields)
            .map(|field| (field.name.to_owned(), field.value.clone()))
            .collect();
        entered.push(("kept".to_owned(), page.kept));
        assert_eq!(record_of(&entered), value);
    }

    #[test]
    fn a_fault_stands_at_its_field() {
        let value = record_of(&pairs(&[("id", "a.b.c"), ("joint", "a.b"), ("thread", "M8"), ("stages", "hand\n95")]));
        let Err(Refused(others)) = Record::from_json(&value) else { panic!("95 has no unit") };
        let page = page(&value, None, Some(Outcome { others, groups: Vec::new(), range: None, record: None }));
        let faulty: Vec<_> = page
            .parts
            .iter()
            .flat_map(|(_, fields)| fields)
            .filter(|field| field.fault.is_some())
            .map(|field| field.name)
            .collect();
        assert_eq!(faulty, ["stages"]);
    }
}
