//! One intake: what it is about, how far it is, what became of it.

use super::held;
use super::shelf::{Beside, Entry, Shelf};
use crate::api::failing::chain;
use crate::catalog::{Catalog, CatalogError, FaultTable, ImportMode, ImportOptions, ImportReport, Kept, StoreError};
use crate::view::{IntakeShown, IntakeState, IntakeView};
use std::fs::File;
use std::io::{Read, Seek};
use std::sync::Mutex;
use std::time::Duration;

/// How long an intake is kept.
const KEPT_FOR: Duration = Duration::from_secs(24 * 60 * 60);
/// Why an intake came to no good end over which a service stopped.
pub(super) const STOPPED_OVER: &str = "the service was stopped over it. What it had stored stays; send the input again, and what is in \
    the book already is passed over";

/// One intake.
#[derive(Debug)]
pub struct Intake {
    id: String,
    at: jiff::Timestamp,
    by: Option<String>,
    options: ImportOptions,
    progress: Mutex<Progress>,
    shelf: Option<Shelf>,
}

#[derive(Debug)]
struct Progress {
    state: IntakeState,
    report: ImportReport,
    kept: Option<ToStore>,
    faults: Option<File>,
    /// Why it came to no good end.
    stopped: Option<String>,
}

/// The records that a clean check would store.
#[derive(Debug)]
enum ToStore {
    /// They are at hand.
    AtHand(Kept),
    /// They were put on the shelf, so many of them.
    OnShelf(u64),
}

impl Intake {
    /// An intake that begins now.
    pub(super) fn new(id: String, options: ImportOptions, by: Option<String>, shelf: Option<Shelf>) -> Self {
        let (state, report) = (IntakeState::Running, ImportReport::empty(&options));
        let progress = Mutex::new(Progress { state, report, kept: None, faults: None, stopped: None });
        Self { id, at: jiff::Timestamp::now(), by, options, progress, shelf }
    }

    /// An intake that a service before this one has written down. One that was being stored from a check can be applied
    /// again; what else was under way can't go on, since its input is gone.
    pub(super) fn taken_up(entry: Entry, shelf: &Shelf) -> Self {
        let Entry { id, at, by, options, state, mut report, kept, stopped } = entry;
        let (state, stopped) = match (state, kept) {
            (IntakeState::Running, Some(_)) => {
                report.stored = 0;
                (IntakeState::Checked, None)
            }
            (IntakeState::Running, None) => (IntakeState::Failed, Some(STOPPED_OVER.to_owned())),
            (state, _) => (state, stopped),
        };
        let faults = shelf.open(&id, Beside::Faults).ok();
        let progress = Mutex::new(Progress { state, report, kept: kept.map(ToStore::OnShelf), faults, stopped });
        Self { id, at, by, options, progress, shelf: Some(shelf.clone()) }
    }

    /// Writes down what has become of it. A service that can't do that goes on without.
    pub(super) fn enter(&self) {
        let Some(shelf) = &self.shelf else { return };
        let progress = held(&self.progress);
        let kept = progress.kept.as_ref().and_then(|kept| match kept {
            ToStore::OnShelf(records) => Some(*records),
            ToStore::AtHand(_) => None,
        });
        let entry = Entry {
            id: self.id.clone(),
            at: self.at,
            by: self.by.clone(),
            options: self.options.clone(),
            state: progress.state,
            report: progress.report.clone(),
            kept,
            stopped: progress.stopped.clone(),
        };
        drop(progress);
        self.warn_if_not("written down", shelf.enter(&entry));
    }

    fn warn_if_not(&self, what: &str, outcome: std::io::Result<()>) -> bool {
        if let Err(error) = &outcome {
            tracing::warn!(intake = self.id, %error, "an intake is not {what}: it is lost when the service stops");
        }
        outcome.is_ok()
    }

    /// Takes away what is written down of it.
    pub(super) fn forget(&self) {
        if let Some(shelf) = &self.shelf {
            shelf.forget(&self.id);
        }
    }

    /// Puts records on the shelf, if there is one that takes them.
    fn put_away(&self, mut kept: Kept) -> ToStore {
        if let Some(shelf) = &self.shelf {
            let put = shelf.put(&self.id, Beside::Kept, |file| kept.copy_to(file));
            if self.warn_if_not("kept", put) {
                return ToStore::OnShelf(kept.records());
            }
        }
        ToStore::AtHand(kept)
    }

    /// Puts the table of its faults on the shelf, too, and keeps it open.
    fn put_faults(&self, table: File) -> File {
        if let Some(shelf) = &self.shelf {
            let mut from = FaultReader { file: table, at: 0 };
            let put = shelf.put(&self.id, Beside::Faults, |file| std::io::copy(&mut from, file).map(drop));
            self.warn_if_not("kept with its faults", put);
            return from.file;
        }
        table
    }

    /// Its id.
    pub fn id(&self) -> &str {
        &self.id
    }

    fn expires_at(&self) -> jiff::Timestamp {
        self.at.saturating_add(KEPT_FOR).unwrap_or(self.at)
    }

    pub(super) fn is_expired(&self) -> bool {
        jiff::Timestamp::now() >= self.expires_at()
    }

    /// What became of it.
    pub fn state(&self) -> IntakeState {
        held(&self.progress).state
    }

    /// Whether it is only to be looked at.
    pub fn is_check(&self) -> bool {
        self.options.mode == ImportMode::Check
    }

