//! The audit of the book as it is: kept from one question to the next, and taken up to the last change by the first that
//! asks after it.

use super::super::{AuditScope, Catalog, CatalogError, Deadline};
use super::first_audit::{Lent, audit_at, audit_of_lent};
use super::kept_audit::KeptBefore;
use super::lately::NotYet;
use super::promised::{Keeping, Promised};
use crate::audit::{AuditSummary, Finding, LiveAudit, Pages, Standing, Wanted};
use crate::query::{State, Stored};
use crate::record::{Id, Record};
use crate::store::Head;
use arc_swap::ArcSwapOption;
use std::collections::BTreeSet;
use std::sync::{
    Arc, Mutex, MutexGuard, OnceLock, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard, TryLockError,
    TryLockResult,
};
use std::time::{Duration, Instant};

/// The audit of the book, if somebody has asked for it.
#[derive(Debug, Default)]
pub struct BookAudit {
    /// Who takes in changes has this alone, who asks what was found together with others who ask.
    turn: RwLock<()>,
    /// When somebody began last to take in changes.
    begun: Mutex<Option<Instant>>,
    pub(super) known: ArcSwapOption<AsOf>,
    pub(super) not_yet: ArcSwapOption<NotYet>,
    pub(super) kept: OnceLock<ArcSwapOption<KeptBefore>>,
    finished: Mutex<Option<Finished>>,
    pub(super) promised: Promised,
}

/// When an audit was finished, and the last change that it has looked at.
type Finished = (u64, Instant);

/// The audit of the book after one change.
#[derive(Debug)]
pub struct AsOf {
    pub(super) epoch: String,
    pub(super) sequence: u64,
    pub(super) audit: Arc<RwLock<LiveAudit>>,
}

impl AsOf {
    fn of(epoch: String, sequence: u64, audit: LiveAudit) -> Self {
        Self { epoch, sequence, audit: Arc::new(RwLock::new(audit)) }
    }

    /// Whether it has looked at every change up to this state of the book.
    pub(super) fn is_of(&self, head: &Head) -> bool {
        self.epoch == head.epoch && self.sequence >= head.sequence
    }

    /// Whether at most so many changes have come since.
    pub(super) fn is_nearly_of(&self, head: &Head, changes: u64) -> bool {
        self.epoch == head.epoch && self.sequence.saturating_add(changes) >= head.sequence
    }

    /// Whether it is known to be better made anew.
    pub(super) fn is_worn(&self) -> bool {
        unpoisoned(self.audit.try_read()).is_some_and(|audit| audit.is_worn())
    }

    pub(super) fn audit(&self) -> RwLockReadGuard<'_, LiveAudit> {
        self.audit.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn audit_to_change(&self) -> RwLockWriteGuard<'_, LiveAudit> {
        self.audit.write().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What a lock holds that is held for no longer than it takes to look.
pub(super) fn looked_at<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl BookAudit {
    fn turn(&self) -> RwLockWriteGuard<'_, ()> {
        self.turn.write().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether nobody takes in changes now.
    pub(super) fn is_free(&self) -> bool {
        unpoisoned(self.turn.try_read()).is_some()
    }

    /// How long ago somebody began last to take in changes.
    pub(super) fn under_way_for(&self) -> Duration {
        looked_at(&self.begun).map_or(Duration::ZERO, |begun| begun.elapsed())
    }

    /// Notes that one whose turn it is begins to take in changes.
    fn begin(&self) {
        *looked_at(&self.begun) = Some(Instant::now());
    }

    /// Notes an audit that was just finished. When it was is kept apart, so that it can be told while the next one is made.
    fn finished(&self, now: Arc<AsOf>) {
        *looked_at(&self.finished) = Some((now.sequence, Instant::now()));
        self.known.store(Some(now));
        self.kept.get().into_iter().for_each(|kept| kept.store(None));
    }
}

/// An audit that is taking in changes. If that breaks off, the audit is of no use any more and is let go.
struct Unfinished<'a>(&'a BookAudit);

impl Drop for Unfinished<'_> {
    fn drop(&mut self) {
        self.0.known.store(None);
    }
}

