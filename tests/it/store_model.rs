//! Every engine against a map, and the store on every engine against a list of what was written.

use crate::engines;
use clampbook::catalog::{Author, Expected, State, StoreError, Write};
use clampbook::record::{Id, Record};
use clampbook::store::{Batch, Depth, Engine, EngineError, Requirement, SledEngine, Store, Sync};
use proptest::prelude::*;
use std::collections::BTreeMap;

#[derive(Debug, Clone)]
enum Step {
    Apply(Vec<(u8, Option<u8>)>),
    ApplyIf(u8, Option<u8>, Vec<(u8, Option<u8>)>),
    Scan(u8, u8, usize),
    Get(u8),
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let changes = || prop::collection::vec((0_u8..12, prop::option::of(any::<u8>())), 0..6);
    let step = prop_oneof![
        changes().prop_map(Step::Apply),
        (0_u8..12, prop::option::of(0_u8..3), changes())
            .prop_map(|(key, value, changes)| Step::ApplyIf(key, value, changes)),
        (0_u8..14, 0_u8..14, 0_usize..8).prop_map(|(from, below, limit)| Step::Scan(from, below, limit)),
        (0_u8..12).prop_map(Step::Get),
    ];
    prop::collection::vec(step, 1..25)
}

/// Keys of different lengths, some of them the beginning of others.
fn key(number: u8) -> Vec<u8> {
    [vec![b'k', number / 3], vec![0; usize::from(number % 3)]].concat()
}

fn value(number: u8) -> Vec<u8> {
    vec![number; usize::from(number) * 3]
}

fn batch_of(changes: &[(u8, Option<u8>)]) -> Batch {
    let mut batch = Batch::default();
    for (number, content) in changes {
        match content {
            Some(content) => batch.put(key(*number), value(*content)),
            None => batch.remove(key(*number)),
        }
    }
    batch
}

fn change(model: &mut BTreeMap<Vec<u8>, Vec<u8>>, changes: &[(u8, Option<u8>)]) {
    for (number, content) in changes {
        match content {
            Some(content) => model.insert(key(*number), value(*content)),
            None => model.remove(&key(*number)),
        };
    }
}

fn run_on_engine(engine: &dyn Engine, steps: &[Step]) {
    let mut model = BTreeMap::new();
    for step in steps {
        match step {
            Step::Apply(changes) => {
                engine.apply(&batch_of(changes)).unwrap();
                change(&mut model, changes);
            }
            Step::ApplyIf(required, content, changes) => {
                let mut batch = batch_of(changes);
                let wanted = content.map(value);
                batch.require(Requirement { key: key(*required), value: wanted.clone() });
                if model.get(&key(*required)) == wanted.as_ref() {
                    engine.apply(&batch).unwrap();
                    change(&mut model, changes);
                } else {
                    assert!(matches!(engine.apply(&batch), Err(EngineError::Overtaken)));
                }
            }
            Step::Scan(from, below, limit) => {
                let (from, below) = (key(*from), key(*below));
                let expected: Vec<_> = model
                    .iter()
                    .filter(|(key, _)| **key >= from && **key < below)
                    .take(*limit)
                    .map(|(key, value)| (key.clone(), value.clone()))
                    .collect();
                assert_eq!(engine.scan(&from, &below, *limit).unwrap(), expected);
            }
            Step::Get(number) => assert_eq!(engine.get(&key(*number)).unwrap(), model.get(&key(*number)).cloned()),
        }
    }
    let all: Vec<_> = model.into_iter().collect();
    assert_eq!(engine.scan(&[], &[0xff], usize::MAX).unwrap(), all);
}

#[derive(Debug, Clone)]
enum Deed {
    /// A batch of writes: which record, which content (none means withdraw), which revision is expected.
    Write(Vec<(u8, Option<u8>, Expected)>),
    Reopen,
}

fn deeds() -> impl Strategy<Value = Vec<Deed>> {
    let expected = prop_oneof![
        4 => Just(Expected::Any),
        1 => Just(Expected::New),
        2 => (1_u64..4).prop_map(Expected::Revision),
    ];
    let write = (0_u8..6, prop::option::weighted(0.8, 0_u8..4), expected);
    let deed = prop_oneof![6 => prop::collection::vec(write, 1..4).prop_map(Deed::Write), 1 => Just(Deed::Reopen)];
    prop::collection::vec(deed, 1..16)
}

fn id(number: u8) -> Id {
    match number {
        0 => "skua.pump".parse().unwrap(),
        1 => "skua.pump.cover".parse().unwrap(),
        other => format!("skua.pump.cover.bolt-{other}").parse().unwrap(),
    }
}

fn record(number: u8, content: u8) -> Record {
    let (id, words) = (id(number), ["thin", "thick", "thin thick", "bronze"][usize::from(content)]);
    let json = if number < 2 {
        serde_json::json!({ "kind": "joint", "id": id, "title": words })
    } else {
        serde_json::json!({ "kind": "fastener", "id": id, "joint": "skua.pump.cover", "thread": "M8", "note": words,
            "stages": [format!("{} N·m", 10 + content)], "positions": format!("1-{number}") })
    };
    Record::from_json(&json).unwrap()
}

