//! Rot and cut-off files: harmless or told, never a panic, never a wrong number, and nothing lost by looking.

use crate::generator::{Dice, book};
use clampbook::catalog::{Author, Catalog, CatalogError, OpenOptions, StoreError, Write};
use clampbook::record::{Id, Record};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// How often each kind of damage is done; set the variable for a longer run.
fn rounds() -> usize {
    std::env::var("CLAMPBOOK_DAMAGE_ROUNDS").ok().map_or(40, |rounds| rounds.parse().unwrap())
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
    readable_in_part: usize,
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
            println!("{what}: {hit}: {how}");
            assert!(fs::read(data_file(path)).unwrap_or_default() == before, "{what}: looking has changed the files");
            read_the_rest(path, records, outcomes, what);
        }
        Err(other) => panic!("{what}: {other:?}"),
    }
}

/// Reads what is whole: every record is right, or told to be damaged, or missing.
fn read_the_rest(path: &Path, records: &Records, outcomes: &mut Outcomes, what: &str) {
    let options = OpenOptions { damaged: true, ..OpenOptions::default() };
    let Ok(catalog) = Catalog::open(path, &options) else { return };
    outcomes.readable_in_part += 1;
    for (id, record) in records {
        if let Ok(Some(stored)) = catalog.get(id) {
            let right = *stored.record == *record || stored.revision == 1;
            assert!(right, "{what}: {id} is wrong");
        }
    }
    let refused = catalog.apply(vec![Write::put(records.values().next().unwrap().clone())], &Author::unknown());
    drop(refused);
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
    assert!(outcomes.told > 0, "{outcomes:?}");
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
        catalog.withdraw(id, clampbook::catalog::Expected::Any, None, &Author::unknown()).unwrap();
    }
    fs::write(data_file(&path), old).unwrap();
    let error = Catalog::open(&path, &OpenOptions::default()).unwrap_err();
    assert!(error.to_string().contains("were stored, but the files end at"), "{error}");
}
