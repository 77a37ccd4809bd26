//! The audit that follows a book that changes, against an audit of the whole book: the same findings, to the letter.

use crate::generator::Dice;
use clampbook::audit::{
    Audit, AuditSummary, Book, Cut, Finding, LiveAudit, Pages, Portions, Standing, Torques, Wanted,
};
use clampbook::catalog::{AuditScope, Author, Catalog, Expected};
use clampbook::record::{Id, Record};
use proptest::prelude::*;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::Arc;

/// Threads in pairs of coarse and fine, with the torque of a table for class 8.8 in N·m.
const THREADS: [(&str, u32); 12] = [
    ("M6", 10),
    ("M8", 25),
    ("M8×1", 27),
    ("M10", 49),
    ("M10×1.25", 52),
    ("M12", 85),
    ("M12×1.5", 92),
    ("M14", 135),
    ("M16", 210),
    ("M20", 425),
    ("3/8-16 UNC", 45),
    ("M9.5", 40),
];
/// The last three are tables, two of them copies of each other.
const JOINTS: [&str; 6] = [
    "skua.engine.head",
    "skua.engine.sump",
    "skua.engine.sump.plug",
    "tern.tables.one",
    "tern.tables.two",
    "tern.tables.dry",
];

/// A joint or one of ten fasteners of one of the joints, or nothing in its place.
fn anything(dice: &mut Dice) -> (Id, Option<Value>) {
    let joint = *dice.one_of(&JOINTS);
    if dice.chance(12) {
        return (id(joint), dice.chance(80).then(|| a_joint(joint, dice)));
    }
    let number = dice.below(14);
    let name = format!("{joint}.f{number:02}");
    let there = dice.chance(85);
    (id(&name), there.then(|| a_fastener(joint, &name, number, dice)))
}

fn id(text: &str) -> Id {
    text.parse().expect(text)
}

fn a_joint(joint: &str, dice: &mut Dice) -> Value {
    let behind: Vec<&str> = (0..dice.below(3)).map(|_| *dice.one_of(&JOINTS)).collect();
    let positions: Vec<Value> = (1..=dice.below(16)).map(|n| json!({ "n": n, "x_mm": n, "y_mm": 0 })).collect();
    let order = json!({ "pattern": "round" });
    json!({ "kind": "joint", "id": joint, "positions": positions, "order": order, "behind": behind })
}

/// In the tables a row of its own thread for each number, elsewhere whatever comes.
fn a_fastener(joint: &str, name: &str, number: usize, dice: &mut Dice) -> Value {
    let in_table = joint.starts_with("tern") && number < THREADS.len();
    let (thread, torque) = if in_table { THREADS[number] } else { *dice.early_of(&THREADS) };
    let torque = match dice.below(if in_table { 30 } else { 10 }) {
        0 => torque * 10,
        1 => torque / 2,
        2 => torque + 3,
        3 => 13,
        4 | 5 if in_table => THREADS[number.saturating_sub(1)].1,
        _ => torque,
    };
    let torque = if joint.ends_with("dry") { torque * 5 / 4 } else { torque };
    let unit = if dice.chance(96) { "N·m" } else { "lbf·ft" };
    let stages = match dice.below(if in_table { 40 } else { 8 }) {
        0 => json!([format!("{} {unit}", torque.div_ceil(2)), format!("{torque} {unit}")]),
        1 => json!([format!("{} {unit} + 90°", torque.div_ceil(2))]),
        2 => json!([format!("{}-{} {unit}", torque, torque + torque / 5)]),
        _ => json!([format!("{torque} {unit}")]),
    };
    let mut record = json!({ "kind": "fastener", "id": name, "joint": joint, "thread": thread, "stages": stages });
    let (document, page) = match joint {
        "tern.tables.one" | "tern.tables.dry" if in_table => ("Second book", 1),
        "tern.tables.two" if in_table => ("Third book", 1),
        _ => (*dice.one_of(&["Yard book", "Second book"]), 1 + dice.below(2)),
    };
    let mut source = json!({ "document": document, "page": page.to_string() });
    if dice.chance(if in_table { 70 } else { 15 }) {
        let pound_feet = f64::from(torque) * if dice.chance(90) { 0.7376 } else { 0.9 };
        source["printed"] = json!(format!("{torque} N·m ({pound_feet:.0} lbf·ft)"));
    }
    record["source"] = source;
    record["property_class"] = json!(if in_table { "8.8" } else { dice.one_of(&["8.8", "8.8", "10.9", "8.7"]) });
    record["lubrication"] = json!(if joint.ends_with("dry") { "dry" } else { "oiled" });
    if !in_table {
        record["positions"] = json!(format!("{}", 1 + dice.below(12)));
    }
    if !in_table && dice.chance(60) {
        record["part_no"] = json!(*dice.one_of(&["SY-1", "SY-2", "SY-3"]));
    }
    if dice.chance(10) {
        record["accepted"] = json!([{ "rule": "unchecked-entry", "reason": "small yard" }]);
    }
    record
}

