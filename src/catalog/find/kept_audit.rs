//! What the audit of a book came to, kept beside its store for whoever opens it next.
//!
//! The audit state of one record is that of the whole book, since series and comparable records are evidence. A command
//! that shows one record would have to audit all of them; so the first one after a change does, and leaves for the
//! next what it came to: how many findings each record has, and the worst. So does a service when it closes the book, who
//! imports most of a book, and who audits the whole of it. Whoever opens the book shows with them what has not been written
//! since: a service until its own first audit is finished, a command that reads as long as that is all that it shows.
//! The findings themselves are not kept.

use super::live_audit::BookAudit;
use crate::audit::{AuditSummary, Severity};
use crate::catalog::{Catalog, CatalogError, State, Stored};
use crate::store::{Head, Store, this_program};
use arc_swap::ArcSwapOption;
use std::collections::HashMap;
use std::sync::Arc;

/// The name under which it is kept.
const NAME: &str = "audit";
/// Bytes of one record: the worst severity, how many findings, how many accepted.
const ENTRY: usize = 5;

/// More changes than this are not audited only to be kept: they take a second or so.
const FEW: u64 = 10_000;

/// What the audit came to, by slot.
#[derive(Debug)]
pub struct KeptAudit(Vec<u8>);

/// What the audit came to that was there when the book was opened.
#[derive(Debug)]
pub struct KeptBefore {
    epoch: String,
    /// The last change that had been audited.
    pub(super) sequence: u64,
    by_slot: KeptAudit,
}

impl KeptBefore {
    /// Whether there has been no change since.
    pub(super) fn is_of(&self, head: &Head) -> bool {
        self.is_of_history(head) && self.sequence == head.sequence
    }

    /// Whether it is of the history that the book has now.
    pub(super) fn is_of_history(&self, head: &Head) -> bool {
        self.epoch == head.epoch
    }
}

impl KeptAudit {
    /// What this program has kept for a state of a store or one before it, and the last change of that.
    fn lately_of(store: &Store, head: &Head) -> Option<(u64, Self)> {
        let (sequence, there) = store.kept(NAME, this_program()?, head)?;
        (there.len() <= Self::bytes(store)).then_some((sequence, Self(there)))
    }

    /// The same, if it is of just that state.
    fn of(store: &Store, head: &Head) -> Option<Self> {
        let (sequence, kept) = Self::lately_of(store, head)?;
        (sequence == head.sequence && kept.0.len() == Self::bytes(store)).then_some(kept)
    }

    /// One of so many records without findings.
    fn empty(store: &Store) -> Self {
        Self(vec![0; Self::bytes(store)])
    }

    fn bytes(store: &Store) -> usize {
        usize::try_from(store.slots()).unwrap_or(usize::MAX).saturating_mul(ENTRY)
    }

    fn keep(&self, store: &Store, head: &Head) {
        if let Some(program) = this_program() {
            store.keep(NAME, program, head, &self.0);
        }
    }

    fn of_slot(&self, slot: u32) -> Option<AuditSummary> {
        let at = usize::try_from(slot).ok()? * ENTRY;
        let [worst, c1, c0, a1, a0] = *self.0.get(at..at + ENTRY)? else { return None };
        let worst = match worst {
            0 => None,
            1 => Some(Severity::Note),
            2 => Some(Severity::Warning),
            _ => Some(Severity::Error),
        };
        let number = |bytes: [u8; 2]| usize::from(u16::from_be_bytes(bytes));
        Some(AuditSummary { worst, count: number([c1, c0]), accepted: number([a1, a0]) })
    }

    fn enter(&mut self, slot: u32, summary: AuditSummary) {
        let at = usize::try_from(slot).unwrap_or(0) * ENTRY;
        let worst = match summary.worst {
            None => 0,
            Some(Severity::Note) => 1,
            Some(Severity::Warning) => 2,
            Some(Severity::Error) => 3,
        };
        let number = |count: usize| u16::try_from(count).unwrap_or(u16::MAX).to_be_bytes();
        let ([c1, c0], [a1, a0]) = (number(summary.count), number(summary.accepted));
        if let Some(place) = self.0.get_mut(at..at + ENTRY) {
            place.copy_from_slice(&[worst, c1, c0, a1, a0]);
        }
    }
}

impl BookAudit {
    /// What was kept of the audit when the book was opened, until it has been audited anew. It is looked for once.
    pub(super) fn kept_before(&self, store: &Store) -> Option<Arc<KeptBefore>> {
        let looked_for = || {
            let head = store.head();
            let epoch = head.epoch.clone();
            let kept = KeptAudit::lately_of(store, &head);
            let kept = kept.map(|(sequence, by_slot)| KeptBefore { epoch, sequence, by_slot });
            ArcSwapOption::new(kept.map(Arc::new))
        };
        self.kept.get_or_init(looked_for).load_full()
    }
}

