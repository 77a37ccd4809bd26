//! Rot and cut-off files: harmless or told, never a panic, never a wrong number, and nothing lost by looking.

use crate::generator::{Dice, book};
use clampbook::catalog::{Author, Catalog, CatalogError, Expected, OpenOptions, StoreError, Write};
use clampbook::record::{Id, Record};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// How often each kind of damage is done; set the variable for a longer run.
fn rounds() -> usize {
    std::env::var("CLAMPBOOK_DAMAGE_ROUNDS").ok().map_or(12, |rounds| rounds.parse().unwrap())
}

type Records = BTreeMap<Id, Record>;

/// A store with some history, closed, and what must be in it.
fn sound_store(path: &Path) -> Records {
    let catalog = Catalog::create(path).unwrap();
    let mut records: Vec<Record> = Vec::new();
    book(60, 4, |line| records.push(Record::from_json_text(line.as_bytes()).unwrap()));
    for batch in records.chunks(7) {
        catalog.apply(batch.iter().cloned().map(Write::put).collect(), &Author::unknown()).unwrap();
    }
    for record in records.iter_mut().step_by(3) {
        if let Record::Fastener(fastener) = record {
            fastener.note = Some("second revision".parse().unwrap());
            catalog.apply(vec![Write::put(record.clone())], &Author::unknown()).unwrap();
        }
    }
    records.into_iter().map(|record| (record.id().clone(), record)).collect()
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let goal = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &goal)
        } else {
            fs::copy(entry.path(), goal).unwrap();
        }
    }
}

fn data_file(store: &Path) -> PathBuf {
    store.join("data/db")
}

#[derive(Debug, Default)]
struct Outcomes {
    harmless: usize,
    told: usize,
    /// The most records of one store that could not be read.
    unreadable_max: usize,
    /// How often a repair proved that nothing was lost.
    repaired_whole: usize,
    /// The most revisions that one repair lost.
    lost_max: usize,
}

/// Opens a damaged store: everything must be there and right, or the damage is told and the files are as they were.
fn open_damaged(path: &Path, records: &Records, outcomes: &mut Outcomes, what: &str) {
    let before = fs::read(data_file(path)).unwrap_or_default();
    match Catalog::open(path, &OpenOptions::default()) {
        Ok(catalog) => {
            outcomes.harmless += 1;
            for (id, record) in records {
                let stored = catalog.get(id).unwrap().unwrap_or_else(|| panic!("{what}: {id} is gone without a word"));
                assert_eq!(*stored.record, *record, "{what}");
            }
        }
        Err(CatalogError::Store(StoreError::Damaged { what: hit, how })) => {
            outcomes.told += 1;
            assert!(!hit.is_empty() && !how.is_empty());
            read_the_rest(path, records, outcomes, what);
            assert!(fs::read(data_file(path)).unwrap_or_default() == before, "{what}: looking has changed the files");
            repair(path, records, outcomes, what);
        }
        Err(other) => panic!("{what}: {other:?}"),
    }
}

/// How many records can't be read as they were last written; none may be wrong.
fn unreadable(catalog: &Catalog, records: &Records, what: &str) -> usize {
    let mut unreadable = 0;
    for (id, record) in records {
        match catalog.get(id) {
            Ok(Some(stored)) if *stored.record == *record => {}
            Ok(Some(stored)) => {
                let mut first = record.clone();
                if let Record::Fastener(fastener) = &mut first {
                    fastener.note = None;
                }
                assert_eq!((stored.revision, &*stored.record), (1, &first), "{what}: {id} is wrong");
                unreadable += 1;
            }
            _ => unreadable += 1,
        }
    }
    unreadable
}

fn read_the_rest(path: &Path, records: &Records, outcomes: &mut Outcomes, what: &str) {
    let options = OpenOptions { damaged: true, ..OpenOptions::default() };
    let catalog = Catalog::open(path, &options).unwrap_or_else(|error| panic!("{what}: {error}"));
    outcomes.unreadable_max = outcomes.unreadable_max.max(unreadable(&catalog, records, what));
    let write =
        vec![Write::Withdraw { id: records.keys().next().unwrap().clone(), expected: Expected::Any, why: None }];
    let refused = catalog.apply(write, &Author::unknown()).unwrap_err();
    let refused = matches!(refused, CatalogError::Store(StoreError::Stopped { .. } | StoreError::Changed { .. }));
    assert!(refused, "{what}: a damaged store must take no writes");
}

