//! The directory against what the store says, after random writes.

use super::{Directory, FIELDS, Members};
use crate::query::{State, final_torque};
use crate::record::{Id, Record};
use crate::store::{Author, Expected, Store, Write};
use proptest::prelude::*;
use std::collections::HashMap;

/// What is done to one of a few records.
#[derive(Debug, Clone)]
enum Step {
    Put { id: u16, thread: usize, torque: Option<u8>, checked: bool },
    Withdraw { id: u16 },
}

fn id(number: u16) -> Id {
    format!("skua.pump.b-{number}").parse().expect("an id")
}

fn record(number: u16, thread: usize, torque: Option<u8>, checked: bool) -> Record {
    let thread = ["M8", "M10", "3/8-16"][thread];
    let mut json = serde_json::json!({
        "kind": "fastener", "id": id(number), "joint": "skua.pump", "thread": thread, "stages": ["hand"],
        "source": { "document": "Workshop book", "entered_by": "mo" },
    });
    if let Some(torque) = torque {
        json["stages"] = serde_json::json!([format!("{torque} Nm")]);
    }
    if checked {
        json["source"]["checked_by"] = "ines".into();
    }
    Record::from_json(&json).expect("a record")
}

fn write(step: &Step) -> Write {
    match *step {
        Step::Put { id, thread, torque, checked } => {
            Write::Put { record: Box::new(record(id, thread, torque, checked)), expected: Expected::Any }
        }
        Step::Withdraw { id: number } => Write::Withdraw { id: id(number), expected: Expected::Any, why: None },
    }
}

fn batches() -> impl Strategy<Value = Vec<Vec<Step>>> {
    let put = (0_u16..400, 0_usize..3, prop::option::of(1_u8..6), any::<bool>());
    let step = prop_oneof![
        4 => put.prop_map(|(id, thread, torque, checked)| Step::Put { id, thread, torque, checked }),
        1 => (0_u16..400).prop_map(|id| Step::Withdraw { id }),
    ];
    prop::collection::vec(prop::collection::vec(step, 1..40), 1..12)
}

/// Holds the directory against the store.
fn check(store: &Store) {
    let directory = store.directory().expect("a directory");
    let mut stored = Vec::new();
    let visit = |record| {
        stored.push(record);
        Ok(true)
    };
    store.walk(None, u64::MAX, visit).expect("the store can be read");
    let in_order: Vec<&str> = directory.order().iter().map(|slot| directory.id(slot)).collect();
    let ids: Vec<&str> = stored.iter().map(|stored| stored.record.id().as_str()).collect();
    assert_eq!(in_order, ids, "all ids stand in their order");
    let labels: Vec<u64> = directory.order().iter().map(|slot| directory.label(slot)).collect();
    assert!(labels.is_sorted_by(|a, b| a < b), "labels compare like the ids: {labels:?}");
    let mut members: HashMap<u32, Vec<u32>> = HashMap::new();
    for stored in &stored {
        let slot = directory.slot(stored.record.id().as_str()).expect("a slot");
        let entry = directory.entry(slot).expect("an entry");
        assert_eq!((u64::from(entry.revision), entry.sequence), (stored.revision, stored.sequence));
        assert_eq!(entry.family().is_some(), stored.state == State::Current);
        if let Some(family) = entry.family() {
            alike(&directory, family, &stored.record);
            members.entry(family).or_default().push(slot);
        }
    }
    for number in 0..u32::try_from(directory.families()).expect("few families") {
        let family = directory.family(number).expect("a family");
        let expected = members.remove(&number).unwrap_or_default();
        assert_eq!(family.members.iter().collect::<Vec<_>>(), expected, "members stand in the order of their ids");
        assert_eq!(family.count as usize, expected.len());
    }
}

