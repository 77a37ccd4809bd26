//! The store: bytes, revisions, the change sequence, and the only place that knows the key-value engine.
//!
//! [`Engine`] is the narrow boundary that an engine has to meet; [`Store`] builds revisions, the change feed and
//! the manifest on any engine that does. One writer at a time, readers never wait for it. Nothing outside this
//! module names an engine, a key or a byte of a stored value. The store judges no record and answers no query:
//! that is the catalog's work.

mod bits;
mod bundle;
mod bundles;
mod bytes;
mod change;
mod copy;
mod database;
mod directory;
mod engine;
mod error;
mod examine;
mod folder;
mod following;
mod head;
mod index;
mod kept;
mod keys;
mod known;
mod known_sets;
mod lasting;
mod layout;
mod lock;
mod memory;
mod pack;
mod pending;
mod place;
#[cfg(feature = "postgres")]
mod postgres;
mod read_value;
mod reading;
mod reading_copy;
mod rebuild;
mod replay;
mod revision;
mod salvage;
mod seal;
mod sets;
mod shared;
mod sled_engine;
mod sled_notes;
mod verify;
mod walk;
mod witness;
mod writer;

pub use bits::Bits;
pub use bundles::Bundles;
pub use change::{Change, Expected, Put, RevisionInfo, Write};
pub use database::{Preparation, Prepared};
pub use directory::{Column, Directory, Entry, Family, Members, Spot, Through, is_of_families};
pub use engine::{Batch, Engine, EngineError, Pair, Requirement};
pub use error::{Found, Holder, StoreError};
pub use examine::{Examination, Remedy};
pub use folder::{Opening, Sync};
pub use head::{Counts, Head};
pub use index::{Index, torque_value};
pub use kept::this_program;
pub use known_sets::Valued;
pub use memory::MemoryEngine;
pub use pack::{Ready, ReadyRecord, pack};
pub use place::{DatabaseUrl, Place};
#[cfg(feature = "postgres")]
pub use postgres::PostgresEngine;
pub use read_value::{read_bundle, read_value};
pub use reading::Glance;
pub use rebuild::RepairReport;
pub use replay::{Replay, Revision};
pub use shared::{Bell, News, Shared, Sharing, Source, Standing};
pub use sled_engine::SledEngine;
pub use verify::{Damage, Depth, Progress, VerifyReport};
pub use walk::Reading;
pub use writer::Author;

use crate::query::{State, Stored};
use crate::record::Id;
use arc_swap::{ArcSwap, ArcSwapOption};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;
use std::sync::{Arc, Mutex, OnceLock};

/// How many pairs are read at a time, if nothing else is said.
const AT_A_TIME: usize = 512;

/// A store of records on some engine.
pub struct Store {
    engine: Box<dyn Engine>,
    /// What the last finished write left; readers take it without waiting.
    head: ArcSwap<Head>,
    /// Held by the one who writes.
    writer: Mutex<()>,
    /// Counts the moments in which one state follows another: odd in such a moment.
    commits: AtomicU64,
    /// What the index held before the batch that is being written, or over which writing stopped.
    before: ArcSwapOption<index::Before>,
    /// Sets of the index that were read before.
    known_sets: known_sets::KnownSets,
    /// What was read before and never changes.
    known: known::Known,
    /// What is known of every record, where somebody serves the book.
    directory: ArcSwapOption<directory::Directory>,
    /// Why no more is written, if so.
    stopped: OnceLock<String>,
    durability: Sync,
    /// Whether somebody only wants to read.
    is_for_reading: bool,
    /// The last change when it was opened.
    opened_at: u64,
    /// The folder that it lies in, if it does.
    path: Option<PathBuf>,
    /// Dropped after the engine: as long as it lives no other process opens the folder.
    folder: Option<folder::Folder>,
}

/// Leaves a reading copy, if it is worth it; then the engine closes, and the folder seals its files.
impl Drop for Store {
    fn drop(&mut self) {
        if self.folder.is_some() {
            // In a store that syncs each write this is nothing; in one that does not, closing makes it last.
            let is_synced = self.stopped.get().is_none() && (self.durability == Sync::Always || self.sync().is_ok());
            if is_synced {
                self.leave_copy();
            }
        }
    }
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store").field("head", &self.head.load()).finish_non_exhaustive()
    }
}

impl Store {
    /// A store that lives as long as the process.
    ///
    /// # Errors
    /// None that is known of; it is built like every other.
    pub fn in_memory() -> Result<Self, StoreError> {
        Self::on(Box::new(MemoryEngine::default()), None)
    }

