//! Backup and restore, compaction, and bytes of old versions that must load for ever.

use crate::engines;
use crate::store_find::lived_in;
use clampbook::catalog::{Author, Catalog, CatalogError, Expected, ExportFormat, OpenOptions, StoreError, Write};
use std::fs;
use std::path::Path;

fn options() -> OpenOptions {
    OpenOptions { create: true, ..OpenOptions::default() }
}

/// A store in a folder with a history: records changed and withdrawn.
fn store_with_history(path: &Path) -> Catalog {
    let catalog = Catalog::open(path, &options()).unwrap();
    fill_with_history(&catalog);
    catalog
}

fn fill_with_history(catalog: &Catalog) {
    let book = lived_in(60, 8);
    for change in book.changes(0, 10_000).unwrap() {
        let stored = book.revision(&change.id, change.revision).unwrap().unwrap();
        let write = match stored.state {
            clampbook::catalog::State::Current => Write::put((*stored.record).clone()),
            clampbook::catalog::State::Withdrawn => {
                Write::Withdraw { id: change.id, expected: Expected::Any, why: Some("worn out".parse().unwrap()) }
            }
        };
        catalog.apply(vec![write], &Author::named("runa".parse().unwrap())).unwrap();
    }
}

/// Everything that the book says, history included.
fn everything(catalog: &Catalog) -> String {
    let changes = catalog.changes(0, usize::MAX).unwrap();
    let revisions: Vec<_> =
        changes.iter().map(|change| catalog.revision(&change.id, change.revision).unwrap().unwrap()).collect();
    format!("{changes:?}{revisions:?}")
}

fn exported(catalog: &Catalog) -> Vec<u8> {
    let mut text = Vec::new();
    catalog.export(None, ExportFormat::Ndjson, &mut text).unwrap();
    text
}

#[test]
fn a_backup_restores_the_whole_history_under_a_new_epoch() {
    let folder = tempfile::tempdir().unwrap();
    let (book, backup, copy) = (folder.path().join("book"), folder.path().join("backup"), folder.path().join("copy"));
    let catalog = store_with_history(&book);
    let manifest = catalog.backup(&backup).unwrap();
    assert_eq!((manifest.sequence, &manifest.epoch), (catalog.sequence(), &catalog.epoch()));
    Catalog::restore(&backup, &copy, &options()).unwrap();
    let restored = Catalog::open(&copy, &OpenOptions::default()).unwrap();
    assert_eq!(everything(&restored), everything(&catalog));
    assert!(exported(&restored) == exported(&catalog));
    assert_ne!(restored.epoch(), catalog.epoch());
    assert!(restored.verify(&mut |_| {}).unwrap().is_whole());
    let again = Catalog::restore(&backup, &copy, &OpenOptions { wait: std::time::Duration::ZERO, ..options() });
    assert!(again.is_err(), "a restore must not go over a store");
    drop(restored);
    let again = Catalog::restore(&backup, &copy, &options()).unwrap_err();
    assert!(matches!(again, CatalogError::Store(StoreError::Occupied { .. })), "{again:?}");
}

#[test]
fn a_backup_goes_on_where_it_ended() {
    let folder = tempfile::tempdir().unwrap();
    let (book, backup, copy) = (folder.path().join("book"), folder.path().join("backup"), folder.path().join("copy"));
    let catalog = store_with_history(&book);
    catalog.backup(&backup).unwrap();
    let first = catalog.changes(0, 1).unwrap().remove(0).id;
    catalog.withdraw(&first, Expected::Any, None, &Author::unknown()).unwrap();
    // As if it had been broken off: a half file, and no manifest.
    fs::remove_file(backup.join("manifest.json")).unwrap();
    fs::write(backup.join("changes-0000000001.new"), "half").unwrap();
    catalog.backup(&backup).unwrap();
    Catalog::restore(&backup, &copy, &options()).unwrap();
    let restored = Catalog::open(&copy, &OpenOptions::default()).unwrap();
    assert_eq!(everything(&restored), everything(&catalog));
    let other = store_with_history(&folder.path().join("other"));
    let refused = other.backup(&backup).unwrap_err();
    assert!(refused.to_string().contains("a backup of another history"), "{refused}");
}