/// A record has what its family has.
fn alike(directory: &Directory, family: u32, record: &Record) {
    let family = directory.family(family).expect("a family");
    for (code, field) in family.traits.codes.iter().zip(FIELDS) {
        let (_, column) = directory.column(field).expect("a column");
        assert_eq!(column.text(*code), field.values(record).first().map(String::as_str).unwrap_or_default());
    }
    let torque = record.as_fastener().and_then(final_torque);
    assert_eq!(family.traits.torque(), torque.map(|(low, high)| (low.newton_meters(), high.newton_meters())));
}

fn apply(store: &Store, steps: &[Step]) {
    // A record that is not there can't be withdrawn.
    let mut there = |step: &&Step| match step {
        Step::Put { .. } => true,
        Step::Withdraw { id: number } => store.get(&id(*number)).expect("a read").is_some(),
    };
    let writes = steps.iter().filter(&mut there).map(write).collect();
    store.apply(writes, &Author::unknown()).expect("it is stored");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]
    #[test]
    fn is_what_the_store_says_made_early_or_late(batches in batches(), late in 0_usize..12) {
        let store = Store::in_memory().expect("a store");
        for (number, batch) in batches.iter().enumerate() {
            if number == late.min(batches.len() - 1) {
                store.keep_directory(&|| false).expect("a directory");
            }
            apply(&store, batch);
        }
        check(&store);
    }
}

#[test]
fn ids_may_come_from_the_last_to_the_first() {
    let store = Store::in_memory().expect("a store");
    store.keep_directory(&|| false).expect("a directory");
    // Each comes before all that are there, so that room between labels runs out again and again.
    for number in (100..999).rev() {
        apply(&store, &[Step::Put { id: number, thread: 0, torque: None, checked: false }]);
    }
    check(&store);
}

#[test]
fn what_others_wrote_is_entered_up_to_a_number_of_changes_and_of_one_history_only() {
    let store = Store::in_memory().expect("a store");
    let puts = |from: u16| -> Vec<Step> {
        let put = |id| Step::Put { id, thread: 0, torque: Some(2), checked: false };
        (from..from + 3).map(put).collect()
    };
    apply(&store, &puts(10));
    assert!(store.keep_directory(&|| false).expect("a directory"));
    let (before, directory) = (store.head(), store.directory());
    apply(&store, &puts(11));
    apply(&store, &[Step::Withdraw { id: 10 }]);
    // As if others had written that: what is known is of before.
    store.directory.store(directory.clone());
    assert_eq!(store.head().sequence - before.sequence, 2);
    assert!(store.directory_since(&before, &store.head(), 1).is_none());
    store.directory.store(store.directory_since(&before, &store.head(), 2));
    check(&store);
    store.directory.store(directory);
    store.begin_epoch().expect("another epoch");
    assert!(store.directory_since(&before, &store.head(), 1000).is_none());
}

#[test]
fn who_asks_for_an_earlier_version_is_not_disturbed() {
    let store = Store::in_memory().expect("a store");
    apply(&store, &[Step::Put { id: 1, thread: 0, torque: Some(4), checked: false }]);
    store.keep_directory(&|| false).expect("a directory");
    let earlier = store.directory().expect("a directory");
    apply(
        &store,
        &[
            Step::Put { id: 1, thread: 1, torque: None, checked: true },
            Step::Put { id: 2, thread: 1, torque: None, checked: true },
        ],
    );
    let slot = earlier.slot(id(1).as_str()).expect("a slot");
    let family = earlier.entry(slot).and_then(super::Entry::family).expect("a family");
    alike(&earlier, family, &record(1, 0, Some(4), false));
    assert_eq!(
        earlier.slot(id(2).as_str()).and_then(|slot| earlier.entry(slot).copied()).map(|entry| entry.revision),
        None
    );
    assert_eq!(earlier.order().at(Members::start()), Some(slot));
    let seen = store.records_of(&earlier, [slot]).expect("the revision of then");
    assert_eq!(seen[0].revision, 1);
}
