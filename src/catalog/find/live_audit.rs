//! The audit of the book as it is: kept from one question to the next, and taken up to the last change by the first that
//! asks after it.

use super::super::{AuditScope, Catalog, CatalogError};
use crate::audit::{BookChange, Finding, LiveAudit, Severity};
use crate::query::{State, Stored};
use crate::record::Id;
use std::collections::BTreeSet;
use std::sync::{PoisonError, RwLock};

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

/// More changes than this share of the records are not followed one by one: the book is audited anew.
const MANY: usize = 8;
/// So many changes are always followed.
const FEW: usize = 500;

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
        let mut known = self.inner.audit.0.write().unwrap_or_else(PoisonError::into_inner);
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
            known.audit.change(changed);
            return Ok(AsOf { sequence: sequence.max(known.sequence), ..known });
        }
        let records = self.records_at(sequence)?;
        Ok(AsOf { epoch, sequence, audit: LiveAudit::of(records) })
    }

    /// What stands now under every id that has changed since; nothing if that is a large part of `count` records.
    fn changed_since(&self, since: u64, sequence: u64, count: usize) -> Result<Option<Vec<BookChange>>, CatalogError> {
        let most = FEW.max(count / MANY);
        if sequence.saturating_sub(since) > most as u64 {
            return Ok(None);
        }
        let changes = self.store().changes(since, most)?.into_iter().filter(|change| change.sequence <= sequence);
        let ids: BTreeSet<Id> = changes.map(|change| change.id).collect();
        let mut changed = Vec::with_capacity(ids.len());
        for id in ids {
            let now = self.store().get_at(&id, sequence)?.filter(|stored| stored.state == State::Current);
            changed.push((id, now.map(|now| now.record)));
        }
        Ok(Some(changed))
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

    /// Audits the book as far as it has changed since it was audited last, so that who asks next need not wait.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn take_up_audit(&self) -> Result<(), CatalogError> {
        self.with_audit(|_| ())
    }
}
