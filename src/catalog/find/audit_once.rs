//! An audit for one who asks once: each finding is told as it comes, and nothing is kept.

use super::super::{AuditScope, Catalog, CatalogError};
use crate::audit::{Audit, AuditSummary, Book, Finding};
use crate::record::Record;
use std::collections::{BTreeSet, HashMap};

/// How far an audit is, or what it found.
#[derive(Debug)]
pub enum AuditStep<'f> {
    /// So many records were read.
    Read(usize),
    /// All are read; what the torques are weighed by is gathered.
    Weighing(usize),
    /// So many of so many records are audited.
    Audited(usize, usize),
    /// A finding.
    Found(&'f Finding),
}

impl Catalog {
    /// Audits the records in scope, with the whole book as evidence, and tells each finding as it comes, in the order of the
    /// ids. If all are in scope, what it comes to is kept for whoever opens the book next.
    ///
    /// # Errors
    /// If the store can't be read, or `tell` fails.
    pub fn audit_once<E: From<CatalogError>>(
        &self,
        scope: &AuditScope,
        tell: &mut dyn FnMut(AuditStep<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        let (mut told, up_to) = (Ok(()), self.sequence());
        let records = self.records_at(up_to, &mut |count| {
            told = tell(AuditStep::Read(count));
            told.is_ok()
        })?;
        told?;
        let book = Book::new(records.iter().map(|stored| &*stored.record));
        let in_scope: Vec<&Record> = book.records().iter().copied().filter(in_scope(scope)).collect();
        let mut found: HashMap<String, AuditSummary> = HashMap::new();
        each_of(&book, &in_scope, &mut |step| {
            if let AuditStep::Found(finding) = &step {
                let about = found.entry(finding.record.clone()).or_default();
                *about = [*about, AuditSummary::of([*finding])].into_iter().sum();
            }
            tell(step)
        })?;
        if *scope == AuditScope::Whole {
            self.keep_found(&found, up_to)?;
        }
        Ok(())
    }

    /// Audits records that are not stored as a book of their own, and tells each finding as it comes, in the order of the
    /// records.
    ///
    /// # Errors
    /// If `tell` fails.
    pub fn audit_records_once<E>(
        records: &[Record],
        tell: &mut dyn FnMut(AuditStep<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        let book = Book::new(records);
        each_of(&book, book.records(), tell)
    }
}

fn each_of<E>(
    book: &Book<'_>,
    in_scope: &[&Record],
    tell: &mut dyn FnMut(AuditStep<'_>) -> Result<(), E>,
) -> Result<(), E> {
    tell(AuditStep::Weighing(book.records().len()))?;
    book.weigh_when_asked();
    Audit::of(book).each(in_scope, |done, findings| {
        findings.iter().try_for_each(|finding| tell(AuditStep::Found(finding)))?;
        tell(AuditStep::Audited(done, in_scope.len()))
    })
}

fn in_scope(scope: &AuditScope) -> impl Fn(&&Record) -> bool {
    let ids: BTreeSet<&str> = match scope {
        AuditScope::Ids(ids) => ids.iter().map(|id| id.as_str()).collect(),
        _ => BTreeSet::new(),
    };
    move |record| match scope {
        AuditScope::Whole => true,
        AuditScope::Ids(_) => ids.contains(record.id().as_str()),
        AuditScope::Within(path) => record.id().is_within(path),
    }
}
