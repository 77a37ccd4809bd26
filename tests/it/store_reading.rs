//! Reading a closed store from its reading copy: the same answers, no writes, never an old or a wrong one.

use crate::generator::Dice;
use crate::store_catalog::{seed_texts, yard};
use clampbook::catalog::{
    AuditScope, AuditStep, AuditSummary, Author, Catalog, CatalogError, Expected, ImportOptions, Lately, OpenOptions,
    StoreError, Stored, Sync,
};
use clampbook::query::Query;
use clampbook::record::Id;
use clampbook::view::Entry;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

fn reading() -> OpenOptions {
    OpenOptions { reading: true, ..OpenOptions::default() }
}

/// The demo yard in a folder, closed.
fn closed_yard(path: &Path, sync: Sync) {
    let catalog = Catalog::open(path, &OpenOptions { create: true, sync, ..OpenOptions::default() }).unwrap();
    for (name, text) in seed_texts() {
        let options = ImportOptions { name, ..ImportOptions::default() };
        assert!(catalog.import(text.as_bytes(), &options).unwrap().is_clean());
    }
}

/// Every file below a folder with its bytes and the time of its last change.
fn files(path: &Path) -> BTreeMap<PathBuf, (Vec<u8>, std::time::SystemTime)> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(path).unwrap().map(Result::unwrap) {
        if entry.file_type().unwrap().is_dir() {
            found.extend(files(&entry.path()));
        } else {
            let changed = entry.metadata().unwrap().modified().unwrap();
            found.insert(entry.path(), (fs::read(entry.path()).unwrap(), changed));
        }
    }
    found
}

const QUESTIONS: &[&[(&str, &str)]] = &[
    &[("take", "500"), ("count", "exact")],
    &[("q", "pump covr")],
    &[("thread", "M8"), ("sort", "-torque"), ("facets", "head,property_class")],
    &[("within", "skua.diesel"), ("head", "hexagon-flange"), ("take", "7")],
    &[("torque.min", "20"), ("torque.max", "60"), ("sort", "thread,-torque")],
    &[("id", "skua.diesel.raw-water-pump.cover.hex,skua.not.there")],
];

/// Everything that is asked of a book, in words.
fn told(catalog: &Catalog) -> String {
    let mut told = String::new();
    for pairs in QUESTIONS {
        let page = catalog.find(&Query::parse(pairs.iter().copied()).unwrap()).unwrap();
        let ids: Vec<_> = page.items.iter().map(|stored| (stored.record.id(), stored.revision)).collect();
        told += &format!("{pairs:?} {ids:?} {:?} {:?} {:?}\n", page.count, page.facets, page.missing);
    }
    let changes = catalog.changes(0, usize::MAX).unwrap();
    for change in &changes {
        let stored = catalog.revision(&change.id, change.revision).unwrap().unwrap();
        told += &format!("{change:?} {:?} {:?}\n", stored.record, catalog.revisions(&change.id).unwrap());
    }
    told
}

/// The records in force with what the audit says about each.
fn entries(catalog: &Catalog) -> Vec<Entry> {
    let page = catalog.find(&Query::parse([("take", "500"), ("kind", "fastener,joint")]).unwrap()).unwrap();
    Entry::all_of(catalog, page.items).unwrap()
}

#[test]
fn a_reading_copy_answers_as_the_engine_does_and_touches_nothing() {
    for sync in [Sync::Always, Sync::Batch] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("book");
        closed_yard(&path, sync);
        // The first reader keeps what the audit came to.
        let first = entries(&Catalog::open(&path, &reading()).unwrap());
        let before = files(&path);
        let (told_by_copy, by_copy) = {
            let catalog = Catalog::open(&path, &reading()).unwrap();
            (told(&catalog), entries(&catalog))
        };
        assert!(
            files(&path) == before,
            "{sync:?}: reading has changed the files, so it was not the copy that answered"
        );
        let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
        assert_eq!(told_by_copy, told(&catalog));
        assert_eq!((&first, &by_copy), (&entries(&catalog), &first));
        assert!(by_copy.len() > 200);
    }
}

#[test]
fn the_kept_audit_is_that_of_the_whole_book() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    {
        let catalog = Catalog::create(&path).unwrap();
        let slips = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("seed/slips.json")).unwrap();
        assert!(catalog.import(slips.as_slice(), &ImportOptions::default()).unwrap().is_clean());
    }
    for round in ["worked out", "kept"] {
        let catalog = Catalog::open(&path, &reading()).unwrap();
        let findings = catalog.audit(&Default::default()).unwrap();
        let entries = entries(&Catalog::open(&path, &reading()).unwrap());
        let mut with_findings = 0;
        for entry in &entries {
            let id = entry.stored.record.id().to_string();
            let of_it = || findings.iter().filter(|finding| finding.record == id);
            let open = of_it().filter(|finding| finding.accepted.is_none());
            let state = entry.book.audit;
            assert_eq!(state.worst, open.clone().map(|finding| finding.severity).max(), "{round}: {id}");
            assert_eq!(
                (state.count, state.accepted),
                (open.clone().count(), of_it().count() - open.count()),
                "{round}"
            );
            with_findings += usize::from(state.count > 0);
        }
        assert!(with_findings >= 20, "{round}: {with_findings}");
    }
}

