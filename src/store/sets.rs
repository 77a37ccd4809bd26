//! Reading the index: which records have something in common, by slot.

use super::bits::Bits;
use super::error::StoreError;
use super::index::{self, Index, Term};
use super::revision::{self, Latest};
use super::{Store, keys};
use crate::query::Stored;
use crate::record::Id;
use std::sync::atomic::Ordering;

impl Store {
    /// Does some reading that must not see a commit half way. Nothing comes back if commits kept coming, if one
    /// has failed, or if the index is of another version: then it has to be done without the index.
    ///
    /// # Errors
    /// What `work` fails with.
    pub fn undisturbed<T, E>(&self, mut work: impl FnMut() -> Result<T, E>) -> Result<Option<T>, E> {
        /// How often it is tried.
        const TRIES: usize = 3;
        if self.head().index_version != index::VERSION {
            return Ok(None);
        }
        for _ in 0..TRIES {
            let before = self.commits.load(Ordering::SeqCst);
            if before % 2 == 1 {
                std::thread::yield_now();
                continue;
            }
            let result = work();
            if self.commits.load(Ordering::SeqCst) == before {
                return result.map(Some);
            }
        }
        Ok(None)
    }

    /// The records in force that have this value.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn set(&self, index: Index, value: &[u8]) -> Result<Bits, StoreError> {
        self.set_of_term(&index::term(index, value))
    }

    pub(super) fn set_of_term(&self, term: &[u8]) -> Result<Bits, StoreError> {
        let sets = index::load(self.engine.as_ref(), term, term)?;
        Ok(sets.into_iter().find(|(found, _)| *found == term).map(|(_, set)| set).unwrap_or_default())
    }

    /// The values from one to another, both included, each with the records in force that have it.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn sets(&self, index: Index, first: &[u8], last: &[u8]) -> Result<Vec<(Term, Bits)>, StoreError> {
        let mut sets = index::load(self.engine.as_ref(), &index::term(index, first), &index::term(index, last))?;
        sets.iter_mut().for_each(|(term, _)| {
            term.remove(0);
        });
        Ok(sets)
    }

    /// Every value of an index that is not empty, with the records in force that have it.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn all_sets(&self, index: Index) -> Result<Vec<(Term, Bits)>, StoreError> {
        self.sets(index, &[1], &[0xff])
    }

    /// Every value of an index that some record in force has.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn values(&self, index: Index) -> Result<Vec<Term>, StoreError> {
        let range = keys::blocks(&index::term(index, &[1]), &index::term(index, &[0xff]));
        let mut from = range.start;
        let mut values = Vec::new();
        while let Some((key, _)) = self.engine.scan(&from, &range.end, 1)?.pop() {
            let (term, _) = keys::term_and_block(&key)?;
            from = keys::blocks(term, term).end;
            values.push(term.get(1..).unwrap_or_default().to_vec());
        }
        Ok(values)
    }

    /// The id of the record that has a slot.
    ///
    /// # Errors
    /// If the engine can't read, what it reads is damaged, or there is none.
    pub fn id_of(&self, slot: u32) -> Result<Id, StoreError> {
        let key = keys::slot(slot);
        let bytes = self.engine.get(&key)?.ok_or_else(|| StoreError::damaged_value(&key, "it is missing"))?;
        revision::decode_slot(&key, &bytes)
    }

    /// The record that has a slot.
    ///
    /// # Errors
    /// If the engine can't read, what it reads is damaged, or there is none.
    pub fn of_slot(&self, slot: u32) -> Result<Stored, StoreError> {
        let id = self.id_of(slot)?;
        self.get(&id)?.ok_or_else(|| StoreError::missing_revision(&id, 1))
    }

    /// How many slots have been given away.
    #[must_use]
    pub fn slots(&self) -> u32 {
        self.head().next_slot
    }

    /// The slot of a record, if the id has ever been used.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn slot_of(&self, id: &Id) -> Result<Option<u32>, StoreError> {
        Ok(self.latest(id)?.map(|latest| latest.slot))
    }

    /// Whether a change made the revision of its record that is the latest.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn slot_if_latest(&self, id: &Id, sequence: u64) -> Result<Option<u32>, StoreError> {
        Ok(self.latest(id)?.filter(|latest| latest.sequence == sequence).map(|latest| latest.slot))
    }

    /// Walks over ids and slots in the order of the ids, from the first one after `after`, until `visit` says that it has
    /// enough.
    ///
    /// # Errors
    /// If the engine can't read, what it reads is damaged, or `visit` fails.
    pub fn walk_slots(
        &self,
        after: &[u8],
        mut visit: impl FnMut(&[u8], u32) -> Result<bool, StoreError>,
    ) -> Result<(), StoreError> {
        self.each(keys::latest_after(after), |key, bytes| {
            let Latest { slot, .. } = revision::decode_latest(key, bytes)?;
            visit(&key[1..], slot)
        })
    }
}
