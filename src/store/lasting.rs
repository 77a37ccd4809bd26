//! Reading on after a write has failed, where the engine can't.
//!
//! A batch of sled's that fails in the middle of splitting a page (the disk is full) leaves a split that every reader
//! who comes by wants to finish by writing, and can't: then reading fails too. Everything that was reported stored is in
//! the files all the same. So it is read out of them, into memory, the first time that reading fails.

use super::engine::{Batch, Engine, EngineError, Pair};
use super::head::Head;
use super::keys;
use super::memory::MemoryEngine;
use super::replay::Replay;
use super::salvage::Salvage;
use super::{Store, StoreError};
use std::path::PathBuf;
use std::sync::{Mutex, OnceLock, PoisonError};

/// An engine on files, and what stands in for its reading once it is needed.
pub struct Lasting {
    engine: Box<dyn Engine>,
    data: PathBuf,
    /// The head as the last batch that went well has left it.
    head: Mutex<Option<Vec<u8>>>,
    /// Set by the first batch that failed.
    failed: OnceLock<()>,
    instead: OnceLock<Option<Store>>,
}

impl Lasting {
    /// Guards an engine whose files are in a folder.
    pub fn of(engine: Box<dyn Engine>, data: PathBuf) -> Result<Self, EngineError> {
        let head = Mutex::new(engine.get(keys::HEAD)?);
        Ok(Self { engine, data, head, failed: OnceLock::new(), instead: OnceLock::new() })
    }

    fn read<T>(&self, work: impl Fn(&dyn Engine) -> Result<T, EngineError>) -> Result<T, EngineError> {
        let error = match work(self.engine.as_ref()) {
            Err(error) if self.failed.get().is_some() => error,
            done => return done,
        };
        match self.instead.get_or_init(|| self.out_of_the_files().ok().flatten()) {
            Some(store) => work(store.engine.as_ref()),
            None => Err(error),
        }
    }

    /// Remembers what a batch came to that puts this head, if it puts one.
    fn note(&self, head: Option<Vec<u8>>, applied: Result<(), EngineError>) -> Result<(), EngineError> {
        match &applied {
            Ok(()) if head.is_some() => *self.head.lock().unwrap_or_else(PoisonError::into_inner) = head,
            Ok(()) | Err(EngineError::Overtaken) => {}
            Err(_) => drop(self.failed.set(())),
        }
        applied
    }

    /// The store as the last batch that went well has left it, in memory; nothing if not all of it is in the files.
    fn out_of_the_files(&self) -> Result<Option<Store>, StoreError> {
        let Some(bytes) = self.head.lock().unwrap_or_else(PoisonError::into_inner).clone() else { return Ok(None) };
        let head = Head::decode(&bytes)?;
        let salvage = Salvage::of(std::slice::from_ref(&self.data))?;
        if !salvage.is_complete(head.sequence) {
            return Ok(None);
        }
        let mut replay = Replay::into_engine(Box::new(MemoryEngine::default()), &head)?;
        for (sequence, revision) in salvage.history(head.sequence) {
            replay.take(sequence, revision)?;
        }
        replay.finish().map(Some)
    }
}

/// The head that a batch puts.
fn head_of(batch: &Batch) -> Option<Vec<u8>> {
    batch.changes().find(|(key, _)| *key == keys::HEAD).and_then(|(_, value)| value).map(<[u8]>::to_vec)
}

impl Engine for Lasting {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        self.read(|engine| engine.get(key))
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        self.read(|engine| engine.scan(from, below, limit))
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        self.note(head_of(batch), self.engine.apply(batch))
    }

    fn apply_whole(&self, batch: Batch) -> Result<(), EngineError> {
        self.note(head_of(&batch), self.engine.apply_whole(batch))
    }

    fn sync(&self) -> Result<(), EngineError> {
        self.engine.sync()
    }
}
