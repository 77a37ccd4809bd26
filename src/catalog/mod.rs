//! The catalog: what people and programs do with the book, and the only door to the store.
//!
//! Every use case of the edges is a method of [`Catalog`]: looking up, writing, history, import, export, audit.
//! The catalog knows no HTTP and prints nothing.

mod assemblies;
mod backup;
mod cards;
mod copy;
mod deadline;
mod directory;
mod error;
mod export;
mod find;
mod import;
mod mark;
mod position;
mod seating;
mod sharing;
mod table;

pub use crate::card::{Apart, Difference, tell_apart};
pub use crate::query::{Page, State, Stored};
pub use crate::store::{
    Author, Change, Counts, Damage, DatabaseUrl, Examination, Expected, Found, Glance, Holder, Place, Preparation,
    Prepared, Progress, Put, Remedy, RepairReport, RevisionInfo, Sharing, Standing, StoreError, Sync, VerifyReport,
    Write,
};
pub use assemblies::{Assembly, AssemblyPart};
pub use backup::{BackupFile, BackupManifest, check_backup_line};
pub use cards::{JointDrawing, SomeJoints};
pub use copy::{Copied, Recorded};
pub use deadline::Deadline;
pub use directory::DirectoryUnderWay;
pub use error::CatalogError;
pub use export::{ExportFormat, ExportPlan, Exported};
pub use import::{
    Decimal, FaultTable, ImportFormat, ImportMode, ImportOptions, ImportReport, Kept, LineFault, MayCheck, OnSame,
    read_records,
};
pub use mark::Mark;
pub use position::{NearMatch, PositionAnswer, PositionAsked};
pub use seating::{Seated, Seating, Standing as StandingOfJoint};
pub use sharing::{Allowed, Freshness};
pub use table::{COLUMNS, CellKind, Column, cell_value};

pub use crate::audit::AuditSummary;
use crate::audit::{Audit, Book, Finding};
use crate::query::Query;
use crate::record::{Id, Record, Text};
use crate::store::{Depth, Opening, Store};
use arc_swap::ArcSwapOption;
pub use find::{AuditSoFar, AuditStep, AuditUnderWay, Lately, Listed};
use find::{BookAudit, KeptAudit, Snapshot};
use std::path::Path;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

/// How a catalog is opened.
#[derive(Debug, Clone)]
pub struct OpenOptions {
    /// Whether a store is made where none is.
    pub create: bool,
    /// When a write counts as stored.
    pub sync: Sync,
    /// How long to wait for another process that has the store open just now.
    pub wait: Duration,
    /// Whether a damaged store is opened all the same, for reading what is whole.
    pub damaged: bool,
    /// Whether it is only to be read: then its reading copy is enough, which needs no lock, and nothing can be written.
    pub reading: bool,
    /// How a database is shared with others.
    pub sharing: Sharing,
    /// How old answers from a shared book may be.
    pub allowed: Allowed,
}

impl Default for OpenOptions {
    fn default() -> Self {
        let Opening { create, sync, wait, damaged } = Opening::default();
        let (sharing, allowed) = Default::default();
        Self { create, sync, wait, damaged, reading: false, sharing, allowed }
    }
}

impl OpenOptions {
    fn opening(&self) -> Opening {
        let Self { create, sync, wait, damaged, .. } = *self;
        Opening { create, sync, wait, damaged }
    }
}

/// The book. Cheap to clone; all clones are the same book.
#[derive(Debug, Clone)]
pub struct Catalog {
    inner: Arc<Inner>,
    /// Until when whoever has this waits for answers.
    deadline: Deadline,
    /// Whether they wait for what others are at, where they are told something without that.
    waits: bool,
}

#[derive(Debug)]
struct Inner {
    store: Store,
    /// The whole book as it was at some change, if somebody has asked for it.
    snapshot: ArcSwapOption<Snapshot>,
    /// The audit of the book, taken up to the last change by whoever asks.
    audit: Arc<BookAudit>,
    /// What the audit of the whole book came to, where the book is only read.
    kept_audit: OnceLock<KeptAudit>,
    /// How old answers may be, if the book is shared.
    allowed: Option<Allowed>,
    /// How it stands to the book that it is a copy of, if it is one.
    copied: Option<Copied>,
}

