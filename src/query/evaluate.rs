//! The answer to a question, found by looking at every record.

use super::filter::{Fails, Sieve};
use super::order::sort_key;
use super::stored::Stored;
use super::{Field, Query, Vocabulary};
use std::collections::BTreeMap;

/// What was found, before it is made a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The records of the page in order.
    pub items: Vec<Stored>,
    /// Whether there are more after these.
    pub more: bool,
    /// How many match in all, whatever the page.
    pub count: u64,
    /// The facets asked for, in that order.
    pub facets: Vec<Facet>,
}

/// How often each value of a field occurs among the records that answer all *other* filters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Facet {
    /// The field.
    pub field: Field,
    /// The values, the commonest first.
    pub values: Vec<FacetValue>,
}

/// A value of a field and how many records have it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, utoipa::ToSchema)]
pub struct FacetValue {
    /// The value in its canonical form.
    pub value: String,
    /// How many records have it.
    pub count: u64,
}

impl Facet {
    /// The facet of these counts: the commonest first, equal ones by value.
    #[must_use]
    pub fn new(field: Field, counts: impl IntoIterator<Item = (String, u64)>) -> Self {
        let mut values: Vec<FacetValue> =
            counts.into_iter().map(|(value, count)| FacetValue { value, count }).collect();
        values.retain(|value| value.count > 0);
        values.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.value.cmp(&b.value)));
        Self { field, values }
    }
}

/// Answers a question over these records: the meaning of a query, without any index. The ids of
/// [`Query::ids`], the state and [`Query::as_of`] are the caller's: `records` are those that are asked about.
pub fn evaluate<'r>(query: &Query, vocabulary: &Vocabulary, records: impl IntoIterator<Item = &'r Stored>) -> Answer {
    let sieve = Sieve::new(query, vocabulary);
    let mut counts: Vec<(Field, BTreeMap<String, u64>)> =
        query.facets.iter().map(|field| (*field, BTreeMap::new())).collect();
    let mut found: Vec<(Vec<u8>, &Stored)> = Vec::new();
    let mut count = 0;
    for stored in records {
        let fails = sieve.fails(&stored.record);
        for (field, counts) in &mut counts {
            if fails == Fails::Nothing || fails == Fails::Only(*field) {
                for value in field.values(&stored.record) {
                    *counts.entry(value).or_default() += 1;
                }
            }
        }
        if fails == Fails::Nothing {
            count += 1;
            let key = sort_key(&query.sort, stored);
            if query.after.as_ref().is_none_or(|after| key > after.key) {
                found.push((key, stored));
            }
        }
    }
    found.sort_unstable_by(|a, b| a.0.cmp(&b.0));
    let more = found.len() > query.take;
    let items = found.into_iter().take(query.take).map(|(_, stored)| stored.clone()).collect();
    let facets = counts.into_iter().map(|(field, counts)| Facet::new(field, counts)).collect();
    Answer { items, more, count, facets }
}