fn repair(path: &Path, records: &Records, outcomes: &mut Outcomes, what: &str) {
    let report = match Catalog::repair(path, &OpenOptions::default(), &mut |_| {}) {
        Ok(report) => report,
        Err(error) => {
            assert!(error.to_string().contains("nothing in them is whole"), "{what}: {error}");
            return;
        }
    };
    assert!(!report.is_complete || report.lost.is_empty(), "{what}");
    outcomes.repaired_whole += usize::from(report.is_complete);
    outcomes.lost_max = outcomes.lost_max.max(report.lost.len());
    let catalog = Catalog::open(path, &OpenOptions::default()).unwrap_or_else(|error| panic!("{what}: {error}"));
    assert!(unreadable(&catalog, records, what) <= report.lost.len(), "{what}: more is gone than the repair said");
    let check = catalog.verify(&mut |_| {}).unwrap();
    assert!(check.is_whole(), "{what}: {:?}", check.damages);
    assert!(report.set_aside.join("data/db").exists(), "{what}: the damaged files are gone");
    let next = catalog.withdraw(records.keys().next().unwrap(), Expected::Any, None, &Author::unknown());
    assert!(next.is_ok() || !report.is_complete, "{what}: {next:?}");
}

/// Damages copies of a sound store and opens them.
fn each_damage(kind: &str, mut damage: impl FnMut(&mut Vec<u8>, &mut Dice) -> String) -> Outcomes {
    let folder = tempfile::tempdir().unwrap();
    let sound = folder.path().join("sound");
    let records = sound_store(&sound);
    let mut dice = Dice::new(9);
    let mut outcomes = Outcomes::default();
    for round in 0..rounds() {
        let path = folder.path().join("damaged");
        copy(&sound, &path);
        let mut bytes = fs::read(data_file(&path)).unwrap();
        let what = format!("{kind} {round}: {}", damage(&mut bytes, &mut dice));
        fs::write(data_file(&path), bytes).unwrap();
        open_damaged(&path, &records, &mut outcomes, &what);
        fs::remove_dir_all(&path).unwrap();
    }
    println!("{kind}: {outcomes:?}");
    outcomes
}

#[test]
fn a_flipped_bit_is_harmless_or_told() {
    let outcomes = each_damage("flipped bit", |bytes, dice| {
        let used = bytes.iter().rposition(|byte| *byte != 0).unwrap();
        let (at, bit) = (dice.below(used), dice.below(8));
        bytes[at] ^= 1 << bit;
        format!("bit {bit} of byte {at}")
    });
    assert!(outcomes.told > 0 && outcomes.repaired_whole > 0, "{outcomes:?}");
    // One bit hits one value. The same value may lie in the file once more, or nowhere else.
    assert!(outcomes.unreadable_max <= 1 && outcomes.lost_max <= 1, "{outcomes:?}");
}

/// The files of a small store with the names that they have in its folder.
fn files_of_a_small_store(folder: &Path) -> (Records, Vec<(PathBuf, Vec<u8>)>) {
    fn files_below(folder: &Path, name: &Path, files: &mut Vec<(PathBuf, Vec<u8>)>) {
        for entry in fs::read_dir(folder.join(name)).unwrap() {
            let entry = entry.unwrap();
            let name = name.join(entry.file_name());
            if entry.file_type().unwrap().is_dir() {
                files_below(folder, &name, files);
            } else {
                files.push((name, fs::read(entry.path()).unwrap()));
            }
        }
    }
    let sound = folder.join("sound");
    let catalog = Catalog::create(&sound).unwrap();
    let mut records: Vec<Record> = Vec::new();
    book(8, 5, |line| records.push(Record::from_json_text(line.as_bytes()).unwrap()));
    for record in &records {
        catalog.apply(vec![Write::put(record.clone())], &Author::unknown()).unwrap();
    }
    drop(catalog);
    let mut files = Vec::new();
    files_below(&sound, Path::new(""), &mut files);
    (records.into_iter().map(|record| (record.id().clone(), record)).collect(), files)
}