#[test]
fn a_damaged_unfinished_or_newer_backup_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (book, backup, copy) = (folder.path().join("book"), folder.path().join("backup"), folder.path().join("copy"));
    let catalog = store_with_history(&book);
    catalog.backup(&backup).unwrap();
    let refuses = |wanted: &str| {
        let error = Catalog::restore(&backup, &copy, &options()).unwrap_err().to_string();
        assert!(error.contains(wanted), "{error}");
        assert!(!copy.join("store.toml").exists(), "a refused restore must leave nothing");
    };
    let file = backup.join("changes-0000000001.ndjson");
    let (bytes, manifest) = (fs::read(&file).unwrap(), fs::read_to_string(backup.join("manifest.json")).unwrap());
    for at in (0..bytes.len()).step_by(bytes.len() / 20) {
        let mut damaged = bytes.clone();
        damaged[at] ^= 4;
        fs::write(&file, damaged).unwrap();
        refuses("it is not what was written");
    }
    fs::write(&file, &bytes).unwrap();
    fs::write(backup.join("manifest.json"), manifest.replace("\"format\": 1", "\"format\": 9")).unwrap();
    refuses("by a newer clampbook");
    fs::remove_file(backup.join("manifest.json")).unwrap();
    refuses("the backup is not finished");
    fs::write(backup.join("manifest.json"), &manifest).unwrap();
    fs::remove_file(&file).unwrap();
    refuses("changes-0000000001.ndjson");
    // A file that has rotted is written anew by the next backup, not taken over.
    let mut damaged = bytes.clone();
    damaged[bytes.len() / 2] ^= 4;
    fs::write(&file, damaged).unwrap();
    catalog.backup(&backup).unwrap();
    assert!(fs::read(&file).unwrap() == bytes);
}

#[test]
fn compaction_gives_room_back_and_keeps_everything() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let before = everything(&store_with_history(&path));
    let (old, new) = Catalog::compact(&path, &OpenOptions::default(), &mut |_| {}).unwrap();
    assert!(new < old, "{old} bytes before, {new} after");
    let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
    assert_eq!(everything(&catalog), before);
    assert!(catalog.verify(&mut |_| {}).unwrap().is_whole());
}

#[test]
fn a_backup_moves_a_book_from_any_engine_to_any_other_and_back() {
    let folder = tempfile::tempdir().unwrap();
    for from in engines::all() {
        let origin = from.bed();
        let catalog = origin.catalog();
        fill_with_history(&catalog);
        let there = folder.path().join(format!("{from:?}"));
        let manifest = catalog.backup(&there).unwrap();
        for to in engines::lasting() {
            let goal = to.bed();
            assert_eq!(Catalog::restore_with(&there, &goal.place(), &options(), &mut |_| {}).unwrap(), manifest);
            let moved = goal.catalog();
            assert_eq!(everything(&moved), everything(&catalog), "{from:?} to {to:?}");
            assert!(exported(&moved) == exported(&catalog), "{from:?} to {to:?}");
            assert_ne!(moved.epoch(), catalog.epoch());
            assert!(moved.verify(&mut |_| {}).unwrap().is_whole());
            let back = folder.path().join(format!("{from:?}-{to:?}"));
            assert_eq!(moved.backup(&back).unwrap().digest, manifest.digest);
            drop(moved);
            let again = Catalog::restore_with(&there, &goal.place(), &options(), &mut |_| {}).unwrap_err();
            assert!(matches!(again, CatalogError::Store(StoreError::Occupied { .. })), "{again:?}");
        }
    }
}
