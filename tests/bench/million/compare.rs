//! Answers against answers.

use crate::questions::Question;
use crate::sqlite::Sqlite;
use clampbook::catalog::{Catalog, Page};

/// The ids of a page.
pub fn ids(page: &Page) -> Vec<String> {
    page.items.iter().map(|stored| stored.record.id().to_string()).collect()
}

/// The ids that the book answers with.
pub fn answer(catalog: &Catalog, question: &Question) -> Vec<String> {
    ids(&catalog.find(&question.query()).expect("an answer"))
}

/// Every question has the same answer in SQLite, and some have one at all.
pub fn with_sqlite(catalog: &Catalog, sqlite: &Sqlite, questions: &[Question]) -> usize {
    let mut found = 0;
    for question in questions {
        let ours = answer(catalog, question);
        assert_eq!(ours, sqlite.ids(question), "{:?} is answered otherwise by SQLite", question.pairs);
        found += ours.len();
    }
    assert!(found > 0, "no question had an answer");
    found
}

/// Every question has the same answer by the naive scan.
pub fn with_naive_scan(catalog: &Catalog, questions: &[Question]) {
    for question in questions {
        let naive = catalog.find_by_looking_at_all(&question.query()).expect("an answer");
        assert_eq!(
            answer(catalog, question),
            ids(&naive),
            "{:?} is answered otherwise by looking at all",
            question.pairs
        );
    }
}
