//! The directory of a store: kept up with what is written, and asked by whoever looks for a record.

use super::{Changed, Directory, Entry};
use crate::query::{State, Stored};
use crate::record::Id;
use crate::store::{Head, Store, StoreError};
use std::collections::HashMap;
use std::sync::Arc;

impl Store {
    /// The directory, if it is kept.
    #[must_use]
    pub fn directory(&self) -> Option<Arc<Directory>> {
        self.directory.load_full()
    }

    /// The directory after a write; nothing if none is kept.
    pub(in crate::store) fn directory_after(&self, written: HashMap<Id, (Stored, u32)>) -> Option<Arc<Directory>> {
        let directory = self.directory.load_full()?;
        let changed = written.into_iter().map(|(id, (stored, slot))| Changed {
            id: id.to_string(),
            slot,
            revision: stored.revision,
            sequence: stored.sequence,
            record: (stored.state == State::Current).then_some(stored.record),
        });
        directory.after(changed.collect()).map(Arc::new)
    }

    /// The directory after others have written, who led from one head to another; nothing if they wrote more than `most`
    /// changes, or another history: then it is to be made anew.
    pub(in crate::store) fn directory_since(&self, before: &Head, now: &Head, most: usize) -> Option<Arc<Directory>> {
        let directory = self.directory.load_full()?;
        if now.epoch != before.epoch || now.sequence.checked_sub(before.sequence)? > most as u64 {
            return None;
        }
        let changes = self.changes_up_to(now.sequence, before.sequence, most).ok()?;
        let changed =
            changes.iter().map(|change| self.changed(&change.id, now.sequence)).collect::<Result<Vec<_>, _>>().ok()?;
        directory.after(changed.into_iter().flatten().collect()).map(Arc::new)
    }

    /// The last revision of a record that the directory knows, with its slot.
    pub(in crate::store) fn get_by(&self, directory: &Directory, id: &Id) -> Result<Option<(Stored, u32)>, StoreError> {
        let Some(slot) = directory.slot(id.as_str()) else { return Ok(None) };
        match directory.entry(slot) {
            Some(entry) if entry.revision > 0 => Ok(Some((self.revision_of(slot, entry, id)?, slot))),
            _ => Ok(None),
        }
    }

    fn revision_of(&self, slot: u32, entry: &Entry, id: &Id) -> Result<Stored, StoreError> {
        let number = u64::from(entry.revision);
        self.known.revision(slot, number, entry.sequence, || {
            self.revision(id, number)?.ok_or_else(|| StoreError::missing_revision(id, number))
        })
    }

    /// The records that have some slots, as a version of the directory knows them.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn records_of(
        &self,
        directory: &Directory,
        slots: impl IntoIterator<Item = u32>,
    ) -> Result<Vec<Stored>, StoreError> {
        let record = |slot: u32| {
            let gone = || StoreError::Internal(format!("slot {slot} is not in the directory"));
            let entry = directory.entry(slot).ok_or_else(gone)?;
            if let Some(stored) = self.known.held(slot, u64::from(entry.revision), entry.sequence) {
                return Ok(stored);
            }
            let id = directory.id(slot).parse().map_err(|_| gone())?;
            self.revision_of(slot, entry, &id)
        };
        slots.into_iter().map(record).collect()
    }

    /// The records in force that have some slots, read without holding them decoded from then on.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn records_apart(
        &self,
        directory: &Directory,
        slots: impl IntoIterator<Item = u32>,
    ) -> Result<Vec<Stored>, StoreError> {
        let mut records = Vec::new();
        for slot in slots {
            let Some(entry) = directory.entry(slot).filter(|entry| entry.family().is_some()) else { continue };
            let Ok(id) = directory.id(slot).parse::<Id>() else { continue };
            records.extend(self.revision(&id, u64::from(entry.revision))?);
        }
        Ok(records)
    }
}
