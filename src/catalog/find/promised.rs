//! Who makes the next audit, and who waits for it.
//!
//! As a rule whoever wants to know what the audit says makes it, or waits for one who does. A service promises to audit what
//! is written: then nobody who only looks at records waits long for that. Little is audited by whoever asks, an audit that has
//! just begun is waited for; where it takes longer, what was not audited as it stands is told to be pending.

use super::super::deadline::PAUSE;
use super::super::{AuditScope, Catalog, CatalogError, Deadline};
use super::live_audit::{BookAudit, looked_at};
use crate::audit::{AuditSummary, Finding};
use crate::query::Stored;
use crate::store::Head;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How long one who only looks at records waits for an audit that was promised.
const PATIENCE: Duration = Duration::from_millis(500);
/// The same where it has more than a few changes to take in.
const LITTLE_PATIENCE: Duration = Duration::from_millis(50);
/// So many changes are audited by whoever asks.
const FEW: u64 = 500;

/// What is promised of the next audit.
#[derive(Debug, Default)]
pub struct Promised {
    /// By when what is written will be audited.
    by: Mutex<Option<Instant>>,
    /// How many keep the promise at this moment.
    keeping: AtomicUsize,
}

/// Somebody who makes an audit as promised, until this is dropped.
pub struct Keeping(Arc<BookAudit>);

impl Keeping {
    pub fn the_promise(audit: &Arc<BookAudit>) -> Self {
        audit.promised.keeping.fetch_add(1, Ordering::Relaxed);
        Self(audit.clone())
    }
}

impl Drop for Keeping {
    fn drop(&mut self) {
        self.0.promised.keeping.fetch_sub(1, Ordering::Relaxed);
    }
}

/// What the audit has come to about several records.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditSoFar {
    /// What it says about each in short; nothing where that is pending.
    pub summaries: Vec<Option<AuditSummary>>,
    /// The last change that had surely been audited, where the book has had more since.
    pub up_to: Option<u64>,
}

impl AuditSoFar {
    /// What the audit of the book as it is says.
    fn of_now(summaries: Vec<AuditSummary>) -> Self {
        Self { summaries: summaries.into_iter().map(Some).collect(), up_to: None }
    }
}

impl Catalog {
    /// Says by when what is written will be audited, whoever asks: until then nobody need do it who can do without.
    pub fn promise_audit(&self, by: Instant) {
        *looked_at(&self.inner.audit.promised.by) = Some(by);
    }

