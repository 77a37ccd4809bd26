//! What goes wrong around a store: a full disk, a clock that goes back, folders that may not be read or written, and
//! bits that flip in what is stored.

use crate::generator::{Dice, book};
use crate::store_catalog::seed_texts;
use crate::store_old_bytes::{pairs_of_format_1, records_of_format_1};
use clampbook::catalog::{Author, Catalog, Expected, ImportOptions, OpenOptions, State, Stored, Write};
use clampbook::record::{Id, Record};
use clampbook::store::{Batch, Depth, Engine, MemoryEngine, Opening, Pair, Store};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::sync::Arc;

/// What a child process has to do, and in which store.
const CHILD: &str = "CLAMPBOOK_TEST_FULL_DISK";
/// Records of one batch.
const BATCH: usize = 20;

fn records(count: usize) -> Vec<Record> {
    let mut records = Vec::new();
    book(count, 17, |line| records.push(Record::from_json_text(line.as_bytes()).unwrap()));
    records
}

/// In a child process it writes until the disk is full, or looks what is there once there is room again; called as a
/// test it has room enough.
#[test]
fn writes_until_the_disk_is_full() {
    let own = tempfile::tempdir().unwrap();
    match std::env::var(CHILD).ok().as_deref().and_then(|child| child.split_once(' ')) {
        Some(("fill", store)) => fill(Path::new(store)),
        Some(("look", store)) => look(Path::new(store)),
        Some(other) => panic!("{other:?}"),
        None => {
            let path = own.path().join("book");
            let catalog = Catalog::create(&path).unwrap();
            let batch = records(40).into_iter().map(Write::put).collect();
            catalog.apply(batch, &Author::unknown()).unwrap();
            drop(catalog);
            look(&path);
        }
    }
}

/// Writes batch after batch, telling each one, until one is refused.
fn fill(store: &Path) {
    let catalog = Catalog::create(store).unwrap();
    let records = records(3_000);
    let mut refused = None;
    for batch in records.chunks(BATCH) {
        match catalog.apply(batch.iter().cloned().map(Write::put).collect(), &Author::unknown()) {
            Ok(_) => println!("stored {}", catalog.sequence()),
            Err(error) => {
                refused = Some(error);
                break;
            }
        }
    }
    let refused = refused.expect("the disk was never full");
    println!("refused {refused}");
    let again = catalog.apply(vec![Write::put(records[0].clone())], &Author::unknown());
    let again = catalog.withdraw(records[0].id(), Expected::Any, None, &Author::unknown()).err().or(again.err());
    println!("then {}", again.expect("no more may be written"));
    let stored = usize::try_from(catalog.sequence()).unwrap();
    for record in &records[..stored] {
        assert_eq!(*catalog.get(record.id()).unwrap().unwrap().record, *record, "reading must go on");
    }
    println!("readable {stored}");
}

fn look(store: &Path) {
    let catalog = Catalog::open(store, &OpenOptions::default()).unwrap();
    let report = catalog.verify(&mut |_| {}).unwrap();
    assert!(report.is_whole(), "{:?}", report.damages);
    let records = records(3_000);
    let stored = usize::try_from(catalog.sequence()).unwrap();
    for record in &records[..stored] {
        assert_eq!(*catalog.get(record.id()).unwrap().unwrap().record, *record);
    }
    catalog.withdraw(records[0].id(), Expected::Any, None, &Author::unknown()).unwrap();
    println!("found {stored}");
}

/// Fills a disk of some megabytes and looks what is there once there is room; then takes a file in by the program.
const ON_A_SMALL_DISK: &str = r#"
set -e
mount -t tmpfs -o size=12m none "$DISK"
head -c 8500000 /dev/zero > "$DISK/filler"
CLAMPBOOK_TEST_FULL_DISK="fill $DISK/book" "$TEST" --exact store_trouble::writes_until_the_disk_is_full --nocapture
rm "$DISK/filler"
CLAMPBOOK_TEST_FULL_DISK="look $DISK/book" "$TEST" --exact store_trouble::writes_until_the_disk_is_full --nocapture
rm -r "$DISK/book"
head -c 8500000 /dev/zero > "$DISK/filler"
if "$PROGRAM" --store "$DISK/book" import "$INPUT" 2>&1; then echo "imported all"; else echo "import ended with $?"; fi
rm "$DISK/filler"
"$PROGRAM" --store "$DISK/book" verify
echo "exported $("$PROGRAM" --store "$DISK/book" export | wc -l)"
"#;

