//! Readers beside a writer: they wait for no batch, see one state, and what is held in memory is what is stored.

use crate::generator::Dice;
use crate::store_find::{Kept, lived_in_and_kept, question};
use clampbook::catalog::{Author, Catalog, Expected, Write};
use clampbook::query::{Field, Query};
use clampbook::record::{Id, Record};
use clampbook::store::{Batch, Engine, EngineError, Index, MemoryEngine, Pair, Store};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// After so long a batch is done although nobody has said that it may be: a reader must be waiting for it.
const PATIENCE: Duration = Duration::from_secs(30);

/// An engine that shows a batch and is done with it only when it is told, and may fail over it then.
#[derive(Default)]
struct Slow {
    memory: MemoryEngine,
    is_slow: AtomicBool,
    fails: AtomicBool,
    shown: AtomicBool,
    go: AtomicBool,
}

struct Handle(Arc<Slow>);

impl Engine for Handle {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        self.0.memory.get(key)
    }
    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        self.0.memory.scan(from, below, limit)
    }
    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        self.0.memory.apply(batch)?;
        if self.0.is_slow.load(Ordering::SeqCst) {
            self.0.shown.store(true, Ordering::SeqCst);
            let until = Instant::now() + PATIENCE;
            while !self.0.go.load(Ordering::SeqCst) && Instant::now() < until {
                std::thread::sleep(Duration::from_millis(1));
            }
        }
        let fails = self.0.fails.load(Ordering::SeqCst);
        if fails { Err(EngineError::Io(std::io::Error::other("the disk is gone"))) } else { Ok(()) }
    }
    fn sync(&self) -> Result<(), EngineError> {
        Ok(())
    }
}

fn bolt(id: &str, class: &str, name: &str) -> Write {
    let json = format!(
        r#"{{"kind":"fastener","id":"skua.pump.{id}","joint":"skua.pump","name":"{name}","thread":"M8",
            "property_class":"{class}","stages":["20 N·m"]}}"#
    );
    Write::put(Record::from_json_text(json.as_bytes()).unwrap())
}

/// What readers see of classes and words.
fn seen(store: &Store) -> (Vec<u32>, Vec<u32>, Vec<String>, bool) {
    let sets = || {
        let class = |class: &str| store.set(Index::Field(Field::PropertyClass), class.as_bytes());
        let all = store.all_sets(Index::Field(Field::PropertyClass))?;
        let values = all.iter().map(|valued| String::from_utf8_lossy(valued.value()).into_owned()).collect();
        let has_word = store.words()?.contains("gudgeon");
        Ok::<_, clampbook::catalog::StoreError>((
            class("8.8")?.iter().collect(),
            class("10.9")?.iter().collect(),
            values,
            has_word,
        ))
    };
    store.undisturbed(sets).unwrap().unwrap()
}

/// Writes a batch that moves a bolt to another class, brings a word and a record, and looks while it is written.
fn look_while_it_is_written(is_warm: bool, fails: bool) {
    let slow = Arc::new(Slow::default());
    let store = Store::on_engine(Box::new(Handle(slow.clone()))).unwrap();
    let author = Author::unknown();
    store.apply(vec![bolt("a", "8.8", "Cover bolt"), bolt("b", "8.8", "Cover bolt")], &author).unwrap();
    let before = (vec![0, 1], vec![], vec!["8.8".to_owned()], false);
    if is_warm {
        assert_eq!(seen(&store), before);
    }
    slow.is_slow.store(true, Ordering::SeqCst);
    slow.fails.store(fails, Ordering::SeqCst);
    let moved: Id = "skua.pump.b".parse().unwrap();
    std::thread::scope(|scope| {
        let writes = vec![bolt("b", "10.9", "Gudgeon bolt"), bolt("c", "8.8", "Gudgeon bolt")];
        let writing = scope.spawn(|| store.apply(writes, &author));
        while !slow.shown.load(Ordering::SeqCst) {
            std::thread::yield_now();
        }
        assert_eq!(seen(&store), before, "warm {is_warm}, fails {fails}");
        assert_eq!(store.get(&moved).unwrap().unwrap().revision, 1);
        assert_eq!(store.slot_if_latest(&moved, 2).unwrap(), Some(1));
        assert!(!writing.is_finished(), "readers have waited for the batch");
        slow.go.store(true, Ordering::SeqCst);
        assert_eq!(writing.join().unwrap().is_err(), fails);
    });
    if fails {
        assert_eq!(seen(&store), before, "after a batch that failed readers stay where they were");
    } else {
        let after = (vec![0, 2], vec![1], vec!["10.9".to_owned(), "8.8".to_owned()], true);
        assert_eq!(seen(&store), after, "warm {is_warm}");
        let gone = ["skua.pump.b", "skua.pump.c"].map(|id| {
            let (expected, why) = (Expected::Any, None);
            Write::Withdraw { id: id.parse().unwrap(), expected, why }
        });
        store.apply(gone.to_vec(), &author).unwrap();
        assert_eq!(seen(&store), (vec![0], vec![], vec!["8.8".to_owned()], false));
    }
}

#[test]
fn readers_wait_for_no_batch() {
    std::thread::scope(|scope| {
        for (is_warm, fails) in [(true, false), (false, false), (true, true), (false, true)] {
            scope.spawn(move || look_while_it_is_written(is_warm, fails));
        }
    });
}

#[test]
fn what_is_held_is_what_is_stored() {
    for kept in [Kept::Never, Kept::FromTheBeginning, Kept::InTheEnd] {
        what_is_held_in(&lived_in_and_kept(120, 8, kept));
    }
}

fn what_is_held_in(catalog: &Catalog) {
    let everything = Query::parse([("kind", "fastener"), ("take", "500")]).unwrap();
    let ids: Vec<Id> =
        catalog.find(&everything).unwrap().items.iter().map(|stored| stored.record.id().clone()).collect();
    let (mut dice, author) = (Dice::new(21), Author::unknown());
    // Always the same few questions, so that their sets are held over the writes.
    let questions: Vec<Query> = (0..12)
        .map(|_| Query::parse(question(&mut dice).iter().map(|(name, value)| (*name, value.as_str()))).unwrap())
        .collect();
    for round in 0..60 {
        let writes: Vec<Write> =
            (0..1 + dice.below(4)).map(|n| write(catalog, &ids[(round * 7 + n) % ids.len()], &mut dice)).collect();
        catalog.apply(writes, &author).unwrap();
        for query in [dice.one_of(&questions), dice.one_of(&questions)] {
            let (held, looked) = (catalog.find(query).unwrap(), catalog.find_by_looking_at_all(query).unwrap());
            assert_eq!(held, looked, "round {round}: {query:?}");
        }
    }
}

/// Withdraws a record, or puts it with another head, class and name.
fn write(catalog: &Catalog, id: &Id, dice: &mut Dice) -> Write {
    if dice.chance(30) {
        return Write::Withdraw { id: id.clone(), expected: Expected::Any, why: None };
    }
    let stored = catalog.get(id).unwrap().unwrap();
    let mut json = serde_json::to_value(&*stored.record).unwrap();
    json["head"] = (*dice.one_of(&["hexagon", "pan", "button"])).into();
    json["property_class"] = (*dice.one_of(&["8.8", "10.9", "A4-70"])).into();
    json["name"] = (*dice.one_of(&["Tunnel bolt", "Pump bolt", "Flange screw"])).into();
    json["stages"] = vec![*dice.one_of(&["30 N·m", "95 N·m", "120 ± 10 N·m"])].into();
    Write::put(Record::from_json(&json).unwrap())
}
