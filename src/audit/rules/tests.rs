//! Every rule has a whole page, is listed, and does what its own examples say.

use super::*;
use crate::audit::{Audit, Book};
use crate::record::Record;
use serde_json::{Value, json};

#[test]
fn the_list_and_the_folder_agree() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/audit/rules");
    let mut files: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().replace('_', "-"))
        .filter(|stem| stem != "mod" && stem != "tests")
        .collect();
    let mut names: Vec<String> = RULES.iter().map(|rule| rule.name.to_owned()).collect();
    files.sort();
    names.sort();
    assert_eq!(names, files, "a rule is named for its file, and every file is in the list");
}

#[test]
fn every_page_is_whole() {
    for rule in RULES {
        for heading in ["Why it matters", "Flagged", "Accepted", "Sources"] {
            let section = rule.section(heading);
            assert!(section.is_some_and(|text| text.len() > 10), "{}: {heading}", rule.name);
        }
        assert!(rule.summary().ends_with('.'), "{}: {}", rule.name, rule.summary());
    }
}

#[test]
fn what_a_page_says_is_flagged_is_flagged() {
    for rule in RULES {
        for example in examples(rule, "Flagged") {
            let rules = flagged_by(&example);
            assert!(rules.contains(&rule.name), "{} does not flag {example:?}, only {rules:?}", rule.name);
        }
    }
}

#[test]
fn what_a_page_says_is_accepted_is_not_flagged() {
    for rule in RULES {
        for example in examples(rule, "Accepted") {
            assert!(!flagged_by(&example).contains(&rule.name), "{} flags {example:?}", rule.name);
        }
    }
}

/// The examples of a section: each a list of records, completed from [`completed`].
fn examples(rule: &crate::audit::Rule, heading: &str) -> Vec<Vec<Record>> {
    let section = rule.section(heading).unwrap_or_default();
    let blocks: Vec<_> = section.split("```json\n").skip(1).map(|rest| rest.split("```").next().unwrap()).collect();
    assert!(!blocks.is_empty(), "{}: {heading} has no example", rule.name);
    let read = |block: &str| -> Vec<Record> {
        let value: Value = serde_json::from_str(block).unwrap_or_else(|e| panic!("{}: {e}: {block}", rule.name));
        let values = if let Value::Array(values) = value { values } else { vec![value] };
        let records = values.into_iter().enumerate().map(|(i, value)| completed(value, i));
        records.map(|value| Record::from_json(&value).unwrap_or_else(|e| panic!("{}: {e}", rule.name))).collect()
    };
    blocks.into_iter().map(read).collect()
}

/// An example names only what matters; the rest of the record is this.
fn completed(mut value: Value, i: usize) -> Value {
    let members = value.as_object_mut().expect("an example is an object or a list of objects");
    let base = if members.get("kind") == Some(&json!("joint")) {
        json!({ "kind": "joint", "id": "skua.example.joint" })
    } else {
        json!({ "kind": "fastener", "id": format!("skua.example.joint.f{i}"), "joint": "skua.example.joint",
                "thread": "M8", "stages": ["20 N·m"] })
    };
    for (key, default) in base.as_object().unwrap() {
        members.entry(key.clone()).or_insert(default.clone());
    }
    value
}

/// The rules that flag anything in the example. An acceptance silences: what is accepted does not count.
fn flagged_by(records: &[Record]) -> Vec<&'static str> {
    let book = Book::new(records);
    let findings = Audit::of(&book).findings();
    findings.into_iter().filter(|finding| finding.accepted.is_none()).map(|finding| finding.rule).collect()
}
