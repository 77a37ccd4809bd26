//! Writing a history again, as it was: for repair, restore, compaction, and for reading a damaged store.

use super::bundles::Bundles;
use super::change::{Change, LostV1};
#[cfg(feature = "postgres")]
use super::engine::Requirement;
use super::engine::{Batch, Engine};
use super::error::StoreError;
use super::folder::{Folder, Opening, Sync};
use super::head::{self, Head};
use super::keys;
use super::pending::Pending;
use super::verify::{Depth, Progress};
use super::{Author, Store};
use crate::query::Stored;
use crate::record::Id;
use std::path::Path;

/// How many revisions are written in one batch.
const AT_A_TIME: usize = 500;

/// A history on its way into an empty store.
pub struct Replay {
    store: Store,
    waiting: Vec<(u64, Result<Stored, LostV1>)>,
}

impl Replay {
    /// Begins with an engine that holds nothing, and a head that says whose history it will be.
    pub(super) fn into_engine(engine: Box<dyn Engine>, head: &Head) -> Result<Self, StoreError> {
        head::begin(engine.as_ref(), head.emptied())?;
        Ok(Self { store: Store::on_engine(engine)?, waiting: Vec::new() })
    }

    /// Takes the next change of the history: its revision, or what is known of a lost one.
    ///
    /// # Errors
    /// If the changes don't come in order, or the engine can't write.
    pub fn take(&mut self, sequence: u64, revision: Result<Stored, Option<Change>>) -> Result<(), StoreError> {
        self.waiting.push((sequence, revision.map_err(|lost| LostV1::of(lost.as_ref()))));
        if self.waiting.len() >= AT_A_TIME { self.write() } else { Ok(()) }
    }

    /// Writes what is waiting and gives the store.
    pub(super) fn finish(mut self) -> Result<Store, StoreError> {
        self.write()?;
        self.store.sync()?;
        Ok(self.store)
    }

    /// Writes a history into memory first, then all of it in one batch into an engine that holds no record.
    #[cfg(feature = "postgres")]
    pub(super) fn through_memory(
        engine: &dyn Engine,
        place: &str,
        tell: impl FnOnce(&mut Self) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        let there = engine.get(keys::HEAD)?;
        if there.is_some() && head::load(engine)?.sequence > 0 {
            return Err(StoreError::Occupied { path: place.into() });
        }
        let mut replay = Self::into_engine(Box::new(super::MemoryEngine::default()), &Head::begin())?;
        tell(&mut replay)?;
        let store = replay.finish()?;
        store.verify(Depth::Everything, &mut |_| {})?.into_result()?;
        let mut batch = Batch::default();
        store.each(vec![]..vec![0xff], |key, value| {
            batch.put(key.to_vec(), value.to_vec());
            Ok(true)
        })?;
        batch.require(Requirement { key: keys::HEAD.to_vec(), value: there });
        Ok(engine.apply(&batch)?)
    }

    fn write(&mut self) -> Result<(), StoreError> {
        let mut waiting = std::mem::take(&mut self.waiting);
        let author = Author::unknown();
        self.store.in_one_batch(&author, |pending: &mut Pending<'_>| {
            for (sequence, revision) in std::mem::take(&mut waiting) {
                match revision {
                    Ok(stored) => pending.replay(stored)?,
                    Err(lost) => pending.lose(sequence, &lost)?,
                }
            }
            Ok(())
        })
    }
}

impl Pending<'_> {
    /// Notes that a change was made whose revision is lost.
    fn lose(&mut self, sequence: u64, lost: &LostV1) -> Result<(), StoreError> {
        let key = keys::lost(sequence);
        let bytes = lost.encode(&key)?;
        let batch: &mut Batch = &mut self.batch;
        batch.put(key, bytes);
        self.head.sequence = self.head.sequence.max(sequence);
        Ok(())
    }
}

/// A revision, or what is known of a lost one.
pub type Revision = Result<Stored, Option<(Id, u64)>>;

impl Store {
    /// The revisions that some changes made, in their order; of lost ones the record and its revision, if they are known.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn history(&self, first: u64, last: u64) -> Result<Vec<(u64, Revision)>, StoreError> {
        let mut history = Vec::new();
        for change in self.changes(first - 1, usize::try_from(last + 1 - first).unwrap_or(usize::MAX))? {
            if change.sequence > last {
                break;
            }
            let stored = self.revision(&change.id, change.revision)?;
            let stored = stored.ok_or_else(|| StoreError::missing_revision(&change.id, change.revision))?;
            history.push((change.sequence, Ok(stored)));
        }
        for (sequence, lost) in
            self.lost_changes()?.into_iter().filter(|(sequence, _)| (first..=last).contains(sequence))
        {
            history.push((sequence, Err(lost)));
        }
        history.sort_by_key(|(sequence, _)| *sequence);
        Ok(history)
    }

    /// Makes a store in a folder that holds none, from a history that is told to it. It begins a new epoch.
    ///
    /// # Errors
    /// If there is a store already, if it can't be written, or what `tell` fails with; nothing is left then.
    pub fn build(
        path: &Path,
        opening: &Opening,
        tell: impl FnOnce(&mut Replay) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        let mut folder = Folder::open(path, &Opening { create: true, ..opening.clone() })?;
        if folder.known().is_some() {
            return Err(StoreError::Occupied { path: path.to_path_buf() });
        }
        let fresh = folder.fresh_data()?;
        let engine = Bundles::in_files(&fresh, Sync::Batch)?;
        let mut replay = Replay::into_engine(Box::new(engine), &Head::begin())?;
        tell(&mut replay)?;
        let store = replay.finish()?;
        store.verify(Depth::Everything, &mut |_| {})?.into_result()?;
        let note = store.head().note();
        drop(store);
        folder.take_data(&fresh, note)
    }

    /// Writes a store's files anew without what is no longer needed, and gives their size before and after.
    ///
    /// # Errors
    /// If the store can't be opened or written; the old files are there then.
    pub fn compact(
        path: &Path,
        opening: &Opening,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<(u64, u64), StoreError> {
        let mut old = Self::open(path, opening)?;
        let Some(folder) = &old.folder else { return Err(StoreError::Internal("a store without a folder".to_owned())) };
        let (fresh, before) = (folder.fresh_data()?, folder.bytes());
        let engine = Bundles::in_files(&fresh, Sync::Batch)?;
        let mut replay = Replay::into_engine(Box::new(engine), &old.head())?;
        let last = old.head().sequence;
        for first in (1..=last).step_by(AT_A_TIME) {
            for (sequence, revision) in old.history(first, (first + AT_A_TIME as u64 - 1).min(last))? {
                let lost = revision.map_err(|lost| lost.map(|(id, revision)| Change::lost(sequence, id, revision)));
                replay.take(sequence, lost)?;
                on_progress(Progress { step: "changes written", done: sequence, of: last });
            }
        }
        let new = replay.finish()?;
        new.verify(Depth::Everything, on_progress)?.into_result()?;
        if new.head().digest != old.head().digest {
            return Err(StoreError::Internal("the new files do not hold what the old ones do".to_owned()));
        }
        let note = new.head().note();
        drop(new);
        let folder = old.folder.take();
        // This closes the old files.
        drop(old);
        let mut folder = folder.ok_or_else(|| StoreError::Internal("a store without a folder".to_owned()))?;
        folder.take_data(&fresh, note)?;
        Ok((before, folder.bytes()))
    }
}
