//! `backup`, `restore`, `verify`, `compact`, and when a write counts as stored.

use super::{Book, HEX};
use std::fs;

#[test]
fn a_backup_is_restored_into_a_new_book() {
    let book = Book::of_the_yard();
    book.run(&["--by", "mo", "withdraw", HEX, "--why", "another yard"]).fine();
    let export = book.run(&["export"]).fine();
    let written = book.run(&["backup", "kept", "--as", "json"]).json();
    let changes = book.run(&["log", "--take", "10000"]).fine().lines().count();
    assert_eq!((&written["folder"], &written["changes"]), (&"kept".into(), &changes.into()));
    let again = book.run(&["backup", "kept", "--as", "table"]).fine();
    assert!(again.starts_with(&format!("kept: {changes} changes in 1 file, ")), "{again}");
    let restored = book.run(&["--store", "copy", "restore", "kept", "--as", "json"]).json();
    assert_eq!((&restored["store"], &restored["digest"]), (&"copy".into(), &written["digest"]));
    assert!(book.run(&["--store", "copy", "export"]).fine() == export);
    assert_eq!(book.run(&["--store", "copy", "show", HEX, "--as", "json"]).json()["book"]["state"], "withdrawn");
    let epoch = |store: &str| book.run(&["--store", store, "log", "--as", "json"]).json()["epoch"].clone();
    assert_ne!(epoch("book"), epoch("copy"));
    book.run(&["--store", "copy", "restore", "kept"])
        .says(3, "clampbook: copy: there is a store here already. Name another folder.\n");
}

#[test]
fn a_backup_that_is_not_sound_is_refused_and_leaves_nothing() {
    let book = Book::of_the_yard();
    book.run(&["backup", "kept"]).fine();
    let kept = book.store().with_file_name("kept");
    let refused = |wanted: &str| {
        let done = book.run(&["--store", "copy", "restore", "kept"]);
        assert!(done.code == 3 && done.err.contains(wanted) && done.out.is_empty(), "{done:?}");
        assert!(!book.store().with_file_name("copy").join("store.toml").exists());
    };
    let file = kept.join("changes-0000000001.ndjson");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, text.replacen("N·m", "N-m", 1)).unwrap();
    refused("it is not what was written. Name another backup, or take a new one.");
    fs::write(&file, text).unwrap();
    let manifest = fs::read_to_string(kept.join("manifest.json")).unwrap();
    fs::write(kept.join("manifest.json"), manifest.replace("\"format\": 1", "\"format\": 2")).unwrap();
    refused("by a newer clampbook");
    fs::remove_file(kept.join("manifest.json")).unwrap();
    refused("the backup is not finished");
    fs::remove_dir_all(&kept).unwrap();
    refused("kept: there is no such folder. Name another backup");
    book.file("letter", "text");
    let done = book.run(&["backup", "letter"]);
    assert!(done.code == 3 && done.err.contains("letter: this is a file where a folder belongs"), "{done:?}");
    let done = book.run(&["backup", "."]);
    assert!(done.code == 3 && done.err.contains("this folder is not empty"), "{done:?}");
}

#[test]
fn a_sound_book_is_whole_and_needs_no_repair() {
    let book = Book::of_the_yard();
    let check = book.run(&["verify", "--as", "json"]).json();
    assert_eq!((&check["is_whole"], &check["was_closed"]), (&true.into(), &true.into()));
    let records = check["records"].as_u64().unwrap();
    let said = book.run(&["verify", "--repair", "--as", "table"]).fine();
    assert!(said.starts_with(&format!("{records} records, ")) && said.ends_with(": nothing is damaged\n"), "{said}");
    assert!(!book.store().join("damaged-1").exists());
    let lines = book.run(&["verify", "--as", "ndjson"]).fine();
    assert_eq!(lines.lines().count(), 1);
    assert!(book.run(&["verify", "--as", "csv"]).fine().starts_with("what,value\r\nis_whole,yes\r\n"));
    assert!(book.run(&["verify"]).fine().starts_with("is_whole\tyes\n"));
}

