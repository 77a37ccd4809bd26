//! What stands in the way of opening a store: each with its own message.

use clampbook::catalog::{Catalog, CatalogError, OpenOptions, StoreError};
use std::fs;
use std::path::Path;
use std::time::Duration;

#[track_caller]
fn refuses(path: &Path, create: bool) -> (StoreError, String) {
    let options = OpenOptions { create, wait: Duration::from_millis(50), ..OpenOptions::default() };
    match Catalog::open(path, &options) {
        Err(CatalogError::Store(error)) => {
            let text = error.to_string();
            assert!(text.starts_with(&path.display().to_string()), "the message must say where: {text}");
            (error, text)
        }
        other => panic!("expected a refusal, got {other:?}"),
    }
}

#[test]
fn nothing_there() {
    let folder = tempfile::tempdir().unwrap();
    let (error, text) = refuses(&folder.path().join("book"), false);
    assert!(matches!(error, StoreError::Missing { .. }));
    assert!(text.contains("there is no store here"), "{text}");
    let (error, _) = refuses(folder.path(), false);
    assert!(matches!(error, StoreError::Missing { .. }), "an empty folder is no store");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "looking must leave nothing behind");
}

#[test]
fn a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    fs::write(&path, "text").unwrap();
    let (error, text) = refuses(&path, true);
    assert!(matches!(error, StoreError::NotAFolder { .. }));
    assert!(text.contains("this is a file"), "{text}");
}

#[test]
fn a_folder_that_holds_something_else() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("letter.txt"), "text").unwrap();
    let (error, text) = refuses(folder.path(), true);
    assert!(matches!(error, StoreError::Foreign { .. }));
    assert!(text.contains("letter.txt"), "{text}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing may be added to a foreign folder");
}

#[test]
fn a_folder_in_which_making_a_store_was_killed() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("lock"), "").unwrap();
    fs::write(folder.path().join("store.new"), "# A clamp").unwrap();
    drop(Catalog::create(folder.path()).unwrap());
    Catalog::open(folder.path(), &OpenOptions::default()).unwrap();
}

#[test]
fn a_newer_format() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    drop(Catalog::create(&path).unwrap());
    let mark = path.join("store.toml");
    let text = fs::read_to_string(&mark).unwrap();
    fs::write(&mark, text.replace("format = 2", "format = 7")).unwrap();
    let (error, text) = refuses(&path, true);
    assert!(matches!(error, StoreError::Newer { found: 7, known: 2, .. }));
    assert!(text.contains("by a newer clampbook"), "{text}");
}

#[test]
fn held_by_another() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let catalog = Catalog::create(&path).unwrap();
    let (error, text) = refuses(&path, true);
    let StoreError::Held { by, .. } = error else { panic!("{error:?}") };
    assert_eq!((by.process, by.address.as_deref()), (Some(std::process::id()), None));
    assert!(text.contains(&format!("process {}", std::process::id())), "{text}");
    catalog.announce("http://127.0.0.1:8470").unwrap();
    let (error, text) = refuses(&path, true);
    let StoreError::Held { by, .. } = error else { panic!("{error:?}") };
    assert_eq!(by.address.as_deref(), Some("http://127.0.0.1:8470"));
    assert!(text.contains("at http://127.0.0.1:8470"), "{text}");
    drop(catalog);
    Catalog::open(&path, &OpenOptions::default()).unwrap();
}

#[test]
fn not_writable() {
    // A file system that nobody may write to, whoever runs the test.
    let path = Path::new("/sys/kernel/clampbook-book");
    let options = OpenOptions { create: true, ..OpenOptions::default() };
    let refused = Catalog::open(path, &options).unwrap_err();
    assert!(matches!(refused, CatalogError::Store(StoreError::NotWritable { .. })), "{refused:?}");
}