/// A joint and everything that closes it.
#[derive(Debug, Clone, PartialEq)]
pub struct JointView {
    /// The joint.
    pub joint: Stored,
    /// Its fasteners in force, by id.
    pub fasteners: Vec<Stored>,
}

/// What an audit is to look at; the rest of the book is evidence.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum AuditScope {
    /// The whole book.
    #[default]
    Whole,
    /// These records.
    Ids(Vec<Id>),
    /// What lies below a path.
    Within(String),
}

impl Catalog {
    /// Opens the store in a folder.
    ///
    /// # Errors
    /// What stands in the way: see [`StoreError`].
    pub fn open(path: &Path, options: &OpenOptions) -> Result<Self, CatalogError> {
        let opening = options.opening();
        Ok(Self::on(if options.reading { Store::open_to_read(path, &opening)? } else { Store::open(path, &opening)? }))
    }

    /// What can be seen of the store in a folder without opening it; nothing is touched.
    ///
    /// # Errors
    /// What would stand in the way of opening it, as far as that can be seen.
    pub fn glance(path: &Path) -> Result<Glance, CatalogError> {
        Ok(Store::glance(path)?)
    }

    /// Opens the store in a folder, or makes one there.
    ///
    /// # Errors
    /// What stands in the way: see [`StoreError`].
    pub fn create(path: &Path) -> Result<Self, CatalogError> {
        Self::open(path, &OpenOptions { create: true, ..OpenOptions::default() })
    }

    /// A book that lives as long as the process.
    ///
    /// # Errors
    /// None that is known of.
    pub fn in_memory() -> Result<Self, CatalogError> {
        Ok(Self::on(Store::in_memory()?))
    }

    fn on(store: Store) -> Self {
        let (snapshot, audit, kept_audit) = (ArcSwapOption::empty(), Arc::<BookAudit>::default(), OnceLock::new());
        Self {
            inner: Arc::new(Inner { store, snapshot, audit, kept_audit, allowed: None, copied: None }),
            deadline: Deadline::default(),
            waits: true,
        }
    }

    fn store(&self) -> &Store {
        &self.inner.store
    }

