//! A loss of power at any moment: what was reported stored is there, and every batch is whole or absent.
//!
//! It is played with copies of the files. Everything that had been synced when a batch was reported stored is on the
//! disk; of what was written after that, any page may have got there and any other not.

use crate::generator::{Dice, book};
use clampbook::catalog::{Author, Catalog, CatalogError, OpenOptions, StoreError, Sync, Write};
use clampbook::record::Record;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// How many records one batch has.
const BATCH: usize = 6;
/// What a disk writes as a whole.
const PAGE: usize = 512;

/// The files of a store, by their path in it.
type Files = BTreeMap<PathBuf, Vec<u8>>;

fn read_files(root: &Path, below: &Path, files: &mut Files) {
    for entry in fs::read_dir(root.join(below)).unwrap().map(Result::unwrap) {
        let path = below.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            read_files(root, &path, files);
        } else if let Ok(bytes) = fs::read(entry.path()) {
            // A file that the engine has just removed is not there.
            files.insert(path, bytes);
        }
    }
}

fn files_of(store: &Path) -> Files {
    let mut files = Files::new();
    read_files(store, Path::new(""), &mut files);
    files
}

fn write_files(store: &Path, files: &Files) {
    for (path, bytes) in files {
        let path = store.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// What may be on the disk when the power goes between two moments: of each page that was written since, the old or
/// the new one. The witness is written once the rest is synced, so that it is an old one unless the rest is new.
fn mixed(synced: &Files, later: &Files, dice: &mut Dice) -> Files {
    let mut files = Files::new();
    // Sometimes nearly all has got there, sometimes hardly anything.
    let percent = *dice.one_of(&[3, 30, 60, 95, 100]);
    let is_synced = percent == 100 && dice.chance(50);
    for (path, new) in later {
        if path == Path::new("witness") {
            let there = if is_synced { Some(new) } else { synced.get(path) };
            files.extend(there.map(|bytes| (path.clone(), bytes.clone())));
            continue;
        }
        let Some(old) = synced.get(path) else {
            if dice.chance(percent) {
                files.insert(path.clone(), new.clone());
            }
            continue;
        };
        let length = if dice.chance(percent) { new.len() } else { old.len() };
        let mut bytes = vec![0; length];
        for at in (0..length).step_by(PAGE) {
            let page = at..(at + PAGE).min(length);
            let from = if dice.chance(percent) || old.len() <= at { new } else { old };
            let there = from.get(page.start..page.end.min(from.len())).unwrap_or_default();
            bytes[page.start..page.start + there.len()].copy_from_slice(there);
        }
        files.insert(path.clone(), bytes);
    }
    for (path, old) in synced {
        // A file that was removed since may still be there.
        if !later.contains_key(path) && !dice.chance(percent) {
            files.insert(path.clone(), old.clone());
        }
    }
    files
}

fn records() -> Vec<Record> {
    let mut records = Vec::new();
    book(20 * BATCH, 21, |line| records.push(Record::from_json_text(line.as_bytes()).unwrap()));
    records.truncate(20 * BATCH);
    records
}

/// Writes batches into a store, and gives its files as they were after each batch was reported stored.
fn moments(path: &Path, sync: Sync, records: &[Record]) -> Vec<Files> {
    let options = OpenOptions { create: true, sync, ..OpenOptions::default() };
    let catalog = Catalog::open(path, &options).unwrap();
    let mut moments = vec![files_of(path)];
    for batch in records.chunks(BATCH) {
        catalog.apply(batch.iter().cloned().map(Write::put).collect(), &Author::unknown()).unwrap();
        moments.push(files_of(path));
    }
    moments
}

/// How many records are in the store; all of them must be right, and no batch half there. Nothing if damage was told.
fn found(path: &Path, records: &[Record], what: &str) -> Option<usize> {
    let catalog = match Catalog::open(path, &OpenOptions::default()) {
        Ok(catalog) => catalog,
        Err(CatalogError::Store(StoreError::Damaged { .. })) => return None,
        Err(other) => panic!("{what}: {other:?}"),
    };
    let report = catalog.verify(&mut |_| {}).unwrap();
    assert!(report.is_whole(), "{what}: {:?}", report.damages);
    let count = usize::try_from(catalog.sequence()).unwrap();
    assert_eq!(count % BATCH, 0, "{what}: half a batch");
    for record in &records[..count] {
        assert_eq!(*catalog.get(record.id()).unwrap().unwrap().record, *record, "{what}");
    }
    Some(count)
}

#[test]
fn what_was_reported_stored_survives_a_loss_of_power() {
    let folder = tempfile::tempdir().unwrap();
    let records = records();
    let moments = moments(&folder.path().join("book"), Sync::Always, &records);
    let mut dice = Dice::new(8);
    let (mut opened, mut repaired) = (0, 0);
    for round in 0..100 {
        let stored = 1 + dice.below(moments.len() - 2);
        let files = mixed(&moments[stored], &moments[stored + 1], &mut dice);
        let path = folder.path().join(format!("cut-{round}"));
        write_files(&path, &files);
        let what = format!("round {round}, {stored} batches reported");
        let count = match found(&path, &records, &what) {
            Some(count) => {
                opened += 1;
                count
            }
            None => {
                repaired += 1;
                Catalog::repair(&path, &OpenOptions::default(), &mut |_| {})
                    .unwrap_or_else(|error| panic!("{what}: {error}"));
                found(&path, &records, &what).unwrap_or_else(|| panic!("{what}: still damaged after its repair"))
            }
        };
        assert!(count >= stored * BATCH, "{what}: only {count} records are there");
        assert!(count <= (stored + 1) * BATCH, "{what}: {count} records are there");
        fs::remove_dir_all(path).unwrap();
    }
    println!("{opened} opened by themselves, {repaired} after a repair");
    assert!(opened >= 80, "{opened} of 100 opened by themselves");
}

#[test]
fn batches_that_nobody_synced_are_whole_or_absent_after_a_loss_of_power() {
    let folder = tempfile::tempdir().unwrap();
    let records = records();
    let moments = moments(&folder.path().join("book"), Sync::Batch, &records);
    let mut dice = Dice::new(13);
    let mut told = 0;
    for round in 0..60 {
        let (first, last) = (dice.below(moments.len() - 1), moments.len() - 1);
        let later = first + 1 + dice.below(last - first);
        let files = mixed(&moments[first], &moments[later], &mut dice);
        let path = folder.path().join(format!("cut-{round}"));
        write_files(&path, &files);
        let what = format!("round {round}, from {first} to {later} batches");
        match found(&path, &records, &what) {
            Some(count) => assert!(count <= later * BATCH, "{what}: {count}"),
            None => told += 1,
        }
        fs::remove_dir_all(path).unwrap();
    }
    println!("{told} of 60 told damage");
    assert!(told < 60);
}
