//! The engine on sled: one tree, atomic batches, and a guard around what sled does badly.
//!
//! sled 0.34 flushes with `sync_file_range`, which a loss of power may undo, so every sync is followed by an
//! `fsync` of the data file. It panics when it opens some damaged files; the panic is caught and told.

use super::engine::{Batch, Engine, EngineError, Pair};
use super::folder::Sync as Durability;
use std::fs::File;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Mutex, PoisonError};

/// Bytes that sled may keep in memory.
const CACHE_BYTES: u64 = 256 << 20;

/// The engine on sled.
pub struct SledEngine {
    tree: sled::Tree,
    db: sled::Db,
    data_file: File,
    durability: Durability,
    /// Held while a requirement is checked and its batch applied.
    writing: Mutex<()>,
}

impl SledEngine {
    /// Opens or makes the engine's files in a folder of its own.
    ///
    /// # Errors
    /// If the files can't be opened or are damaged.
    pub fn open(path: &Path, durability: Durability) -> Result<Self, EngineError> {
        let config = sled::Config::new().path(path).cache_capacity(CACHE_BYTES);
        let db = quietly(|| config.open())?;
        let tree = quietly(|| db.open_tree("book"))?;
        let data_file = File::open(path.join("db")).map_err(EngineError::Io)?;
        Ok(Self { tree, db, data_file, durability, writing: Mutex::new(()) })
    }
}

impl std::fmt::Debug for SledEngine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SledEngine").field("durability", &self.durability).finish_non_exhaustive()
    }
}

/// Runs something of sled's; a panic comes back as an error, and is not printed.
fn quietly<T>(work: impl FnOnce() -> Result<T, sled::Error>) -> Result<T, EngineError> {
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(result) => result.map_err(engine_error),
        Err(panic) => Err(EngineError::Damaged(words_of_panic(panic.as_ref()))),
    }
}

fn words_of_panic(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("it gave no reason").to_owned()
}

fn engine_error(error: sled::Error) -> EngineError {
    match error {
        sled::Error::Io(error) => EngineError::Io(error),
        other => EngineError::Damaged(other.to_string()),
    }
}

impl Engine for SledEngine {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        quietly(|| self.tree.get(key)).map(|value| value.map(|value| value.to_vec()))
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        if from >= below {
            return Ok(Vec::new());
        }
        quietly(|| {
            let pairs = self.tree.range(from..below).take(limit);
            pairs.map(|pair| pair.map(|(key, value)| (key.to_vec(), value.to_vec()))).collect()
        })
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(required) = batch.requirement()
            && self.get(&required.key)? != required.value
        {
            return Err(EngineError::Overtaken);
        }
        let mut changes = sled::Batch::default();
        for (key, value) in batch.changes() {
            match value {
                Some(value) => changes.insert(key, value),
                None => changes.remove(key),
            }
        }
        quietly(|| self.tree.apply_batch(changes))?;
        match self.durability {
            Durability::Always => self.sync(),
            Durability::Batch => Ok(()),
        }
    }

    fn sync(&self) -> Result<(), EngineError> {
        quietly(|| self.db.flush())?;
        self.data_file.sync_all().map_err(EngineError::Io)
    }
}
