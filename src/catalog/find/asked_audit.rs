//! What the audit of the book as it is, is asked.

use super::super::deadline::PAUSE;
use super::super::{AuditScope, Catalog, CatalogError, Deadline};
use super::live_audit::{AsOf, AtChange};
use crate::audit::{AuditSummary, Finding, LiveAudit, Wanted};
use crate::query::{State, Stored};
use crate::record::Id;
use crate::store::Head;
use std::collections::BTreeSet;
use std::sync::Arc;

/// An audit that is asked about records.
struct Asked<'a> {
    audit: &'a LiveAudit,
    pages: AtChange<'a>,
    /// Whether it is not finished yet.
    is_ahead: bool,
}

impl Asked<'_> {
    fn findings_of_ids(&self, ids: &BTreeSet<&Id>) -> Result<Vec<Finding>, CatalogError> {
        match self.is_ahead {
            true => self.audit.findings_ahead(ids, &self.pages),
            false => self.audit.findings_of_ids(ids, &self.pages),
        }
    }

    fn is_in_force(&self, stored: &Stored) -> bool {
        stored.state == State::Current && self.audit.has(stored.record.id(), stored.sequence)
    }

    /// What is found about a record as it stands here: one that is not in force, or not any more, is judged beside the book.
    fn findings(&self, stored: &Stored) -> Result<Vec<Finding>, CatalogError> {
        match self.is_in_force(stored) {
            true => self.findings_of_ids(&BTreeSet::from([stored.record.id()])),
            false => self.audit.findings_beside(&stored.record, &self.pages),
        }
    }

    /// The same in short.
    fn summary(&self, stored: &Stored) -> Result<AuditSummary, CatalogError> {
        let known = self.audit.summary_in_force(stored.record.id(), stored.sequence);
        match known.filter(|_| !self.is_ahead && self.is_in_force(stored)) {
            Some(summary) => Ok(summary),
            None => Ok(AuditSummary::of(&self.findings(stored)?)),
        }
    }
}

impl Catalog {
    /// Asks the audit of the book as it is about some records. While somebody takes in changes, it is asked as soon as all evidence
    /// is gathered, and says what it will say when it is finished.
    fn with_audit_of_records<T>(
        &self,
        deadline: Deadline,
        ask: impl Fn(&Asked<'_>) -> Result<T, CatalogError>,
    ) -> Result<T, CatalogError> {
        let head = self.store().head();
        while !self.inner.audit.is_free() {
            if let Some(gathered) = self.audit_gathered(&head) {
                let audit = gathered.audit();
                // It may have been finished, and the next one begun, before the lock was to be had.
                if self.audit_gathered(&head).is_some_and(|now| Arc::ptr_eq(&now, &gathered)) {
                    return ask(&Asked { audit: &audit, pages: self.at_change(gathered.sequence), is_ahead: true });
                }
            }
            deadline.check()?;
            std::thread::sleep(PAUSE);
        }
        self.with_audit_by(deadline, |audit, pages| {
            ask(&Asked { audit, pages: self.at_change(pages.sequence), is_ahead: false })
        })
    }

    /// The audit that is under way, if it looks at every change up to this state of the book, and can be asked about records.
    pub(super) fn audit_gathered(&self, head: &Head) -> Option<Arc<AsOf>> {
        self.inner.audit.gathered.load_full().filter(|gathered| gathered.is_of(head))
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
        self.with_audit_of_records(deadline, |asked| stored.iter().map(|stored| asked.summary(stored)).collect())
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
        self.with_audit_of_records(self.deadline, |asked| {
            let mut findings = Vec::new();
            for stored in stored {
                findings.extend(asked.findings(stored)?);
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
        let within =
            |path| self.with_audit_by(deadline, |audit, pages| audit.findings_within(path, Wanted::ALL, pages));
        match scope {
            AuditScope::Whole => within(None),
            AuditScope::Within(path) => within(Some(path)),
            AuditScope::Ids(ids) => {
                self.with_audit_of_records(deadline, |asked| asked.findings_of_ids(&ids.iter().collect()))
            }
        }
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
}
