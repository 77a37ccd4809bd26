//! The whole book in memory, for questions that the index can't answer. It is brought up to the last change by whoever asks
//! next; who holds an earlier one keeps it, and the two share what has not changed.

use super::super::{Catalog, CatalogError};
use crate::query::{State, Stored, Vocabulary, words_of};
use crate::record::Id;
use imbl::OrdSet;
use std::borrow::Borrow;
use std::cmp::Ordering;
use std::ops::Bound;
use std::sync::{Arc, OnceLock};

/// Every record in force, by id, as it was at one change.
#[derive(Debug)]
pub struct Snapshot {
    epoch: String,
    sequence: u64,
    records: OrdSet<ById>,
    vocabulary: OnceLock<Vocabulary>,
}

/// A record that is looked up and ordered by its id.
#[derive(Debug, Clone)]
struct ById(Stored);

impl Borrow<str> for ById {
    fn borrow(&self) -> &str {
        self.0.record.id().as_str()
    }
}

impl Ord for ById {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.record.id().cmp(other.0.record.id())
    }
}

impl PartialOrd for ById {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for ById {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for ById {}

/// More changes than this share of the records are not followed one by one: the book is read anew.
const MANY: usize = 8;
/// So many changes are always followed.
const FEW: usize = 500;

/// What stands under some ids now; nothing where it was withdrawn.
type Changed = Vec<(Id, Option<Stored>)>;

impl Snapshot {
    fn of(epoch: String, sequence: u64, records: impl IntoIterator<Item = Stored>) -> Self {
        let records = records.into_iter().map(ById).collect();
        Self { epoch, sequence, records, vocabulary: OnceLock::new() }
    }

    /// The records by id.
    pub fn records(&self) -> impl Iterator<Item = &Stored> {
        self.records.iter().map(|ById(stored)| stored)
    }

    /// The record of this id.
    pub fn get(&self, id: &str) -> Option<&Stored> {
        self.records.get(id).map(|ById(stored)| stored)
    }

    /// The records below a path, by id; all of them below the empty path.
    pub fn below(&self, path: &str) -> impl Iterator<Item = &Stored> {
        // Behind the point comes the slash, and behind every id the brace.
        let (first, last) =
            if path.is_empty() { (String::new(), "{".to_owned()) } else { (format!("{path}."), format!("{path}/")) };
        let range = (Bound::Included(first.as_str()), Bound::Excluded(last.as_str()));
        self.records.range::<_, str>(range).map(|ById(stored)| stored)
    }

    /// The words of the records; made when they are first asked for.
    pub(super) fn vocabulary(&self) -> &Vocabulary {
        self.vocabulary.get_or_init(|| self.records().flat_map(|stored| words_of(&stored.record)).collect())
    }
}

impl Catalog {
    /// The records in force after the last change.
    pub(in crate::catalog) fn snapshot(&self) -> Result<Arc<Snapshot>, CatalogError> {
        let head = self.store().head();
        let known = self.inner.snapshot.load_full().filter(|known| known.epoch == head.epoch);
        let snapshot = match known {
            Some(known) if known.sequence >= head.sequence => return Ok(known),
            Some(known) => match self.changed_since(known.sequence, head.sequence, known.records.len())? {
                Some(changed) => changed_by(&known, head.sequence, changed),
                None => self.snapshot_at(head.sequence)?,
            },
            None => self.snapshot_at(head.sequence)?,
        };
        let snapshot = Arc::new(snapshot);
        self.inner.snapshot.store(Some(snapshot.clone()));
        Ok(snapshot)
    }

    /// What stands under every id that has changed since, nothing where it was withdrawn; nothing at all if that is a large
    /// part of `count` records.
    pub(super) fn changed_since(
        &self,
        since: u64,
        sequence: u64,
        count: usize,
    ) -> Result<Option<Changed>, CatalogError> {
        let most = FEW.max(count / MANY);
        if sequence.saturating_sub(since) > most as u64 {
            return Ok(None);
        }
        let changes = self.store().changes(since, most)?.into_iter().filter(|change| change.sequence <= sequence);
        let mut ids: Vec<Id> = changes.map(|change| change.id).collect();
        ids.sort_unstable();
        ids.dedup();
        let mut changed = Vec::with_capacity(ids.len());
        for id in ids {
            let now = self.store().get_at(&id, sequence)?.filter(|stored| stored.state == State::Current);
            changed.push((id, now));
        }
        Ok(Some(changed))
    }

    /// The records in force after a change, by id, as long as `goes_on` says so when it is told how many were read.
    pub(super) fn records_at(
        &self,
        sequence: u64,
        goes_on: &mut dyn FnMut(usize) -> bool,
    ) -> Result<Vec<Stored>, CatalogError> {
        if let Some(snapshot) = self.inner.snapshot.load_full()
            && snapshot.sequence == sequence
            && snapshot.epoch == self.epoch()
        {
            return Ok(snapshot.records().cloned().collect());
        }
        let mut records = Vec::new();
        self.store().walk(None, sequence, |stored| {
            if stored.state == State::Current {
                records.push(stored);
            }
            Ok(goes_on(records.len()))
        })?;
        Ok(records)
    }

    pub(super) fn snapshot_at(&self, sequence: u64) -> Result<Snapshot, CatalogError> {
        let records = self.records_at(sequence, &mut |read| self.deadline.has_time_for(read))?;
        self.deadline.check()?;
        Ok(Snapshot::of(self.epoch(), sequence, records))
    }
}

/// The book after some changes.
fn changed_by(known: &Snapshot, sequence: u64, changed: Changed) -> Snapshot {
    let mut records = known.records.clone();
    for (id, now) in changed {
        records.remove(id.as_str());
        records.extend(now.map(ById));
    }
    Snapshot { epoch: known.epoch.clone(), sequence, records, vocabulary: OnceLock::new() }
}
