//! The audit of the book as it is: kept from one question to the next, and taken up to the last change by the first that
//! asks after it.

use super::super::{Catalog, CatalogError, Deadline};
use super::first_audit::audit_at;
use super::kept_audit::KeptBefore;
use super::lately::NotYet;
use super::promised::Promised;
use crate::audit::{LiveAudit, Pages, Standing};
use crate::query::{State, Stored};
use crate::record::{Id, Record};
use crate::store::Head;
use arc_swap::ArcSwapOption;
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
    /// The audit that is under way, from when it has gathered all evidence on: what it will say of a record can be told.
    pub(super) gathered: ArcSwapOption<AsOf>,
    pub(super) not_yet: ArcSwapOption<NotYet>,
    pub(super) kept: OnceLock<ArcSwapOption<KeptBefore>>,
    finished: Mutex<Option<Finished>>,
    pub(super) promised: Promised,
}

/// When an audit was finished, and the last change that it has looked at.
type Finished = (u64, Instant);

/// The audit of the book after one change.
#[derive(Debug, Clone)]
pub struct AsOf {
    pub(super) epoch: String,
    pub(super) sequence: u64,
    pub(super) audit: Arc<RwLock<LiveAudit>>,
}

impl AsOf {
    pub(super) fn of(epoch: String, sequence: u64, audit: LiveAudit) -> Self {
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

    /// The same for one who waits no longer than so while somebody changes it; nothing where that takes longer.
    pub(super) fn audit_by(&self, deadline: Deadline) -> Option<RwLockReadGuard<'_, LiveAudit>> {
        let tried = deadline.tried(|| unpoisoned(self.audit.try_read())).ok()?;
        Some(tried.unwrap_or_else(|| self.audit()))
    }

    pub(super) fn audit_to_change(&self) -> RwLockWriteGuard<'_, LiveAudit> {
        self.audit.write().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What a lock holds that is held for no longer than it takes to look.
pub(super) fn looked_at<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl BookAudit {
    pub(super) fn turn(&self) -> RwLockWriteGuard<'_, ()> {
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
    pub(super) fn begin(&self) {
        *looked_at(&self.begun) = Some(Instant::now());
    }

    /// Notes an audit that was just finished. When it was is kept apart, so that it can be told while the next one is made.
    pub(super) fn finished(&self, now: Arc<AsOf>) {
        *looked_at(&self.finished) = Some((now.sequence, Instant::now()));
        self.known.store(Some(now));
        self.gathered.store(None);
        self.kept.get().into_iter().for_each(|kept| kept.store(None));
    }
}

/// An audit that is taking in changes. If that breaks off, the audit is of no use any more and is let go.
struct Unfinished<'a>(&'a BookAudit);

impl Drop for Unfinished<'_> {
    fn drop(&mut self) {
        self.0.gathered.store(None);
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

/// The book as it was after one change, for an audit that reads records again.
pub struct AtChange<'c> {
    catalog: &'c Catalog,
    pub(super) sequence: u64,
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
    pub(super) fn with_audit<T>(
        &self,
        ask: impl FnOnce(&LiveAudit, &AtChange<'_>) -> Result<T, CatalogError>,
    ) -> Result<T, CatalogError> {
        self.with_audit_by(self.deadline, ask)
    }

    /// The same for one who waits no longer than so for an audit that another one makes.
    pub(super) fn with_audit_by<T>(
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

    pub(super) fn at_change(&self, sequence: u64) -> AtChange<'_> {
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
            let now = AsOf { epoch, sequence: sequence.max(known.sequence), audit: known.audit.clone() };
            self.inner.audit.gathered.store(Some(Arc::new(now.clone())));
            let judged = known.audit().judge(begun, &pages)?;
            known.audit_to_change().enter(judged);
            std::mem::forget(unfinished);
            return Ok(now);
        }
        // The one before, if there is one, is told meanwhile.
        Ok(AsOf::of(epoch, sequence, audit_at(self, sequence)?))
    }

    /// The last change that the last finished audit has looked at, and how long ago it was finished. Nobody waits for it.
    #[must_use]
    pub fn last_audit(&self) -> Option<(u64, Duration)> {
        looked_at(&self.inner.audit.finished).map(|(sequence, at)| (sequence, at.elapsed()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalog::{AuditScope, ImportOptions};

    /// One fastener in a joint of its own.
    fn line(name: &str, torque: u32) -> String {
        let [joint, id] = [format!("skua.gangway.{name}"), format!("skua.gangway.{name}.hex")];
        format!(
            "{{\"kind\":\"fastener\",\"id\":\"{id}\",\"joint\":\"{joint}\",\"thread\":\"M8\",\"stages\":[\"{torque} N·m\"]}}\n"
        )
    }

    #[test]
    fn an_audit_that_has_gathered_all_evidence_is_asked_about_records_before_it_is_finished() {
        let book = Catalog::in_memory().unwrap();
        let import = |lines: String| book.import(lines.as_bytes(), &ImportOptions::default()).unwrap();
        import(line("a", 20) + &line("b", 20));
        book.await_audit().unwrap();
        import(line("c", 2000) + &line("d", 20));
        let id: Id = "skua.gangway.c.hex".parse().unwrap();
        let scope = AuditScope::Ids(vec![id.clone()]);
        let stored = book.get(&id).unwrap().unwrap();
        let audit = &book.inner.audit;

        let turn = audit.turn();
        let known = audit.known.load_full().unwrap();
        let (head, pages) = (book.store().head(), book.at_change(book.sequence()));
        let changed = book.changed_since(known.sequence, head.sequence, 100).unwrap().unwrap();
        let changed = changed.into_iter().map(|(id, now)| (id, now.map(standing))).collect();
        let begun = known.audit_to_change().begin(changed, &pages).unwrap();
        let soon = || book.until(Deadline::at(Instant::now() + Duration::from_millis(20)));
        assert!(matches!(soon().audit(&scope), Err(CatalogError::OutOfTime)));
        let now = AsOf { sequence: head.sequence, ..(*known).clone() };
        audit.gathered.store(Some(Arc::new(now.clone())));
        let ahead = (soon().audit(&scope).unwrap(), soon().audit_summaries(&[&stored]).unwrap());
        // What is about more than records waits.
        assert!(matches!(soon().audit(&AuditScope::Whole), Err(CatalogError::OutOfTime)));
        let judged = known.audit().judge(begun, &pages).unwrap();
        known.audit_to_change().enter(judged);
        audit.finished(Arc::new(now));
        drop(turn);
        assert!(!ahead.0.is_empty() && book.audit_gathered(&head).is_none());
        assert_eq!(ahead, (book.audit(&scope).unwrap(), book.audit_summaries(&[&stored]).unwrap()));
    }

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
