//! Bytes of every format that was ever written: they load for ever.
//!
//! The files below `fixtures/` are frozen. A new format gets files of its own beside them.

use clampbook::catalog::{Author, Catalog, OpenOptions, State, Write};
use clampbook::record::{Id, Record};
use clampbook::store::{Batch, Depth, Engine, MemoryEngine, Opening, Store};
use std::fs;
use std::path::{Path, PathBuf};

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/fixtures").join(name)
}

fn from_hex(text: &str) -> Vec<u8> {
    (0..text.len()).step_by(2).map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap()).collect()
}

/// The pairs of key and value of the store in format 1.
pub fn pairs_of_format_1() -> Vec<(Vec<u8>, Vec<u8>)> {
    let text = fs::read_to_string(fixture("stored_format_1.txt")).unwrap();
    text.lines()
        .map(|line| line.split_once(' ').map(|(key, value)| (from_hex(key), from_hex(value))).unwrap())
        .collect()
}

/// The joint and the two fasteners that were stored.
pub fn records_of_format_1() -> Vec<Record> {
    let text = fs::read_to_string(fixture("stored_format_1.json")).unwrap();
    let values: Vec<serde_json::Value> = serde_json::from_str(&text).unwrap();
    values.iter().map(|value| Record::from_json(value).unwrap()).collect()
}

#[test]
fn values_of_format_1_load() {
    let engine = MemoryEngine::default();
    let mut batch = Batch::default();
    for (key, value) in pairs_of_format_1() {
        batch.put(key, value);
    }
    engine.apply(&batch).unwrap();
    let store = Store::on_engine(Box::new(engine)).unwrap();
    let head = store.head();
    assert_eq!((head.sequence, head.counts.joints, head.counts.fasteners, head.counts.withdrawn), (5, 1, 1, 1));
    let report = store.verify(Depth::Records, &mut |_| {}).unwrap();
    assert!(report.is_whole(), "{:?}", report.damages);
    let [joint, fastener, inch] = &records_of_format_1()[..] else { panic!("three records") };
    for (record, changed_by) in [(joint, None), (fastener, Some("runa"))] {
        let stored = store.get(record.id()).unwrap().unwrap();
        assert_eq!((&*stored.record, stored.revision, stored.state), (record, 1, State::Current));
        assert_eq!(stored.changed_by.as_deref(), changed_by);
    }
    let id: &Id = inch.id();
    assert_eq!(*store.revision(id, 1).unwrap().unwrap().record, *inch);
    let last = store.get(id).unwrap().unwrap();
    assert_eq!((last.revision, last.state, last.why.as_deref()), (3, State::Withdrawn, Some("winch scrapped")));
    assert_eq!(last.record.as_fastener().unwrap().note.as_deref(), Some("second revision"));
    assert_eq!(store.changes(0, 10).unwrap().iter().map(|change| change.revision).collect::<Vec<_>>(), [1, 1, 1, 2, 3]);
}

/// The bytes of format 1 are still what is written for the same record: whoever changes the stored form makes a new one.
#[test]
fn format_1_is_still_what_is_written() {
    let store = Store::in_memory().unwrap();
    let records = records_of_format_1();
    for record in &records {
        store.apply(vec![Write::put(record.clone())], &Author::unknown()).unwrap();
    }
    // The first revision of the inch fastener was written by runa at another moment: compare what does not depend on that.
    let written = |key: &[u8]| pairs_of_format_1().into_iter().find(|(there, _)| there == key).unwrap().1;
    let slot = [b"s".as_slice(), &0_u32.to_be_bytes()].concat();
    let block = [b"p".as_slice(), &[11], b"hexagon-flange", &[0], &0_u32.to_be_bytes()].concat();
    let latest = [b"l".as_slice(), records[0].id().as_str().as_bytes()].concat();
    for key in [slot, block, latest] {
        assert_eq!(
            store.raw(&key).unwrap().as_deref(),
            Some(written(&key).as_slice()),
            "{}",
            String::from_utf8_lossy(&key)
        );
    }
    let revision = [b"r".as_slice(), records[0].id().as_str().as_bytes(), &[0], &1_u32.to_be_bytes()].concat();
    let (old, new) = (written(&revision), store.raw(&revision).unwrap().unwrap());
    // Frame, then revision and sequence, then the moment as a number of nine bytes, then the rest.
    assert_eq!((old[..3].to_vec(), old[7..9].to_vec()), (new[..3].to_vec(), new[7..9].to_vec()));
    assert_eq!(old[18..], new[18..]);
}

/// A copy of a frozen folder.
fn folder_of(format: &str, path: &Path) {
    fs::create_dir_all(path.join("data")).unwrap();
    for name in ["store.toml", "seal", "witness", "data/conf", "data/db"] {
        fs::copy(fixture(format).join(name), path.join(name)).unwrap();
    }
}

#[test]
fn folders_of_every_format_open_and_take_writes() {
    let records = records_of_format_1();
    for (format, number) in [("store_format_1", 1), ("store_format_2", 2)] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("book");
        folder_of(format, &path);
        let says = |number: u32| {
            let mark = fs::read_to_string(path.join("store.toml")).unwrap();
            assert!(mark.ends_with(&format!("format = {number}\n")), "{mark}");
        };
        let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
        assert_eq!(*catalog.get(records[1].id()).unwrap().unwrap().record, records[1]);
        let history = catalog.revisions(records[2].id()).unwrap();
        assert_eq!(history.iter().map(|one| one.sequence).collect::<Vec<_>>(), [3, 4, 5]);
        says(number);
        catalog.apply(vec![Write::put(records[2].clone())], &Author::unknown()).unwrap();
        // From the first write on an older program refuses it.
        says(2);
        assert_eq!(catalog.sequence(), 6);
        assert!(catalog.verify(&mut |_| {}).unwrap().is_whole());
        drop(catalog);
        let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
        assert_eq!(*catalog.get(records[2].id()).unwrap().unwrap().record, records[2]);
        assert!(catalog.verify(&mut |_| {}).unwrap().is_whole());
    }
}

#[test]
fn a_folder_of_format_1_is_compacted_into_bundles_and_holds_what_it_held() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    folder_of("store_format_1", &path);
    let state = |path: &Path| {
        let store = Store::open(path, &Opening::default()).unwrap();
        let revisions: Vec<_> = store.history(1, 5).unwrap().into_iter().map(|(_, stored)| stored.unwrap()).collect();
        let head = store.head();
        (revisions, head.epoch.clone(), head.sequence, head.digest, store.changes(0, 10).unwrap())
    };
    let before = state(&path);
    assert!(fs::read_to_string(path.join("store.toml")).unwrap().ends_with("format = 1\n"));
    Store::compact(&path, &Opening::default(), &mut |_| {}).unwrap();
    assert!(fs::read_to_string(path.join("store.toml")).unwrap().ends_with("format = 2\n"));
    assert_eq!(state(&path), before);
}