    /// Audits what was written, as promised: the promise holds until it is done.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn keep_audit_promise(&self) -> Result<(), CatalogError> {
        let _keeping = Keeping::the_promise(&self.inner.audit);
        self.await_audit()
    }

    /// Whether somebody has promised to audit what was written. Nobody promises the first audit who is not at it.
    fn is_audit_promised(&self) -> bool {
        let promised = &self.inner.audit.promised;
        let by = *looked_at(&promised.by);
        let is_in_time = by.is_some_and(|by| Instant::now() < by) && self.last_audit().is_some();
        is_in_time || promised.keeping.load(Ordering::Relaxed) > 0
    }

    /// Whether somebody audits now what was written, or has promised to.
    pub(super) fn is_audit_coming(&self) -> bool {
        self.is_audit_promised() || !self.inner.audit.is_free()
    }

    /// Whether something was written since the last audit.
    #[must_use]
    pub fn is_audit_behind(&self) -> bool {
        self.last_audit().is_some() && !self.is_audited()
    }

    /// What the audit of the book as it is says about several records; where that was promised and takes long, what the last
    /// one said about those that were not written since. To one who only reads, what was kept of the last one is told, if none of
    /// them was written since.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audit_so_far(&self, stored: &[&Stored]) -> Result<AuditSoFar, CatalogError> {
        if !self.waits || self.is_audit_promised() || self.store().is_for_reading() {
            return self.all_audited_lately(stored);
        }
        Ok(AuditSoFar::of_now(self.audit_summaries(stored)?))
    }

    /// What the last audit says about several records, where it is true of all of them; else what that of the book as it is
    /// says; and where that was promised and takes long, what is pending is told to be.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn all_audited_lately(&self, stored: &[&Stored]) -> Result<AuditSoFar, CatalogError> {
        if stored.is_empty() {
            return Ok(AuditSoFar::of_now(Vec::new()));
        }
        // Before they are asked about: what is pending is so after this change, whatever is audited meanwhile.
        let last = self.audited_up_to();
        let until = self.patient_until();
        let deadline = if !self.waits || self.is_audit_promised() { Deadline::at(until) } else { self.deadline };
        let lately = stored.iter().map(|stored| self.audited_lately_by(deadline, stored));
        let lately = lately.collect::<Result<Vec<_>, _>>()?;
        let is_pending = lately.iter().any(Option::is_none);
        if is_pending && let Some(summaries) = self.soon(until, true, |by| self.audit_summaries_by(by, stored))? {
            return Ok(AuditSoFar::of_now(summaries));
        }
        let told = lately.iter().flatten().filter_map(|lately| lately.up_to);
        let up_to = told.chain(is_pending.then_some(last)).min();
        Ok(AuditSoFar { summaries: lately.into_iter().map(|lately| Some(lately?.summary)).collect(), up_to })
    }

    /// What the audit says of everything at a path and below it, taken together; where that was promised and takes long, nothing,
    /// and the last change that had surely been audited.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audit_so_far_within(&self, path: &str) -> Result<(Option<AuditSummary>, Option<u64>), CatalogError> {
        let last = self.audited_up_to();
        let summary = self.soon(self.patient_until(), false, |by| self.audit_summary_within_by(by, path))?;
        Ok((summary, summary.is_none().then_some(last)))
    }

    /// What [`Catalog::audit`] finds; nothing where that was promised and takes long.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audit_soon(&self, scope: &AuditScope) -> Result<Option<Vec<Finding>>, CatalogError> {
        self.soon(self.patient_until(), matches!(scope, AuditScope::Ids(_)), |by| self.audit_by(by, scope))
    }

    /// What the audit of the book as it is says; nothing where one who was promised that audit would have to wait for it longer
    /// than they do. Who asks about records only is answered by one that is under way, too.
    fn soon<T>(
        &self,
        until: Instant,
        is_about_records: bool,
        ask: impl FnOnce(Deadline) -> Result<T, CatalogError>,
    ) -> Result<Option<T>, CatalogError> {
        if self.waits && !self.is_audit_promised() {
            return ask(self.deadline).map(Some);
        }
        let audit = &self.inner.audit;
        loop {
            let (is_known, head) = (audit.known.load().is_some(), self.store().head());
            let can_be_asked = match audit.is_free() {
                true => self.is_little_to_audit(&head),
                false => is_about_records && self.audit_gathered(&head).is_some(),
            };
            if can_be_asked {
                return match ask(Deadline::at(until)) {
                    Err(CatalogError::OutOfTime) => Ok(None),
                    told => told.map(Some),
                };
            }
            match audit.is_free() {
                true if is_known => return Ok(None),
                false if audit.under_way_for() > PATIENCE => return Ok(None),
                _ if Instant::now() >= until => return Ok(None),
                // The first audit is about to begin, or one has just begun.
                _ => std::thread::sleep(PAUSE),
            }
        }
    }

    /// Until when an audit that was promised is waited for.
    fn patient_until(&self) -> Instant {
        let (head, known) = (self.store().head(), self.inner.audit.known.load_full());
        let takes_long = known.is_some_and(|known| !known.is_nearly_of(&head, FEW));
        let patience = match self.waits {
            false => Duration::ZERO,
            true if takes_long => LITTLE_PATIENCE,
            true => PATIENCE,
        };
        Instant::now() + patience
    }

    fn is_little_to_audit(&self, head: &Head) -> bool {
        let known = self.inner.audit.known.load_full();
        let few = if self.waits { FEW } else { 0 };
        known.is_some_and(|known| known.is_nearly_of(head, few) && !known.is_worn())
    }

    /// The last change that had surely been audited, 0 if none was.
    fn audited_up_to(&self) -> u64 {
        let head = self.store().head();
        let known = self.inner.audit.known.load_full().filter(|known| known.epoch == head.epoch);
        let kept = || Some(self.kept_before().filter(|kept| kept.is_of_history(&head))?.sequence);
        known.map(|known| known.sequence).or_else(kept).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalog::ImportOptions;

    const FAR: Duration = Duration::from_secs(3600);

    /// Imports so many fasteners into a joint of their own, all of which have findings.
    fn import(book: &Catalog, joint: &str, count: u64) {
        let line = |number| {
            format!(
                "{{\"kind\":\"fastener\",\"id\":\"{joint}.f{number}\",\"joint\":\"{joint}\",\"thread\":\"M8\",\"stages\":[\"20 N·m\"]}}\n"
            )
        };
        let lines: String = (0..count).map(line).collect();
        book.import(lines.as_bytes(), &ImportOptions::default()).unwrap();
    }

    fn so_far(book: &Catalog, ids: [&str; 2]) -> AuditSoFar {
        let stored = ids.map(|id| book.get(&id.parse().unwrap()).unwrap().unwrap());
        book.audit_so_far(&stored.each_ref()).unwrap()
    }

    #[test]
    fn who_was_promised_an_audit_that_takes_long_is_told_what_is_pending() {
        let book = Catalog::in_memory().unwrap();
        import(&book, "a.b", 2);
        book.promise_audit(Instant::now() + FAR);
        // Nobody has promised the first one.
        let [Some(first), Some(_)] = so_far(&book, ["a.b.f0", "a.b.f1"]).summaries[..] else { panic!("it is pending") };
        assert!(first.count > 0);
        let audited = book.sequence();

        import(&book, "c.d", FEW + 1);
        let pending = so_far(&book, ["a.b.f0", "c.d.f0"]);
        assert_eq!(pending, AuditSoFar { summaries: vec![Some(first), None], up_to: Some(audited) });
        assert_eq!(book.audit_so_far_within("c.d").unwrap(), (None, Some(audited)));
        assert_eq!(book.audit_soon(&AuditScope::Whole).unwrap(), None);
        book.keep_audit_promise().unwrap();
        let kept = so_far(&book, ["a.b.f0", "c.d.f0"]);
        assert!(kept.up_to.is_none() && kept.summaries[1].is_some_and(|summary| summary.count > 0), "{kept:?}");
        assert!(book.audit_so_far_within("c.d").unwrap().0.is_some_and(|summary| summary.count > 500));

        // Little is audited by whoever asks.
        import(&book, "e.f", 1);
        assert_eq!(so_far(&book, ["e.f.f0", "a.b.f0"]).up_to, None);
        // So is much where nobody has promised anything.
        import(&book, "g.h", FEW + 1);
        book.promise_audit(Instant::now());
        let all = so_far(&book, ["g.h.f0", "a.b.f0"]);
        assert!(all.up_to.is_none() && all.summaries.iter().all(Option::is_some), "{all:?}");
    }

    #[test]
    fn an_audit_that_has_the_last_one_to_itself_is_waited_for_a_moment_only() {
        let book = Catalog::in_memory().unwrap();
        import(&book, "a.b", 2);
        book.await_audit().unwrap();
        let stored = book.get(&"a.b.f0".parse().unwrap()).unwrap().unwrap();
        let said = book.audited_lately(&stored).unwrap();
        let summary = said.expect("it is audited").summary;
        book.promise_audit(Instant::now() + FAR);
        let audit = &book.inner.audit;
        let (turn, known) = (audit.turn(), audit.known.load_full().unwrap());
        audit.begin();
        let changing = known.audit_to_change();
        // Who answers others meanwhile does not wait at all.
        assert_eq!(book.audited_lately(&stored).unwrap(), None);
        let began = Instant::now();
        let pending = book.without_waiting().all_audited_lately(&[&stored]).unwrap();
        assert!(began.elapsed() < PATIENCE);
        assert_eq!(pending, AuditSoFar { summaries: vec![None], up_to: Some(book.sequence()) });
        let began = Instant::now();
        let pending = book.all_audited_lately(&[&stored]).unwrap();
        assert!(began.elapsed() >= PATIENCE);
        assert_eq!(pending, AuditSoFar { summaries: vec![None], up_to: Some(book.sequence()) });
        // Nor does anybody wait for nothing.
        let told = std::thread::scope(|scope| {
            let asking = scope.spawn(|| book.all_audited_lately(&[&stored]).unwrap());
            std::thread::sleep(PATIENCE / 10);
            drop(changing);
            asking.join().unwrap()
        });
        assert_eq!(told, AuditSoFar { summaries: vec![Some(summary)], up_to: None });
        // Nor long for what will take longer.
        import(&book, "c.d", FEW + 1);
        let changing = known.audit_to_change();
        let began = Instant::now();
        let pending = book.all_audited_lately(&[&stored]).unwrap();
        assert!((LITTLE_PATIENCE..PATIENCE).contains(&began.elapsed()), "{:?}", began.elapsed());
        assert_eq!(pending, AuditSoFar { summaries: vec![None], up_to: Some(book.sequence() - FEW - 1) });
        drop((changing, turn));
    }

    #[test]
    fn the_first_audit_is_waited_for_a_moment_only() {
        let book = Catalog::in_memory().unwrap();
        import(&book, "a.b", 2);
        let keeping = Keeping::the_promise(&book.inner.audit);
        // It never begins.
        let began = Instant::now();
        let pending = so_far(&book, ["a.b.f0", "a.b.f1"]);
        assert_eq!(pending, AuditSoFar { summaries: vec![None, None], up_to: Some(0) });
        assert!(began.elapsed() >= PATIENCE);
        // It is finished.
        book.audit(&AuditScope::Whole).unwrap();
        assert_eq!(so_far(&book, ["a.b.f0", "a.b.f1"]).up_to, None);
        drop(keeping);
        assert!(!book.is_audit_promised());
    }
}
