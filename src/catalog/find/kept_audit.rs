//! What the audit of a book that is only read came to, kept beside its store until something changes.
//!
//! The audit state of one record is that of the whole book, since series and comparable records are evidence. A command
//! that shows one record would have to audit all of them; so the first one after a change does, and leaves for the
//! next what it came to: how many findings each record has, and the worst. The findings themselves are not kept.

use crate::audit::{AuditSummary, Severity};
use crate::catalog::{Catalog, CatalogError, State, Stored};
use crate::record::Id;
use crate::store::this_program;
use std::collections::HashMap;

/// The name under which it is kept.
const NAME: &str = "audit";
/// Bytes of one record: the worst severity, how many findings, how many accepted.
const ENTRY: usize = 5;

/// What the audit came to, by slot.
#[derive(Debug)]
pub struct KeptAudit(Vec<u8>);

impl KeptAudit {
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

impl Catalog {
    /// What the audit came to for these records, if the book is only read and all of them are in force in it.
    pub(super) fn kept_summaries(&self, stored: &[&Stored]) -> Result<Option<Vec<AuditSummary>>, CatalogError> {
        if !self.store().is_for_reading() {
            return Ok(None);
        }
        let mut summaries = Vec::with_capacity(stored.len());
        for stored in stored {
            let slot = match stored.state {
                State::Current => self.store().slot_if_latest(stored.record.id(), stored.sequence)?,
                State::Withdrawn => None,
            };
            let Some(slot) = slot else { return Ok(None) };
            let summary = self.kept_audit()?.of_slot(slot);
            summaries.push(summary.unwrap_or_default());
        }
        Ok(Some(summaries))
    }

    fn kept_audit(&self) -> Result<&KeptAudit, CatalogError> {
        if let Some(kept) = self.inner.kept_audit.get() {
            return Ok(kept);
        }
        let program = this_program();
        let store = self.store();
        let size = usize::try_from(store.slots()).unwrap_or(usize::MAX).saturating_mul(ENTRY);
        let there = program.and_then(|program| store.kept(NAME, program)).filter(|there| there.len() == size);
        let kept = match there {
            Some(there) => KeptAudit(there),
            None => {
                let kept = self.audit_by_slot(size)?;
                if let Some(program) = program {
                    store.keep(NAME, program, &kept.0);
                }
                kept
            }
        };
        Ok(self.inner.kept_audit.get_or_init(|| kept))
    }

    fn audit_by_slot(&self, size: usize) -> Result<KeptAudit, CatalogError> {
        let mut found: HashMap<Id, AuditSummary> = HashMap::new();
        self.each_summary(|id, summary| {
            found.insert(id.clone(), summary);
        })?;
        let mut kept = KeptAudit(vec![0; size]);
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