/// Spoils the last stored bytes of one record in the engine's file.
fn spoil(book: &Book, id: &str) {
    let file = book.store().join("data/db");
    let mut bytes = fs::read(&file).unwrap();
    let mut hit = 0;
    // The id stands in keys too; a revision holds it with its length before it, and its name and thread after it.
    let needle = [&[u8::try_from(id.len()).unwrap()], id.as_bytes()].concat();
    for at in 0..bytes.len() - needle.len() {
        if bytes[at..].starts_with(&needle) {
            bytes[at + needle.len() + 20] ^= 0x10;
            hit += 1;
        }
    }
    assert!(hit > 0, "{id} is nowhere in {}", file.display());
    fs::write(file, bytes).unwrap();
}

#[test]
fn damage_is_told_and_repaired_and_what_was_lost_is_listed() {
    let book = Book::of_the_yard();
    book.run(&["backup", "kept"]).fine();
    spoil(&book, HEX);
    let refused = book.run(&["show", HEX]);
    assert_eq!((refused.code, refused.out.as_str()), (3, ""), "{refused:?}");
    assert!(refused.err.contains("damage: ") && refused.err.contains("clampbook verify"), "{refused:?}");
    let before = fs::read(book.store().join("data/db")).unwrap();
    let done = book.run(&["verify", "--as", "json"]);
    let check = done.json();
    assert_eq!((done.code, &check["is_whole"]), (1, &false.into()), "{done:?}");
    assert!(fs::read(book.store().join("data/db")).unwrap() == before, "looking has changed the files");
    let lost = check["remedy"]["lost"].as_array().unwrap();
    assert!(lost.len() == 1 && lost[0]["id"] == HEX && lost[0]["revision"] == 1, "{check}");
    let done = book.run(&["verify", "--as", "table"]);
    assert!(done.out.contains(&format!("loses 1:\n  revision 1 of {HEX} (change ")), "{done:?}");
    let done = book.run(&["verify", "--repair", "--as", "table"]);
    assert_eq!(done.code, 1, "something was lost: {done:?}");
    assert!(done.out.contains("The old files are in book/damaged-1; lost 1, also listed in lost.ndjson"), "{done:?}");
    let listed = fs::read_to_string(book.store().join("damaged-1/lost.ndjson")).unwrap();
    assert!(listed.lines().count() == 1 && listed.contains(&format!("\"id\":\"{HEX}\"")), "{listed}");
    assert!(book.store().join("damaged-1/data/db").exists());
    book.run(&["verify"]).fine();
    assert_eq!(book.run(&["show", HEX]).code, 1, "the record is gone and not wrong");
    // A backup has it.
    book.run(&["--store", "copy", "restore", "kept"]).fine();
    book.run(&["--store", "copy", "show", HEX]).fine();
}

#[test]
fn compaction_keeps_everything() {
    let book = Book::of_the_yard();
    let export = book.run(&["export"]).fine();
    let sizes = book.run(&["compact", "--as", "json"]).json();
    assert!(sizes["bytes_after"].as_u64() <= sizes["bytes_before"].as_u64(), "{sizes}");
    assert!(book.run(&["export"]).fine() == export);
    book.run(&["verify"]).fine();
}

#[test]
fn each_obstacle_has_its_message() {
    let book = Book::none();
    for verb in ["verify", "compact"] {
        let done = book.run(&[verb]);
        assert!(done.code == 3 && done.err.contains("book: there is no store here."), "{done:?}");
    }
    let done = book.run(&["backup", "kept"]);
    assert!(done.code == 3 && done.err.contains("there is no store here"), "{done:?}");
    assert!(!book.store().with_file_name("kept").exists(), "a backup of nothing leaves nothing");
    book.file("book", "text");
    let done = book.run(&["verify"]);
    assert!(done.code == 3 && done.err.contains("this is a file where a folder belongs"), "{done:?}");
    let done = book.run(&["restore", "nowhere"]);
    assert!(done.code == 3 && done.err.contains("nowhere: there is no such folder"), "{done:?}");
}

#[test]
fn an_import_may_sync_once_at_its_end() {
    let seed = fs::read_to_string("seed/skua.railings.json").unwrap();
    let mut exports = Vec::new();
    for sync in ["always", "batch"] {
        let book = Book::none();
        book.file("railings.json", &seed);
        book.run(&["import", "railings.json", "--sync", sync]).fine();
        book.run(&["verify"]).fine();
        exports.push(book.run(&["export"]).fine());
    }
    assert!(!exports[0].is_empty() && exports[0] == exports[1]);
    let done = Book::none().run(&["import", "-", "--sync", "never"]);
    assert!(done.code == 2 && done.err.contains("always") && done.err.contains("batch"), "{done:?}");
}
