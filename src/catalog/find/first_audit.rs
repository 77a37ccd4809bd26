//! The first audit of the book, which reads it in portions.

use super::super::{Catalog, CatalogError};
use super::live_audit::AsOf;
use super::promised::Keeping;
use crate::audit::{Cut, LiveAudit, Portions, Standing};
use crate::query::State;
use crate::store::Reading;
use std::sync::{Arc, Mutex, PoisonError};

/// At least so many records are read at a time, about 1.4 kB each.
const AT_A_TIME: usize = 1024;

/// The book as it was after one change, read in portions.
pub struct InPortions<R> {
    /// Goes on with a reading.
    pub go_on: R,
    /// The change.
    pub sequence: u64,
}

impl<E, R: Fn(&mut Reading, usize) -> Result<Vec<crate::query::Stored>, E>> Portions for InPortions<R> {
    type Error = E;

    fn each(&self, visit: &mut dyn FnMut(&[Standing])) -> Result<(), E> {
        let mut reading = Reading::at(self.sequence);
        let (mut cut, mut portion) = (Cut::default(), Vec::new());
        while !reading.is_at_end() {
            for stored in (self.go_on)(&mut reading, AT_A_TIME)? {
                if stored.state != State::Current {
                    continue;
                }
                if cut.is_before(&stored.record) && portion.len() >= AT_A_TIME {
                    visit(&portion);
                    portion.clear();
                }
                portion.push(Standing { record: stored.record, version: stored.sequence });
            }
        }
        visit(&portion);
        Ok(())
    }
}

/// A book that a thread reads now and then, until it is taken away.
#[derive(Debug)]
pub struct Lent(Mutex<Option<Catalog>>);

impl Lent {
    /// Lends a book.
    pub fn of(catalog: Catalog) -> Self {
        Self(Mutex::new(Some(catalog)))
    }

    /// Takes the book away; waits until what is being read has been read.
    pub fn take_away(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    /// Does something with the book, unless it was taken away.
    pub fn with<T>(&self, work: impl FnOnce(&Catalog) -> T) -> Option<T> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).as_ref().map(work)
    }
}

/// The audit of a book as it was after a change.
pub fn audit_at(catalog: &Catalog, sequence: u64) -> Result<LiveAudit, CatalogError> {
    let go_on = |reading: &mut Reading, count| catalog.store().go_on(reading, count);
    Ok(LiveAudit::read(&InPortions { go_on, sequence })?)
}

/// The same of a book that may be taken away; nothing if it was.
pub fn audit_of_lent(lent: &Lent, sequence: u64) -> Result<Option<LiveAudit>, CatalogError> {
    let go_on = |reading: &mut Reading, count| match lent.with(|catalog| catalog.store().go_on(reading, count)) {
        Some(records) => records.map_err(Some),
        None => Err(None),
    };
    match LiveAudit::read(&InPortions { go_on, sequence }) {
        Ok(audit) => Ok(Some(audit)),
        Err(None) => Ok(None),
        Err(Some(error)) => Err(error.into()),
    }
}

/// A first audit that a thread works on. When this is dropped the thread lets go of the book.
#[derive(Debug)]
pub struct AuditUnderWay(Arc<Lent>);

impl Drop for AuditUnderWay {
    fn drop(&mut self) {
        self.0.take_away();
    }
}

impl Catalog {
    /// Audits the book for the first time on a thread of its own. Who asks for an audit meanwhile waits for this one; all
    /// else is answered. The thread holds the book only while it reads a portion.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn audit_in_background(&self) -> Result<AuditUnderWay, CatalogError> {
        // Before anybody writes: it is good for the book as it was closed.
        let _ = self.inner.audit.kept_before(self.store());
        let lent = Arc::new(Lent::of(self.clone()));
        let (audit, book) = (self.inner.audit.clone(), lent.clone());
        let keeping = Keeping::the_promise(&audit);
        let work = move || {
            let (_keeping, _turn) = (keeping, audit.turn());
            audit.begin();
            if audit.known.load().is_some() {
                return book.take_away();
            }
            let Some(head) = book.with(|catalog| catalog.store().head()) else { return };
            let (epoch, sequence) = (head.epoch.clone(), head.sequence);
            match audit_of_lent(&book, sequence) {
                Ok(Some(found)) => {
                    audit.finished(Arc::new(AsOf::of(epoch, sequence, found)));
                }
                Ok(None) => {}
                // Whoever asks next meets the same fault and can be told.
                Err(error) => tracing::warn!(%error, "the book was not audited in the background"),
            }
            book.take_away();
        };
        let thread = std::thread::Builder::new().name("clampbook-audit".to_owned()).spawn(work);
        thread.map_err(|source| CatalogError::Stream { what: "starting a thread failed", source })?;
        Ok(AuditUnderWay(lent))
    }
}
