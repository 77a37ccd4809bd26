//! The book when its store is opened by this process.

use super::Which;
use crate::catalog::{
    AuditScope, AuditStep, Author, Catalog, CatalogError, ExportFormat, Exported, ImportOptions, ImportReport,
    PositionAsked, Write,
};
use crate::cli::failure::Failure;
use crate::cli::said::Said;
use crate::query::Query;
use crate::record::{Id, Kind};
use crate::view::{ChangeList, Entry, IntakeView, PageView, PositionView, RevisionList, Written};
use std::io::Read;

/// The book of a store that this process has opened.
#[derive(Debug, Clone)]
pub struct Here(pub Catalog);

impl Here {
    /// One page of records.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn find(&self, query: &Query) -> Result<Said, Failure> {
        let page = self.0.find(query)?;
        let view = PageView::of(&self.0, query, page)?;
        Ok(Said::of(&view).audited_up_to(Entry::all_audited_up_to(&view.items)))
    }

    /// A record in one of its states; nothing if it is not in the book.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn entry(&self, id: &Id, which: Which) -> Result<Option<Said>, Failure> {
        let stored = match which {
            Which::Last => self.0.get(id)?,
            Which::Revision(revision) => self.0.revision(id, revision)?,
            Which::AsOf(moment) => self.0.get_as_of(id, moment)?,
        };
        let entry = stored.map(|stored| Entry::of(&self.0, stored)).transpose()?;
        Ok(entry.map(|entry| Said::of(&entry).audited_up_to(entry.audited_up_to)))
    }

    /// Ids that look like this one.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<String>, Failure> {
        Ok(self.0.ids_near(id)?.iter().map(ToString::to_string).collect())
    }

    /// What sits at a position; nothing if the book has no such joint.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn position(&self, joint: &Id, asked: &PositionAsked<'_>) -> Result<Option<Said>, Failure> {
        let answer = self.0.at_position(joint, asked)?;
        if answer.joint.is_none() && answer.fasteners.is_empty() && answer.nearest.is_empty() {
            return Ok(None);
        }
        let view = PositionView::of(&self.0, joint, answer)?;
        Ok(Some(Said::of(&view).audited_up_to(view.audited_up_to())))
    }

    /// Whether there is a record of this id, withdrawn or not.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn has(&self, id: &Id) -> Result<bool, Failure> {
        Ok(self.0.get(id)?.is_some())
    }

    /// Tells how far the audit of a scope is, and each finding as it comes.
    ///
    /// # Errors
    /// If the book cannot be read, or `tell` fails.
    pub fn audit(
        &self,
        scope: &AuditScope,
        tell: &mut dyn FnMut(AuditStep<'_>) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        self.0.audit_once(scope, tell)
    }

    /// Does all writes, or none.
    ///
    /// # Errors
    /// If the book has changed, or cannot be written.
    pub fn apply(&self, writes: Vec<Write>, author: &Author) -> Result<Vec<Written>, Failure> {
        let id = |write: &Write| match write {
            Write::Put { record, .. } => record.id().to_string(),
            Write::Withdraw { id, .. } => id.to_string(),
        };
        let ids: Vec<String> = writes.iter().map(id).collect();
        let puts = self.0.apply(writes, author)?;
        Ok(ids.into_iter().zip(&puts).map(|(id, put)| Written::of(id, put)).collect())
    }

    /// Takes records in, telling how far it is.
    ///
    /// # Errors
    /// If the input cannot be read, or the book cannot be written.
    pub fn import(
        &self,
        input: impl Read,
        options: &ImportOptions,
        on_progress: impl FnMut(&ImportReport),
    ) -> Result<Said, Failure> {
        Ok(Said::of(&IntakeView::of(self.0.import_with(input, options, on_progress)?)))
    }

    /// Audits a book most of which was just imported, so that whoever looks at it next need not.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn audit_imported(&self, written: u64) -> Result<(), Failure> {
        Ok(self.0.audit_imported(written)?)
    }

    /// Makes sure that everything written so far survives a loss of power.
    ///
    /// # Errors
    /// If the store cannot.
    pub fn sync(&self) -> Result<(), Failure> {
        Ok(self.0.sync()?)
    }

    /// Writes every record in force.
    ///
    /// # Errors
    /// If the book cannot be read or the output not written.
    pub fn export(
        &self,
        kind: Option<Kind>,
        format: ExportFormat,
        out: &mut dyn std::io::Write,
    ) -> Result<Exported, Failure> {
        let exported = self.0.export(kind, format, &mut *out)?;
        out.flush().map_err(|source| CatalogError::Stream { what: "writing the export failed", source })?;
        Ok(exported)
    }

    /// The changes after a number.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn changes(&self, since: u64, take: usize) -> Result<Said, Failure> {
        Ok(Said::of(&ChangeList::of(self.0.changes(since, take)?, self.0.epoch(), since, self.0.sequence())))
    }

    /// The number of the last change.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn last_change(&self) -> Result<u64, Failure> {
        Ok(self.0.sequence())
    }

    /// The revisions of a record; nothing if it has none.
    ///
    /// # Errors
    /// If the book cannot be read.
    pub fn revisions(&self, id: &Id) -> Result<Option<Said>, Failure> {
        let revisions = self.0.revisions(id)?;
        Ok((!revisions.is_empty()).then(|| Said::of(&RevisionList::of(revisions))))
    }
}
