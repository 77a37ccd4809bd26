//! Pairs in bundles: the same as pairs by themselves to every reader, beside writers, after a failure, and after rot.

use crate::generator::{Dice, book};
use crate::store_trouble::flip_a_bit;
use clampbook::catalog::{Author, Write};
use clampbook::record::{Id, Record};
use clampbook::store::{Batch, Bundles, Depth, Engine, EngineError, MemoryEngine, Pair, Store};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Pairs in memory that are looked at beside the bundles, and the number of changes after which a batch breaks off.
#[derive(Clone, Default)]
struct Below {
    pairs: Arc<MemoryEngine>,
    breaks_off_after: Arc<AtomicUsize>,
}

impl Below {
    fn all(&self) -> Vec<Pair> {
        self.pairs.scan(&[], &[0xff; 9], usize::MAX).unwrap()
    }
}

impl Engine for Below {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        self.pairs.get(key)
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        self.pairs.scan(from, below, limit)
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        let most = self.breaks_off_after.load(Ordering::SeqCst);
        if most == 0 {
            return self.pairs.apply(batch);
        }
        let mut part = Batch::default();
        for (key, value) in batch.changes().take(most - 1) {
            match value {
                Some(value) => part.put(key.to_vec(), value.to_vec()),
                None => part.remove(key.to_vec()),
            }
        }
        self.pairs.apply(&part)?;
        Err(EngineError::Io(std::io::Error::other("the disk is full")))
    }

    fn sync(&self) -> Result<(), EngineError> {
        Ok(())
    }
}

/// Keys of two kinds and of none, some of them the beginning of others.
fn key(number: u16) -> Vec<u8> {
    match number {
        0 => vec![],
        1..4 => vec![0xff, number as u8],
        _ => [if number < 200 { b"c" } else { b"p" }, &number.to_be_bytes()[..1 + usize::from(number % 2)]].concat(),
    }
}

/// Values that begin like the store's, like a bundle, and like nothing; some are large.
fn value(content: u16) -> Vec<u8> {
    let length = [0, 30, 90, 400, 1_500][usize::from(content % 5)];
    [vec![[1, 1, 1, 2, 7][usize::from(content % 5)]; usize::from(length > 0)], vec![content as u8; length]].concat()
}

type Changes = Vec<(u16, Option<u16>)>;

fn changes() -> impl Strategy<Value = Vec<Changes>> {
    let one = (0_u16..400, prop::option::weighted(0.8, any::<u16>()));
    prop::collection::vec(prop::collection::vec(one, 1..80), 1..12)
}

fn batch_of(changes: &Changes) -> Batch {
    let mut batch = Batch::default();
    for (number, content) in changes {
        match content {
            Some(content) => batch.put(key(*number), value(*content)),
            None => batch.remove(key(*number)),
        }
    }
    batch
}

fn change(model: &mut BTreeMap<Vec<u8>, Vec<u8>>, changes: &Changes) {
    for (number, content) in changes {
        match content {
            Some(content) => model.insert(key(*number), value(*content)),
            None => model.remove(&key(*number)),
        };
    }
}

