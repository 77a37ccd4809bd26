//! Taking the book in: checked, indexed and to last, beside one transaction of SQLite.

use crate::book::Book;
use crate::memory::{processor_time, resident, settled};
use crate::report::{Report, Wanted, time, times_faster};
use crate::sqlite::Sqlite;
use clampbook::catalog::{Author, Catalog, Expected, ImportOptions, OnSame};
use std::fs::File;
use std::path::Path;
use std::time::Instant;

/// Makes the store and SQLite's file, changes both alike, and gives SQLite. The store is closed.
pub fn side_by_side(book: &Book, store: &Path, folder: &Path, report: &mut Report) -> Sqlite {
    let worked_yet = || processor_time(std::process::id());
    let before = settled();
    let (began, worked) = (Instant::now(), worked_yet());
    let catalog = import(book, store);
    let (ours, our_work) = (began.elapsed(), worked_yet() - worked);
    let grown = resident(std::process::id()).1.saturating_sub(before);

    let (began, worked) = (Instant::now(), worked_yet());
    let mut sqlite = Sqlite::import(&folder.join("book.sqlite"), &book.file);
    let (other, other_work) = (began.elapsed(), worked_yet() - worked);
    let rate =
        |took: std::time::Duration| format!("{} ({:.0}/s)", time(took), book.records as f64 / took.as_secs_f64());
    let ratio = 1.0 / times_faster(ours, other);
    report.row("import, time against one transaction of SQLite", &rate(ours), &rate(other), ratio, Wanted::AtMost(1.5));
    report.row(
        "processor time of the import, all cores",
        &time(our_work),
        &time(other_work),
        1.0 / times_faster(our_work, other_work),
        Wanted::Nothing,
    );
    let share = grown as f64 / book.bytes as f64;
    let megabytes = |bytes: u64| format!("{:.0} MB", bytes as f64 / 1e6);
    report.row(
        "most memory that the import took, against the JSON",
        &megabytes(grown),
        &megabytes(book.bytes),
        share,
        Wanted::Nothing,
    );

    change(book, &catalog);
    sqlite.change(&book.changed, &book.withdrawn);
    let began = Instant::now();
    drop(catalog);
    report.say(&format!(
        "closed in {}; {} of {} records changed, {} withdrawn",
        time(began.elapsed()),
        book.changed.len(),
        book.records,
        book.withdrawn.len()
    ));
    sqlite
}

/// Makes the store alone, with nothing beside it.
pub fn alone(book: &Book, store: &Path) {
    change(book, &import(book, store));
}

fn import(book: &Book, store: &Path) -> Catalog {
    let catalog = Catalog::create(store).expect("a store");
    let taken =
        catalog.import(File::open(&book.file).expect("the book"), &ImportOptions::default()).expect("an import");
    assert!(taken.is_clean() && taken.stored == book.records as u64, "{taken:?}");
    catalog
}

/// What happens to the book later: second revisions and withdrawals.
fn change(book: &Book, catalog: &Catalog) {
    let changes = book.changed.join("\n");
    let replacing = ImportOptions { on_same: OnSame::Replace, ..ImportOptions::default() };
    let replaced = catalog.import(changes.as_bytes(), &replacing).expect("an import of changes");
    assert_eq!(replaced.replaced, book.changed.len() as u64);
    for id in &book.withdrawn {
        let id = id.parse().expect("an id");
        catalog.withdraw(&id, Expected::Any, None, &Author::unknown()).expect("a withdrawal");
    }
}
