//! Opening a store to read it: from the reading copy where there is one, from the engine where there is none.

use super::engine::{Batch, Engine, EngineError, Pair};
use super::error::StoreError;
use super::folder::{self, Opening};
use super::reading_copy::ReadingCopy;
use super::witness::Witness;
use super::{Counts, Store, head};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

/// Up to this many revisions every closing leaves a reading copy: it takes some milliseconds.
const FEW_REVISIONS: u64 = 5_000;
/// Beyond that, one who has made so many changes that every such part of the book is one of them.
const PART_OF_THE_BOOK: u64 = 16;
/// From so many revisions on none is made: it would be some hundred megabytes.
const MANY_REVISIONS: u64 = 400_000;

/// What can be seen of a store without opening it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Glance {
    /// How many of everything there are, where a reading copy tells.
    pub counts: Option<Counts>,
    /// The number of the last change that was reported stored, where that is known.
    pub last_change: Option<u64>,
}

impl Store {
    /// Opens a store to read it. Nothing is locked and nothing written where its reading copy is there and whole.
    ///
    /// # Errors
    /// What stands in the way: see [`StoreError`].
    pub fn open_to_read(path: &Path, opening: &Opening) -> Result<Self, StoreError> {
        if !opening.damaged
            && let Some(store) = Self::open_copy(path, opening)?
        {
            return Ok(store);
        }
        let mut store = Self::open(path, opening)?;
        store.is_for_reading = true;
        Ok(store)
    }

    /// The folder that the store lies in, if it lies in one.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// What can be seen of a store without opening its engine: nothing is locked and nothing written.
    ///
    /// # Errors
    /// What would stand in the way of opening it, as far as that can be seen.
    pub fn glance(path: &Path) -> Result<Glance, StoreError> {
        folder::glance(path)?;
        let counts = Self::open_copy(path, &Opening::default())?.map(|store| store.head().counts);
        Ok(Glance { counts, last_change: Witness::peek(path).map(|note| note.sequence) })
    }

    /// The store as its reading copy has it; nothing if there is none that counts.
    fn open_copy(path: &Path, opening: &Opening) -> Result<Option<Self>, StoreError> {
        if !path.is_dir() || !folder::read_mark(path)? {
            return Ok(None);
        }
        let Some(copy) = ReadingCopy::open(path, &folder::data_below(path), Witness::peek(path)) else {
            return Ok(None);
        };
        let reader = Reader {
            copy,
            path: path.to_path_buf(),
            opening: Opening { create: false, ..opening.clone() },
            instead: OnceLock::new(),
        };
        let known = Some(reader.copy.note());
        let Ok(head) = head::load_or_begin(&reader, known) else { return Ok(None) };
        let mut store = Self::with(Box::new(reader), head);
        store.path = Some(path.to_path_buf());
        store.is_for_reading = true;
        Ok(Some(store))
    }

    /// Leaves a reading copy where the folder is closed next, if it is worth it. The engine is still open.
    pub(super) fn leave_copy(&mut self) {
        let head = self.head.load_full();
        let (revisions, changes) = (head.counts.revisions, head.sequence.saturating_sub(self.opened_at));
        let is_worth_it = self.is_for_reading || revisions <= FEW_REVISIONS || changes >= revisions / PART_OF_THE_BOOK;
        if self.stopped.get().is_some() || !is_worth_it || revisions > MANY_REVISIONS {
            return;
        }
        if let Some(folder) = &mut self.folder {
            folder.begin_copy(self.engine.as_ref(), head.note());
        }
    }

    /// Whether it was opened to read it.
    #[must_use]
    pub fn is_for_reading(&self) -> bool {
        self.is_for_reading
    }
}

/// Reads from the copy, and from the engine once the copy turned out to be damaged.
struct Reader {
    copy: ReadingCopy,
    path: PathBuf,
    opening: Opening,
    instead: OnceLock<Result<Store, Arc<StoreError>>>,
}

impl Reader {
    fn read<T>(&self, work: impl Fn(&dyn Engine) -> Result<T, EngineError>) -> Result<T, EngineError> {
        if self.instead.get().is_none()
            && let Ok(found) = work(&self.copy)
        {
            return Ok(found);
        }
        let opened = self.instead.get_or_init(|| self.open_engine().map_err(Arc::new));
        match opened {
            Ok(store) => work(store.engine.as_ref()),
            Err(error) => Err(EngineError::Io(std::io::Error::other(error.clone()))),
        }
    }

    fn open_engine(&self) -> Result<Store, StoreError> {
        let mut store = Store::open(&self.path, &self.opening)?;
        store.is_for_reading = true;
        if store.head().note() == self.copy.note() {
            return Ok(store);
        }
        let (what, how) = ("the reading copy of the store", "and the store was changed since; give the command again");
        Err(StoreError::Damaged { what: what.to_owned(), how: format!("a block is not what was written, {how}") })
    }
}

impl Engine for Reader {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        self.read(|engine| engine.get(key))
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        self.read(|engine| engine.scan(from, below, limit))
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        self.copy.apply(batch)
    }

    fn sync(&self) -> Result<(), EngineError> {
        Ok(())
    }
}