/// The same where no disk may be mounted: no file may grow beyond a size, which the engine is told as an error too.
const WITH_SMALL_FILES: &str = r#"
set -e
( trap '' XFSZ; ulimit -f 3000
  CLAMPBOOK_TEST_FULL_DISK="fill $DISK/book" "$TEST" --exact store_trouble::writes_until_the_disk_is_full --nocapture )
CLAMPBOOK_TEST_FULL_DISK="look $DISK/book" "$TEST" --exact store_trouble::writes_until_the_disk_is_full --nocapture
"#;

fn shell(script: &str, folder: &Path, through: &[&str]) -> Output {
    let disk = folder.join("disk");
    fs::create_dir_all(&disk).unwrap();
    let input = folder.join("input.ndjson");
    let mut text = String::new();
    book(3_000, 3, |line| text += &format!("{line}\n"));
    fs::write(&input, text).unwrap();
    let mut words = through.to_vec();
    words.extend(["sh", "-c", script]);
    Command::new(words[0])
        .args(&words[1..])
        .env("DISK", &disk)
        .env("INPUT", &input)
        .env("TEST", std::env::current_exe().unwrap())
        .env("PROGRAM", env!("CARGO_BIN_EXE_clampbook"))
        .output()
        .unwrap()
}

/// The number after a word at the beginning of the last such line.
fn number_after(text: &str, word: &str) -> u64 {
    let number = |line: &str| line.strip_prefix(word)?.trim().parse().ok();
    text.lines().rev().find_map(number).unwrap_or_else(|| panic!("no {word:?} in:\n{text}"))
}

#[test]
fn a_full_disk_loses_nothing_that_was_stored() {
    let folder = tempfile::tempdir().unwrap();
    let may_mount = |through: &[&str]| {
        let mut words = through.to_vec();
        words.extend(["sh", "-c", "mount -t tmpfs none /mnt"]);
        let tried = Command::new(words[0]).args(&words[1..]).stderr(Stdio::null()).status();
        tried.is_ok_and(|status| status.success())
    };
    // In a name space of its own, so that the mount goes with the process.
    let ways: [&[&str]; 2] = [&["unshare", "-m"], &["unshare", "-rm"]];
    let way = ways.into_iter().find(|way| may_mount(way));
    let done = match way {
        Some(way) => shell(ON_A_SMALL_DISK, folder.path(), way),
        None => shell(WITH_SMALL_FILES, folder.path(), &["env"]),
    };
    let text = format!("{}{}", String::from_utf8_lossy(&done.stdout), String::from_utf8_lossy(&done.stderr));
    println!("by {way:?}: {text}");
    assert!(done.status.success(), "{text}");
    let (told, found) = (number_after(&text, "stored "), number_after(&text, "found "));
    assert!(told >= BATCH as u64 && found >= told && found % BATCH as u64 == 0, "{told} told, {found} found");
    assert_eq!(number_after(&text, "readable "), told);
    assert!(text.contains("then the store takes no more writes since one failed"), "{text}");
    if way.is_some() {
        assert!(text.contains("refused the disk is full"), "{text}");
        assert!(text.contains("clampbook: the disk is full") && text.contains("import ended with 3"), "{text}");
        assert!(text.contains("is_whole\tyes"), "{text}");
        assert!(number_after(&text, "exported ") < 3_000, "{text}");
    }
}

#[test]
fn a_clock_that_goes_back_does_not_turn_the_history_round() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let records = records(3);
    let future: jiff::Timestamp = "2100-01-01T00:00:00Z".parse().unwrap();
    let revision = |record: &Record, sequence: u64| Stored {
        record: Arc::new(record.clone()),
        revision: 1,
        state: State::Current,
        changed_at: future,
        changed_by: None,
        why: None,
        sequence,
    };
    // A history whose last change was stored while the clock was far ahead.
    let opening = Opening { create: true, ..Opening::default() };
    Store::build(&path, &opening, |replay| replay.take(1, Ok(revision(&records[0], 1)))).unwrap();
    let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
    catalog.put(records[1].clone(), Expected::New, &Author::unknown()).unwrap();
    catalog.withdraw(records[0].id(), Expected::Revision(1), None, &Author::unknown()).unwrap();
    let changes = catalog.changes(0, 10).unwrap();
    assert_eq!(changes.iter().map(|change| change.sequence).collect::<Vec<_>>(), [1, 2, 3]);
    assert!(changes.iter().all(|change| change.at >= future), "{changes:?}");
    assert_eq!(catalog.get_as_of(records[1].id(), future).unwrap().unwrap().sequence, 2);
    assert!(catalog.get_as_of(records[0].id(), "2099-01-01T00:00:00Z".parse().unwrap()).unwrap().is_none());
    drop(catalog);
    let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
    assert!(catalog.verify(&mut |_| {}).unwrap().is_whole());
}

