//! The book as commands see it, wherever it is kept.

use super::here::Here;
use super::there::There;
use super::{Trait, Which};
use crate::catalog::{
    AuditScope, AuditStep, Author, CatalogError, ExportFormat, Exported, ImportOptions, ImportReport, PositionAsked,
    Write,
};
use crate::cli::failure::Failure;
use crate::cli::said::{Said, count};
use crate::query::Query;
use crate::record::{Id, Kind};
use crate::view::Written;
use serde_json::Value;
use std::io::Read;

/// Who is told of findings.
pub trait FindingReader {
    /// Is such a finding wanted?
    fn wants(&self, finding: &Trait<'_>) -> bool;
    /// So many of something are done.
    fn goes_on(&mut self, count: usize, of: &str);
    /// A finding that is wanted.
    ///
    /// # Errors
    /// If it can't be shown.
    fn found(&mut self, finding: Value) -> Result<(), Failure>;
    /// What a server can choose findings by, as it stands behind `?`.
    fn asks_for(&self) -> &[(&'static str, String)];

    /// A step of an audit that this process makes.
    ///
    /// # Errors
    /// If a finding can't be shown.
    fn takes(&mut self, step: AuditStep<'_>) -> Result<(), Failure> {
        match step {
            AuditStep::Read(count) => self.goes_on(count, "records read"),
            AuditStep::Weighing(count) => self.goes_on(count, "records read, their torques are weighed"),
            AuditStep::Audited(count, all) => self.goes_on(count, &format!("of {all} records audited")),
            AuditStep::Found(finding) if self.wants(&Trait::of(finding)) => {
                return self.found(serde_json::to_value(finding).unwrap_or_default());
            }
            AuditStep::Found(_) => {}
        }
        Ok(())
    }
}

/// The book: its store is opened by this process, or a server answers for it. Both say the same, byte for byte.
#[derive(Debug, Clone)]
pub enum Book {
    /// This process has the store.
    Here(Here),
    /// A server has it.
    There(There),
}

impl Book {
    /// One page of records. `pairs` is the question as it was asked, `query` as it was read.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn find(&self, pairs: &[(String, String)], query: &Query) -> Result<Said, Failure> {
        match self {
            Self::Here(book) => book.find(query),
            Self::There(book) => book.find(pairs),
        }
    }

    /// A record in one of its states; nothing if it is not in the book.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn entry(&self, id: &Id, which: Which) -> Result<Option<Said>, Failure> {
        match self {
            Self::Here(book) => book.entry(id, which),
            Self::There(book) => book.entry(id, which),
        }
    }

    /// Ids that look like this one.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<String>, Failure> {
        match self {
            Self::Here(book) => book.ids_near(id),
            Self::There(book) => book.ids_near(id),
        }
    }

    /// What sits at a position; nothing if the book has no such joint.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn position(&self, joint: &Id, asked: &PositionAsked<'_>) -> Result<Option<Said>, Failure> {
        match self {
            Self::Here(book) => book.position(joint, asked),
            Self::There(book) => book.position(joint, asked),
        }
    }

    /// Whether there is a record of this id, withdrawn or not.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn has(&self, id: &Id) -> Result<bool, Failure> {
        match self {
            Self::Here(book) => book.has(id),
            Self::There(book) => Ok(book.entry(id, Which::Last)?.is_some()),
        }
    }

    /// Audits a scope, and tells how far that is and each finding that is wanted as it comes.
    ///
    /// # Errors
    /// If the book can't be read, or the findings can't be shown.
    pub fn audit(&self, scope: &AuditScope, reader: &mut dyn FindingReader) -> Result<(), Failure> {
        match self {
            Self::Here(book) => book.audit(scope, &mut |step| reader.takes(step)),
            Self::There(book) => book.findings(scope, reader),
        }
    }

    /// Does all writes, or none. A server enters them under the name of the token.
    ///
    /// # Errors
    /// If the book has changed, or can't be written.
    pub fn apply(&self, writes: Vec<Write>, author: &Author) -> Result<Vec<Written>, Failure> {
        match self {
            Self::Here(book) => book.apply(writes, author),
            Self::There(book) => book.apply(writes),
        }
    }

    /// Takes records in, telling how far it is.
    ///
    /// # Errors
    /// If the input can't be read, or the book can't be written.
    pub fn import(
        &self,
        input: impl Read,
        options: &ImportOptions,
        on_progress: impl FnMut(&ImportReport),
    ) -> Result<Said, Failure> {
        match self {
            Self::Here(book) => book.import(input, options, on_progress),
            Self::There(book) => book.import(input, options),
        }
    }

    /// Audits a book most of which was just imported, so that whoever looks at it next need not; a server does so by itself.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn audit_imported(&self, written: u64) -> Result<(), Failure> {
        match self {
            Self::Here(book) => book.audit_imported(written),
            Self::There(_) => Ok(()),
        }
    }

    /// Makes sure that everything written so far survives a loss of power; a server does so by itself.
    ///
    /// # Errors
    /// If the store can't.
    pub fn sync(&self) -> Result<(), Failure> {
        match self {
            Self::Here(book) => book.sync(),
            Self::There(_) => Ok(()),
        }
    }

    /// Writes every record in force and says how many there are.
    ///
    /// # Errors
    /// If the book can't be read or the output not written.
    pub fn export(
        &self,
        kind: Option<Kind>,
        format: ExportFormat,
        out: &mut dyn std::io::Write,
    ) -> Result<u64, Failure> {
        match self {
            Self::Here(book) => book.export(kind, format, out).map(|Exported { records, .. }| records),
            Self::There(book) => {
                let (records, bytes) = book.export(kind, format)?;
                let failed = |source| CatalogError::Stream { what: "writing the export failed", source };
                out.write_all(&bytes).and_then(|()| out.flush()).map_err(failed)?;
                Ok(records)
            }
        }
    }

    /// The changes after a number.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn changes(&self, since: u64, take: usize) -> Result<Said, Failure> {
        match self {
            Self::Here(book) => book.changes(since, take),
            Self::There(book) => book.changes(since, take, 0),
        }
    }

    /// The changes after a number; a server is given some time to have one.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn changes_to_come(&self, since: u64, take: usize) -> Result<Said, Failure> {
        match self {
            Self::Here(book) => book.changes(since, take),
            Self::There(book) => book.changes(since, take, WAIT_SECONDS),
        }
    }

    /// The number of the last change.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn last_change(&self) -> Result<u64, Failure> {
        match self {
            Self::Here(book) => book.last_change(),
            Self::There(book) => Ok(count(book.changes(0, 1, 0)?.value(), "last")),
        }
    }

    /// The revisions of a record; nothing if it has none.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn revisions(&self, id: &Id) -> Result<Option<Said>, Failure> {
        match self {
            Self::Here(book) => book.revisions(id),
            Self::There(book) => book.revisions(id),
        }
    }
}

/// How long a server is given to have a change.
const WAIT_SECONDS: u32 = 20;
