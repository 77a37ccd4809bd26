//! The ids of the book by slot, and the slot of an id.
//!
//! A slot is given to an id once and for ever, so the table that leads from ids to slots is the same for all versions:
//! what a version does not know yet has a slot behind its last one.

use hashbrown::HashTable;
use std::hash::{BuildHasher, RandomState};
use std::sync::{Arc, PoisonError, RwLock};

/// How many ids stand together.
const TOGETHER: usize = 256;
/// In how many parts the table is: one that grows keeps only those waiting who look into it.
const PARTS: usize = 64;

/// The ids of some slots in a row.
#[derive(Debug, Clone, Default)]
struct Texts {
    text: String,
    ends: Vec<u32>,
}

impl Texts {
    fn get(&self, at: usize) -> &str {
        let start = at.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or_default();
        let range = start as usize..self.ends.get(at).copied().unwrap_or(start) as usize;
        self.text.get(range).unwrap_or_default()
    }
}

#[derive(Debug)]
struct Table {
    parts: Vec<RwLock<HashTable<u32>>>,
    hasher: RandomState,
}

/// The ids of the book.
#[derive(Debug, Clone)]
pub struct Ids {
    texts: Vec<Arc<Texts>>,
    table: Arc<Table>,
    count: usize,
}

impl Default for Ids {
    fn default() -> Self {
        let parts = (0..PARTS).map(|_| RwLock::default()).collect();
        Self { texts: Vec::new(), table: Arc::new(Table { parts, hasher: RandomState::new() }), count: 0 }
    }
}

impl Ids {
    /// How many slots there are.
    pub fn len(&self) -> usize {
        self.count
    }

    /// The id that has a slot; nothing stands where there is none.
    pub fn get(&self, slot: u32) -> &str {
        let at = slot as usize;
        self.texts.get(at / TOGETHER).map(|texts| texts.get(at % TOGETHER)).unwrap_or_default()
    }

    fn part(&self, hash: u64) -> &RwLock<HashTable<u32>> {
        // The ends of a hash are what the table itself goes by.
        &self.table.parts[(hash >> 32) as usize % PARTS]
    }

    /// The slot of an id.
    pub fn slot(&self, id: &str) -> Option<u32> {
        let hash = self.table.hasher.hash_one(id);
        let part = self.part(hash).read().unwrap_or_else(PoisonError::into_inner);
        part.find(hash, |slot| self.get(*slot) == id).copied()
    }

    /// Gives the next slot to an id; an empty one stands for a slot that nothing has.
    pub fn push(&mut self, id: &str) {
        let slot = self.count;
        if slot.is_multiple_of(TOGETHER) {
            self.texts.push(Arc::default());
        }
        if let Some(texts) = self.texts.last_mut() {
            let texts = Arc::make_mut(texts);
            texts.text.push_str(id);
            texts.ends.push(u32::try_from(texts.text.len()).unwrap_or(u32::MAX));
            if texts.ends.len() == TOGETHER {
                // Nothing comes to these any more.
                texts.text.shrink_to_fit();
                texts.ends.shrink_to_fit();
            }
        }
        self.count += 1;
        if !id.is_empty()
            && let Ok(slot) = u32::try_from(slot)
        {
            let hash = self.table.hasher.hash_one(id);
            let mut part = self.part(hash).write().unwrap_or_else(PoisonError::into_inner);
            part.insert_unique(hash, slot, |slot| self.table.hasher.hash_one(self.get(*slot)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_older_version_does_not_know_what_came_later() {
        let mut first = Ids::default();
        (0..700).for_each(|number| first.push(&format!("skua.pump-{number}.cover")));
        let mut second = first.clone();
        second.push("");
        second.push("tern.gearbox.cover");
        for number in [0, 255, 256, 699] {
            let id = format!("skua.pump-{number}.cover");
            assert_eq!((first.slot(&id), second.slot(&id)), (Some(number), Some(number)));
            assert_eq!(first.get(number), id);
        }
        assert_eq!((first.slot("tern.gearbox.cover"), second.slot("tern.gearbox.cover")), (None, Some(701)));
        assert_eq!((first.get(701), second.get(700), second.len()), ("", "", 702));
        assert_eq!(second.slot(""), None);
    }
}
