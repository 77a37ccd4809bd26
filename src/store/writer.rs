//! The one writer: turns writes into one batch of revisions, changes and a new head.

use super::change::{self, Change, Expected, Put, Write};
use super::engine::{Batch, Requirement};
use super::error::{Found, StoreError};
use super::folder::Sync;
use super::head::{self, Head, digest_of};
use super::index::{self, Term, Touched};
use super::keys;
use super::revision::{self, Latest};
use super::{Store, StoreError as Error};
use crate::query::{State, Stored};
use crate::record::{Id, Kind, Record, Text};
use std::collections::{BTreeSet, HashMap};
use std::sync::atomic::Ordering;
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
        let mut writes = Some(writes);
        let again = self.engine.shared().is_some();
        self.in_one_batch(author, |pending| {
            let writes = if again { writes.clone() } else { writes.take() };
            writes.unwrap_or_default().into_iter().map(|write| pending.write(write)).collect()
        })
    }

    /// Begins a new epoch, so that whoever has seen changes that are gone notices. The changes that are there stay.
    ///
    /// # Errors
    /// If the engine can't; the old epoch goes on then.
    pub fn begin_epoch(&self) -> Result<String, Error> {
        let epoch = head::fresh_epoch();
        self.in_one_batch(&Author::unknown(), |pending| {
            pending.head.epoch.clone_from(&epoch);
            Ok(())
        })?;
        Ok(epoch)
    }

    /// Does some writing in one batch: all of it, or nothing if `work` fails. On an engine that others write to as well
    /// `work` is done again whenever they were faster.
    pub(super) fn in_one_batch<T>(
        &self,
        author: &Author,
        mut work: impl FnMut(&mut Pending<'_>) -> Result<T, Error>,
    ) -> Result<T, Error> {
        let _writing = self.writer.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(shared) = self.engine.shared() else {
            return match self.one_try(author, &mut work)? {
                Tried::Wrote(done) | Tried::Nothing(done) => Ok(done),
                Tried::Overtaken => Err(Error::Overtaken),
            };
        };
        for times in 0..TRIES {
            match self.one_try(author, &mut work) {
                Ok(Tried::Wrote(done)) => return Ok(done),
                Ok(Tried::Overtaken) => {
                    pause(times);
                    self.catch_up_in_writing(shared)?;
                }
                // What was decided without writing holds only if nobody has written meanwhile.
                Ok(Tried::Nothing(done)) => {
                    if !self.catch_up_in_writing(shared)? {
                        return Ok(done);
                    }
                }
                Err(error @ Error::Changed { .. }) => {
                    if !self.catch_up_in_writing(shared)? {
                        return Err(error);
                    }
                }
                Err(error) => return Err(error),
            }
        }
        Err(Error::Crowded { times: TRIES })
    }

    fn one_try<T>(
        &self,
        author: &Author,
        work: &mut impl FnMut(&mut Pending<'_>) -> Result<T, Error>,
    ) -> Result<Tried<T>, Error> {
        let before = self.head.load_full();
        let mut pending = Pending::new(self, &before, author);
        let done = work(&mut pending)?;
        let Pending { head, mut batch, index, .. } = pending;
        if head == *before {
            return Ok(Tried::Nothing(done));
        }
        let (blocks_before, written) = index.into_batch(&mut batch)?;
        batch.put(keys::HEAD.to_vec(), head.encode()?);
        batch.require(Requirement { key: keys::HEAD.to_vec(), value: Some(before.encode()?) });
        match self.commit(&batch, blocks_before) {
            Err(Error::Overtaken) => return Ok(Tried::Overtaken),
            committed => committed?,
        }
        let note = head.note();
        let prepared = self.known_sets.prepare(&written, |term| self.has_term(term));
        // From here to the end readers try again: it is short.
        self.commits.fetch_add(1, Ordering::SeqCst);
        self.known_sets.swap(&written, prepared);
        self.head.store(Arc::new(head));
        self.before.store(None);
        self.commits.fetch_add(1, Ordering::SeqCst);
        if let Some(folder) = &self.folder
            && self.durability == Sync::Always
        {
            folder.note(note)?;
        }
        Ok(Tried::Wrote(done))
    }

    /// Applies a batch, while readers go on at the head before it and at what the index held before. After a failure of an
    /// engine of one's own nobody can tell what it holds, so no more is written until the store is opened again, and
    /// readers stay there. An engine that others write to as well holds for its readers what it held before.
    fn commit(&self, batch: &Batch, before: index::Before) -> Result<(), Error> {
        if let Some(why) = self.stopped.get() {
            return Err(StoreError::Stopped { why: why.clone() });
        }
        if self.is_for_reading {
            return Err(StoreError::ForReading);
        }
        self.before.store(Some(Arc::new(before)));
        self.engine.apply(batch).map_err(|error| {
            let error = StoreError::from(error);
            if self.engine.shared().is_some() {
                self.before.store(None);
            } else {
                let _ = self.stopped.set(error.to_string());
            }
            error
        })
    }
}

/// How often a write is tried while others are faster.
const TRIES: u32 = 60;

/// What became of one try to write.
enum Tried<T> {
    /// It is stored.
    Wrote(T),
    /// There was nothing to store.
    Nothing(T),
    /// Somebody else has written meanwhile.
    Overtaken,
}

/// Lets others go first for a moment, the longer the more often they were faster, and never two of us equally long.
fn pause(times: u32) {
    let longest = 1 << times.min(6);
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
    let micros = u64::from(now.subsec_nanos()) % (longest * 500);
    std::thread::sleep(std::time::Duration::from_micros(micros));
}

/// Writes that have been taken and are not stored yet.
pub(super) struct Pending<'s> {
    store: &'s Store,
    author: &'s Author,
    now: jiff::Timestamp,
    pub(super) head: Head,
    pub(super) batch: Batch,
    index: Touched,
    /// What stands under the ids that were written here, and their slots.
    written: HashMap<Id, (Stored, u32)>,
}