fn record(value: &Value) -> Arc<Record> {
    Arc::new(Record::from_json(value).unwrap_or_else(|e| panic!("{value}: {e}")))
}

type State = BTreeMap<Id, Arc<Record>>;

/// The book that a live audit reads records of again.
struct Shelf<'s>(&'s State);

impl Pages for Shelf<'_> {
    type Error = Infallible;

    fn record(&self, id: &Id) -> Result<Option<Arc<Record>>, Infallible> {
        Ok(self.0.get(id).cloned())
    }

    fn all(&self) -> Result<Vec<Arc<Record>>, Infallible> {
        Ok(self.0.values().cloned().collect())
    }
}

/// The book is read in portions as small as they can be, so that almost everything is judged beside what was read elsewhere.
impl Portions for Shelf<'_> {
    type Error = Infallible;

    fn each(&self, visit: &mut dyn FnMut(&[Standing])) -> Result<(), Infallible> {
        let (mut cut, mut portion) = (Cut::default(), Vec::new());
        for record in self.0.values() {
            if cut.is_before(record) {
                visit(&std::mem::take(&mut portion));
            }
            portion.push(Standing { record: record.clone(), version: 1 });
        }
        visit(&portion);
        Ok(())
    }
}

fn live(state: &State) -> LiveAudit {
    LiveAudit::read(&Shelf(state)).unwrap()
}

fn standing(changes: Vec<(Id, Option<Arc<Record>>)>) -> Vec<(Id, Option<Standing>)> {
    let standing = |record| Standing { record, version: 2 };
    changes.into_iter().map(|(id, now)| (id, now.map(standing))).collect()
}

fn change(live: &mut LiveAudit, changes: Vec<(Id, Option<Arc<Record>>)>, state: &State) -> usize {
    live.change(standing(changes), &Shelf(state)).unwrap()
}

fn findings(live: &LiveAudit, state: &State) -> Vec<Finding> {
    live.findings_within(None, Wanted::ALL, &Shelf(state)).unwrap()
}

/// What is kept of the findings of each record: what these come to.
fn come_to(findings: &[Finding]) -> Vec<(String, AuditSummary)> {
    let of_records = findings.chunk_by(|a, b| a.record == b.record);
    of_records.map(|findings| (findings[0].record.clone(), AuditSummary::of(findings))).collect()
}

fn some(dice: &mut Dice, count: usize) -> Vec<(Id, Option<Arc<Record>>)> {
    let change = |(id, value): (Id, Option<Value>)| (id, value.map(|value| record(&value)));
    (0..count).map(|_| change(anything(dice))).collect()
}

fn take_in(state: &mut State, changes: &[(Id, Option<Arc<Record>>)]) {
    for (id, now) in changes {
        match now {
            Some(now) => state.insert(id.clone(), now.clone()),
            None => state.remove(id),
        };
    }
}

fn text<'f>(findings: impl Iterator<Item = &'f Finding>) -> Vec<String> {
    findings.map(|finding| serde_json::to_string(finding).expect("a finding")).collect()
}

