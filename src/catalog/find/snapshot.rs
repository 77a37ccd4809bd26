//! The whole book in memory: for the audit, and for questions that the index can't answer.

use super::super::{Catalog, CatalogError};
use crate::audit::{Audit, Book, Finding, Severity};
use crate::query::{State, Stored, Vocabulary, words_of};
use crate::record::Id;
use std::cell::OnceCell;
use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

/// Every record in force, by id, as it was at one change.
#[derive(Debug)]
pub struct Snapshot {
    sequence: u64,
    records: Vec<Stored>,
    vocabulary: OnceLock<Vocabulary>,
    audit: OnceLock<Audited>,
}

/// What the audit of the whole book found, and what that comes to for each record.
#[derive(Debug)]
struct Audited {
    findings: Vec<Finding>,
    summaries: HashMap<Id, AuditSummary>,
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

impl Snapshot {
    /// The records by id.
    pub fn records(&self) -> &[Stored] {
        &self.records
    }

    /// Every finding of the book, worked out once for the life of the snapshot.
    pub fn findings(&self) -> &[Finding] {
        &self.audited().findings
    }

    fn audited(&self) -> &Audited {
        self.audit.get_or_init(|| {
            let book = Book::new(self.records.iter().map(|stored| &*stored.record));
            let findings = Audit::of(&book).findings();
            let mut by_record: HashMap<&str, Vec<&Finding>> = HashMap::new();
            for finding in &findings {
                by_record.entry(&finding.record).or_default().push(finding);
            }
            let summed = |(id, findings): (&str, Vec<&Finding>)| Some((id.parse().ok()?, AuditSummary::of(findings)));
            let summaries = by_record.into_iter().filter_map(summed).collect();
            Audited { findings, summaries }
        })
    }

    /// What the audit came to for a record in force, if the whole book has been audited.
    pub(super) fn summary_of(&self, stored: &Stored) -> Option<AuditSummary> {
        let audited = self.audit.get()?;
        let id = stored.record.id();
        let at = self.records.binary_search_by(|other| other.record.id().cmp(id)).ok()?;
        let is_in_force = self.records[at].sequence == stored.sequence;
        is_in_force.then(|| audited.summaries.get(id).copied().unwrap_or_default())
    }

    /// Audits the whole book, if that has not been done.
    pub(super) fn audit_all(&self) {
        self.audited();
    }

    /// The words of the records; made when they are first asked for.
    pub(super) fn vocabulary(&self) -> &Vocabulary {
        self.vocabulary.get_or_init(|| self.records.iter().flat_map(|stored| words_of(&stored.record)).collect())
    }
}

impl Catalog {
    /// The records in force after the last change.
    pub(in crate::catalog) fn snapshot(&self) -> Result<Arc<Snapshot>, CatalogError> {
        let sequence = self.sequence();
        if let Some(snapshot) = self.inner.snapshot.load_full()
            && snapshot.sequence == sequence
        {
            return Ok(snapshot);
        }
        let snapshot = Arc::new(self.snapshot_at(sequence)?);
        self.inner.snapshot.store(Some(snapshot.clone()));
        Ok(snapshot)
    }

    /// What the audit of the whole book says about these records in short, in their order. What is not in force, or
    /// not any more, is judged as it stands beside the book.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn audit_summaries(&self, stored: &[&Stored]) -> Result<Vec<AuditSummary>, CatalogError> {
        if let Some(summaries) = self.kept_summaries(stored)? {
            return Ok(summaries);
        }
        if stored.is_empty() {
            return Ok(Vec::new());
        }
        let snapshot = self.snapshot()?;
        let book = OnceCell::new();
        let judged = |stored: &Stored| {
            let book = book.get_or_init(|| Book::new(snapshot.records.iter().map(|stored| &*stored.record)));
            AuditSummary::of(&Audit::of(book).findings_of(&stored.record))
        };
        Ok(stored.iter().map(|stored| snapshot.summary_of(stored).unwrap_or_else(|| judged(stored))).collect())
    }

    /// Up to three ids of the book that differ from this one in a few characters or end with it, the nearest first.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<Id>, CatalogError> {
        let snapshot = self.snapshot()?;
        let most = (id.as_str().len() / 5).max(2);
        let end = format!(".{id}");
        let far = |known: &Id| {
            if known.as_str().ends_with(&end) { 0 } else { strsim::osa_distance(id.as_str(), known.as_str()) }
        };
        let known = snapshot.records().iter().map(|stored| stored.record.id());
        let mut near: Vec<(usize, &Id)> = known.map(|id| (far(id), id)).filter(|(far, _)| *far <= most).collect();
        near.sort();
        Ok(near.into_iter().take(3).map(|(_, id)| id.clone()).collect())
    }

    pub(super) fn snapshot_at(&self, sequence: u64) -> Result<Snapshot, CatalogError> {
        let mut records = Vec::new();
        self.store().walk(None, sequence, |stored| {
            if stored.state == State::Current {
                records.push(stored);
            }
            Ok(true)
        })?;
        Ok(Snapshot { sequence, records, vocabulary: OnceLock::new(), audit: OnceLock::new() })
    }
}
