//! The boundary that a key-value engine has to meet.

use super::shared::Shared;
use std::collections::BTreeMap;
use std::fmt;
use std::io;

/// A key and its value.
pub type Pair = (Vec<u8>, Vec<u8>);

/// An ordered key-value engine.
///
/// # Laws
/// 1. `get` after `apply` gives what the batch put, and nothing for what it removed.
/// 2. A batch is whole or absent, to every reader and after every way of dying; batches survive in the order in
///    which they were applied: if one is there, all before it are.
/// 3. `apply` changes nothing and answers [`EngineError::Overtaken`] if a requirement of the batch is not met; checking
///    and changing are one step.
/// 4. `scan` gives the pairs with `from <= key < below` in the order of their bytes, at most `limit` of them, and
///    fewer only if there are no more.
/// 5. When `sync` has returned, everything applied before it survives a loss of power. If the engine was opened to
///    sync always, this holds when `apply` has returned.
/// 6. After an error of `apply` or `sync` the batch is whole or absent; later reads go on working.
/// 7. Readers never wait for a batch.
///
/// There are no iterators, closures or transactions across the boundary, so that an engine may live in another process.
pub trait Engine: Send + Sync {
    /// The value of a key.
    ///
    /// # Errors
    /// If the engine can't read.
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError>;

    /// The pairs of a range in key order.
    ///
    /// # Errors
    /// If the engine can't read.
    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError>;

    /// Makes all changes of a batch, or none.
    ///
    /// # Errors
    /// If a requirement is not met, or the engine can't write.
    fn apply(&self, batch: &Batch) -> Result<(), EngineError>;

    /// The same with a batch that is needed no more, so that an engine can let go of what it has passed on.
    ///
    /// # Errors
    /// As [`Engine::apply`].
    fn apply_whole(&self, batch: Batch) -> Result<(), EngineError> {
        self.apply(&batch)
    }

    /// Makes everything applied so far survive a loss of power.
    ///
    /// # Errors
    /// If the engine can't.
    fn sync(&self) -> Result<(), EngineError>;

    /// The engine as one that other processes write to, if they do.
    fn shared(&self) -> Option<&dyn Shared> {
        None
    }
}

/// What must stand under a key for a batch to be applied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Requirement {
    /// The key.
    pub key: Vec<u8>,
    /// Its value, or nothing.
    pub value: Option<Vec<u8>>,
}

/// Changes that are made together.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Batch {
    changes: BTreeMap<Vec<u8>, Option<Vec<u8>>>,
    requirement: Option<Requirement>,
}

impl Batch {
    /// Puts a value under a key; the last word about a key counts.
    pub fn put(&mut self, key: Vec<u8>, value: Vec<u8>) {
        self.changes.insert(key, Some(value));
    }

    /// Puts or removes many at once, which in the order of the keys takes less than one by one.
    pub fn change_all(&mut self, changes: Vec<(Vec<u8>, Option<Vec<u8>>)>) {
        let mut changes = changes.into_iter().collect();
        if self.changes.is_empty() {
            self.changes = changes;
        } else {
            self.changes.append(&mut changes);
        }
    }

    /// Removes a key.
    pub fn remove(&mut self, key: Vec<u8>) {
        self.changes.insert(key, None);
    }

    /// Applies only if this stands there.
    pub fn require(&mut self, requirement: Requirement) {
        self.requirement = Some(requirement);
    }

    /// Applies whatever stands there.
    pub fn require_nothing(&mut self) {
        self.requirement = None;
    }

    /// The changes in key order: a value to put, or nothing to remove.
    pub fn changes(&self) -> impl Iterator<Item = (&[u8], Option<&[u8]>)> {
        self.changes.iter().map(|(key, value)| (key.as_slice(), value.as_deref()))
    }

    /// The same, each let go of when it was taken.
    pub fn into_changes(self) -> impl Iterator<Item = (Vec<u8>, Option<Vec<u8>>)> {
        self.changes.into_iter()
    }

    /// What must stand for the batch to be applied.
    #[must_use]
    pub fn requirement(&self) -> Option<&Requirement> {
        self.requirement.as_ref()
    }

    /// Whether it changes nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }
}

/// Why an engine could not do its work.
#[derive(Debug)]
pub enum EngineError {
    /// Somebody else has written meanwhile.
    Overtaken,
    /// The operating system said no.
    Io(io::Error),
    /// The engine found its own files damaged, or broke down over them.
    Damaged(String),
    /// The engine can't be reached or does not answer; nothing of the batch was stored.
    Away(String),
    /// The engine went away over the batch, and it can't be told whether it was stored.
    Untold(String),
    /// The engine was reached and does not let us: why, and what to do about it.
    Refused(String),
}

impl fmt::Display for EngineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Overtaken => f.write_str("somebody else has written meanwhile"),
            Self::Io(_) => f.write_str("the operating system refused"),
            Self::Damaged(what) => write!(f, "the files of the store are damaged ({what})"),
            Self::Away(why) => write!(f, "the engine can't be reached ({why})"),
            Self::Untold(why) => write!(f, "it can't be told whether the batch was stored ({why})"),
            Self::Refused(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for EngineError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Io(error) => Some(error),
            _ => None,
        }
    }
}
