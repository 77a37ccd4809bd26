//! An engine that keeps everything in memory: for tests, and for books that are thrown away.

use super::engine::{Batch, Engine, EngineError, Pair};
use std::collections::BTreeMap;
use std::ops::Bound;
use std::sync::{PoisonError, RwLock};

/// An engine without files. Nothing survives the process, whatever `sync` says.
#[derive(Debug, Default)]
pub struct MemoryEngine {
    pairs: RwLock<BTreeMap<Vec<u8>, Vec<u8>>>,
}

impl Engine for MemoryEngine {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        Ok(self.pairs.read().unwrap_or_else(PoisonError::into_inner).get(key).cloned())
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        if from >= below {
            return Ok(Vec::new());
        }
        let pairs = self.pairs.read().unwrap_or_else(PoisonError::into_inner);
        let range = pairs.range::<[u8], _>((Bound::Included(from), Bound::Excluded(below)));
        Ok(range.take(limit).map(|(key, value)| (key.clone(), value.clone())).collect())
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        let mut pairs = self.pairs.write().unwrap_or_else(PoisonError::into_inner);
        if batch.requirement().is_some_and(|required| pairs.get(&required.key) != required.value.as_ref()) {
            return Err(EngineError::Overtaken);
        }
        for (key, value) in batch.changes() {
            match value {
                Some(value) => pairs.insert(key.to_vec(), value.to_vec()),
                None => pairs.remove(key),
            };
        }
        Ok(())
    }

    fn sync(&self) -> Result<(), EngineError> {
        Ok(())
    }
}