    /// Opens the store in a folder, or makes one there.
    ///
    /// Files that are not what they were when the store was closed are checked from end to end. What the engine
    /// does to damaged files in opening them is undone, so that nothing is lost by trying.
    ///
    /// # Errors
    /// What stands in the way: see [`StoreError`].
    pub fn open(path: &Path, opening: &Opening) -> Result<Self, StoreError> {
        let mut folder = folder::Folder::open(path, opening)?;
        let opened = folder.prepare().and_then(|sealed| Self::open_data(&folder, opening, sealed));
        match opened {
            Ok(mut store) => {
                folder.drop_copy()?;
                (store.folder, store.durability) = (Some(folder), opening.sync);
                store.path = Some(path.to_path_buf());
                Ok(store)
            }
            Err(error) => {
                folder.put_back();
                match error {
                    StoreError::Damaged { .. } if opening.damaged => {
                        let mut store = Self::open_salvaged(&folder)?;
                        store.folder = Some(folder);
                        Ok(store)
                    }
                    error => Err(error),
                }
            }
        }
    }

    fn open_data(folder: &folder::Folder, opening: &Opening, sealed: seal::Sealed) -> Result<Self, StoreError> {
        let engine = Bundles::in_files(&folder.data(), opening.sync)?;
        let engine = lasting::Lasting::of(Box::new(engine), folder.data())?;
        let store = Self::on(Box::new(engine), folder.known())?;
        if sealed == seal::Sealed::Broken {
            store.verify(Depth::Records, &mut |_| {})?.into_result()?;
        }
        if folder.known().is_none() {
            folder.note(store.head().note())?;
        }
        Ok(store)
    }

    /// A store on an engine that is already open.
    ///
    /// # Errors
    /// If what the engine holds is no store, or one of a newer format.
    pub fn on_engine(engine: Box<dyn Engine>) -> Result<Self, StoreError> {
        Self::on(engine, None)
    }

    fn on(engine: Box<dyn Engine>, known: Option<witness::Note>) -> Result<Self, StoreError> {
        let head = head::load_or_begin(engine.as_ref(), known)?;
        Ok(Self::with(engine, head))
    }

    fn with(engine: Box<dyn Engine>, head: Head) -> Self {
        Self {
            engine,
            known: known::Known::of_book(head.next_slot),
            opened_at: head.sequence,
            head: ArcSwap::from_pointee(head),
            writer: Mutex::new(()),
            commits: AtomicU64::new(0),
            before: ArcSwapOption::empty(),
            known_sets: known_sets::KnownSets::default(),
            directory: ArcSwapOption::empty(),
            stopped: OnceLock::new(),
            durability: Sync::Always,
            is_for_reading: false,
            path: None,
            folder: None,
        }
    }

    /// The state that the last finished write left.
    #[must_use]
    pub fn head(&self) -> Arc<Head> {
        self.head.load_full()
    }

