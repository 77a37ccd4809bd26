//! The demo yard: the seed files are records in their canonical form, cover the trade widely, and hang together.

use clampbook::audit::{Audit, Book, Severity};
use clampbook::record::{Fastener, Joint, Pattern, Record, ReuseRule, Role, Stage, read_json};
use clampbook::thread::Hand;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

fn seed_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("seed")
}

fn values_of(file: &Path) -> Vec<Value> {
    let bytes = std::fs::read(file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    match read_json(&bytes) {
        Ok(Value::Array(values)) => values,
        Ok(_) => panic!("{}: not a list", file.display()),
        Err(error) => panic!("{}: {error}", file.display()),
    }
}

fn yard_files() -> Vec<PathBuf> {
    let mut files: Vec<_> = std::fs::read_dir(seed_folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.file_name().unwrap().to_str().unwrap().starts_with("skua."))
        .collect();
    files.sort();
    files
}

/// Every record of the demo yard; a fault names its file and its record.
pub fn yard() -> Vec<Record> {
    yard_files().iter().flat_map(|file| records_of(file)).collect()
}

fn records_of(file: &Path) -> Vec<Record> {
    let read =
        |value: &Value| Record::from_json(value).unwrap_or_else(|e| panic!("{}: {}: {e}", file.display(), value["id"]));
    values_of(file).iter().map(read).collect()
}

fn joints(records: &[Record]) -> impl Iterator<Item = &Joint> {
    records.iter().filter_map(Record::as_joint)
}

fn fasteners(records: &[Record]) -> impl Iterator<Item = &Fastener> {
    records.iter().filter_map(Record::as_fastener)
}

#[track_caller]
fn at_least(least: usize, what: &str, found: usize) {
    assert!(found >= least, "{found} {what}, at least {least} wanted");
}

/// Whole numbers and decimals that say the same are the same: a drawing may say `30` or `30.0`.
fn with_plain_numbers(value: &Value) -> Value {
    match value {
        Value::Number(number) => number.as_f64().map_or(Value::Null, Value::from),
        Value::Array(items) => items.iter().map(with_plain_numbers).collect(),
        Value::Object(members) => {
            Value::Object(members.iter().map(|(key, value)| (key.clone(), with_plain_numbers(value))).collect())
        }
        other => other.clone(),
    }
}

#[test]
fn every_record_is_written_in_its_canonical_form() {
    let mut files = yard_files();
    files.push(seed_folder().join("slips.json"));
    for file in files {
        for value in values_of(&file) {
            let record =
                Record::from_json(&value).unwrap_or_else(|e| panic!("{}: {}: {e}", file.display(), value["id"]));
            let printed = serde_json::to_value(&record).unwrap();
            assert_eq!(with_plain_numbers(&printed), with_plain_numbers(&value), "{}", file.display());
            let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
            assert_eq!(keys(&printed), keys(&value), "{}: order of the fields", value["id"]);
        }
    }
}

#[test]
fn a_file_holds_one_assembly_and_what_lies_below_it() {
    for file in yard_files() {
        let name = file.file_stem().unwrap().to_str().unwrap();
        for record in records_of(&file) {
            assert!(record.id().is_within(name), "{} in {name}.json", record.id());
        }
    }
}

#[test]
fn the_yard_is_large_enough() {
    let records = yard();
    at_least(12, "files", yard_files().len());
    at_least(45, "joints", joints(&records).count());
    at_least(160, "fasteners", fasteners(&records).count());
    let assemblies: BTreeSet<_> = joints(&records).map(Joint::assembly).collect();
    at_least(8, "assemblies", assemblies.len());
}

#[test]
fn the_yard_covers_the_trade() {
    let records = yard();
    let count = |wanted: &dyn Fn(&Fastener) -> bool| fasteners(&records).filter(|f| wanted(f)).count();
    let class = |f: &Fastener, start: &str| f.property_class.as_ref().is_some_and(|c| c.to_string().starts_with(start));
    at_least(20, "inch fasteners", count(&|f| f.thread.to_string().contains("UN")));
    at_least(20, "stainless fasteners", count(&|f| class(f, "A2-") || class(f, "A4-")));
    at_least(10, "fasteners of an SAE grade", count(&|f| class(f, "grade")));
    at_least(5, "left-hand fasteners", count(&|f| f.hand() == Hand::Left));
    at_least(3, "variants", count(&|f| f.fits.is_some()));
    at_least(20, "fasteners left out of a pass", count(&|f| f.stages.contains(&Stage::Skip)));
    at_least(3, "stages that back off", count(&|f| f.stages.iter().any(|s| matches!(s, Stage::BackOff(_)))));
    at_least(1, "checks after the last stage", count(&|f| f.stages.iter().any(|s| matches!(s, Stage::Check(_)))));
    at_least(5, "plans with an angle", count(&|f| f.stages.iter().any(|s| !s.turns().is_empty())));
    at_least(100, "second units in print", count(&|f| f.source.as_ref().is_some_and(|s| s.printed.is_some())));
    for rule in ReuseRule::ALL {
        at_least(2, rule.word(), count(&|f| f.reuse_rule() == Some(*rule)));
    }
    for role in Role::ALL {
        at_least(1, role.word(), count(&|f| f.role() == *role));
    }
    for pattern in Pattern::ALL {
        let used = joints(&records).filter(|j| j.order.as_ref().is_some_and(|o| o.pattern == Some(*pattern)));
        at_least(3, pattern.word(), used.count());
    }
    let lists = joints(&records).filter(|j| j.order.as_ref().is_some_and(|o| !o.positions.is_empty()));
    at_least(10, "orders as lists", lists.count());
    let passes = joints(&records).filter(|j| j.order.as_ref().is_some_and(|o| !o.passes.is_empty()));
    at_least(10, "orders of single passes", passes.count());
}

#[test]
fn several_joints_have_two_kinds_of_head_on_one_thread() {
    let records = yard();
    let mut heads: BTreeMap<_, BTreeSet<_>> = BTreeMap::new();
    for fastener in fasteners(&records).filter(|f| f.role() == Role::Bolt) {
        heads.entry((&fastener.joint, fastener.thread.to_string())).or_default().insert(fastener.head);
    }
    at_least(10, "joints with two heads on one thread", heads.values().filter(|heads| heads.len() > 1).count());
}

#[test]
fn every_record_has_a_source_and_two_pairs_of_eyes() {
    for record in yard() {
        let source = record.source().unwrap_or_else(|| panic!("{}: no source", record.id()));
        assert!(source.document.is_some() && source.edition.is_some() && source.page.is_some(), "{}", record.id());
        assert!(source.is_checked(), "{}", record.id());
    }
}

#[test]
fn the_joints_hang_together() {
    let records = yard();
    let by_id: BTreeMap<_, _> = joints(&records).map(|joint| (joint.id.clone(), joint)).collect();
    assert_eq!(by_id.len(), joints(&records).count(), "a joint is there twice");
    let ids: BTreeSet<_> = records.iter().map(Record::id).collect();
    assert_eq!(ids.len(), records.len(), "a record is there twice");
    for fastener in fasteners(&records) {
        assert!(by_id.contains_key(&fastener.joint), "{} has no joint", fastener.id);
    }
    for joint in by_id.values() {
        let mut opened = BTreeSet::new();
        let mut to_open = joint.behind.clone();
        while let Some(next) = to_open.pop() {
            assert_ne!(next, joint.id, "{} lies behind itself", joint.id);
            let behind = by_id.get(&next).unwrap_or_else(|| panic!("{}: behind {next}, which is not there", joint.id));
            if opened.insert(next) {
                to_open.extend(behind.behind.iter().cloned());
            }
        }
    }
}

#[test]
fn every_place_is_drawn_once_and_filled_once_for_each_variant() {
    let records = yard();
    for joint in joints(&records) {
        let drawn: Vec<u32> = joint.positions.iter().map(|position| position.n).collect();
        assert_eq!(drawn, (1..=drawn.len() as u32).collect::<Vec<_>>(), "{}", joint.id);
        let mut filled: BTreeMap<Vec<String>, Vec<u32>> = BTreeMap::new();
        for fastener in fasteners(&records).filter(|f| f.joint == joint.id) {
            let positions = fastener.positions.as_ref().unwrap_or_else(|| panic!("{}", fastener.id));
            assert_eq!(fastener.count, Some(positions.count() as u32), "{}", fastener.id);
            let variants =
                fastener.fits.iter().flat_map(|fits| fits.variants.iter().map(ToString::to_string)).collect();
            filled.entry(variants).or_default().extend(positions.iter());
        }
        for (variant, mut positions) in filled {
            positions.sort_unstable();
            assert_eq!(positions, drawn, "{} {variant:?}", joint.id);
        }
    }
}

#[test]
fn the_answers_name_what_stands_in_the_slips_and_something_else_that_was_meant() {
    let records = values_of(&seed_folder().join("slips.json"));
    let answers = values_of(&seed_folder().join("slips.answers.json"));
    at_least(24, "slips", answers.len());
    let kinds: BTreeSet<_> = answers.iter().map(|answer| answer["kind"].as_str().unwrap()).collect();
    at_least(14, "kinds of slips", kinds.len());
    for answer in &answers {
        let id = answer["record"].as_str().unwrap();
        let record = records.iter().find(|r| r["id"] == id).unwrap_or_else(|| panic!("{id} is not there"));
        let pointer = format!("/{}", answer["field"].as_str().unwrap().replace(['.', '['], "/").replace(']', ""));
        assert_eq!(record.pointer(&pointer), Some(&answer["found"]), "{id} {pointer}");
        assert_ne!(answer["found"], answer["meant"], "{id}");
        let mut meant = record.clone();
        *meant.pointer_mut(&pointer).unwrap() = answer["meant"].clone();
        Record::from_json(&meant).unwrap_or_else(|e| panic!("{id} as meant: {e}"));
    }
    let slipped: BTreeSet<_> = answers.iter().map(|answer| answer["record"].as_str().unwrap()).collect();
    let untouched = records.iter().filter(|r| r["kind"] == "fastener" && !slipped.contains(r["id"].as_str().unwrap()));
    at_least(answers.len() / 2, "records beside the slips that are right", untouched.count());
}

/// Errors and warnings that the audit has about these records, `(record, field, text)`.
fn alarms(records: &[Record]) -> Vec<(String, String, String)> {
    let book = Book::new(records);
    let grave = Audit::of(&book).findings().into_iter().filter(|finding| finding.severity > Severity::Note);
    grave.map(|finding| (finding.record, finding.field, format!("{}: {}", finding.rule, finding.message))).collect()
}

#[test]
fn the_yard_has_no_error_and_no_warning() {
    assert_eq!(alarms(&yard()), []);
}

#[test]
fn the_right_records_beside_the_slips_raise_no_alarm() {
    let answers = values_of(&seed_folder().join("slips.answers.json"));
    let slipped: BTreeSet<_> = answers.iter().map(|answer| answer["record"].as_str().unwrap()).collect();
    let mut found = alarms(&records_of(&seed_folder().join("slips.json")));
    at_least(24, "alarms about slips", found.len());
    found.retain(|(record, ..)| {
        let about_joint_of_a_slip = slipped.iter().any(|slip| slip.starts_with(&format!("{record}.")));
        !slipped.contains(record.as_str()) && !about_joint_of_a_slip
    });
    assert_eq!(found, []);
}
