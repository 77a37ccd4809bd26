//! Rows that are not in the corpus, as records of a book.

use crate::corpus::{Published, Row, by, misprints, published, rows, table_record};

/// Rows of tables as records; a source that the corpus does not have is a document of that name.
pub fn of_tables(unseen: Vec<Row>) -> Vec<Published> {
    let sources = by(&rows("sources.csv"), "source_id");
    let record = |row: &Row| {
        let id = &row["source_id"];
        let own = || Row::from([("document".to_owned(), format!("Table {id}")), ("table".to_owned(), "1".to_owned())]);
        table_record(row, &sources.get(id).cloned().unwrap_or_else(own))
    };
    published(unseen, &misprints("misprints.csv"), record)
}

/// The ids of the rows of general tables that are known to be wrong.
pub fn wrong_rows() -> std::collections::BTreeSet<String> {
    misprints("misprints.csv").into_keys().collect()
}
