//! The sets of records that answer a question, from the index.

use super::super::StoreError;
use crate::query::{Field, Filter, Query, TorqueFilter, expanded};
use crate::record::Id;
use crate::store::{Bits, Index, Store, Valued, torque_value};
use std::sync::Arc;

/// What a question lets through, each part as a set.
pub struct Sieved<'s> {
    store: &'s Store,
    /// Everything in force.
    everything: Arc<Bits>,
    /// What each filter lets through.
    filters: Vec<(Field, Arc<Bits>)>,
    /// What each word lets through.
    words: Vec<Bits>,
    torque: TorqueFilter,
}

impl<'s> Sieved<'s> {
    /// The sets of a question. Nothing if it has a filter that the index can't answer.
    pub fn of(store: &'s Store, query: &Query) -> Result<Option<Self>, StoreError> {
        let everything = Arc::new(everything(store)?);
        let mut filters = Vec::new();
        for filter in &query.filters {
            if !Index::Field(filter.field).is_kept() {
                return Ok(None);
            }
            match let_through(store, filter, &everything)? {
                Some(set) => filters.push((filter.field, set)),
                None => return Ok(None),
            }
        }
        let words = query.words.iter().map(|word| one_word(store, word)).collect::<Result<_, _>>()?;
        Ok(Some(Self { store, everything, filters, words, torque: query.torque }))
    }

    /// Whether a field has a filter.
    pub fn has_filter(&self, field: Field) -> bool {
        self.filters.iter().any(|(filtered, _)| *filtered == field)
    }

    /// What answers all but the filter of one field, or all of them.
    pub fn without(&self, left_out: Option<Field>) -> Result<Bits, StoreError> {
        let filters = self.filters.iter().filter(|(field, _)| Some(*field) != left_out);
        let mut sets: Vec<&Bits> = filters.map(|(_, set)| &**set).chain(&self.words).collect();
        sets.push(&self.everything);
        // The smallest first, so that what is left stays small.
        sets.sort_by_cached_key(|set| set.len());
        let mut left = match sets.as_slice() {
            [] => return Ok(Bits::default()),
            [one] => (*one).clone(),
            [one, two, ..] => one.and(two),
        };
        sets.iter().skip(2).for_each(|set| left.keep(set));
        self.narrow_by_torque(left)
    }

    fn narrow_by_torque(&self, mut left: Bits) -> Result<Bits, StoreError> {
        if let Some(least) = self.torque.least() {
            let high = self.store.all_sets(Index::TorqueHigh)?;
            let from = high.partition_point(|valued| valued.value() < &torque_value(least)[..]);
            left = in_any(&left, &high[from..]);
        }
        if let Some(most) = self.torque.most() {
            let low = self.store.all_sets(Index::TorqueLow)?;
            let end = low.partition_point(|valued| valued.value() <= &torque_value(most)[..]);
            left = in_any(&left, &low[..end]);
        }
        let without_torque = || self.store.set(Index::TorqueLow, b"");
        match self.torque.has {
            Some(true) => left.take_out(&*without_torque()?),
            Some(false) => left.keep(&*without_torque()?),
            None => {}
        }
        Ok(left)
    }
}

/// What of a set is in any of others, which have nothing in common.
fn in_any(set: &Bits, others: &[Valued]) -> Bits {
    let parts: Vec<Bits> = others.iter().map(|other| set.and(&other.set)).filter(|part| !part.is_empty()).collect();
    Bits::union(&parts)
}

fn everything(store: &Store) -> Result<Bits, StoreError> {
    let kind = |kind: &str| store.set(Index::Field(Field::Kind), kind.as_bytes());
    Ok(kind("joint")?.or(&*kind("fastener")?))
}

/// What a filter lets through; nothing if the index can't tell.
fn let_through(store: &Store, filter: &Filter, everything: &Arc<Bits>) -> Result<Option<Arc<Bits>>, StoreError> {
    let index = Index::Field(filter.field);
    let mut set = everything.clone();
    if !filter.any.is_empty() {
        set = one_of(store, filter.field, &filter.any)?;
        if filter.field.none_means_all() {
            set = Arc::new(set.or(&*store.set(index, b"")?));
        }
    }
    if !filter.not.is_empty() {
        set = Arc::new(set.without(&*one_of(store, filter.field, &filter.not)?));
    }
    match filter.has {
        Some(true) => set = Arc::new(set.without(&*store.set(index, b"")?)),
        Some(false) => set = Arc::new(set.and(&*store.set(index, b"")?)),
        None => {}
    }
    if let Some(start) = &filter.starts {
        // Only these are kept in lower case, in which beginnings are compared.
        if !matches!(filter.field, Field::PartNo | Field::Document | Field::Variant) {
            return Ok(None);
        }
        set = Arc::new(set.and(&begun_by(store, index, start)?));
    }
    Ok(Some(set))
}

/// The records that have a value which begins with this.
fn begun_by(store: &Store, index: Index, start: &str) -> Result<Bits, StoreError> {
    let last = [start.as_bytes(), &[0xff]].concat();
    let begun = store.sets(index, start.as_bytes(), &last)?;
    Ok(Bits::union(begun.iter().map(|valued| &*valued.set)))
}

fn one_of(store: &Store, field: Field, values: &[String]) -> Result<Arc<Bits>, StoreError> {
    let set = |value: &String| store.set(Index::Field(field), value.as_bytes());
    if let ([value], true) = (values, field != Field::Within) {
        return set(value);
    }
    let mut union = Bits::default();
    for value in values {
        union = union.or(&*set(value)?);
        if field == Field::Within
            && let Ok(id) = value.parse::<Id>()
            && let Some(slot) = store.slot_of(&id)?
        {
            union = union.or(&Bits::of([slot]));
        }
    }
    Ok(Arc::new(union))
}

/// The records that have a word which begins with this one, or failing that, one that is a letter off.
fn one_word(store: &Store, word: &str) -> Result<Bits, StoreError> {
    let begun = begun_by(store, Index::Word, word)?;
    if !begun.is_empty() {
        return Ok(begun);
    }
    let near = expanded(word, &*store.words()?);
    let sets = near.iter().map(|near| store.set(Index::Word, near.as_bytes())).collect::<Result<Vec<_>, _>>()?;
    Ok(Bits::union(sets.iter().map(|set| &**set)))
}
