//! The one writer: turns writes into one batch of revisions, changes and a new head.

use super::change::{self, Change, Expected, Put, Write};
use super::engine::{Batch, Requirement};
use super::error::{Found, StoreError};
use super::head::{Head, digest_of};
use super::keys;
use super::revision::{self, Latest};
use super::{Store, StoreError as Error};
use crate::query::{State, Stored};
use crate::record::{Id, Kind, Record, Text};
use std::collections::HashMap;
use std::sync::{Arc, PoisonError};

/// Who writes, as it is kept with the revision.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Author(pub Option<Text>);

impl Author {
    /// Somebody whose name is not known.
    #[must_use]
    pub fn unknown() -> Self {
        Self(None)
    }

    /// Somebody with a name.
    #[must_use]
    pub fn named(name: Text) -> Self {
        Self(Some(name))
    }
}

impl Store {
    /// Does all writes, or none. When it returns they are stored, as durably as the store was opened to.
    ///
    /// # Errors
    /// If one of them is not what was expected, or the engine can't; nothing is changed then.
    pub fn apply(&self, writes: Vec<Write>, author: &Author) -> Result<Vec<Put>, Error> {
        let _writing = self.writer.lock().unwrap_or_else(PoisonError::into_inner);
        let before = self.head.load_full();
        let mut pending = Pending::new(self, &before, author);
        let puts = writes.into_iter().map(|write| pending.write(write)).collect::<Result<Vec<_>, _>>()?;
        let Pending { head, mut batch, .. } = pending;
        if head.sequence == before.sequence {
            return Ok(puts);
        }
        batch.put(keys::HEAD.to_vec(), head.encode()?);
        batch.require(Requirement { key: keys::HEAD.to_vec(), value: Some(before.encode()?) });
        self.engine.apply(&batch)?;
        self.head.store(Arc::new(head));
        Ok(puts)
    }
}

/// Writes that have been taken and are not stored yet.
struct Pending<'s> {
    store: &'s Store,
    author: &'s Author,
    now: jiff::Timestamp,
    head: Head,
    batch: Batch,
    /// What stands under the ids that were written here.
    written: HashMap<Id, Stored>,
}

impl<'s> Pending<'s> {
    fn new(store: &'s Store, before: &Head, author: &'s Author) -> Self {
        // A clock that was set back must not turn the history round.
        let now = jiff::Timestamp::now().max(before.changed_at);
        let now = jiff::Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now);
        Self { store, author, now, head: before.clone(), batch: Batch::default(), written: HashMap::new() }
    }

    fn write(&mut self, write: Write) -> Result<Put, StoreError> {
        let id = write.id().clone();
        let there = match self.written.get(&id) {
            Some(stored) => Some(stored.clone()),
            None => self.store.get(&id)?,
        };
        match write {
            Write::Put { record, expected } => {
                check(&id, expected, there.as_ref())?;
                if let Some(there) = &there
                    && there.state == State::Current
                    && *there.record == *record
                {
                    return Ok(unchanged(there));
                }
                self.store_revision(Arc::new(*record), State::Current, None, there.as_ref())
            }
            Write::Withdraw { expected, why, .. } => {
                let Some(there) = there else { return Err(StoreError::Changed { id, found: None }) };
                check(&id, expected, Some(&there))?;
                if there.state == State::Withdrawn {
                    return Ok(unchanged(&there));
                }
                self.store_revision(there.record.clone(), State::Withdrawn, why, Some(&there))
            }
        }
    }

    fn store_revision(
        &mut self,
        record: Arc<Record>,
        state: State,
        why: Option<Text>,
        before: Option<&Stored>,
    ) -> Result<Put, StoreError> {
        let number = before.map_or(1, |before| before.revision + 1);
        self.head.sequence += 1;
        self.head.changed_at = self.now;
        let stored = Stored {
            record,
            revision: number,
            state,
            changed_at: self.now,
            changed_by: self.author.0.clone(),
            why,
            sequence: self.head.sequence,
        };
        self.enter(&stored)?;
        self.count(before, &stored);
        let put = Put { revision: number, changed: true, new: before.is_none(), sequence: stored.sequence };
        self.written.insert(stored.record.id().clone(), stored);
        Ok(put)
    }

    fn enter(&mut self, stored: &Stored) -> Result<(), StoreError> {
        let id = stored.record.id();
        let number = u32::try_from(stored.revision).map_err(|_| StoreError::Internal("too many revisions".into()))?;
        let key = keys::revision(id, number);
        let bytes = revision::encode(&key, stored)?;
        self.head.digest = self.head.digest.wrapping_add(digest_of(&key, &bytes));
        self.batch.put(key, bytes);
        let key = keys::change(stored.sequence);
        let bytes = change::encode(&key, &Change::of(stored))?;
        self.batch.put(key, bytes);
        let key = keys::latest(id);
        let withdrawn = stored.state == State::Withdrawn;
        let latest = Latest { revision: stored.revision, sequence: stored.sequence, withdrawn };
        let bytes = revision::encode_latest(&key, &latest)?;
        self.batch.put(key, bytes);
        Ok(())
    }

    fn count(&mut self, before: Option<&Stored>, now: &Stored) {
        self.head.counts.revisions += 1;
        if let Some(before) = before {
            *self.counter(before) -= 1;
        }
        *self.counter(now) += 1;
    }

    fn counter(&mut self, stored: &Stored) -> &mut u64 {
        let counts = &mut self.head.counts;
        match (stored.state, stored.record.kind()) {
            (State::Withdrawn, _) => &mut counts.withdrawn,
            (State::Current, Kind::Joint) => &mut counts.joints,
            (State::Current, Kind::Fastener) => &mut counts.fasteners,
        }
    }
}

fn unchanged(there: &Stored) -> Put {
    Put { revision: there.revision, changed: false, new: false, sequence: there.sequence }
}

fn check(id: &Id, expected: Expected, there: Option<&Stored>) -> Result<(), StoreError> {
    let met = match expected {
        Expected::Any => true,
        Expected::New => there.is_none(),
        Expected::Revision(revision) => there.is_some_and(|there| there.revision == revision),
    };
    let found = |there: &Stored| Found {
        revision: there.revision,
        changed_at: there.changed_at,
        changed_by: there.changed_by.clone(),
        withdrawn: there.state == State::Withdrawn,
    };
    if met { Ok(()) } else { Err(StoreError::Changed { id: id.clone(), found: there.map(found) }) }
}