    /// The last revision of a record, withdrawn or not.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn get(&self, id: &Id) -> Result<Option<Stored>, CatalogError> {
        Ok(self.store().get(id)?)
    }

    /// The record as it was at a moment, or nothing if it was not there yet.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn get_as_of(&self, id: &Id, moment: jiff::Timestamp) -> Result<Option<Stored>, CatalogError> {
        let sequence = self.store().sequence_at(moment)?;
        Ok(self.store().get_at(id, sequence)?)
    }

    /// What is known of every revision of a record, the oldest first; empty for an id that is not in the book.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn revisions(&self, id: &Id) -> Result<Vec<RevisionInfo>, CatalogError> {
        Ok(self.store().revisions(id)?)
    }

    /// One revision of a record.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn revision(&self, id: &Id, revision: u64) -> Result<Option<Stored>, CatalogError> {
        Ok(self.store().revision(id, revision)?)
    }

    /// Stores a record. A write whose result equals what stands there makes no revision.
    ///
    /// # Errors
    /// [`StoreError::Changed`] if something else stands there than expected; otherwise if the store can't.
    pub fn put(&self, record: Record, expected: Expected, author: &Author) -> Result<Put, CatalogError> {
        self.one(Write::Put { record: Box::new(record), expected }, author)
    }

    /// Takes a record back; it stays readable. Withdrawing it again makes no revision.
    ///
    /// # Errors
    /// [`StoreError::Changed`] if it is not in the book or something else stands there than expected.
    pub fn withdraw(
        &self,
        id: &Id,
        expected: Expected,
        why: Option<Text>,
        author: &Author,
    ) -> Result<Put, CatalogError> {
        self.one(Write::Withdraw { id: id.clone(), expected, why }, author)
    }

    fn one(&self, write: Write, author: &Author) -> Result<Put, CatalogError> {
        let puts = self.store().apply(vec![write], author)?;
        puts.into_iter().next().ok_or_else(|| StoreError::Internal("a write without an outcome".to_owned()).into())
    }

    /// Does all writes, or none.
    ///
    /// # Errors
    /// If one of them is not what was expected, or the store can't.
    pub fn apply(&self, writes: Vec<Write>, author: &Author) -> Result<Vec<Put>, CatalogError> {
        Ok(self.store().apply(writes, author)?)
    }

    /// Answers a question.
    ///
    /// # Errors
    /// [`CatalogError::Cursor`] if its cursor belongs to another question; otherwise if the store can't be read.
    pub fn find(&self, query: &Query) -> Result<Page, CatalogError> {
        find::find(self, query, true)
    }

    /// Answers a question without the index, by looking at every record: slow, and the meaning of a question.
    ///
    /// # Errors
    /// As [`Catalog::find`].
    pub fn find_by_looking_at_all(&self, query: &Query) -> Result<Page, CatalogError> {
        find::find(self, query, false)
    }

    /// The findings of records that are not stored, which are a book of their own.
    #[must_use]
    pub fn audit_records(records: &[Record]) -> Vec<Finding> {
        Audit::of(&Book::new(records)).findings()
    }

    /// The changes after `since`, in order, at most `limit`.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn changes(&self, since: u64, limit: usize) -> Result<Vec<Change>, CatalogError> {
        Ok(self.store().changes(since, limit)?)
    }

    /// The number of the last change; 0 in an empty book.
    #[must_use]
    pub fn sequence(&self) -> u64 {
        self.store().head().sequence
    }

    /// The name of this history; another one after a restore.
    #[must_use]
    pub fn epoch(&self) -> String {
        self.store().head().epoch.clone()
    }

    /// The folder of the store; nothing where the book is in a database or lives in memory.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        self.store().folder()
    }

    /// How many of everything there are.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.store().head().counts
    }

    /// Tells other processes that come to this store where this one answers.
    ///
    /// # Errors
    /// If the lock file can't be written.
    pub fn announce(&self, address: &str) -> Result<(), CatalogError> {
        Ok(self.store().announce(address)?)
    }

    /// Checks the store from end to end: every checksum, every chain of revisions, the feed, and the index both
    /// ways. Writes wait meanwhile.
    ///
    /// # Errors
    /// If the check itself can't be done; damage is in the report.
    pub fn verify(&self, on_progress: &mut dyn FnMut(Progress)) -> Result<VerifyReport, CatalogError> {
        Ok(self.store().verify(Depth::Everything, on_progress)?)
    }

    /// Checks the store in a folder from end to end, damaged or not, and says what a repair could do. The files stay as
    /// they were found.
    ///
    /// # Errors
    /// If the check itself can't be done; damage is in what it gives.
    pub fn examine(
        path: &Path,
        options: &OpenOptions,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<Examination, CatalogError> {
        Ok(Store::examine(path, &options.opening(), on_progress)?)
    }

    /// Makes the files of a damaged store anew from every revision that is whole; the old ones are put aside.
    ///
    /// # Errors
    /// If nothing whole was found, or the new files can't be written; the old ones are as they were then.
    pub fn repair(
        path: &Path,
        options: &OpenOptions,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<RepairReport, CatalogError> {
        Ok(Store::repair(path, &options.opening(), on_progress)?)
    }

    /// Writes a store's files anew without what is no longer needed, and gives their size before and after.
    ///
    /// # Errors
    /// If the store can't be opened or written; the old files are there then.
    pub fn compact(
        path: &Path,
        options: &OpenOptions,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<(u64, u64), CatalogError> {
        Ok(Store::compact(path, &options.opening(), on_progress)?)
    }

    /// Why no more is written, if so: the cause is to be cleared and the program started again.
    #[must_use]
    pub fn stopped(&self) -> Option<String> {
        self.store().stopped().map(str::to_owned)
    }

    /// Makes sure that everything written so far survives a loss of power.
    ///
    /// # Errors
    /// If the store can't.
    pub fn sync(&self) -> Result<(), CatalogError> {
        Ok(self.store().sync()?)
    }
}
