//! Copies of a book that another server keeps: they take in its changes, and know how far behind they may be.

use super::{Allowed, Catalog, CatalogError, Change, OpenOptions, Standing, StoreError, Stored};
use jiff::Timestamp;
use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// A change with the record as it made it; without where the revision is lost.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The change.
    pub change: Change,
    /// The revision.
    pub stored: Option<Stored>,
}

/// How a copy stands to its book.
#[derive(Debug, Default)]
pub struct Copied(Mutex<State>);

#[derive(Debug, Default)]
struct State {
    /// When the copy held everything that there was, at last.
    in_step_at: Option<Timestamp>,
    /// What keeps it from looking, if something does.
    why: Option<String>,
}

/// How far behind a copy is that has never been in step.
const FOR_EVER: Duration = Duration::from_secs(100 * 365 * 24 * 3600);

impl Copied {
    pub(super) fn standing(&self) -> Standing {
        let State { in_step_at, why } = &*self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let since = |at: Timestamp| Duration::try_from(Timestamp::now().duration_since(at)).unwrap_or_default();
        Standing { behind: in_step_at.map_or(FOR_EVER, since), away: why.clone(), parted: None }
    }
}

impl Catalog {
    /// Opens the copy of a book in a folder, or begins one there. `in_step_at` is when it was in step at last, if that is
    /// known from before.
    ///
    /// # Errors
    /// What stands in the way: see [`StoreError`].
    pub fn open_copy(
        path: &Path,
        options: &OpenOptions,
        allowed: Allowed,
        in_step_at: Option<Timestamp>,
    ) -> Result<Self, CatalogError> {
        let mut catalog = Self::open(path, &OpenOptions { create: true, ..options.clone() })?;
        let inner = std::sync::Arc::get_mut(&mut catalog.inner);
        let inner = inner.ok_or_else(|| StoreError::Internal("a book that was just opened is shared".to_owned()))?;
        inner.allowed = Some(allowed);
        inner.copied = Some(Copied(Mutex::new(State { in_step_at, why: None })));
        Ok(catalog)
    }

    /// Takes in changes of the book that this is a copy of, in their order.
    ///
    /// # Errors
    /// If they do not continue what is here, or the store can't write.
    pub fn take_in(&self, epoch: &str, revisions: Vec<Stored>) -> Result<(), CatalogError> {
        Ok(self.store().adopt(epoch, revisions)?)
    }

    /// Notes that everything was here that there was at this moment.
    pub fn is_in_step(&self, at: Timestamp) {
        self.note(|state| *state = State { in_step_at: Some(at), why: None });
    }

    /// Notes what keeps this copy from looking for changes. Whether that is news is told.
    pub fn is_cut_off(&self, why: &str) -> bool {
        let mut is_news = false;
        self.note(|state| {
            is_news = state.why.as_deref() != Some(why);
            state.why = Some(why.to_owned());
        });
        is_news
    }

    fn note(&self, note: impl FnOnce(&mut State)) {
        if let Some(Copied(state)) = &self.inner.copied {
            note(&mut state.lock().unwrap_or_else(PoisonError::into_inner));
        }
    }

    /// The changes after `since` with the records that they made, in order, at most `limit`.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn changes_with_records(&self, since: u64, limit: usize) -> Result<Vec<Recorded>, CatalogError> {
        let recorded = |change: Change| {
            let stored = self.store().revision(&change.id, change.revision)?;
            Ok(Recorded { change, stored })
        };
        self.store().changes(since, limit)?.into_iter().map(recorded).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalog::{Author, Write};
    use crate::record::Record;

    fn joint(id: &str) -> Record {
        Record::from_json(&serde_json::json!({ "kind": "joint", "id": id, "title": id })).unwrap()
    }

    #[test]
    fn a_copy_has_the_history_and_the_name_of_its_book_and_knows_how_old_it_is() {
        let book = Catalog::in_memory().unwrap();
        let author = Author::named("mo".parse().unwrap());
        for id in ["a.b", "a.c"] {
            book.apply(vec![Write::put(joint(id))], &author).unwrap();
        }
        let id = "a.b".parse().unwrap();
        book.withdraw(&id, crate::catalog::Expected::Any, Some("gone".parse().unwrap()), &author).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("copy");
        let open = |at| Catalog::open_copy(&path, &OpenOptions::default(), Allowed::default(), at).unwrap();
        let copy = open(None);
        assert!(copy.freshness().unwrap().is_too_old);
        let told = |since| {
            let all = book.changes_with_records(since, 2).unwrap();
            all.into_iter().filter_map(|recorded| recorded.stored).collect::<Vec<_>>()
        };
        copy.take_in(&book.epoch(), told(0)).unwrap();
        copy.take_in(&book.epoch(), told(2)).unwrap();
        copy.is_in_step(Timestamp::now());
        assert!(!copy.freshness().unwrap().is_late);
        assert!(copy.is_cut_off("no answer") && !copy.is_cut_off("no answer"));
        assert_eq!((copy.epoch(), copy.sequence()), (book.epoch(), 3));
        assert_eq!(copy.store().head().digest, book.store().head().digest);
        assert_eq!(copy.get(&id).unwrap(), book.get(&id).unwrap());
        assert!(copy.take_in("another", told(0)).is_err());
        assert!(copy.take_in(&book.epoch(), told(0)).is_err(), "what is there already is taken again");
        drop(copy);
        let again = open(Some(Timestamp::now() - Duration::from_secs(30)));
        let behind = again.freshness().unwrap();
        assert!(behind.is_late && !behind.is_too_old && behind.behind >= Duration::from_secs(30), "{behind:?}");
        assert_eq!(again.changes(0, 10).unwrap(), book.changes(0, 10).unwrap());
    }
}
