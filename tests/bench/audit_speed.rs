//! How fast a whole book is audited, beside a plain decode of the same records in the same run.
//!
//! `cargo bench --bench audit_speed` measures books of 1,000 and 100,000 fasteners; give other numbers of fasteners
//! after `--`. Decoded are the stored bytes, one record after the other; audited is what was decoded. Each figure is
//! the least of a few runs.

#[path = "../support/generator.rs"]
#[allow(dead_code, reason = "the generator serves tests too")]
mod generator;

use clampbook::audit::{Audit, Book};
use clampbook::record::Record;
use clampbook::store::{Author, Store, Write};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Runs of each measurement.
const RUNS: usize = 3;
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
    println!("{:>9} {:>10} {:>10} {:>7} {:>9}  ({cores} cores)", "records", "decode", "audit", "ratio", "findings");
    for size in if sizes.is_empty() { vec![1000, 100_000] } else { sizes } {
        measure(&stored(size));
    }
    ExitCode::SUCCESS
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
    println!("{count:9} {decode:>10.1?} {audit:>10.1?} {ratio:7.2} {found:9}");
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