    /// The last revision of a record, withdrawn or not.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn get(&self, id: &Id) -> Result<Option<Stored>, StoreError> {
        Ok(self.get_with_slot(id)?.map(|(stored, _)| stored))
    }

    /// The last revision of a record, with its slot.
    fn get_with_slot(&self, id: &Id) -> Result<Option<(Stored, u32)>, StoreError> {
        if let Some(directory) = &*self.directory.load() {
            return self.get_by(directory, id);
        }
        let sequence = self.head().sequence;
        let Some(latest) = self.latest(id)? else { return Ok(None) };
        let stored = if latest.sequence <= sequence {
            let revision =
                || self.revision(id, latest.revision)?.ok_or_else(|| StoreError::missing_revision(id, latest.revision));
            Some(self.known.revision(latest.slot, latest.revision, latest.sequence, revision)?)
        } else {
            // A write that is under way, or that failed.
            self.get_at(id, sequence)?
        };
        Ok(stored.map(|stored| (stored, latest.slot)))
    }

    /// One revision of a record.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn revision(&self, id: &Id, revision: u64) -> Result<Option<Stored>, StoreError> {
        self.revision_up_to(self.head().sequence, id, revision)
    }

    /// One revision of a record, if no later change made it.
    fn revision_up_to(&self, last: u64, id: &Id, revision: u64) -> Result<Option<Stored>, StoreError> {
        let Ok(number) = u32::try_from(revision) else { return Ok(None) };
        let key = keys::revision(id, number);
        let Some(bytes) = self.engine.get(&key)? else { return Ok(None) };
        let stored = revision::decode(&key, &bytes)?;
        Ok((stored.sequence <= last).then_some(stored))
    }

    /// The revision of a record that was the last one when the change `sequence` had been made.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn get_at(&self, id: &Id, sequence: u64) -> Result<Option<Stored>, StoreError> {
        self.get_up_to(sequence.min(self.head().sequence), id)
    }

    /// The same, also of changes that are not told yet.
    fn get_up_to(&self, last: u64, id: &Id) -> Result<Option<Stored>, StoreError> {
        let Some(latest) = self.latest(id)? else { return Ok(None) };
        for number in (1..=latest.revision).rev() {
            if let Some(stored) = self.revision_up_to(last, id, number)? {
                return Ok(Some(stored));
            }
        }
        Ok(None)
    }

    pub(crate) fn latest(&self, id: &Id) -> Result<Option<revision::Latest>, StoreError> {
        let key = keys::latest(id);
        match self.engine.get(&key)? {
            Some(bytes) => Ok(Some(revision::decode_latest(&key, &bytes)?)),
            None => Ok(None),
        }
    }

    /// What is known of every revision of a record, the oldest first.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn revisions(&self, id: &Id) -> Result<Vec<RevisionInfo>, StoreError> {
        let range = keys::revisions_of(id);
        let mut infos = Vec::new();
        self.each(range, |key, bytes| {
            infos.push(RevisionInfo::of(&revision::decode(key, bytes)?));
            Ok(true)
        })?;
        let last = self.head().sequence;
        infos.retain(|info| info.sequence <= last);
        Ok(infos)
    }

    /// The changes after `since`, in order, at most `limit`.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn changes(&self, since: u64, limit: usize) -> Result<Vec<Change>, StoreError> {
        self.changes_up_to(self.head().sequence, since, limit)
    }

    fn changes_up_to(&self, last: u64, since: u64, limit: usize) -> Result<Vec<Change>, StoreError> {
        let mut changes = Vec::new();
        if since >= last || limit == 0 {
            return Ok(changes);
        }
        self.each_few(keys::changes(since + 1, last), limit.min(AT_A_TIME), |key, bytes| {
            changes.push(change::decode(key, bytes)?);
            Ok(changes.len() < limit)
        })?;
        Ok(changes)
    }

    /// Makes sure that everything written so far survives a loss of power.
    ///
    /// # Errors
    /// If the engine can't.
    pub fn sync(&self) -> Result<(), StoreError> {
        let head = self.head();
        self.engine.sync()?;
        self.folder.as_ref().map_or(Ok(()), |folder| folder.note(head.note()))
    }

    /// Why no more is written, if so.
    #[must_use]
    pub fn stopped(&self) -> Option<&str> {
        self.stopped.get().map(String::as_str)
    }

    /// The bytes that stand under a key, for the tests of the stored forms.
    ///
    /// # Errors
    /// If the engine can't read.
    pub fn raw(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        Ok(self.engine.get(key)?)
    }

    /// Calls `visit` for every pair of a range in key order, until it says that it has enough.
    fn each(
        &self,
        range: std::ops::Range<Vec<u8>>,
        visit: impl FnMut(&[u8], &[u8]) -> Result<bool, StoreError>,
    ) -> Result<(), StoreError> {
        self.each_few(range, AT_A_TIME, visit)
    }

    /// The same, so many pairs read at a time.
    fn each_few(
        &self,
        range: std::ops::Range<Vec<u8>>,
        at_a_time: usize,
        mut visit: impl FnMut(&[u8], &[u8]) -> Result<bool, StoreError>,
    ) -> Result<(), StoreError> {
        let mut from = range.start;
        loop {
            let pairs = self.engine.scan(&from, &range.end, at_a_time)?;
            let Some((last, _)) = pairs.last() else { return Ok(()) };
            let full = pairs.len() == at_a_time;
            let next = [last.as_slice(), &[0]].concat();
            for (key, bytes) in &pairs {
                if !visit(key, bytes)? {
                    return Ok(());
                }
            }
            if !full {
                return Ok(());
            }
            from = next;
        }
    }

    /// Writes where this process answers into the lock file, so that others can say it or go there.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn announce(&self, address: &str) -> Result<(), StoreError> {
        self.folder.as_ref().map_or(Ok(()), |folder| folder.announce(address))
    }

    /// Whether the record is in force.
    #[must_use]
    pub fn is_current(stored: &Stored) -> bool {
        stored.state == State::Current
    }
}
