//! Five facets: over the whole book, and beside two filters.

use crate::generator::{CLASSES, Dice, THREADS};
use crate::sqlite::Sqlite;
use clampbook::catalog::Catalog;
use clampbook::query::Query;
use rusqlite::types::Value;
use std::collections::HashMap;

/// The facets, and the columns of SQLite.
const FACETS: [(&str, &str); 5] =
    [("head", "head"), ("drive", "drive"), ("reuse", "reuse"), ("thread", "thread"), ("property_class", "class")];

/// A question for five facets.
pub struct Asked {
    /// What the book is asked.
    pub query: Query,
    /// What SQLite is asked: a statement for each facet.
    statements: Vec<(String, Vec<Value>)>,
}

fn query(pairs: &[(&str, &str)]) -> Query {
    let facets = FACETS.map(|(name, _)| name).join(",");
    let always = [("kind", "fastener"), ("take", "1"), ("facets", facets.as_str())];
    Query::parse(pairs.iter().chain(&always).copied()).unwrap_or_else(|refused| panic!("{refused:?}"))
}

/// The facets of all fasteners.
pub fn of_all() -> Asked {
    let statement = |column: &str| {
        format!(
            "select {column}, count(*) from record where kind = 'fastener' and {column} is not null group by {column}"
        )
    };
    Asked { query: query(&[]), statements: FACETS.iter().map(|(_, column)| (statement(column), Vec::new())).collect() }
}

/// The facets of some fasteners: each is counted without its own filter.
pub fn of_some(seed: u64, count: usize) -> Vec<Asked> {
    let mut dice = Dice::new(seed);
    let mut asked = || {
        let ((thread, _, _), (class, _)) = (*dice.early_of(THREADS), *dice.early_of(CLASSES));
        let statement = |column: &str| {
            let mut filters = Vec::new();
            let mut values = Vec::new();
            for (name, value) in [("thread", thread), ("class", class)] {
                if name != column {
                    values.push(Value::Text(value.to_owned()));
                    filters.push(format!("{name} = ?{}", values.len()));
                }
            }
            let filters = filters.join(" and ");
            (format!("select {column}, count(*) from record where {filters} group by {column}"), values)
        };
        let statements = FACETS.iter().map(|(_, column)| statement(column)).collect();
        Asked { query: query(&[("thread", thread), ("property_class", class)]), statements }
    };
    (0..count).map(|_| asked()).collect()
}

/// What the book counts.
pub fn ours(catalog: &Catalog, asked: &Asked) -> Vec<HashMap<String, u64>> {
    let page = catalog.find(&asked.query).expect("an answer");
    let counts = |facet: &clampbook::query::Facet| {
        facet
            .values
            .iter()
            .filter(|value| !value.value.is_empty())
            .map(|value| (value.value.clone(), value.count))
            .collect()
    };
    page.facets.iter().map(counts).collect()
}

/// What SQLite counts.
pub fn other(sqlite: &Sqlite, asked: &Asked) -> Vec<HashMap<String, u64>> {
    asked.statements.iter().map(|(sql, values)| sqlite.counts(sql, values)).collect()
}