/// The guard of a lock that was to be had at once; nothing while somebody else holds it.
fn unpoisoned<G>(tried: TryLockResult<G>) -> Option<G> {
    match tried {
        Ok(guard) => Some(guard),
        Err(TryLockError::Poisoned(poisoned)) => Some(poisoned.into_inner()),
        Err(TryLockError::WouldBlock) => None,
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

/// The book as it was after one change, for an audit that reads records again.
struct AtChange<'c> {
    catalog: &'c Catalog,
    sequence: u64,
}

impl Pages for AtChange<'_> {
    type Error = CatalogError;

    fn record(&self, id: &Id) -> Result<Option<Arc<Record>>, CatalogError> {
        let stored = self.catalog.store().get_at(id, self.sequence)?;
        Ok(stored.filter(|stored| stored.state == State::Current).map(|stored| stored.record))
    }

    fn all(&self) -> Result<Vec<Arc<Record>>, CatalogError> {
        let records = self.catalog.records_at(self.sequence, &mut |_| true)?;
        Ok(records.into_iter().map(|stored| stored.record).collect())
    }
}

fn standing(stored: Stored) -> Standing {
    Standing { record: stored.record, version: stored.sequence }
}

impl Catalog {
    /// Asks the audit of the book as it is. What has changed since it was asked last is audited first; who asks meanwhile
    /// waits for that.
    fn with_audit<T>(
        &self,
        ask: impl FnOnce(&LiveAudit, &AtChange<'_>) -> Result<T, CatalogError>,
    ) -> Result<T, CatalogError> {
        self.with_audit_by(self.deadline, ask)
    }

    /// The same for one who waits no longer than so for an audit that another one makes.
    fn with_audit_by<T>(
        &self,
        deadline: Deadline,
        ask: impl FnOnce(&LiveAudit, &AtChange<'_>) -> Result<T, CatalogError>,
    ) -> Result<T, CatalogError> {
        let audit = &self.inner.audit;
        let head = self.store().head();
        // Who waits only for so long for an audit that another one makes tries again and again.
        let turn = match deadline.tried(|| unpoisoned(audit.turn.try_read()))? {
            Some(turn) => turn,
            None => audit.turn.read().unwrap_or_else(PoisonError::into_inner),
        };
        if let Some(known) = audit.known.load_full().filter(|known| known.is_of(&head)) {
            return ask(&known.audit(), &self.at_change(known.sequence));
        }
        drop(turn);
        let _turn = match deadline.tried(|| unpoisoned(audit.turn.try_write()))? {
            Some(turn) => turn,
            None => audit.turn(),
        };
        audit.begin();
        let now = Arc::new(self.audit_as_it_is()?);
        audit.finished(now.clone());
        ask(&now.audit(), &self.at_change(now.sequence))
    }

    fn at_change(&self, sequence: u64) -> AtChange<'_> {
        AtChange { catalog: self, sequence }
    }

    /// Whether the audit is up to date, so that whoever asks it now need not wait.
    #[must_use]
    pub fn is_audited(&self) -> bool {
        let head = self.store().head();
        let audit = &self.inner.audit;
        audit.is_free() && audit.known.load().as_ref().is_some_and(|known| known.is_of(&head))
    }

    /// Waits until the audit has taken in the last change.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn await_audit(&self) -> Result<(), CatalogError> {
        self.with_audit(|_, _| Ok(()))
    }

    /// The audit of the book after its last change, made by one whose turn it is.
    fn audit_as_it_is(&self) -> Result<AsOf, CatalogError> {
        let head = self.store().head();
        let (epoch, sequence) = (head.epoch.clone(), head.sequence);
        let known = self.inner.audit.known.load_full();
        let known = known.filter(|known| known.epoch == epoch && !known.audit().is_worn());
        let count = known.as_ref().map_or(0, |known| known.audit().count());
        if let Some(known) = known
            && let Some(changed) = self.changed_since(known.sequence, sequence, count)?
        {
            let changed = changed.into_iter().map(|(id, now)| (id, now.map(standing))).collect();
            let (unfinished, pages) = (Unfinished(&self.inner.audit), self.at_change(sequence));
            let begun = known.audit_to_change().begin(changed, &pages)?;
            let judged = known.audit().judge(begun, &pages)?;
            known.audit_to_change().enter(judged);
            std::mem::forget(unfinished);
            return Ok(AsOf { epoch, sequence: sequence.max(known.sequence), audit: known.audit.clone() });
        }
        // The one before, if there is one, is told meanwhile.
        Ok(AsOf::of(epoch, sequence, audit_at(self, sequence)?))
    }

    /// The last change that the last finished audit has looked at, and how long ago it was finished. Nobody waits for it.
    #[must_use]
    pub fn last_audit(&self) -> Option<(u64, Duration)> {
        looked_at(&self.inner.audit.finished).map(|(sequence, at)| (sequence, at.elapsed()))
    }

