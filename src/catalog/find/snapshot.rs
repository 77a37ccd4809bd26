//! The whole book in memory, for questions that the index can't answer.

use super::super::{Catalog, CatalogError};
use crate::query::{State, Stored, Vocabulary, words_of};
use crate::record::{Id, Record};
use std::sync::{Arc, OnceLock};

/// Every record in force, by id, as it was at one change.
#[derive(Debug)]
pub struct Snapshot {
    sequence: u64,
    records: Vec<Stored>,
    vocabulary: OnceLock<Vocabulary>,
}

impl Snapshot {
    /// The records by id.
    pub fn records(&self) -> &[Stored] {
        &self.records
    }

    /// The words of the records; made when they are first asked for.
    pub(super) fn vocabulary(&self) -> &Vocabulary {
        self.vocabulary.get_or_init(|| self.records.iter().flat_map(|stored| words_of(&stored.record)).collect())
    }
}

impl Catalog {
    /// The records in force after the last change.
    pub(in crate::catalog) fn snapshot(&self) -> Result<Arc<Snapshot>, CatalogError> {
        let sequence = self.sequence();
        if let Some(snapshot) = self.inner.snapshot.load_full()
            && snapshot.sequence == sequence
        {
            return Ok(snapshot);
        }
        let snapshot = Arc::new(self.snapshot_at(sequence)?);
        self.inner.snapshot.store(Some(snapshot.clone()));
        Ok(snapshot)
    }

    /// Up to three ids of the book that differ from this one in a few characters or end with it, the nearest first.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<Id>, CatalogError> {
        let snapshot = self.snapshot()?;
        let most = (id.as_str().len() / 5).max(2);
        let end = format!(".{id}");
        let far = |known: &Id| {
            if known.as_str().ends_with(&end) { 0 } else { strsim::osa_distance(id.as_str(), known.as_str()) }
        };
        let known = snapshot.records().iter().map(|stored| stored.record.id());
        let mut near: Vec<(usize, &Id)> = known.map(|id| (far(id), id)).filter(|(far, _)| *far <= most).collect();
        near.sort();
        Ok(near.into_iter().take(3).map(|(_, id)| id.clone()).collect())
    }

    /// The records in force after a change, by id.
    pub(super) fn records_at(&self, sequence: u64) -> Result<Vec<Arc<Record>>, CatalogError> {
        if let Some(snapshot) = self.inner.snapshot.load_full()
            && snapshot.sequence == sequence
        {
            return Ok(snapshot.records.iter().map(|stored| stored.record.clone()).collect());
        }
        let mut records = Vec::new();
        self.store().walk(None, sequence, |stored| {
            if stored.state == State::Current {
                records.push(stored.record);
            }
            Ok(true)
        })?;
        Ok(records)
    }

    pub(super) fn snapshot_at(&self, sequence: u64) -> Result<Snapshot, CatalogError> {
        let mut records = Vec::new();
        self.store().walk(None, sequence, |stored| {
            if stored.state == State::Current {
                records.push(stored);
            }
            Ok(true)
        })?;
        Ok(Snapshot { sequence, records, vocabulary: OnceLock::new() })
    }
}
