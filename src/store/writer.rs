//! The one writer: turns writes into one batch of revisions, changes and a new head.

use super::change::{Put, Write};
use super::engine::{Batch, Requirement};
use super::error::StoreError;
use super::folder::Sync;
use super::head;
use super::index;
use super::keys;
use super::pack::Ready;
use super::pending::{Finished, Pending};
use super::{Store, StoreError as Error};
use crate::record::Text;
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

    /// Stores what was made ready, all of it or nothing.
    ///
    /// # Errors
    /// As [`Store::apply`].
    pub fn apply_ready(&self, ready: Ready, author: &Author) -> Result<Vec<Put>, Error> {
        let mut ready = Some(Arc::new(ready));
        let again = self.engine.shared().is_some();
        self.in_one_batch(author, |pending| {
            let ready = if again { ready.clone() } else { ready.take() };
            pending.write_ready(ready.unwrap_or_default())
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
        if pending.head == *before {
            return Ok(Tried::Nothing(done));
        }
        let Finished { head, mut batch, index, records } = pending.finish()?;
        let (blocks_before, written) = index.into_batch(&mut batch)?;
        batch.put(keys::HEAD.to_vec(), head.encode()?);
        batch.require(Requirement { key: keys::HEAD.to_vec(), value: Some(before.encode()?) });
        // Nobody makes a directory while somebody writes.
        let records = self.directory.load().is_some().then_some(records);
        match self.commit(batch, blocks_before) {
            Err(Error::Overtaken) => return Ok(Tried::Overtaken),
            committed => committed?,
        }
        let note = head.note();
        let prepared = self.known_sets.prepare(&written, |term| self.has_term(term));
        let directory = records.and_then(|records| self.directory_after(records));
        // From here to the end readers try again: it is short.
        self.commits.fetch_add(1, Ordering::SeqCst);
        self.known_sets.swap(&written, prepared);
        self.directory.store(directory);
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
    fn commit(&self, batch: Batch, before: index::Before) -> Result<(), Error> {
        if let Some(why) = self.stopped.get() {
            return Err(StoreError::Stopped { why: why.clone() });
        }
        if self.is_for_reading {
            return Err(StoreError::ForReading);
        }
        if let Some(folder) = &self.folder {
            folder.raise_mark()?;
        }
        self.before.store(Some(Arc::new(before)));
        self.engine.apply_whole(batch).map_err(|error| {
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
