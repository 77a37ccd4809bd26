//! How fast a whole book is audited, beside a plain decode of the same records in the same run.
//!
//! `cargo bench --bench audit_speed` measures books of 1,000 and 100,000 fasteners; give other numbers of fasteners
//! after `--` (`-- 1000000` takes some minutes). Decoded are the stored bytes, one record after the other; audited is
//! what was decoded. Each of these figures is the least of a few runs. The last columns are an audit that is kept: after
//! each of a few writes to records here and there it audits again what the write touched. Shown are the middle and the
//! greatest time, how many records that were on average, and what the kept audit holds in memory, records that were read
//! and dropped again included as far as the allocator keeps them.
//!
//! Then come books that could cost the square of their size, in two sizes: fasteners of one part number in as many joints, and
//! in one joint. And how soon an audit that tells what it finds as it comes tells something.

#[path = "../support/generator.rs"]
#[allow(dead_code, reason = "the generator serves tests too")]
mod generator;

use clampbook::audit::{Audit, Book, LiveAudit, Pages, Standing};
use clampbook::record::{Id, Record};
use clampbook::store::{Author, Store, StoreError, Write};
use std::collections::HashMap;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Runs of each measurement.
const RUNS: usize = 3;
/// Writes that are measured.
const WRITES: usize = 41;
/// Records stored in one batch.
const BATCH: usize = 5000;

