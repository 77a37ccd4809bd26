//! What a process holds of a shared book: every pair, as it was after some batch.

use crate::store::engine::{Batch, Engine, EngineError, Pair};
use crate::store::memory::MemoryEngine;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// The pairs after one batch.
#[derive(Debug)]
pub struct Mirror {
    pairs: MemoryEngine,
    at: Mutex<At>,
}

/// A batch: its number, and what tells it from another one of the same number.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct At {
    pub version: u64,
    /// Absent before the first batch.
    pub token: Vec<u8>,
}

impl Mirror {
    /// A mirror of everything that was there after a batch.
    pub fn of(pairs: MemoryEngine, at: At) -> Self {
        Self { pairs, at: Mutex::new(at) }
    }

    /// The batch after which it is.
    pub fn at(&self) -> At {
        self.lock().clone()
    }

    fn lock(&self) -> MutexGuard<'_, At> {
        self.at.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Goes on to a later batch; what is older than what is held is passed over.
    pub fn take_in(&self, batch: &Batch, to: At) {
        let mut at = self.lock();
        if to.version > at.version {
            let mut changes = batch.clone();
            changes.require_nothing();
            // Without a requirement it can't be refused.
            let _ = self.pairs.apply(&changes);
            *at = to;
        }
    }

    pub fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        self.pairs.get(key)
    }

    pub fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        self.pairs.scan(from, below, limit)
    }
}