/// The records in force with what the audit came to for each.
fn audited(catalog: &Catalog) -> Vec<(Stored, AuditSummary)> {
    let page = catalog.find(&Query::parse([("take", "500"), ("kind", "fastener,joint")]).unwrap()).unwrap();
    let summaries = catalog.audit_summaries(&page.items.iter().collect::<Vec<_>>()).unwrap();
    page.items.into_iter().zip(summaries).collect()
}

#[test]
fn who_opens_a_book_to_write_shows_what_the_audit_came_to_when_it_was_closed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    closed_yard(&path, Sync::Always);
    let states: Vec<(Stored, AuditSummary)> = {
        let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
        catalog.leave_audit().unwrap();
        assert!(!path.join("audit").exists(), "nobody has audited the book yet");
        let states = audited(&catalog);
        catalog.leave_audit().unwrap();
        states
    };
    assert!(states.iter().filter(|(_, state)| state.count > 0).count() >= 10);

    let catalog = Catalog::open(&path, &OpenOptions::default()).unwrap();
    let lately = |stored: &Stored| catalog.audited_lately(stored).unwrap();
    for (stored, summary) in &states {
        assert_eq!(lately(stored), Some(Lately { summary: *summary, up_to: None }), "{}", stored.record.id());
    }
    let all: Vec<&Stored> = states.iter().map(|(stored, _)| stored).collect();
    assert!(catalog.audit_summaries(&all).unwrap().iter().eq(states.iter().map(|(_, summary)| summary)));
    assert!(!catalog.is_audited() && catalog.last_audit().is_none(), "the book was audited for that");

    // What was written since, and what stands beside it, waits for the first audit; all else is told with what was looked at.
    let before = catalog.sequence();
    let written: Id = "skua.diesel.raw-water-pump.cover.hex".parse().unwrap();
    catalog.withdraw(&written, Expected::Revision(1), None, &Author::unknown()).unwrap();
    let mut waiting = 0;
    for (stored, summary) in &states {
        let id = stored.record.id().as_str();
        let is_beside = id == "skua.diesel.raw-water-pump.cover" || id.starts_with("skua.diesel.raw-water-pump.cover.");
        let told = (!is_beside).then_some(Lately { summary: *summary, up_to: Some(before) });
        assert_eq!(lately(stored), told, "{id}");
        waiting += usize::from(is_beside);
    }
    assert!(waiting >= 2, "{waiting}");
    let now = audited(&catalog);
    assert_eq!(catalog.last_audit().map(|(sequence, _)| sequence), Some(before + 1));
    assert!(now.iter().all(|(stored, summary)| lately(stored) == Some(Lately { summary: *summary, up_to: None })));
}

/// Stores the second revision of one record, and gives it.
fn change(path: &Path) -> Stored {
    let catalog = Catalog::open(path, &OpenOptions::default()).unwrap();
    let id = "skua.diesel.raw-water-pump.cover.hex".parse().unwrap();
    catalog.withdraw(&id, Expected::Revision(1), Some("worn".parse().unwrap()), &Author::unknown()).unwrap();
    assert!(!path.join("reading-copy").exists(), "no copy may stand beside an open store");
    catalog.get(&id).unwrap().unwrap()
}

#[test]
fn a_copy_of_an_earlier_state_is_never_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    closed_yard(&path, Sync::Always);
    entries(&Catalog::open(&path, &reading()).unwrap());
    let (copy, audit) = (fs::read(path.join("reading-copy")).unwrap(), fs::read(path.join("audit")).unwrap());
    let changed = change(&path);
    // As if the disk had forgotten that the old ones were removed.
    fs::write(path.join("reading-copy"), &copy).unwrap();
    fs::write(path.join("audit"), &audit).unwrap();
    let catalog = Catalog::open(&path, &reading()).unwrap();
    let found = catalog.get(changed.record.id()).unwrap().unwrap();
    assert_eq!(found, changed);
    let engine = yard();
    engine.withdraw(changed.record.id(), Expected::Any, None, &Author::unknown()).unwrap();
    let states = |entries: Vec<Entry>| -> Vec<_> {
        entries.into_iter().map(|entry| (entry.stored.record.id().clone(), entry.book.audit)).collect()
    };
    assert_eq!(states(entries(&catalog)), states(entries(&engine)));
}