fn main() -> ExitCode {
    let words = std::env::args().skip(1).filter(|word| !word.starts_with("--"));
    let sizes: Result<Vec<usize>, _> = words.map(|word| word.replace(',', "").parse()).collect();
    let Ok(sizes) = sizes else {
        eprintln!("write how many fasteners the book is to have: cargo bench --bench audit_speed -- 1000 100000");
        return ExitCode::from(2);
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    println!(
        "{:>9} {:>10} {:>10} {:>7} {:>9} {:>10} {:>10} {:>8} {:>9}  ({cores} cores)",
        "records", "decode", "audit", "ratio", "findings", "one write", "at most", "again", "kept"
    );
    for size in if sizes.is_empty() { vec![1000, 100_000] } else { sizes } {
        let store = stored(size);
        measure(&store);
        first_finding(&store);
    }
    one_part();
    ExitCode::SUCCESS
}

/// How soon the first finding is told, and the last.
fn first_finding(store: &Store) {
    let records = decoded(store);
    let began = Instant::now();
    let mut first = None;
    let book = Book::new(records.iter().map(|record| &**record));
    book.weigh_when_asked();
    let told = Audit::of(&book).each(book.records(), |_, findings| {
        if !findings.is_empty() {
            first.get_or_insert_with(|| began.elapsed());
        }
        Ok::<(), ()>(())
    });
    assert!(told.is_ok());
    println!(
        "  told as it comes: the first finding after {:.1?}, the last after {:.1?}",
        first.unwrap_or_default(),
        began.elapsed()
    );
}

/// The audit of fasteners that share one part number, in twice as many from line to line.
fn one_part() {
    for (where_, joint_of) in [("in as many joints", 1_usize), ("in one joint", usize::MAX)] {
        for count in [5000, 10_000, 20_000] {
            let fastener = |i: usize| {
                let joint = format!("skua.part.j{}", i / joint_of);
                let value = serde_json::json!({ "kind": "fastener", "id": format!("{joint}.f{i}"), "joint": joint,
                    "thread": "M8", "property_class": "8.8", "part_no": "SY-1", "positions": format!("{}", 1 + i % 900),
                    "stages": [format!("{} N·m", 20 + i % 7)] });
                Record::from_json(&value).expect("a record")
            };
            let records: Vec<Record> = (0..count).map(fastener).collect();
            let began = Instant::now();
            let found = Audit::of(&Book::new(&records)).findings().len();
            println!("  {count} fasteners of one part {where_}: {:.1?}, {found} findings", began.elapsed());
        }
    }
}

/// A store with a book of so many fasteners.
fn stored(fasteners: usize) -> Store {
    let store = Store::in_memory().expect("a store in memory");
    let author = Author(None);
    let mut batch = Vec::with_capacity(BATCH);
    let flush = |batch: &mut Vec<Write>| {
        store.apply(std::mem::take(batch), &author).expect("the records can be stored");
    };
    generator::book(fasteners, 1, |line| {
        let value = serde_json::from_str(line).expect("a line of JSON");
        batch.push(Write::put(Record::from_json(&value).expect("a record")));
        if batch.len() == BATCH {
            flush(&mut batch);
        }
    });
    flush(&mut batch);
    store
}

fn measure(store: &Store) {
    let (mut decode, mut audit) = (Duration::MAX, Duration::MAX);
    let (mut count, mut found) = (0, 0);
    for _ in 0..RUNS {
        let began = Instant::now();
        let records = decoded(store);
        decode = decode.min(began.elapsed());
        let began = Instant::now();
        let book = Book::new(records.iter().map(|record| &**record));
        let findings = Audit::of(&book).findings();
        audit = audit.min(began.elapsed());
        (count, found) = (records.len(), findings.len());
    }
    let ratio = audit.as_secs_f64() / decode.as_secs_f64();
    let Writes { middle, most, again, kept } = writes(store);
    println!(
        "{count:9} {decode:>10.1?} {audit:>10.1?} {ratio:7.2} {found:9} {middle:>10.1?} {most:>10.1?} {again:8} {kept:6} MB"
    );
}

/// What writes to a book cost whose audit is kept.
struct Writes {
    middle: Duration,
    most: Duration,
    again: usize,
    kept: u64,
}

fn writes(store: &Store) -> Writes {
    let before = resident();
    let standing = |record| Standing { record, version: 1 };
    let mut live = LiveAudit::of(decoded(store).into_iter().map(standing).collect());
    let kept = resident().saturating_sub(before) >> 20;
    let fasteners: Vec<Arc<Record>> =
        decoded(store).into_iter().filter(|record| record.as_fastener().is_some()).collect();
    let mut pages = Changed { store, records: HashMap::new() };
    let (mut took, mut again) = (Vec::new(), 0);
    let mut dice = generator::Dice::new(1);
    for _ in 0..WRITES {
        let one = dice.one_of(fasteners.as_slice()).clone();
        let changed = Arc::new(with_another_torque(&one, &mut dice));
        pages.records.insert(changed.id().clone(), changed.clone());
        let began = Instant::now();
        let change = (changed.id().clone(), Some(Standing { record: changed, version: 2 }));
        again += live.change(vec![change], &pages).expect("the store can be read");
        took.push(began.elapsed());
    }
    took.sort();
    Writes { middle: took[WRITES / 2], most: took[WRITES - 1], again: again / WRITES, kept }
}

/// The book of a store with some records changed.
struct Changed<'s> {
    store: &'s Store,
    records: HashMap<Id, Arc<Record>>,
}

impl Pages for Changed<'_> {
    type Error = StoreError;

    fn record(&self, id: &Id) -> Result<Option<Arc<Record>>, StoreError> {
        match self.records.get(id) {
            Some(changed) => Ok(Some(changed.clone())),
            None => Ok(self.store.get_at(id, u64::MAX)?.map(|stored| stored.record)),
        }
    }

    fn all(&self) -> Result<Vec<Arc<Record>>, StoreError> {
        Ok(decoded(self.store))
    }
}

fn with_another_torque(record: &Record, dice: &mut generator::Dice) -> Record {
    let mut value = serde_json::to_value(record).expect("a record");
    value["stages"] = serde_json::json!([format!("{} N·m", 5 + dice.below(300))]);
    Record::from_json(&value).expect("a record")
}

/// The bytes of memory that the process has.
fn resident() -> u64 {
    let pages = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    pages.split(' ').nth(1).and_then(|pages| pages.parse::<u64>().ok()).unwrap_or(0) * 4096
}

fn decoded(store: &Store) -> Vec<Arc<Record>> {
    let mut records = Vec::new();
    let visit = |stored: clampbook::query::Stored| {
        records.push(stored.record);
        Ok(true)
    };
    store.walk(None, u64::MAX, visit).expect("the store can be read");
    records
}
