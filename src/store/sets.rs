//! Reading the index: which records have something in common, by slot.

use super::bits::Bits;
use super::error::StoreError;
use super::index::{self, Index, Term};
use super::known_sets::Valued;
use super::revision::{self, Latest};
use super::{Store, keys};
use crate::query::{Stored, Vocabulary};
use crate::record::Id;
use std::collections::BTreeSet;
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};

impl Store {
    /// Does some reading that must see one state of the book. It waits for no batch that is being written; only if one
    /// write after the other is finished meanwhile does it hold back the next one. Nothing comes back if the index is of
    /// another version: then it has to be done without the index.
    ///
    /// # Errors
    /// What `work` fails with.
    pub fn undisturbed<T, E>(&self, mut work: impl FnMut() -> Result<T, E>) -> Result<Option<T>, E> {
        /// How often it is tried before the next write has to wait.
        const TRIES: usize = 8;
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
        let _writing = self.writer.lock().unwrap_or_else(PoisonError::into_inner);
        work().map(Some)
    }

    /// Whether no state has followed another since the number of moments was this.
    fn is_of_now(&self, commits: u64) -> bool {
        commits.is_multiple_of(2) && self.commits.load(Ordering::SeqCst) == commits
    }

    fn load(&self, first: &[u8], last: &[u8]) -> Result<Vec<(Term, Bits)>, StoreError> {
        index::load(self.engine.as_ref(), || self.before.load_full(), first, last)
    }

    /// The records in force that have this value.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn set(&self, index: Index, value: &[u8]) -> Result<Arc<Bits>, StoreError> {
        let term = index::term(index, value);
        if let Some(set) = self.known_sets.set(&term) {
            return Ok(set);
        }
        let commits = self.commits.load(Ordering::SeqCst);
        let set = Arc::new(self.set_of_term(&term)?);
        self.known_sets.add_set(term, set.clone(), || self.is_of_now(commits));
        Ok(set)
    }

    /// The records in force that have a term, read from the engine.
    pub(super) fn set_of_term(&self, term: &[u8]) -> Result<Bits, StoreError> {
        let sets = self.load(term, term)?;
        Ok(sets.into_iter().find(|(found, _)| *found == term).map(|(_, set)| set).unwrap_or_default())
    }

    /// The values from one to another, both included, each with the records in force that have it.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn sets(&self, index: Index, first: &[u8], last: &[u8]) -> Result<Arc<Vec<Valued>>, StoreError> {
        let range = (index::term(index, first), index::term(index, last));
        if let Some(list) = self.known_sets.list(&range) {
            return Ok(list);
        }
        let commits = self.commits.load(Ordering::SeqCst);
        let sets = self.load(&range.0, &range.1)?;
        let list: Arc<Vec<_>> = Arc::new(sets.into_iter().map(|(term, set)| Valued::new(&term, set)).collect());
        self.known_sets.add_list(range, list.clone(), || self.is_of_now(commits));
        Ok(list)
    }

    /// Every value of an index that is not empty, read for once.
    pub(super) fn sets_unheld(&self, index: Index) -> Result<Vec<Valued>, StoreError> {
        let sets = self.load(&index::term(index, &[1]), &index::term(index, &[0xff]))?;
        Ok(sets.into_iter().map(|(term, set)| Valued::new(&term, set)).collect())
    }

    /// Every value of an index that is not empty, with the records in force that have it.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn all_sets(&self, index: Index) -> Result<Arc<Vec<Valued>>, StoreError> {
        self.sets(index, &[1], &[0xff])
    }

    /// Every word of the records in force.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn words(&self) -> Result<Arc<Vocabulary>, StoreError> {
        if let Some(words) = self.known_sets.words() {
            return Ok(words);
        }
        let commits = self.commits.load(Ordering::SeqCst);
        let range = keys::blocks(&index::term(Index::Word, &[1]), &index::term(Index::Word, &[0xff]));
        let mut from = range.start.clone();
        let mut terms = BTreeSet::new();
        while let Some((key, _)) = self.engine.scan(&from, &range.end, 1)?.pop() {
            let (term, _) = keys::term_and_block(&key)?;
            from = keys::blocks(term, term).end;
            terms.insert(term.to_vec());
        }
        if let Some(before) = self.before.load_full() {
            for term in before.terms(&range) {
                let was_there = !self.set_of_term(term)?.is_empty();
                if was_there {
                    terms.insert(term.to_vec())
                } else {
                    terms.remove(term)
                };
            }
        }
        let words = terms.into_iter().filter_map(|term| String::from_utf8(term.get(1..)?.to_vec()).ok());
        let words: Arc<Vocabulary> = Arc::new(words.collect());
        self.known_sets.add_words(words.clone(), || self.is_of_now(commits));
        Ok(words)
    }

    /// Whether any record that the engine knows of has a term.
    pub(super) fn has_term(&self, term: &[u8]) -> bool {
        let range = keys::blocks(term, term);
        self.engine.scan(&range.start, &range.end, 1).map_or(true, |pairs| !pairs.is_empty())
    }

    /// The id of the record that has a slot.
    ///
    /// # Errors
    /// If the engine can't read, what it reads is damaged, or there is none.
    pub fn id_of(&self, slot: u32) -> Result<Id, StoreError> {
        self.known.id(slot, || {
            let key = keys::slot(slot);
            let bytes = self.engine.get(&key)?.ok_or_else(|| StoreError::damaged_value(&key, "it is missing"))?;
            revision::decode_slot(&key, &bytes)
        })
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
        if let Some(directory) = &*self.directory.load() {
            return Ok(directory.slot(id.as_str()));
        }
        Ok(self.latest(id)?.map(|latest| latest.slot))
    }

    /// Whether a change made the revision of its record that is the latest.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn slot_if_latest(&self, id: &Id, sequence: u64) -> Result<Option<u32>, StoreError> {
        let now = self.head().sequence;
        match self.latest(id)? {
            // A batch that is being written has another one.
            Some(latest) if latest.sequence > now => {
                let is_latest = self.get_at(id, now)?.is_some_and(|stored| stored.sequence == sequence);
                Ok(is_latest.then_some(latest.slot))
            }
            latest => Ok(latest.filter(|latest| latest.sequence == sequence).map(|latest| latest.slot)),
        }
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