impl Catalog {
    /// What the audit came to for these records, if that is kept for the book as it is and all of them are in force in it.
    pub(super) fn kept_summaries(&self, stored: &[&Stored]) -> Result<Option<Vec<AuditSummary>>, CatalogError> {
        let before = self.kept_before().filter(|before| before.is_of(&self.store().head()));
        let kept = match &before {
            Some(before) => &before.by_slot,
            None if self.store().is_for_reading() => self.kept_audit()?,
            None => return Ok(None),
        };
        let mut summaries = Vec::with_capacity(stored.len());
        for stored in stored {
            let slot = match stored.state {
                State::Current => self.store().slot_if_latest(stored.record.id(), stored.sequence)?,
                State::Withdrawn => None,
            };
            let Some(slot) = slot else { return Ok(None) };
            summaries.push(kept.of_slot(slot).unwrap_or_default());
        }
        Ok(Some(summaries))
    }

    /// What was kept of the audit when the book was opened, as long as it has not been audited anew.
    pub(super) fn kept_before(&self) -> Option<Arc<KeptBefore>> {
        let audit = &self.inner.audit;
        if audit.known.load().is_some() { None } else { audit.kept_before(self.store()) }
    }

    /// What was kept about a record in force that has not been written since.
    pub(super) fn kept_summary(
        &self,
        kept: &KeptBefore,
        stored: &Stored,
    ) -> Result<Option<AuditSummary>, CatalogError> {
        let slot = self.store().slot_if_latest(stored.record.id(), stored.sequence)?;
        Ok(slot.filter(|_| stored.sequence <= kept.sequence).and_then(|slot| kept.by_slot.of_slot(slot)))
    }

    fn kept_audit(&self) -> Result<&KeptAudit, CatalogError> {
        if let Some(kept) = self.inner.kept_audit.get() {
            return Ok(kept);
        }
        let head = self.store().head();
        let kept = match KeptAudit::of(self.store(), &head) {
            Some(kept) => kept,
            None => self.audit_to_keep(&head)?,
        };
        Ok(self.inner.kept_audit.get_or_init(|| kept))
    }

    /// Keeps what the audit came to for whoever opens the book next. Nothing is kept where the book has not been audited yet, or
    /// much has been written since.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn leave_audit(&self) -> Result<(), CatalogError> {
        let head = self.store().head();
        let known = self.inner.audit.known.load_full();
        let is_worth_it = known.is_some_and(|known| known.is_nearly_of(&head, FEW));
        if is_worth_it && self.folder().is_some() && KeptAudit::of(self.store(), &head).is_none() {
            self.audit_to_keep(&head)?;
        }
        Ok(())
    }

    /// Audits a book into which so many records were just written, if these are most of what was ever written in it, and keeps
    /// what that comes to for whoever opens it next.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audit_imported(&self, written: u64) -> Result<(), CatalogError> {
        if self.folder().is_none() || written == 0 || written < self.sequence() / 2 {
            return Ok(());
        }
        self.await_audit()?;
        self.leave_audit()
    }

    /// What the audit comes to, by slot. It is kept if nobody has written since `head`.
    fn audit_to_keep(&self, head: &Head) -> Result<KeptAudit, CatalogError> {
        let mut found = HashMap::new();
        let up_to = self.each_summary(|id, summary| {
            found.insert(id.to_string(), summary);
        })?;
        let kept = self.by_slot(&found)?;
        if up_to == head.sequence {
            kept.keep(self.store(), head);
        }
        Ok(kept)
    }

    /// Keeps what an audit of the book after a change came to, for whoever opens it next.
    pub(super) fn keep_found(&self, found: &HashMap<String, AuditSummary>, up_to: u64) -> Result<(), CatalogError> {
        let head = self.store().head();
        if self.folder().is_some() && up_to == head.sequence {
            self.by_slot(found)?.keep(self.store(), &head);
        }
        Ok(())
    }

    /// What was found about records, by slot.
    fn by_slot(&self, found: &HashMap<String, AuditSummary>) -> Result<KeptAudit, CatalogError> {
        let mut kept = KeptAudit::empty(self.store());
        self.store().walk_slots(&[], |id, slot| {
            // Withdrawn records have a slot and no findings.
            if let Some(summary) = std::str::from_utf8(id).ok().and_then(|id| found.get(id)) {
                kept.enter(slot, *summary);
            }
            Ok(true)
        })?;
        Ok(kept)
    }
}
