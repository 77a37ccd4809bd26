//! The sets of records that answer a question, from the index.

use super::super::StoreError;
use crate::query::{Field, Filter, Query, TorqueFilter, Vocabulary, expanded};
use crate::record::Id;
use crate::store::{Bits, Index, Store, torque_value};

/// What a question lets through, each part as a set.
pub struct Sieved {
    /// Everything in force.
    everything: Bits,
    /// What each filter lets through.
    filters: Vec<(Field, Bits)>,
    /// What words and torque let through.
    rest: Bits,
}

impl Sieved {
    /// The sets of a question. Nothing if it has a filter that the index can't answer.
    pub fn of(store: &Store, query: &Query) -> Result<Option<Self>, StoreError> {
        let everything = everything(store)?;
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
        let mut rest = torque(store, &query.torque, &everything)?;
        for word in &query.words {
            rest = rest.and(&one_word(store, word)?);
        }
        Ok(Some(Self { everything, filters, rest }))
    }

    /// What answers all but the filter of one field, or all of them.
    pub fn without(&self, left_out: Option<Field>) -> Bits {
        let filters = self.filters.iter().filter(|(field, _)| Some(*field) != left_out);
        filters.fold(self.rest.and(&self.everything), |set, (_, filter)| set.and(filter))
    }
}

fn everything(store: &Store) -> Result<Bits, StoreError> {
    let kind = |kind: &str| store.set(Index::Field(Field::Kind), kind.as_bytes());
    Ok(kind("joint")?.or(&kind("fastener")?))
}

/// What a filter lets through; nothing if the index can't tell.
fn let_through(store: &Store, filter: &Filter, everything: &Bits) -> Result<Option<Bits>, StoreError> {
    let index = Index::Field(filter.field);
    let mut set = everything.clone();
    if !filter.any.is_empty() {
        let mut any = one_of(store, filter.field, &filter.any)?;
        if filter.field.none_means_all() {
            any = any.or(&store.set(index, b"")?);
        }
        set = set.and(&any);
    }
    if !filter.not.is_empty() {
        set = set.without(&one_of(store, filter.field, &filter.not)?);
    }
    match filter.has {
        Some(true) => set = set.without(&store.set(index, b"")?),
        Some(false) => set = set.and(&store.set(index, b"")?),
        None => {}
    }
    if let Some(start) = &filter.starts {
        // Only these are kept in lower case, in which beginnings are compared.
        if !matches!(filter.field, Field::PartNo | Field::Document | Field::Variant) {
            return Ok(None);
        }
        let last = [start.as_bytes(), &[0xff]].concat();
        let begun = store.sets(index, start.as_bytes(), &last)?;
        set = set.and(&union(begun.iter().map(|(_, set)| set)));
    }
    Ok(Some(set))
}

fn union<'s>(sets: impl Iterator<Item = &'s Bits>) -> Bits {
    sets.fold(Bits::default(), |union, set| union.or(set))
}

fn one_of(store: &Store, field: Field, values: &[String]) -> Result<Bits, StoreError> {
    let mut union = Bits::default();
    for value in values {
        union = union.or(&store.set(Index::Field(field), value.as_bytes())?);
        if field == Field::Within
            && let Ok(id) = value.parse::<Id>()
            && let Some(slot) = store.slot_of(&id)?
        {
            union = union.or(&Bits::of([slot]));
        }
    }
    Ok(union)
}

fn torque(store: &Store, filter: &TorqueFilter, everything: &Bits) -> Result<Bits, StoreError> {
    let mut set = everything.clone();
    if let Some(least) = filter.least() {
        let sets = store.sets(Index::TorqueHigh, &torque_value(least), &torque_value(f64::INFINITY))?;
        set = set.and(&union(sets.iter().map(|(_, set)| set)));
    }
    if let Some(most) = filter.most() {
        let sets = store.sets(Index::TorqueLow, &torque_value(0.0), &torque_value(most))?;
        set = set.and(&union(sets.iter().map(|(_, set)| set)));
    }
    match filter.has {
        Some(true) => Ok(set.without(&store.set(Index::TorqueLow, b"")?)),
        Some(false) => Ok(set.and(&store.set(Index::TorqueLow, b"")?)),
        None => Ok(set),
    }
}

/// The records that have a word which begins with this one, or failing that, one that is a letter off.
fn one_word(store: &Store, word: &str) -> Result<Bits, StoreError> {
    let last = [word.as_bytes(), &[0xff]].concat();
    let begun = store.sets(Index::Word, word.as_bytes(), &last)?;
    if !begun.is_empty() {
        return Ok(union(begun.iter().map(|(_, set)| set)));
    }
    let mut set = Bits::default();
    for near in expanded(word, &vocabulary(store)?) {
        set = set.or(&store.set(Index::Word, near.as_bytes())?);
    }
    Ok(set)
}

/// Every word of the records in force.
pub fn vocabulary(store: &Store) -> Result<Vocabulary, StoreError> {
    let words = store.values(Index::Word)?;
    Ok(words.into_iter().filter_map(|word| String::from_utf8(word).ok()).collect())
}