impl<'s> Pending<'s> {
    fn new(store: &'s Store, before: &Head, author: &'s Author) -> Self {
        // A clock that was set back must not turn the history round.
        let now = jiff::Timestamp::now().max(before.changed_at);
        let now = jiff::Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now);
        let (batch, index, written) = Default::default();
        Self { store, author, now, head: before.clone(), batch, index, written }
    }

    fn write(&mut self, write: Write) -> Result<Put, StoreError> {
        let id = write.id().clone();
        let there = self.there(&id)?;
        match write {
            Write::Put { record, expected } => {
                check(&id, expected, there.as_ref().map(|(there, _)| there))?;
                if let Some((there, _)) = &there
                    && there.state == State::Current
                    && *there.record == *record
                {
                    return Ok(unchanged(there));
                }
                self.store_revision(Arc::new(*record), State::Current, None, there.as_ref())
            }
            Write::Withdraw { expected, why, .. } => {
                let Some(there) = there else { return Err(StoreError::Changed { id, found: None }) };
                check(&id, expected, Some(&there.0))?;
                if there.0.state == State::Withdrawn {
                    return Ok(unchanged(&there.0));
                }
                self.store_revision(there.0.record.clone(), State::Withdrawn, why, Some(&there))
            }
        }
    }

    fn store_revision(
        &mut self,
        record: Arc<Record>,
        state: State,
        why: Option<Text>,
        before: Option<&(Stored, u32)>,
    ) -> Result<Put, StoreError> {
        let stored = Stored {
            record,
            revision: before.map_or(1, |(before, _)| before.revision + 1),
            state,
            changed_at: self.now,
            changed_by: self.author.0.clone(),
            why,
            sequence: self.head.sequence + 1,
        };
        self.enter_revision(stored, before)
    }

    /// Writes a revision again as it was.
    pub(super) fn replay(&mut self, stored: Stored) -> Result<(), StoreError> {
        let before = self.there(stored.record.id())?;
        if stored.sequence <= self.head.sequence {
            return Err(StoreError::Internal(format!("change {} comes too late", stored.sequence)));
        }
        self.enter_revision(stored, before.as_ref()).map(|_| ())
    }

    /// What stands under an id now, with its slot.
    fn there(&self, id: &Id) -> Result<Option<(Stored, u32)>, StoreError> {
        match self.written.get(id) {
            Some(there) => Ok(Some(there.clone())),
            None => self.store.get_with_slot(id),
        }
    }

    fn enter_revision(&mut self, stored: Stored, before: Option<&(Stored, u32)>) -> Result<Put, StoreError> {
        let slot = before.map_or(self.head.next_slot, |(_, slot)| *slot);
        self.head.sequence = stored.sequence;
        self.head.changed_at = stored.changed_at;
        if before.is_none() {
            self.enter_slot(slot, stored.record.id())?;
        }
        self.enter(&stored, slot)?;
        let before_terms = before.map(|(before, _)| terms_in_force(before)).unwrap_or_default();
        self.index.change(self.store.engine.as_ref(), slot, &before_terms, &terms_in_force(&stored))?;
        self.count(before.map(|(before, _)| before), &stored);
        let put = Put { revision: stored.revision, changed: true, new: before.is_none(), sequence: stored.sequence };
        self.written.insert(stored.record.id().clone(), (stored, slot));
        Ok(put)
    }

    fn enter_slot(&mut self, slot: u32, id: &Id) -> Result<(), StoreError> {
        let next = slot.checked_add(1).ok_or_else(|| StoreError::Internal("too many records".to_owned()))?;
        self.head.next_slot = next;
        let key = keys::slot(slot);
        let bytes = revision::encode_slot(&key, id)?;
        self.batch.put(key, bytes);
        Ok(())
    }

    fn enter(&mut self, stored: &Stored, slot: u32) -> Result<(), StoreError> {
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
        let latest = Latest { revision: stored.revision, sequence: stored.sequence, withdrawn, slot };
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

/// The terms under which a record is found: none once it is withdrawn.
fn terms_in_force(stored: &Stored) -> BTreeSet<Term> {
    match stored.state {
        State::Current => index::terms_of(&stored.record),
        State::Withdrawn => BTreeSet::new(),
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
