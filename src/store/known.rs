//! What was read before and never changes: the revisions of records, and which record has a slot.

use super::error::StoreError;
use crate::query::Stored;
use crate::record::Id;
use quick_cache::sync::Cache;

/// How many revisions are held, decoded: about 1.4 kB each. Of a small book all, of a large one a share.
fn revisions(records: usize) -> usize {
    const SHARE: usize = 32;
    const LEAST: usize = 4096;
    const MOST: usize = 16_384;
    (records / SHARE).clamp(LEAST, MOST)
}
/// How many ids are held.
const IDS: usize = 65_536;

/// What is held.
pub struct Known {
    revisions: Cache<(u32, u64), Stored>,
    ids: Cache<u32, Id>,
}

impl Known {
    /// For a book of so many records.
    pub fn of_book(records: u32) -> Self {
        Self { revisions: Cache::new(revisions(records as usize)), ids: Cache::new(IDS) }
    }

    /// A revision of the record that has a slot, made by this change.
    pub fn revision(
        &self,
        slot: u32,
        revision: u64,
        sequence: u64,
        read: impl FnOnce() -> Result<Stored, StoreError>,
    ) -> Result<Stored, StoreError> {
        match self.held(slot, revision, sequence) {
            Some(stored) => Ok(stored),
            None => {
                let stored = read()?;
                self.revisions.insert((slot, revision), stored.clone());
                Ok(stored)
            }
        }
    }

    /// The same, if it is held.
    pub fn held(&self, slot: u32, revision: u64, sequence: u64) -> Option<Stored> {
        self.revisions.get(&(slot, revision)).filter(|stored| stored.sequence == sequence)
    }

    /// The id of the record that has a slot.
    pub fn id(&self, slot: u32, read: impl FnOnce() -> Result<Id, StoreError>) -> Result<Id, StoreError> {
        if let Some(id) = self.ids.get(&slot) {
            return Ok(id);
        }
        let id = read()?;
        self.ids.insert(slot, id.clone());
        Ok(id)
    }

    /// Lets everything go: what it was read from may have been replaced as a whole.
    pub fn clear(&self) {
        self.revisions.clear();
        self.ids.clear();
    }
}
