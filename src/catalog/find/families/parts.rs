//! What a question asks beside what families have in common: words, and fields with several values.

use super::super::super::StoreError;
use crate::query::{Field, Filter, Query, expanded};
use crate::record::Id;
use crate::store::{Bits, Index, Store, Valued};
use std::borrow::Cow;
use std::sync::Arc;

/// From how many sets on they are put together before records are looked for in them.
const MANY: usize = 4;

/// Sets of which a record must be in one.
pub struct OneOf {
    sets: Vec<Arc<Bits>>,
    /// At most how many records are in them.
    pub size: u64,
}

impl OneOf {
    fn of(mut sets: Vec<Arc<Bits>>) -> Self {
        if sets.len() >= MANY {
            sets = vec![Arc::new(Bits::union(sets.iter().map(|set| &**set)))];
        }
        Self { size: sets.iter().map(|set| set.len()).sum(), sets }
    }

    fn has(&self, slot: u32) -> bool {
        self.sets.iter().any(|set| set.contains(slot))
    }

    /// All that are in them.
    pub fn together(&self) -> Cow<'_, Bits> {
        match self.sets.as_slice() {
            [one] => Cow::Borrowed(one),
            sets => Cow::Owned(Bits::union(sets.iter().map(|set| &**set))),
        }
    }
}

/// What a record must be in, and what it must not be in. Nothing is put together before it is asked for.
#[derive(Default)]
pub struct Parts {
    /// It must be in one of each, the smallest first.
    pub must: Vec<OneOf>,
    not: Vec<Arc<Bits>>,
}

impl Parts {
    /// The parts of a question; nothing if it has a filter that the index can't answer.
    pub fn of(store: &Store, query: &Query) -> Result<Option<Self>, StoreError> {
        let mut parts = Self::default();
        for filter in query.filters.iter().filter(|filter| !crate::store::is_of_families(filter.field)) {
            if parts.add_filter(store, filter)?.is_none() {
                return Ok(None);
            }
        }
        for word in &query.words {
            parts.must.push(OneOf::of(with_word(store, word)?));
        }
        parts.must.sort_by_key(|one_of| one_of.size);
        Ok(Some(parts))
    }

    fn add_filter(&mut self, store: &Store, filter: &Filter) -> Result<Option<()>, StoreError> {
        let index = Index::Field(filter.field);
        if !index.is_kept() {
            return Ok(None);
        }
        if !filter.any.is_empty() {
            let mut sets = with_values(store, filter.field, &filter.any)?;
            if filter.field.none_means_all() {
                sets.push(store.set(index, b"")?);
            }
            self.must.push(OneOf::of(sets));
        }
        self.not.extend(with_values(store, filter.field, &filter.not)?);
        match filter.has {
            Some(true) => self.not.push(store.set(index, b"")?),
            Some(false) => self.must.push(OneOf::of(vec![store.set(index, b"")?])),
            None => {}
        }
        if let Some(start) = &filter.starts {
            // Only these are kept in lower case, in which beginnings are compared.
            if !matches!(filter.field, Field::PartNo | Field::Document | Field::Variant) {
                return Ok(None);
            }
            self.must.push(OneOf::of(begun_by(store, index, start)?));
        }
        Ok(Some(()))
    }

    /// Whether everything gets through.
    pub fn is_open(&self) -> bool {
        self.must.is_empty() && self.not.is_empty()
    }

    /// Whether the record of a slot gets through.
    #[inline]
    pub fn has(&self, slot: u32) -> bool {
        self.has_beside(&self.must, slot)
    }

    /// The same where only these of what it must be in are to be asked.
    #[inline]
    pub fn has_beside(&self, must: &[OneOf], slot: u32) -> bool {
        must.iter().all(|one_of| one_of.has(slot)) && !self.not.iter().any(|set| set.contains(slot))
    }
}

fn with_values(store: &Store, field: Field, values: &[String]) -> Result<Vec<Arc<Bits>>, StoreError> {
    let mut sets = Vec::with_capacity(values.len());
    for value in values {
        sets.push(store.set(Index::Field(field), value.as_bytes())?);
        // A path is that of the record itself too, which the index leaves to its id.
        if field == Field::Within
            && let Ok(id) = value.parse::<Id>()
            && let Some(slot) = store.slot_of(&id)?
        {
            sets.push(Arc::new(Bits::of([slot])));
        }
    }
    Ok(sets)
}

/// The records that have a value which begins with this.
fn begun_by(store: &Store, index: Index, start: &str) -> Result<Vec<Arc<Bits>>, StoreError> {
    let last = [start.as_bytes(), &[0xff]].concat();
    let begun = store.sets(index, start.as_bytes(), &last)?;
    Ok(begun.iter().map(|Valued { set, .. }| set.clone()).collect())
}

/// The records that have a word which begins with this one, or failing that, one that is a letter off.
fn with_word(store: &Store, word: &str) -> Result<Vec<Arc<Bits>>, StoreError> {
    let begun = begun_by(store, Index::Word, word)?;
    if !begun.is_empty() {
        return Ok(begun);
    }
    let near = expanded(word, &*store.words()?);
    near.iter().map(|near| store.set(Index::Word, near.as_bytes())).collect()
}