    /// What the audit of the whole book says about these records in short, in their order. What is not in force, or
    /// not any more, is judged as it stands beside the book.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn audit_summaries(&self, stored: &[&Stored]) -> Result<Vec<AuditSummary>, CatalogError> {
        self.audit_summaries_by(self.deadline, stored)
    }

    /// The same for one who waits no longer than so for an audit that another one makes.
    pub(super) fn audit_summaries_by(
        &self,
        deadline: Deadline,
        stored: &[&Stored],
    ) -> Result<Vec<AuditSummary>, CatalogError> {
        if stored.is_empty() {
            return Ok(Vec::new());
        }
        if let Some(summaries) = self.kept_summaries(stored)? {
            return Ok(summaries);
        }
        self.with_audit_by(deadline, |audit, pages| {
            let summary = |stored: &&Stored| {
                let in_force = match stored.state {
                    State::Current => audit.summary_in_force(stored.record.id(), stored.sequence),
                    State::Withdrawn => None,
                };
                in_force.map_or_else(|| Ok(AuditSummary::of(&audit.findings_beside(&stored.record, pages)?)), Ok)
            };
            stored.iter().map(summary).collect()
        })
    }

    /// What the audit says of everything at a path and below it, in short, for one who waits no longer than so for an audit that
    /// another one makes.
    pub(super) fn audit_summary_within_by(&self, deadline: Deadline, path: &str) -> Result<AuditSummary, CatalogError> {
        self.with_audit_by(deadline, |audit, _| Ok(audit.summary_within(path)))
    }

    /// The findings about these records as they stand here: what is not in force, or not any more, is judged beside the
    /// book.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn findings_about(&self, stored: &[&Stored]) -> Result<Vec<Finding>, CatalogError> {
        self.with_audit(|audit, pages| {
            let mut findings = Vec::new();
            for stored in stored {
                let id = stored.record.id();
                let is_in_force = audit.summary_in_force(id, stored.sequence).is_some();
                findings.extend(if stored.state == State::Current && is_in_force {
                    audit.findings_of_ids(&BTreeSet::from([id]), pages)?
                } else {
                    audit.findings_beside(&stored.record, pages)?
                });
            }
            Ok(findings)
        })
    }

    /// The findings of the records in scope, judged with the whole book as evidence.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audit(&self, scope: &AuditScope) -> Result<Vec<Finding>, CatalogError> {
        self.audit_by(self.deadline, scope)
    }

    /// The same for one who waits no longer than so for an audit that another one makes.
    pub(super) fn audit_by(&self, deadline: Deadline, scope: &AuditScope) -> Result<Vec<Finding>, CatalogError> {
        self.with_audit_by(deadline, |audit, pages| match scope {
            AuditScope::Whole => audit.findings_within(None, Wanted::ALL, pages),
            AuditScope::Within(path) => audit.findings_within(Some(path), Wanted::ALL, pages),
            AuditScope::Ids(ids) => audit.findings_of_ids(&ids.iter().collect(), pages),
        })
    }

    /// The findings about the book that are wanted, at a path and below it if one is named; nothing if there are
    /// more than `most` of them.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn some_findings(
        &self,
        within: Option<&str>,
        wanted: Wanted<'_>,
        most: usize,
    ) -> Result<Option<Vec<Finding>>, CatalogError> {
        self.with_audit(|audit, pages| {
            if audit.findings_are_more(within, wanted, most) {
                return Ok(None);
            }
            let findings = audit.findings_within(within, wanted, pages)?;
            Ok((findings.len() <= most).then_some(findings))
        })
    }

    /// Calls `tell` with the id of every record about which something was found, and what in short. Gives the change up to
    /// which the book was audited.
    pub(super) fn each_summary(&self, mut tell: impl FnMut(Id, AuditSummary)) -> Result<u64, CatalogError> {
        self.with_audit(|audit, pages| {
            audit.summaries().for_each(|(id, summary)| tell(id, summary));
            Ok(pages.sequence)
        })
    }

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_waits_for_an_audit_that_another_one_makes_waits_until_the_deadline_only() {
        let book = Catalog::in_memory().unwrap();
        let late = book.until(Deadline::at(Instant::now() + Duration::from_millis(20)));
        let under_way = book.inner.audit.turn();
        assert!(matches!(late.audit(&AuditScope::Whole), Err(CatalogError::OutOfTime)));
        drop(under_way);
        assert_eq!(late.audit(&AuditScope::Whole).unwrap(), []);
    }
}