/// What the slip model found about every torque of a book, to the last bit.
fn verdicts(state: &State, torques: &Torques) -> Vec<String> {
    let of = |id: &Id| {
        let found = torques.of_fastener(id.as_str());
        let found = found.map(|t| format!("{id} {} {} {:?} {}", t.stage, t.entry.column, t.judged, t.in_line));
        found.collect::<Vec<_>>()
    };
    state.keys().flat_map(of).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    #[test]
    fn after_any_changes_the_findings_are_those_of_an_audit_of_the_whole_book(seed in any::<u64>()) {
        let dice = &mut Dice::new(seed);
        let mut state = State::new();
        let full = if dice.chance(15) { 3 } else { 150 };
        take_in(&mut state, &some(dice, full));
        let mut live = live(&state);
        for step in 0..6 {
            let count = 1 + dice.below(3);
            let changes = some(dice, count);
            take_in(&mut state, &changes);
            let begun = live.begin(standing(changes), &Shelf(&state)).unwrap();
            let ahead = live.findings_ahead(&state.keys().collect(), &Shelf(&state)).unwrap();
            let judged = live.judge(begun, &Shelf(&state)).unwrap();
            live.enter(judged);
            let book = Book::new(state.values().map(|record| &**record));
            let whole = Audit::of(&book).findings();
            let (mine, its) = (verdicts(&state, live.torques()), verdicts(&state, book.torques()));
            let other = mine.iter().zip(&its).find(|(a, b)| a != b);
            prop_assert!(other.is_none(), "step {}: {:?}", step, other);
            prop_assert_eq!(mine.len(), its.len());
            let kept: Vec<_> = live.summaries().map(|(id, summary)| (id.to_string(), summary)).collect();
            prop_assert_eq!(kept, come_to(&whole), "step {}", step);
            prop_assert_eq!(text(findings(&live, &state).iter()), text(whole.iter()), "step {}", step);
            prop_assert_eq!(text(ahead.iter()), text(whole.iter()), "step {}, before it was finished", step);
        }
    }
}

/// The books above are worth comparing: every kind of evidence speaks in them, and a change touches a part of them only.
#[test]
fn the_books_of_that_test_are_full_of_evidence() {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let (mut of_the_other_pitch, mut again, mut all) = (0, 0, 0);
    for seed in 0..8 {
        let dice = &mut Dice::new(seed);
        let mut state = State::new();
        take_in(&mut state, &some(dice, 150));
        let mut live = live(&state);
        for _ in 0..4 {
            let changes = some(dice, 1);
            take_in(&mut state, &changes);
            again += change(&mut live, changes, &state);
            all += live.count();
        }
        for finding in findings(&live, &state) {
            *seen.entry(finding.rule.to_owned()).or_default() += 1;
            of_the_other_pitch += usize::from(finding.perhaps.iter().any(|perhaps| perhaps.slip == "other-pitch"));
        }
    }
    for rule in [
        "torque-out-of-series",
        "torque-unlike-comparable-records",
        "torque-improbable",
        "printed-units-disagree",
        "neighbours-differ",
        "same-part-different-torque",
        "two-at-one-position",
        "way-in-a-ring",
        "way-leads-nowhere",
    ] {
        assert!(seen.get(rule).is_some_and(|count| *count > 0), "no {rule}: {seen:?}");
    }
    assert!(of_the_other_pitch > 0, "no row of the other pitch: {seen:?}");
    assert!(again * 3 < all * 2, "{again} of {all} records were audited again");
}

/// A catalog follows its own writes, and those that were withdrawn.
#[test]
fn a_catalog_audits_what_was_written_and_withdrawn() {
    let dice = &mut Dice::new(11);
    let catalog = Catalog::in_memory().unwrap();
    let author = Author::unknown();
    let mut state = State::new();
    for round in 0..12 {
        let count = if round == 0 { 120 } else { 1 + dice.below(4) };
        for (id, now) in some(dice, count) {
            match &now {
                Some(now) => drop(catalog.put((**now).clone(), Expected::Any, &author).unwrap()),
                None if state.contains_key(&id) => {
                    catalog.withdraw(&id, Expected::Any, None, &author).unwrap();
                }
                None => {}
            }
            take_in(&mut state, &[(id, now)]);
        }
        let book = Book::new(state.values().map(|record| &**record));
        let whole = Audit::of(&book).findings();
        assert_eq!(text(catalog.audit(&AuditScope::Whole).unwrap().iter()), text(whole.iter()), "round {round}");
        let within = AuditScope::Within("skua.engine.sump".to_owned());
        let expected = whole.iter().filter(|finding| id(&finding.record).is_within("skua.engine.sump"));
        assert_eq!(text(catalog.audit(&within).unwrap().iter()), text(expected), "round {round}");
    }
}