    /// It, in its public shape, with the first faults.
    pub fn shown(&self) -> IntakeShown {
        let progress = held(&self.progress);
        let mode = match self.options.mode {
            ImportMode::Check => "check",
            ImportMode::Whole => "whole",
            ImportMode::Partial => "partial",
        };
        let report = IntakeView::of(progress.report.clone());
        IntakeShown {
            id: self.id.clone(),
            state: progress.state,
            mode,
            at: self.at.to_string(),
            expires_at: self.expires_at().to_string(),
            by: self.by.clone(),
            stopped: progress.stopped.clone(),
            report,
        }
    }

    /// Why storing stopped, if it did.
    pub fn stopped(&self) -> Option<String> {
        held(&self.progress).stopped.clone()
    }

    /// The table of its faults, to be read from the beginning; nothing while it is under way.
    ///
    /// # Errors
    /// If the file can't be used.
    pub fn faults(&self) -> std::io::Result<Option<FaultReader>> {
        let progress = held(&self.progress);
        progress.faults.as_ref().map(|file| file.try_clone().map(|file| FaultReader { file, at: 0 })).transpose()
    }

    /// Reads what was sent, and stores it if that is what is asked.
    pub fn run(&self, catalog: &Catalog, mut input: impl Read + Seek) {
        if let Err(error) = self.take_in(catalog, &mut input) {
            held(&self.progress).stop(&error);
        }
        self.enter();
    }

    fn take_in(&self, catalog: &Catalog, input: &mut (impl Read + Seek)) -> Result<(), CatalogError> {
        let mut table = FaultTable::new()?;
        let tell = |report: &ImportReport| self.tell(report);
        input.rewind().map_err(CatalogError::of_input)?;
        let mode = self.options.mode;
        let (mut report, mut kept) = match mode {
            ImportMode::Partial => {
                (catalog.import_telling(input, &self.options, Some(&mut table), tell)?, Kept::default())
            }
            _ => catalog.check_and_keep(input, &self.options, Some(&mut table), tell)?,
        };
        let faults = self.put_faults(table.into_file()?);
        held(&self.progress).faults = Some(faults);
        self.tell(&report);
        if mode == ImportMode::Whole && report.is_clean() {
            let stored = catalog.store_kept(&mut kept, &self.options, &mut report, |report| self.tell(report));
            self.tell(&report);
            stored?;
        }
        let state = match (mode, report.is_clean()) {
            (ImportMode::Check, true) => IntakeState::Checked,
            (_, true) => IntakeState::Stored,
            (_, false) if report.stored > 0 => IntakeState::PartlyStored,
            (_, false) => IntakeState::Refused,
        };
        let kept = (state == IntakeState::Checked).then(|| self.put_away(kept));
        let mut progress = held(&self.progress);
        (progress.state, progress.kept, progress.report) = (state, kept, report);
        Ok(())
    }

    fn tell(&self, report: &ImportReport) {
        let mut progress = held(&self.progress);
        progress.report = report.clone();
    }

    /// Begins to store what was checked; whether there is something to store that nobody else is storing.
    pub fn begin_to_apply(&self) -> bool {
        let mut progress = held(&self.progress);
        let begins = progress.state == IntakeState::Checked && progress.kept.is_some();
        if begins {
            progress.state = IntakeState::Running;
        }
        drop(progress);
        if begins {
            self.enter();
        }
        begins
    }

    /// Stores what was checked.
    pub fn apply(&self, catalog: &Catalog, options: &ImportOptions) {
        let mut report = held(&self.progress).report.clone();
        let stored = self
            .kept()
            .and_then(|mut kept| catalog.store_kept(&mut kept, options, &mut report, |report| self.tell(report)));
        let mut progress = held(&self.progress);
        (progress.report, progress.kept) = (report, None);
        match stored {
            Ok(()) => progress.state = IntakeState::Stored,
            Err(error) => progress.stop(&error),
        }
        drop(progress);
        self.enter();
        if let Some(shelf) = &self.shelf {
            shelf.take_away(&self.id, Beside::Kept);
        }
    }

    /// The records that are to be stored. Those on the shelf stay there until they are.
    fn kept(&self) -> Result<Kept, CatalogError> {
        let mut progress = held(&self.progress);
        match (&progress.kept, &self.shelf) {
            (Some(ToStore::OnShelf(records)), Some(shelf)) => {
                let read = shelf.open(&self.id, Beside::Kept).and_then(|file| Kept::taken_up(file, *records));
                read.map_err(CatalogError::of_input)
            }
            _ => match progress.kept.take() {
                Some(ToStore::AtHand(kept)) => Ok(kept),
                _ => Ok(Kept::default()),
            },
        }
    }

    /// How it was to be taken in.
    pub fn options(&self) -> &ImportOptions {
        &self.options
    }
}

impl Progress {
    /// Ends an intake that could not be finished.
    fn stop(&mut self, error: &CatalogError) {
        let is_changed = matches!(error, CatalogError::Store(StoreError::Changed { .. }));
        self.stopped = Some(if is_changed {
            error.to_string()
        } else {
            tracing::error!(error = chain(error), "an intake broke off");
            "the service could not go on; its log says why".to_owned()
        });
        self.state = match self.report.stored {
            0 if is_changed => IntakeState::Refused,
            0 => IntakeState::Failed,
            _ => IntakeState::PartlyStored,
        };
    }
}

/// Reads a table of faults without moving the place of others who read it.
#[derive(Debug)]
pub struct FaultReader {
    file: File,
    at: u64,
}

impl Read for FaultReader {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let read = std::os::unix::fs::FileExt::read_at(&self.file, buffer, self.at)?;
        self.at += read as u64;
        Ok(read)
    }
}
