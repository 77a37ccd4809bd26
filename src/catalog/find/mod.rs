//! Answering questions.

mod asked_audit;
mod audit_once;
mod families;
mod first_audit;
mod kept_audit;
mod lately;
mod listed;
mod live_audit;
mod near;
mod promised;
mod sieve;
mod snapshot;
mod sorted;

pub use audit_once::AuditStep;
pub use first_audit::AuditUnderWay;
pub use kept_audit::KeptAudit;
pub use lately::Lately;
pub use listed::Listed;
pub use live_audit::BookAudit;
pub use promised::AuditSoFar;
pub use snapshot::Snapshot;

use super::{Catalog, CatalogError, StoreError};
use crate::query::{Answer, Cursor, Facet, Field, Page, Query, Vocabulary, evaluate, sort_key};
use crate::query::{State, Stored};
use crate::store::{Bits, Head, Index, Store, Valued};
use sieve::Sieved;
use std::sync::Arc;

pub fn find(catalog: &Catalog, query: &Query, with_index: bool) -> Result<Page, CatalogError> {
    let asked = Asked::of(catalog, query)?;
    let sequence = match query.as_of {
        Some(moment) => catalog.store().sequence_at(moment)?,
        None => asked.head.sequence,
    };
    if !query.ids.is_empty() {
        return named(catalog, query, sequence);
    }
    let answer = match query.as_of {
        None if with_index => answer(catalog, query)?,
        None => look_at_all(catalog, query, &*catalog.snapshot()?)?,
        Some(_) => look_at_all(catalog, query, &catalog.snapshot_at(sequence)?)?,
    };
    let next = answer.items.last().filter(|_| answer.more).map(|last| asked.next(last));
    Ok(asked.page(answer, next, sequence))
}

/// A question, the state of the book in which it is asked, and its fingerprint.
struct Asked<'q> {
    query: &'q Query,
    head: Arc<Head>,
    fingerprint: u64,
    /// The last change when its first page was asked for.
    first_sequence: u64,
}

impl<'q> Asked<'q> {
    /// Checks that the cursor belongs to the question.
    fn of(catalog: &Catalog, query: &'q Query) -> Result<Self, CatalogError> {
        let (head, fingerprint) = (catalog.store().head(), query.fingerprint());
        if let Some(after) = &query.after {
            after.check(fingerprint, &head.secret)?;
        }
        let first_sequence = query.after.as_ref().map_or(head.sequence, |after| after.sequence);
        Ok(Self { query, head, fingerprint, first_sequence })
    }

    /// The cursor of the page after the one that ends with this record.
    fn next(&self, last: &Stored) -> String {
        let key = sort_key(&self.query.sort, last);
        Cursor::signed(self.fingerprint, self.first_sequence, key, &self.head.secret).to_string()
    }

    fn page(&self, answer: Answer, next: Option<String>, sequence: u64) -> Page {
        Page {
            items: answer.items,
            next,
            count: self.query.count.then_some(answer.count),
            drift: self.query.as_of.is_none() && self.first_sequence != self.head.sequence,
            facets: answer.facets,
            missing: Vec::new(),
            read_as: self.query.read_as.clone(),
            sequence,
        }
    }
}

/// The answer from the index, or from looking at every record where the index can't tell.
fn answer(catalog: &Catalog, query: &Query) -> Result<Answer, CatalogError> {
    let store = catalog.store();
    let by_index = store.undisturbed(|| match families::answer(store, query)? {
        Some(answer) => Ok(Some(answer)),
        None => by_index(store, query),
    });
    let by_index = by_index?.flatten();
    match by_index {
        Some(answer) => Ok(answer),
        None => look_at_all(catalog, query, &*catalog.snapshot()?),
    }
}

fn look_at_all(catalog: &Catalog, query: &Query, snapshot: &Snapshot) -> Result<Answer, CatalogError> {
    let none = Vocabulary::new();
    let vocabulary = if query.words.is_empty() { &none } else { snapshot.vocabulary() };
    let answer = evaluate(query, vocabulary, catalog.deadline.while_there_is_time(snapshot.records()));
    catalog.deadline.check()?;
    Ok(answer)
}

/// The answer from the index; nothing if it can't tell.
fn by_index(store: &Store, query: &Query) -> Result<Option<Answer>, StoreError> {
    if query.facets.iter().any(|field| !Index::Field(*field).is_kept() || *field == Field::Within) {
        return Ok(None);
    }
    if let Some(joints) = query.filter(Field::Joint) {
        return if joints.any.is_empty() { Ok(None) } else { in_joints(store, query, &joints.any).map(Some) };
    }
    let Some(sieved) = Sieved::of(store, query)? else { return Ok(None) };
    let set = sieved.without(None)?;
    let mut items = sorted::first_of(store, query, &set, query.take + 1)?;
    let more = items.len() > query.take;
    items.truncate(query.take);
    let facets = query.facets.iter().map(|field| facet(store, &sieved, &set, *field)).collect::<Result<_, _>>()?;
    Ok(Some(Answer { items, more, count: set.len(), facets }))
}

fn facet(store: &Store, sieved: &Sieved<'_>, all: &Bits, field: Field) -> Result<Facet, StoreError> {
    let others = if sieved.has_filter(field) { Some(sieved.without(Some(field))?) } else { None };
    let set = others.as_ref().unwrap_or(all);
    let values = store.all_sets(Index::Field(field))?;
    let count = |valued: &Valued| (String::from_utf8_lossy(valued.value()).into_owned(), valued.set.common(set));
    Ok(Facet::new(field, values.iter().map(count)))
}

/// The answer from the records of a few joints.
fn in_joints(store: &Store, query: &Query, joints: &[String]) -> Result<Answer, StoreError> {
    let mut slots = Bits::default();
    for joint in joints {
        slots = slots.or(&*store.set(Index::Field(Field::Within), joint.as_bytes())?);
    }
    let records = slots.iter().map(|slot| store.of_slot(slot)).collect::<Result<Vec<_>, _>>()?;
    let vocabulary = if query.words.is_empty() { Arc::default() } else { store.words()? };
    Ok(evaluate(query, &vocabulary, &records))
}

/// The records that were asked for by name, in the order of the names, as they were at a change.
fn named(catalog: &Catalog, query: &Query, sequence: u64) -> Result<Page, CatalogError> {
    let mut items = Vec::new();
    let mut missing = Vec::new();
    // Whoever asks for fasteners gets no joint, even by its name.
    let kinds = query.filter(Field::Kind).map(|filter| filter.any.as_slice()).unwrap_or_default();
    let is_asked = |stored: &Stored| {
        let kind = stored.record.kind();
        stored.state == State::Current && (kinds.is_empty() || kinds.iter().any(|asked| asked == kind.word()))
    };
    for id in &query.ids {
        match catalog.store().get_at(id, sequence)?.filter(|stored| is_asked(stored)) {
            Some(stored) => items.push(stored),
            None => missing.push(id.clone()),
        }
    }
    Ok(Page {
        count: query.count.then_some(items.len() as u64),
        items,
        next: None,
        drift: false,
        facets: Vec::new(),
        missing,
        read_as: query.read_as.clone(),
        sequence,
    })
}
