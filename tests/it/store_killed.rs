//! Killing the process at any moment loses nothing that was acknowledged, and leaves every batch whole or absent.

use crate::engines::{self, Kind};
use crate::generator::{Dice, book};
use clampbook::catalog::{Author, Catalog, OpenOptions, Place, Sync, Write};
use clampbook::record::Record;
use std::io::{BufRead, BufReader, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Where a child process writes until it is killed.
const CHILD_PLACE: &str = "CLAMPBOOK_TEST_WRITES_INTO";
/// Records of one batch.
const BATCH: usize = 10;

/// Batches that a child has to write; it is killed long before the last.
const BATCHES: usize = 80;

/// The records of the test as JSON, always the same.
fn lines(batches: usize) -> Vec<String> {
    let mut lines = Vec::new();
    book(batches * BATCH, 11, |line| lines.push(line.to_owned()));
    lines.truncate(batches * BATCH);
    lines
}

fn record(line: &String) -> Record {
    Record::from_json_text(line.as_bytes()).unwrap()
}

fn options(sync: Sync) -> OpenOptions {
    OpenOptions { create: true, sync, ..OpenOptions::default() }
}

/// Writes batch after batch into a store and tells each one once it is stored. In a child process it does so until
/// it is killed; called as a test it writes three batches and finds them again.
#[test]
fn writes_and_acknowledges() {
    let child = std::env::var_os(CHILD_PLACE);
    let own = Kind::Folder.bed();
    let place = child.as_ref().map_or_else(|| own.place(), |place| Place::from(Path::new(place)));
    let lines = lines(if child.is_some() { BATCHES } else { 3 });
    let catalog = Catalog::open_at(&place, &options(Sync::Always)).unwrap();
    let done = usize::try_from(catalog.sequence()).unwrap();
    for batch in lines[done..].chunks(BATCH) {
        let writes = batch.iter().map(record).map(Write::put).collect();
        let puts = catalog.apply(writes, &Author::unknown()).unwrap();
        println!("stored {}", puts.last().unwrap().sequence);
        std::io::stdout().flush().unwrap();
    }
    if child.is_none() {
        drop(catalog);
        assert_eq!(look(&place, &lines.iter().map(record).collect::<Vec<_>>()), 3 * BATCH as u64);
    }
}

/// Opens the store, which checks it from end to end; everything in it must be what was written. Gives the last change.
fn look(place: &Place, records: &[Record]) -> u64 {
    let catalog = Catalog::open_at(place, &OpenOptions::default()).unwrap();
    let report = catalog.verify(&mut |_| {}).unwrap();
    assert!(report.is_whole(), "{:?}", report.damages);
    let sequence = catalog.sequence();
    assert_eq!(report.revisions, sequence);
    for record in &records[..usize::try_from(sequence).unwrap()] {
        assert_eq!(*catalog.get(record.id()).unwrap().unwrap().record, *record);
    }
    sequence
}

#[test]
fn nothing_acknowledged_is_lost_when_the_process_is_killed() {
    for kind in engines::lasting() {
        kill_again_and_again(kind);
    }
}

fn kill_again_and_again(kind: Kind) {
    let records: Vec<Record> = lines(BATCHES).iter().map(record).collect();
    let mut dice = Dice::new(3);
    let (mut acknowledged_batches, mut rounds_with_writes) = (0, 0);
    // A database forks processes of its own, which takes longer.
    let (stores, rounds) = if matches!(kind, Kind::Folder) { (40, 5) } else { (5, 4) };
    for store in 0..stores {
        let bed = kind.bed();
        let place = bed.place();
        let mut before = 0;
        for round in 0..rounds {
            let acknowledged =
                killed_after(&place, dice.below(6), Duration::from_micros(dice.next() % 20_000)).max(before);
            let found = if is_made(&place) { look_after_kill(&place, &records) } else { 0 };
            assert!(found >= acknowledged, "{kind:?} {store}, round {round}: {acknowledged} stored, {found} found");
            assert_eq!(found % BATCH as u64, 0, "{kind:?} {store}, round {round}: half a batch");
            acknowledged_batches += (acknowledged - before) / BATCH as u64;
            rounds_with_writes += u64::from(acknowledged > before);
            before = found;
        }
    }
    assert!(
        acknowledged_batches >= stores * rounds && rounds_with_writes >= stores * rounds / 2,
        "{kind:?}: {acknowledged_batches} in {rounds_with_writes}"
    );
}

/// A store that was never finished being made may still be missing; everything else must open.
fn look_after_kill(place: &Place, records: &[Record]) -> u64 {
    drop(Catalog::open_at(place, &options(Sync::Always)).unwrap());
    look(place, records)
}

/// Whether there is anything yet that can be opened.
fn is_made(place: &Place) -> bool {
    match place {
        Place::Folder(path) => path.exists(),
        Place::Database(_) => true,
    }
}

/// The place as a child is told it.
fn told(place: &Place) -> std::ffi::OsString {
    match place {
        Place::Folder(path) => path.into(),
        Place::Database(url) => url.secret().into(),
    }
}

/// Lets a child write some batches, kills it some time after, and gives the last change that it told.
fn killed_after(place: &Place, batches: usize, time: Duration) -> u64 {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "store_killed::writes_and_acknowledges", "--nocapture", "--test-threads=1"])
        .env(CHILD_PLACE, told(place))
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let sequence = |line: String| line.strip_prefix("stored ").and_then(|number| number.parse::<u64>().ok());
    let first = lines.by_ref().filter_map(sequence).take(batches).last().unwrap_or(0);
    std::thread::sleep(time);
    child.kill().unwrap();
    child.wait().unwrap();
    lines.filter_map(sequence).last().unwrap_or(first)
}
