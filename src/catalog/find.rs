//! Answering questions.

use super::{Catalog, CatalogError};
use crate::audit::{Audit, Book, Finding, Severity};
use crate::query::{Cursor, Page, Query, State, Stored, Vocabulary, evaluate, sort_key, words_of};
use crate::record::Id;
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

impl Snapshot {
    /// The records by id.
    pub fn records(&self) -> &[Stored] {
        &self.records
    }

    /// The words of the records; made when they are first asked for.
    /// Every finding of the book, worked out once for the life of the snapshot.
    pub fn findings(&self) -> &[Finding] {
        &self.audited().findings
    }

    fn audited(&self) -> &Audited {
        self.audit.get_or_init(|| {
            let book = Book::new(self.records.iter().map(|stored| &*stored.record));
            let findings = Audit::of(&book).findings();
            let mut summaries: HashMap<Id, AuditSummary> = HashMap::new();
            for finding in &findings {
                let Ok(id) = finding.record.parse() else { continue };
                let summary = summaries.entry(id).or_default();
                if finding.accepted.is_some() {
                    summary.accepted += 1;
                } else {
                    summary.count += 1;
                    summary.worst = summary.worst.max(Some(finding.severity));
                }
            }
            Audited { findings, summaries }
        })
    }

    fn vocabulary(&self) -> &Vocabulary {
        self.vocabulary.get_or_init(|| self.records.iter().flat_map(|stored| words_of(&stored.record)).collect())
    }
}

impl Catalog {
    /// The records in force after the last change.
    pub(super) fn snapshot(&self) -> Result<Arc<Snapshot>, CatalogError> {
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

    /// What the audit of the whole book says about a record in short.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn audit_summary(&self, id: &Id) -> Result<AuditSummary, CatalogError> {
        Ok(self.snapshot()?.audited().summaries.get(id).copied().unwrap_or_default())
    }

    /// Up to three ids of the book that look like this one, the nearest first.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<Id>, CatalogError> {
        let snapshot = self.snapshot()?;
        let known: Vec<&Id> = snapshot.records().iter().map(|stored| stored.record.id()).collect();
        let near = crate::record::near_words(id.as_str(), known.iter().map(|id| id.as_str()));
        Ok(near.into_iter().filter_map(|near| near.parse().ok()).collect())
    }

    fn snapshot_at(&self, sequence: u64) -> Result<Snapshot, CatalogError> {
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

pub fn find(catalog: &Catalog, query: &Query) -> Result<Page, CatalogError> {
    let (secret, now) = {
        let head = catalog.store().head();
        (head.secret, head.sequence)
    };
    let fingerprint = query.fingerprint();
    if let Some(after) = &query.after {
        after.check(fingerprint, &secret)?;
    }
    let snapshot = match query.as_of {
        Some(moment) => Arc::new(catalog.snapshot_at(catalog.store().sequence_at(moment)?)?),
        None => catalog.snapshot()?,
    };
    if !query.ids.is_empty() {
        return Ok(named(query, &snapshot));
    }
    let none = Vocabulary::new();
    let vocabulary = if query.words.is_empty() { &none } else { snapshot.vocabulary() };
    let answer = evaluate(query, vocabulary, snapshot.records());
    let first_sequence = query.after.as_ref().map_or(now, |after| after.sequence);
    let next = answer
        .items
        .last()
        .filter(|_| answer.more)
        .map(|last| Cursor::signed(fingerprint, first_sequence, sort_key(&query.sort, last), &secret).to_string());
    Ok(Page {
        items: answer.items,
        next,
        count: query.count.then_some(answer.count),
        drift: query.as_of.is_none() && first_sequence != now,
        facets: answer.facets,
        missing: Vec::new(),
        read_as: query.read_as.clone(),
        sequence: snapshot.sequence,
    })
}

/// The records that were asked for by name, in the order of the names.
fn named(query: &Query, snapshot: &Snapshot) -> Page {
    let mut items = Vec::new();
    let mut missing = Vec::new();
    for id in &query.ids {
        match snapshot.records.binary_search_by(|stored| stored.record.id().cmp(id)) {
            Ok(at) => items.push(snapshot.records[at].clone()),
            Err(_) => missing.push(id.clone()),
        }
    }
    Page {
        count: query.count.then_some(items.len() as u64),
        items,
        next: None,
        drift: false,
        facets: Vec::new(),
        missing,
        read_as: query.read_as.clone(),
        sequence: snapshot.sequence,
    }
}
