//! Answers from the directory: which families get through, and of those the first records in the order of the question,
//! without looking at the others.
//!
//! Where it can't tell, because a question goes by names or changes or counts the values of a field that has several,
//! nothing comes back, and the sets of the index answer.

mod count;
mod first;
mod order;
mod parts;

use super::super::StoreError;
use crate::query::{Answer, Field, Query};
use crate::store::{Directory, Family, Store, Through};
use first::Search;
use parts::Parts;
use std::cell::OnceCell;
use std::sync::Arc;

/// An answer before its records are read.
#[derive(Debug)]
pub struct Slots {
    /// The version of the directory that it comes from.
    pub directory: Arc<Directory>,
    /// The slots of its records, in their order.
    pub slots: Vec<u32>,
    /// All else that belongs to it.
    pub beside: Answer,
}

/// The answer from the directory; nothing if none is kept or it can't tell.
pub fn answer(store: &Store, query: &Query) -> Result<Option<Answer>, StoreError> {
    let Some(Slots { directory, slots, beside }) = slots(store, query)? else { return Ok(None) };
    Ok(Some(Answer { items: store.records_of(&directory, slots)?, ..beside }))
}

/// The same without its records.
pub fn slots(store: &Store, query: &Query) -> Result<Option<Slots>, StoreError> {
    let Some(directory) = store.directory() else { return Ok(None) };
    if query.filter(Field::Joint).is_some() || query.facets.iter().any(|field| directory.column(*field).is_none()) {
        return Ok(None);
    }
    let Some(order) = order::Order::of(query, &directory) else { return Ok(None) };
    let Some(parts) = Parts::of(store, query)? else { return Ok(None) };
    let through = directory.through(&query.filters, &query.torque, None);
    let search = Search { directory: &directory, families: Admitted::of(through), parts: &parts };
    let mut slots = search.first(&order, query.take + 1);
    let more = slots.len() > query.take;
    slots.truncate(query.take);
    let count = if query.count { search.counts().iter().map(|(.., count)| count).sum() } else { 0 };
    let facets = count::facets(&search, query);
    let beside = Answer { items: Vec::new(), more, count, facets };
    Ok(Some(Slots { directory: directory.clone(), slots, beside }))
}

/// Families that get through, to be asked about, and to be gone through, which costs more.
pub struct Admitted<'d> {
    through: Through<'d>,
    all: OnceCell<All<'d>>,
}

/// The families that get through, each with its number, and how many members they have.
struct All<'d> {
    list: Vec<(u32, &'d Family)>,
    members: u64,
}

impl<'d> Admitted<'d> {
    fn of(through: Through<'d>) -> Self {
        Self { through, all: OnceCell::new() }
    }

    #[inline]
    fn has(&self, family: u32) -> bool {
        self.through.has(family)
    }

    fn all(&self) -> &All<'d> {
        self.all.get_or_init(|| {
            let list: Vec<_> = self.through.iter().collect();
            All { members: list.iter().map(|(_, family)| u64::from(family.count)).sum(), list }
        })
    }
}

#[cfg(test)]
mod tests;
