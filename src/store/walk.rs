//! Walking over records in the order of their ids.

use super::error::StoreError;
use super::{Store, keys, revision};
use crate::query::Stored;

impl Store {
    /// Walks over the records whose id is `path` or lies below it, in the order of their ids, each in the revision that
    /// it had at `sequence`, withdrawn ones too, until `visit` says that it has enough.
    ///
    /// # Errors
    /// If the engine can't read, what it reads is damaged, or `visit` fails.
    pub fn walk(
        &self,
        path: Option<&str>,
        sequence: u64,
        mut visit: impl FnMut(Stored) -> Result<bool, StoreError>,
    ) -> Result<(), StoreError> {
        self.each(keys::latest_within(path), |key, bytes| {
            let latest = revision::decode_latest(key, bytes)?;
            let id = keys::id_of_latest(key)?;
            if path.is_some_and(|path| !id.is_within(path)) {
                return Ok(true);
            }
            let stored = if latest.sequence <= sequence {
                let found = || self.revision(&id, latest.revision);
                let revision = || found()?.ok_or_else(|| StoreError::missing_revision(&id, latest.revision));
                // What lies below a path is asked for again and again; the whole book passes by once.
                match path {
                    Some(_) => self.known.revision(latest.slot, latest.revision, latest.sequence, revision)?,
                    None => revision()?,
                }
            } else {
                match self.get_at(&id, sequence)? {
                    Some(stored) => stored,
                    None => return Ok(true),
                }
            };
            visit(stored)
        })
    }
}