fn compare(engine: &dyn Engine, model: &BTreeMap<Vec<u8>, Vec<u8>>) {
    let all: Vec<Pair> = model.iter().map(|(key, value)| (key.clone(), value.clone())).collect();
    assert_eq!(engine.scan(&[], &[0xff; 9], usize::MAX).unwrap(), all);
    for number in 0..400 {
        assert_eq!(engine.get(&key(number)).unwrap(), model.get(&key(number)).cloned());
    }
    for (from, below, limit) in [(4, 390, 1), (9, 201, 7), (150, 260, 40), (198, 199, 9), (390, 1, 5)] {
        let (from, below) = (key(from), key(below));
        let part = all.iter().filter(|(key, _)| *key >= from && *key < below).take(limit).cloned().collect::<Vec<_>>();
        assert_eq!(engine.scan(&from, &below, limit).unwrap(), part);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn they_are_a_map_whatever_is_below_them(batches in changes(), bare in changes()) {
        let below = Below::default();
        let mut model = BTreeMap::new();
        // As format 1 has it: every pair by itself. Its values all begin with the format of their frame.
        for changes in &bare {
            let framed = |content: u16| content % 1_000 * 5 + 1;
            let plain: Changes = changes.iter().map(|(key, content)| (*key, content.map(framed))).collect();
            below.pairs.apply(&batch_of(&plain)).unwrap();
            change(&mut model, &plain);
        }
        compare(&Bundles::of(below.clone()), &model);
        for changes in &batches {
            let engine = Bundles::of(below.clone());
            engine.apply(&batch_of(changes)).unwrap();
            change(&mut model, changes);
            compare(&engine, &model);
        }
    }

    #[test]
    fn a_batch_that_breaks_off_changes_nothing_that_is_read(batches in changes(), most in 1_usize..30) {
        let below = Below::default();
        let engine = Bundles::of(below.clone());
        let mut model = BTreeMap::new();
        let (last, first) = batches.split_last().unwrap();
        for changes in first {
            engine.apply(&batch_of(changes)).unwrap();
            change(&mut model, changes);
        }
        below.breaks_off_after.store(most, Ordering::SeqCst);
        engine.apply(&batch_of(last)).unwrap_err();
        compare(&engine, &model);
        below.breaks_off_after.store(0, Ordering::SeqCst);
        engine.apply(&batch_of(last)).unwrap_err();
        compare(&engine, &model);
    }
}

/// Whoever reads while bundles are made, split and taken apart misses nothing that is there all the time, and never
/// meets anything twice.
#[test]
fn readers_miss_nothing_beside_a_writer() {
    let below = Below::default();
    let engine = Bundles::of(below);
    let stays = |number: u16| number.is_multiple_of(7);
    let put = |numbers: &mut dyn Iterator<Item = u16>| {
        let mut batch = Batch::default();
        numbers.for_each(|number| batch.put([b"c", &number.to_be_bytes()[..]].concat(), vec![1; 50]));
        engine.apply(&batch).unwrap();
    };
    put(&mut (0..2_000).filter(|number| stays(*number)));
    let (is_done, passes) = (AtomicBool::new(false), AtomicUsize::new(0));
    std::thread::scope(|threads| {
        for reader in 0..2_u16 {
            let (engine, is_done, passes) = (&engine, &is_done, &passes);
            threads.spawn(move || {
                while !is_done.load(Ordering::SeqCst) {
                    let found = engine.scan(b"c", b"d", usize::MAX).unwrap();
                    assert!(found.is_sorted_by(|one, next| one.0 < next.0));
                    let there = found.iter().filter(|(key, _)| stays(u16::from_be_bytes([key[1], key[2]]))).count();
                    assert_eq!(there, 2_000_usize.div_ceil(7));
                    let one = (passes.fetch_add(1, Ordering::SeqCst) as u16 * 7 + reader * 700) % 1_995 / 7 * 7;
                    assert!(engine.get(&[b"c", &one.to_be_bytes()[..]].concat()).unwrap().is_some());
                }
            });
        }
        let mut dice = Dice::new(9);
        for round in 0.. {
            let start = dice.below(1_900) as u16;
            put(&mut (start..start + 90));
            let mut batch = Batch::default();
            let gone = (0..2_000).filter(|number| !stays(*number) && (number + round) % 3 > 0);
            gone.for_each(|number: u16| batch.remove([b"c", &number.to_be_bytes()[..]].concat()));
            engine.apply(&batch).unwrap();
            if round >= 300 && passes.load(Ordering::SeqCst) > 50 {
                break;
            }
        }
        is_done.store(true, Ordering::SeqCst);
    });
}

fn records(count: usize) -> Vec<Record> {
    let mut records = Vec::new();
    book(count, 17, |line| records.push(Record::from_json_text(line.as_bytes()).unwrap()));
    records
}

/// The figure for which bundles are there: below it an import is bound by its pairs.
#[test]
fn an_import_makes_at_most_two_pairs_a_record() {
    let below = Below::default();
    let store = Store::on_engine(Box::new(Bundles::of(below.clone()))).unwrap();
    let mut records = records(3_000);
    // As an export has them.
    records.sort_by(|one, other| one.id().cmp(other.id()));
    for some in records.chunks(1_000) {
        store.apply(some.iter().cloned().map(Write::put).collect(), &Author::unknown()).unwrap();
    }
    assert!(store.verify(Depth::Everything, &mut |_| {}).unwrap().is_whole());
    let pairs = below.all().len();
    println!("{pairs} pairs for {} records", records.len());
    assert!(pairs <= 2 * records.len(), "{pairs} pairs for {} records", records.len());
}

/// What stands below the bundles of a small store.
pub fn pairs_below_a_store() -> Vec<Pair> {
    let below = Below::default();
    let store = Store::on_engine(Box::new(Bundles::of(below.clone()))).unwrap();
    store.apply(records(12).into_iter().map(Write::put).collect(), &Author::unknown()).unwrap();
    below.all()
}

/// A store of these pairs, if it opens.
fn store_of(pairs: &[Pair]) -> Option<Store> {
    let below = Below::default();
    let mut batch = Batch::default();
    pairs.iter().for_each(|(key, value)| batch.put(key.clone(), value.clone()));
    below.pairs.apply(&batch).unwrap();
    Store::on_engine(Box::new(Bundles::of(below))).ok()
}

#[test]
fn every_bit_that_flips_below_is_told_and_the_rest_stays_readable() {
    let below = Below::default();
    let sound: BTreeMap<Id, _> = {
        let store = Store::on_engine(Box::new(Bundles::of(below.clone()))).unwrap();
        let records = records(40);
        let writes = |records: &[Record]| records.iter().cloned().map(Write::put).collect();
        store.apply(writes(&records[..30]), &Author::unknown()).unwrap();
        store.apply(writes(&records[30..]), &Author::unknown()).unwrap();
        records.iter().map(|record| (record.id().clone(), store.get(record.id()).unwrap().unwrap())).collect()
    };
    let pairs = below.all();
    let mut dice = Dice::new(4);
    let (mut refused, mut told, mut unreadable) = (0, 0, 0);
    for round in 0..300 {
        let mut hit = pairs.clone();
        flip_a_bit(&mut hit, &mut dice);
        let Some(store) = store_of(&hit) else {
            refused += 1;
            continue;
        };
        let report = store.verify(Depth::Records, &mut |_| {}).unwrap();
        assert!(!report.is_whole(), "round {round}: nobody noticed");
        told += 1;
        let lost = sound.iter().filter(|(id, stored)| match store.get(id) {
            Ok(found) => {
                assert!(found.as_ref().is_none_or(|found| found == *stored), "round {round}: {id} is wrong");
                found.is_none()
            }
            Err(_) => true,
        });
        unreadable = unreadable.max(lost.count());
    }
    println!("{refused} refused in opening, {told} told by the check, at most {unreadable} records unreadable");
    assert!(told > 200 && unreadable > 0 && unreadable < sound.len());
}