#[test]
fn folders_that_may_not_be_written_or_read_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    {
        let catalog = Catalog::create(&path).unwrap();
        let (name, text) = seed_texts().remove(0);
        catalog.import(text.as_bytes(), &ImportOptions { name, ..ImportOptions::default() }).unwrap();
    }
    let program = folder.path().join("clampbook");
    fs::copy(env!("CARGO_BIN_EXE_clampbook"), &program).unwrap();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    let mode = |mode: u32| fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
    // Root may do everything: then somebody else tries.
    let is_root = fs::metadata("/proc/self").is_ok_and(|about| std::os::unix::fs::MetadataExt::uid(&about) == 0);
    let run = |arguments: &[&str]| {
        let mut command = Command::new(&program);
        command.arg("--store").arg(&path).args(arguments).current_dir(folder.path());
        if is_root {
            command.uid(65_534).gid(65_534);
        }
        let done = command.output().unwrap();
        (done.status.code().unwrap(), String::from_utf8_lossy(&done.stderr).into_owned())
    };
    let copy = path.join("reading-copy");
    assert!(copy.exists());
    mode(0o555);
    assert_eq!(run(&["find", "--take", "1"]).0, 0, "the reading copy needs no right to write");
    let refused = run(&["withdraw", "skua.anchor-windlass.gypsy", "--why", "x"]);
    assert!(refused.0 == 3 && refused.1.contains("the store can't be written"), "{refused:?}");
    assert!(refused.1.contains(&path.display().to_string()), "{refused:?}");
    mode(0o755);
    fs::remove_file(copy).unwrap();
    mode(0o555);
    let refused = run(&["find", "--take", "1"]);
    assert!(refused.0 == 3 && refused.1.contains("Read it once as its owner"), "{refused:?}");
    mode(0o000);
    let refused = run(&["find", "--take", "1"]);
    assert!(refused.0 == 3 && refused.1.to_lowercase().contains("permission denied"), "{refused:?}");
    assert!(refused.1.contains(&path.display().to_string()), "{refused:?}");
    mode(0o755);
}

/// A store of these pairs, if it opens.
fn store_of(pairs: &[(Vec<u8>, Vec<u8>)]) -> Option<Store> {
    let engine = MemoryEngine::default();
    let mut batch = Batch::default();
    pairs.iter().for_each(|(key, value)| batch.put(key.clone(), value.clone()));
    engine.apply(&batch).unwrap();
    Store::on_engine(Box::new(engine)).ok()
}

/// Flips one bit somewhere in the pairs, more often in a value than in a key.
pub fn flip_a_bit(pairs: &mut [Pair], dice: &mut Dice) {
    let hit = dice.below(pairs.len());
    let (key, value) = &mut pairs[hit];
    let bytes = if dice.chance(10) { key } else { value };
    let at = dice.below(bytes.len());
    bytes[at] ^= 1 << dice.below(8);
}

#[test]
fn every_bit_that_flips_in_what_is_stored_is_told() {
    let pairs = pairs_of_format_1();
    let sound: BTreeMap<Id, Stored> = {
        let store = store_of(&pairs).unwrap();
        assert!(store.verify(Depth::Records, &mut |_| {}).unwrap().is_whole());
        let ids = records_of_format_1().into_iter().map(|record| record.id().clone());
        ids.map(|id| (id.clone(), store.get(&id).unwrap().unwrap())).collect()
    };
    let mut dice = Dice::new(4);
    let (mut refused, mut told, mut unreadable) = (0, 0, 0);
    for round in 0..4_000 {
        let mut hit = pairs.clone();
        flip_a_bit(&mut hit, &mut dice);
        let Some(store) = store_of(&hit) else {
            refused += 1;
            continue;
        };
        let report = store.verify(Depth::Records, &mut |_| {}).unwrap();
        assert!(!report.is_whole(), "round {round}: nobody noticed");
        told += 1;
        for (id, stored) in &sound {
            match store.get(id) {
                Ok(found) => assert!(found.is_none_or(|found| found == *stored), "round {round}: {id} is wrong"),
                Err(_) => unreadable += 1,
            }
        }
    }
    println!("{refused} refused in opening, {told} told by the check, {unreadable} records unreadable");
    assert!(refused > 0 && told > 3_000 && unreadable > 0);
}
