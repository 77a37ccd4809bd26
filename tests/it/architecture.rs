//! Imports go one way, files stay small, and nothing that must be absent is there.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms of the house in the order of the house, and what each may import from the others.
const ROOMS: &[(&str, &[&str], &str)] = &[
    ("units", &[], "units know nothing but numbers"),
    ("answer", &[], "answer only turns values into bytes"),
    ("thread", &["units"], "a thread is geometry: it knows no strength"),
    ("standards", &["units", "thread"], "tables calculate no tightening"),
    ("mechanics", &["units", "thread"], "mechanics takes numbers and knows no tables: the audit joins them"),
    ("sheets", &["units", "thread", "standards"], "sheets show what tables say"),
    ("record", &["units", "thread", "standards"], "a record judges no number"),
    ("tightening", &["units", "thread", "standards", "mechanics", "record"], "tightening joins tables and mechanics"),
    ("query", &["units", "thread", "standards", "record"], "a query looks at records and nothing else"),
    (
        "audit",
        &["units", "thread", "standards", "mechanics", "record", "tightening"],
        "the audit is pure: no storage, no HTTP, no command line",
    ),
    (
        "card",
        &["units", "thread", "standards", "mechanics", "record", "tightening", "audit", "answer"],
        "cards are made from records: no storage, no HTTP, no command line",
    ),
    ("store", &["record", "units", "thread", "standards", "query"], "the store keeps bytes and judges nothing"),
    (
        "catalog",
        &["units", "thread", "standards", "record", "query", "audit", "card", "store", "answer", "tightening"],
        "the catalog is the only door to the store",
    ),
    (
        "view",
        &["units", "record", "query", "audit", "card", "catalog"],
        "views give answers of the catalog their public shape and decide nothing",
    ),
    ("api", EDGE, "the API reaches the store through the catalog only"),
    ("bench", EDGE, "the bench page reaches the store through the catalog only"),
    ("cli", EDGE, "the command line reaches the store through the catalog only"),
];

/// What the edges may import: everything but the store.
const EDGE: &[&str] = &[
    "units",
    "answer",
    "thread",
    "standards",
    "mechanics",
    "sheets",
    "record",
    "tightening",
    "query",
    "audit",
    "card",
    "catalog",
    "view",
    "api",
    "bench",
];

#[test]
fn imports_go_one_way() {
    let mut offences = Vec::new();
    for file in sources() {
        let room = room_of(&file);
        if matches!(room.as_str(), "lib" | "main") {
            continue;
        }
        let Some((_, allowed, why)) = ROOMS.iter().find(|(name, ..)| *name == room) else {
            offences.push(format!("{}: the room \"{room}\" is not in the table of this test", file.display()));
            continue;
        };
        for import in imports(&fs::read_to_string(&file).unwrap()) {
            if import != room && !allowed.contains(&import.as_str()) {
                offences.push(format!("{} imports {import}, but {why}", file.display()));
            }
        }
    }
    assert!(offences.is_empty(), "{}", offences.join("\n"));
}

#[test]
fn only_the_store_names_the_engine() {
    let named: Vec<_> = sources()
        .into_iter()
        .filter(|file| room_of(file) != "store")
        .filter(|file| {
            code(&fs::read_to_string(file).unwrap())
                .any(|line| line.contains("sled::") || line.contains("tokio_postgres"))
        })
        .collect();
    assert!(named.is_empty(), "no word of the engine outside src/store: {named:?}");
}

#[test]
fn files_and_functions_stay_small() {
    let mut large = Vec::new();
    for file in sources() {
        let text = fs::read_to_string(&file).unwrap();
        let lines = text.split("#[cfg(test)]\nmod tests {").next().unwrap().lines().count();
        if lines > 420 && !file.ends_with("tests.rs") {
            large.push(format!("{}: {lines} lines; would two rooms be easier to live in?", file.display()));
        }
    }
    assert!(large.is_empty(), "{}", large.join("\n"));
}

#[test]
fn the_table_has_every_room() {
    let known: Vec<&str> = ROOMS.iter().map(|(name, ..)| *name).collect();
    let mut rooms: BTreeMap<String, PathBuf> = BTreeMap::new();
    for file in sources() {
        rooms.entry(room_of(&file)).or_insert(file);
    }
    for (name, allowed, _) in ROOMS {
        for import in *allowed {
            assert!(known.contains(import), "{name} may import {import}, which is no room");
        }
    }
    for room in rooms.keys().filter(|room| !matches!(room.as_str(), "lib" | "main")) {
        assert!(known.contains(&room.as_str()), "the room {room} is not in the table");
    }
}

/// Every Rust file below `src`.
fn sources() -> Vec<PathBuf> {
    fn walk(folder: &Path, files: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, files);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                files.push(path);
            }
        }
    }
    let mut files = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut files);
    files.sort();
    assert!(files.len() > 30, "the walk found only {} files", files.len());
    files
}

/// The room a file is in: its first folder below `src`, or its own name.
fn room_of(file: &Path) -> String {
    let below = file.strip_prefix(Path::new(env!("CARGO_MANIFEST_DIR")).join("src")).unwrap();
    below.components().next().unwrap().as_os_str().to_string_lossy().trim_end_matches(".rs").to_owned()
}

/// The lines that are code, comments left out.
fn code(text: &str) -> impl Iterator<Item = &str> {
    text.lines().filter(|line| !line.trim_start().starts_with("//"))
}

/// The rooms that a file names after `crate::`.
fn imports(text: &str) -> Vec<String> {
    let named = regex::Regex::new(r"\bcrate::([a-z_]+)").unwrap();
    let mut found: Vec<String> =
        code(text).flat_map(|line| named.captures_iter(line).map(|c| c[1].to_owned()).collect::<Vec<_>>()).collect();
    found.sort();
    found.dedup();
    found
}