/// What should be in the store: for each record its revisions, and the changes in order.
#[derive(Default, Clone)]
struct Model {
    records: BTreeMap<Id, Vec<(Record, State, u64)>>,
    changes: Vec<(Id, u64)>,
}

impl Model {
    /// Does a batch, or nothing if one of its writes is not what was expected.
    fn write(&self, writes: &[(u8, Option<u8>, Expected)]) -> Option<Self> {
        let mut next = self.clone();
        for (number, content, expected) in writes {
            let id = id(*number);
            let revisions = next.records.get(&id).cloned().unwrap_or_default();
            let met = match expected {
                Expected::Any => true,
                Expected::New => revisions.is_empty(),
                Expected::Revision(revision) => revisions.len() as u64 == *revision && *revision > 0,
            };
            let last = revisions.last();
            let (record, state) = match content {
                Some(content) => (record(*number, *content), State::Current),
                None => (last?.0.clone(), State::Withdrawn),
            };
            if !met {
                return None;
            }
            let same =
                last.is_some_and(|(last, was, _)| *was == state && (state == State::Withdrawn || *last == record));
            if !same {
                let sequence = next.changes.len() as u64 + 1;
                next.changes.push((id.clone(), revisions.len() as u64 + 1));
                next.records.entry(id).or_default().push((record, state, sequence));
            }
        }
        Some(next)
    }

    fn at(&self, sequence: u64) -> Vec<(Id, u64, State)> {
        let last = |revisions: &Vec<(Record, State, u64)>| {
            let number = revisions.iter().filter(|(.., change)| *change <= sequence).count();
            (number > 0).then(|| (number as u64, revisions[number - 1].1))
        };
        self.records
            .iter()
            .filter_map(|(id, revisions)| last(revisions).map(|(number, state)| (id.clone(), number, state)))
            .collect()
    }
}

fn compare(store: &Store, model: &Model) {
    let last = model.changes.len() as u64;
    assert_eq!(store.head().sequence, last);
    for (id, revisions) in &model.records {
        for (at, (record, state, sequence)) in revisions.iter().enumerate() {
            let stored = store.revision(id, at as u64 + 1).unwrap().unwrap();
            assert_eq!((&*stored.record, stored.state, stored.sequence), (record, *state, *sequence));
        }
        assert_eq!(store.get(id).unwrap().unwrap().revision, revisions.len() as u64);
        assert_eq!(store.revisions(id).unwrap().len(), revisions.len());
        assert_eq!(store.revision(id, revisions.len() as u64 + 1).unwrap(), None);
    }
    for sequence in [last, last / 2] {
        let mut walked = Vec::new();
        store
            .walk(Some("skua.pump"), sequence, |stored| {
                walked.push((stored.record.id().clone(), stored.revision, stored.state));
                Ok(true)
            })
            .unwrap();
        assert_eq!(walked, model.at(sequence), "at change {sequence} of {last}");
    }
    let changes: Vec<_> =
        store.changes(0, usize::MAX).unwrap().into_iter().map(|change| (change.id, change.revision)).collect();
    assert_eq!(changes, model.changes);
    assert_eq!(store.changes(last / 2, 2).unwrap().len(), 2.min(changes.len() - changes.len() / 2));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn every_engine_behaves_like_a_map(steps in steps()) {
        for kind in engines::all() {
            run_on_engine(kind.bed().engine().as_ref(), &steps);
        }
        // The one whose pairs are in bundles in a folder.
        let folder = tempfile::tempdir().unwrap();
        run_on_engine(&SledEngine::open(folder.path(), Sync::Always).unwrap(), &steps);
    }

    #[test]
    fn every_store_behaves_like_its_model(deeds in deeds()) {
        for kind in engines::all() {
            let bed = kind.bed();
            let mut store = bed.store();
            let mut model = Model::default();
            for deed in &deeds {
                match deed {
                    Deed::Write(writes) => {
                        let list = writes.iter().map(|(number, content, expected)| match content {
                            Some(content) => Write::Put { record: Box::new(record(*number, *content)), expected: *expected },
                            None => Write::Withdraw { id: id(*number), expected: *expected, why: None },
                        });
                        let done = store.apply(list.collect(), &Author::unknown());
                        match model.write(writes) {
                            Some(next) => {
                                prop_assert_eq!(done.unwrap().len(), writes.len());
                                model = next;
                            }
                            None => {
 let refused = matches!(done, Err(StoreError::Changed { .. }));
 prop_assert!(refused);
 }
                        }
                    }
                    Deed::Reopen if kind != engines::Kind::Memory => {
                        drop(store);
                        store = bed.store();
                    }
                    Deed::Reopen => {}
                }
                compare(&store, &model);
            }
            let report = store.verify(Depth::Everything, &mut |_| {}).unwrap();
            prop_assert!(report.is_whole(), "{:?}", report.damages);
            prop_assert_eq!(report.revisions, model.changes.len() as u64);
        }
    }
}