/// Opens a store one bit of which was flipped. Whether that was told.
fn is_told(path: &Path, records: &Records, what: &str) -> bool {
    let right = |catalog: &Catalog| {
        let stored = records.iter().map(|(id, record)| (catalog.get(id), record));
        stored
            .filter(|(stored, record)| match stored {
                Ok(Some(stored)) => {
                    assert_eq!(*stored.record, **record, "{what}: a record is wrong");
                    true
                }
                _ => false,
            })
            .count()
    };
    match Catalog::open(path, &OpenOptions::default()) {
        Ok(catalog) => {
            assert_eq!(right(&catalog), records.len(), "{what}: records are gone without a word");
            false
        }
        // A bit of the number of the format.
        Err(CatalogError::Store(StoreError::Newer { .. })) => true,
        Err(CatalogError::Store(StoreError::Damaged { .. })) => {
            // What says that the folder is a store may be what was hit; then there is nothing to read the rest with.
            let options = OpenOptions { damaged: true, ..OpenOptions::default() };
            if let Ok(catalog) = Catalog::open(path, &options) {
                assert!(right(&catalog) + 1 >= records.len(), "{what}: one bit has hit more than one record");
            }
            true
        }
        Err(other) => panic!("{what}: {other:?}"),
    }
}

#[test]
fn thousands_of_flipped_bits_in_any_file_are_harmless_or_told() {
    const THREADS: usize = 4;
    const EACH: usize = 500;
    // In memory where that is possible: what is tried here is no question of the disk.
    let folder = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap();
    let (records, files) = files_of_a_small_store(folder.path());
    let flip_many = |thread: usize| {
        let (mut dice, mut told) = (Dice::new(thread as u64 + 31), 0);
        let path = folder.path().join(format!("flipped-{thread}"));
        for round in 0..EACH {
            // Most of them in the largest file, which has the records.
            let largest = files.iter().max_by_key(|(_, bytes)| bytes.iter().filter(|byte| **byte != 0).count());
            let (name, bytes) = if dice.chance(70) { largest.unwrap() } else { dice.one_of(&files) };
            let Some(used) = bytes.iter().rposition(|byte| *byte != 0) else { continue };
            let (at, bit) = (dice.below(used + 1), dice.below(8));
            for (file, bytes) in &files {
                fs::create_dir_all(path.join(file).parent().unwrap()).unwrap();
                fs::write(path.join(file), bytes).unwrap();
            }
            let mut hit = bytes.clone();
            hit[at] ^= 1 << bit;
            fs::write(path.join(name), hit).unwrap();
            let what = format!("bit {bit} of byte {at} of {} in round {round} of {thread}", name.display());
            told += usize::from(is_told(&path, &records, &what));
            fs::remove_dir_all(&path).unwrap();
        }
        told
    };
    let told: usize = std::thread::scope(|scope| {
        let flip_many = &flip_many;
        let threads: Vec<_> = (0..THREADS).map(|thread| scope.spawn(move || flip_many(thread))).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).sum()
    });
    println!("{told} of {} flipped bits were told", THREADS * EACH);
    assert!(told > THREADS * EACH / 4, "only {told} were told: nothing was hit");
}

#[test]
fn a_lost_page_is_harmless_or_told() {
    let outcomes = each_damage("zeroed page", |bytes, dice| {
        let used = bytes.iter().rposition(|byte| *byte != 0).unwrap();
        let at = dice.below(used / 512 + 1) * 512;
        let end = (at + 4096).min(bytes.len());
        bytes[at..end].fill(0);
        format!("4096 bytes from {at}")
    });
    assert!(outcomes.told > 0, "{outcomes:?}");
}

#[test]
fn a_cut_off_file_is_harmless_or_told() {
    let outcomes = each_damage("cut off", |bytes, dice| {
        let used = bytes.iter().rposition(|byte| *byte != 0).unwrap();
        let at = dice.below(used);
        bytes.truncate(at);
        format!("after byte {at}")
    });
    assert!(outcomes.told > 0, "{outcomes:?}");
}

#[test]
fn a_missing_file_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    sound_store(&path);
    fs::remove_file(data_file(&path)).unwrap();
    let error = Catalog::open(&path, &OpenOptions::default()).unwrap_err();
    assert!(error.to_string().contains("the file is missing"), "{error}");
    fs::remove_dir_all(path.join("data")).unwrap();
    let error = Catalog::open(&path, &OpenOptions { create: true, ..OpenOptions::default() }).unwrap_err();
    assert!(error.to_string().contains("the file is missing"), "{error}");
}

#[test]
fn an_older_state_of_the_files_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let records = sound_store(&path);
    let old = fs::read(data_file(&path)).unwrap();
    {
        let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
        let id = records.keys().next().unwrap();
        catalog.withdraw(id, Expected::Any, None, &Author::unknown()).unwrap();
    }
    fs::write(data_file(&path), old).unwrap();
    let error = Catalog::open(&path, &OpenOptions::default()).unwrap_err();
    assert!(error.to_string().contains("were stored, but the files end at"), "{error}");
}