#[test]
fn who_reads_is_shown_what_an_earlier_audit_said_of_what_was_not_written_since() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    closed_yard(&path, Sync::Always);
    let before: BTreeMap<_, _> = entries(&Catalog::open(&path, &reading()).unwrap())
        .into_iter()
        .map(|entry| (entry.stored.record.id().clone(), entry.book))
        .collect();
    let changed = change(&path);
    let shown = |within: &str| {
        let catalog = Catalog::open(&path, &reading()).unwrap();
        let page = catalog.find(&Query::parse([("take", "500"), ("within", within)]).unwrap()).unwrap();
        (Entry::all_of(&catalog, page.items).unwrap(), catalog.last_audit().is_some())
    };
    let (entries, is_audited) = shown("skua.steering-gear");
    assert!(!is_audited && entries.iter().any(|entry| entry.book.audit.count > 0));
    for entry in entries {
        assert_eq!(entry.audited_up_to, Some(changed.sequence - 1));
        assert_eq!(before[entry.stored.record.id()], entry.book);
    }
    // Where something stands that was written since, or beside it, the book is audited, and that is kept.
    let (entries, is_audited) = shown("skua.diesel");
    assert!(is_audited && entries.iter().all(|entry| entry.audited_up_to.is_none()));
    let (entries, is_audited) = shown("skua");
    assert!(!is_audited && entries.iter().all(|entry| entry.audited_up_to.is_none()));
}

#[test]
fn who_imports_most_of_a_book_or_audits_all_of_it_leaves_the_audit() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let yard: Vec<String> = seed_texts().into_iter().map(|(_, text)| text).collect();
    let import = |texts: &[String]| {
        let catalog = Catalog::open(&path, &OpenOptions { create: true, ..OpenOptions::default() }).unwrap();
        let stored = |text: &String| catalog.import(text.as_bytes(), &ImportOptions::default()).unwrap().stored;
        catalog.audit_imported(texts.iter().map(stored).sum()).unwrap();
        catalog.last_audit().is_some()
    };
    let (last, others) = yard.split_last().unwrap();
    assert!(import(others));
    let is_kept = || {
        let catalog = Catalog::open(&path, &reading()).unwrap();
        let shown = entries(&catalog);
        assert!(shown.iter().any(|entry| entry.book.audit.count > 0));
        catalog.last_audit().is_none()
    };
    assert!(is_kept());
    // This is little beside it.
    assert!(!import(std::slice::from_ref(last)));
    let mut findings = 0;
    let count = &mut |step: AuditStep<'_>| {
        findings += usize::from(matches!(step, AuditStep::Found(_)));
        Ok::<(), CatalogError>(())
    };
    Catalog::open(&path, &reading()).unwrap().audit_once(&AuditScope::Whole, count).unwrap();
    assert!(is_kept());
    let kept: usize = entries(&Catalog::open(&path, &reading()).unwrap())
        .iter()
        .map(|entry| entry.book.audit.count + entry.book.audit.accepted)
        .sum();
    assert_eq!(kept, findings);
}

#[test]
fn a_copy_beside_other_files_of_the_engine_is_not_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    closed_yard(&path, Sync::Always);
    let db = path.join("data/db");
    let bytes = fs::read(&db).unwrap();
    fs::write(&db, &bytes[..bytes.len() / 3]).unwrap();
    let error = Catalog::open(&path, &reading()).unwrap_err();
    assert!(matches!(error, CatalogError::Store(StoreError::Damaged { .. })), "{error:?}");
    assert!(error.to_string().contains("clampbook verify"), "{error}");
}

#[test]
fn a_damaged_copy_does_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    closed_yard(&path, Sync::Always);
    let right = entries(&Catalog::open(&path, &reading()).unwrap());
    let mut dice = Dice::new(5);
    let mut fell_back = 0;
    for round in 0..60 {
        let name = *dice.one_of(&["reading-copy", "reading-copy", "audit"]);
        let mut bytes = fs::read(path.join(name)).unwrap();
        let at = dice.below(bytes.len());
        match dice.below(4) {
            0 => bytes.truncate(at),
            _ => bytes[at] ^= 1 << dice.below(8),
        }
        fs::write(path.join(name), &bytes).unwrap();
        let catalog = Catalog::open(&path, &reading()).unwrap();
        assert!(entries(&catalog) == right, "round {round}: {name} at {at}");
        drop(catalog);
        fell_back += usize::from(fs::read(path.join(name)).unwrap() != bytes);
    }
    assert!(fell_back >= 30, "{fell_back}: what is damaged must be made anew");
}

#[test]
fn what_was_opened_to_read_takes_no_writes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    closed_yard(&path, Sync::Always);
    let catalog = Catalog::open(&path, &reading()).unwrap();
    let id = "skua.diesel.raw-water-pump.cover.hex".parse().unwrap();
    let refused = catalog.withdraw(&id, Expected::Any, None, &Author::unknown()).unwrap_err();
    assert!(matches!(refused, CatalogError::Store(StoreError::ForReading)), "{refused:?}");
    assert_eq!(catalog.get(&id).unwrap().unwrap().revision, 1);
}
