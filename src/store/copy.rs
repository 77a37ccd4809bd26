//! Stores that are copies of another one: they take on its history under its name, change by change.

use super::pending::Pending;
use super::{Author, Store, StoreError};
use crate::query::Stored;

impl Store {
    /// Takes in changes of the history that this is a copy of, in their order. A store in which nothing was ever stored takes
    /// on the name of that history with them.
    ///
    /// # Errors
    /// If this store has a history of another name, the changes do not continue it, or the engine can't write.
    pub fn adopt(&self, epoch: &str, revisions: Vec<Stored>) -> Result<(), StoreError> {
        if self.head().sequence > 0 && self.head().epoch != epoch {
            return Err(StoreError::Internal("a store with a history of its own becomes no copy".to_owned()));
        }
        let mut waiting = Some(revisions);
        self.in_one_batch(&Author::unknown(), |pending: &mut Pending<'_>| {
            epoch.clone_into(&mut pending.head.epoch);
            waiting.take().unwrap_or_default().into_iter().try_for_each(|stored| pending.replay(stored))
        })
    }
}
