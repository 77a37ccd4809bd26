//! The audit of the book as it is: kept from one question to the next, and taken up to the last change by the first that
//! asks after it.

use super::super::{AuditScope, Catalog, CatalogError};
use crate::audit::{Finding, LiveAudit, Severity};
use crate::query::Stored;
use crate::record::Id;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, PoisonError, RwLock, RwLockWriteGuard};

/// The audit of the book, if somebody has asked for it.
#[derive(Debug, Default)]
pub struct BookAudit(RwLock<Option<AsOf>>);

/// The audit of the book after one change.
#[derive(Debug)]
struct AsOf {
    epoch: String,
    sequence: u64,
    audit: LiveAudit,
}

impl BookAudit {
    fn write(&self) -> RwLockWriteGuard<'_, Option<AsOf>> {
        self.0.write().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A first audit that a thread works on. When this is dropped the thread lets go of the book.
#[derive(Debug)]
pub struct AuditUnderWay {
    is_unwanted: Arc<AtomicBool>,
    has_let_go: Receiver<()>,
}

impl Drop for AuditUnderWay {
    fn drop(&mut self) {
        self.is_unwanted.store(true, Ordering::Relaxed);
        // Nothing is ever sent: the other end is dropped with the book.
        let _ = self.has_let_go.recv();
    }
}

/// What the audit says about a record in short.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AuditSummary {
    /// The severity of the worst finding, accepted ones left out.
    pub worst: Option<Severity>,
    /// How many findings there are, accepted ones left out.
    pub count: usize,
    /// How many were accepted.
    pub accepted: usize,
}

impl AuditSummary {
    /// What findings come to: of one record, or of several.
    pub fn of<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Self {
        let mut summary = Self::default();
        for finding in findings {
            if finding.accepted.is_some() {
                summary.accepted += 1;
            } else {
                summary.count += 1;
                summary.worst = summary.worst.max(Some(finding.severity));
            }
        }
        summary
    }
}

impl Catalog {
    /// Asks the audit of the book as it is. What has changed since it was asked last is audited first; who asks meanwhile
    /// waits for that.
    pub(in crate::catalog) fn with_audit<T>(&self, ask: impl FnOnce(&LiveAudit) -> T) -> Result<T, CatalogError> {
        let head = self.store().head();
        let known = self.inner.audit.0.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = &*known
            && known.epoch == head.epoch
            && known.sequence >= head.sequence
        {
            return Ok(ask(&known.audit));
        }
        drop(known);
        let mut known = self.inner.audit.write();
        let before = known.take();
        let now = known.insert(self.audit_as_it_is(before)?);
        Ok(ask(&now.audit))
    }

    /// The audit of the book after its last change.
    fn audit_as_it_is(&self, known: Option<AsOf>) -> Result<AsOf, CatalogError> {
        let head = self.store().head();
        let (epoch, sequence) = (head.epoch.clone(), head.sequence);
        if let Some(mut known) = known
            && known.epoch == epoch
            && !known.audit.is_worn()
            && let Some(changed) = self.changed_since(known.sequence, sequence, known.audit.count())?
        {
            known.audit.change(changed.into_iter().map(|(id, now)| (id, now.map(|now| now.record))).collect());
            return Ok(AsOf { sequence: sequence.max(known.sequence), ..known });
        }
        let records = self.records_at(sequence, &mut |_| true)?;
        Ok(AsOf { epoch, sequence, audit: LiveAudit::of(records) })
    }

    /// Puts the records that the audit holds in the place of equal ones, so that memory has them once.
    pub(super) fn share_with_audit(&self, stored: &mut [Stored]) {
        // An audit that is under way holds none yet.
        let Ok(known) = self.inner.audit.0.try_read() else { return };
        let Some(AsOf { audit, .. }) = &*known else { return };
        for stored in stored {
            if let Some(record) = audit.record(stored.record.id().as_str()).filter(|record| **record == stored.record) {
                stored.record = record.clone();
            }
        }
    }

    /// What the audit of the whole book says about these records in short, in their order. What is not in force, or
    /// not any more, is judged as it stands beside the book.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn audit_summaries(&self, stored: &[&Stored]) -> Result<Vec<AuditSummary>, CatalogError> {
        if stored.is_empty() {
            return Ok(Vec::new());
        }
        if let Some(summaries) = self.kept_summaries(stored)? {
            return Ok(summaries);
        }
        self.with_audit(|audit| {
            let summary = |stored: &&Stored| match audit.findings_in_force(&stored.record) {
                Some(findings) => AuditSummary::of(findings),
                None => AuditSummary::of(&audit.findings_beside(stored.record.clone())),
            };
            stored.iter().map(summary).collect()
        })
    }

    /// The findings of the records in scope, judged with the whole book as evidence.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audit(&self, scope: &AuditScope) -> Result<Vec<Finding>, CatalogError> {
        self.with_audit(|audit| match scope {
            AuditScope::Whole => audit.findings().cloned().collect(),
            AuditScope::Within(path) => audit.findings_within(path).cloned().collect(),
            AuditScope::Ids(ids) => {
                let ids: BTreeSet<&Id> = ids.iter().collect();
                ids.into_iter().flat_map(|id| audit.findings_of(id.as_str())).cloned().collect()
            }
        })
    }

    /// Audits the book for the first time on a thread of its own. Who asks for an audit meanwhile waits for this one; all
    /// else is answered. The thread holds the book only as long as it reads.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn audit_in_background(&self) -> Result<AuditUnderWay, CatalogError> {
        let is_unwanted = Arc::new(AtomicBool::new(false));
        let (book_is_held, has_let_go) = channel();
        let (catalog, audit, stop) = (self.clone(), self.inner.audit.clone(), is_unwanted.clone());
        let work = move || {
            let mut known = audit.write();
            if known.is_some() {
                return;
            }
            let head = catalog.store().head();
            let (epoch, sequence) = (head.epoch.clone(), head.sequence);
            let records = catalog.records_at(sequence, &mut |_| !stop.load(Ordering::Relaxed));
            drop((catalog, head, book_is_held));
            match records {
                Ok(records) if !stop.load(Ordering::Relaxed) => {
                    *known = Some(AsOf { epoch, sequence, audit: LiveAudit::of(records) });
                }
                Ok(_) => {}
                // Whoever asks next meets the same fault and can be told.
                Err(error) => tracing::warn!(%error, "the book was not audited in the background"),
            }
        };
        let thread = std::thread::Builder::new().name("clampbook-audit".to_owned()).spawn(work);
        thread.map_err(|source| CatalogError::Stream { what: "starting a thread failed", source })?;
        Ok(AuditUnderWay { is_unwanted, has_let_go })
    }
}
