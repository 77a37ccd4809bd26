//! What is taken in in bulk: intakes that run, and what became of the last ones.
//!
//! They live as long as the process, and only the last ones are kept: the book itself has the history.

use super::problem::Problem;
use super::problem_kinds as kinds;
use crate::catalog::{Catalog, CatalogError, FaultTable, ImportMode, ImportOptions, ImportReport, Kept, StoreError};
use crate::view::{IntakeShown, IntakeState, IntakeView};
use actix_web::http::header::RETRY_AFTER;
use std::collections::VecDeque;
use std::fs::File;
use std::io::{Read, Seek};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How many intakes are kept.
const KEPT: usize = 32;
/// How long an intake is kept.
const KEPT_FOR: Duration = Duration::from_secs(24 * 60 * 60);
/// How many intakes may be read or stored at once.
const AT_ONCE: usize = 4;
/// How many faults an answer shows; the table has all of them.
pub const FAULTS_SHOWN: usize = 1000;

/// The intakes of a service.
#[derive(Debug, Default)]
pub struct Intakes(Mutex<VecDeque<Arc<Intake>>>);

/// One intake.
#[derive(Debug)]
pub struct Intake {
    id: String,
    at: jiff::Timestamp,
    by: Option<String>,
    options: ImportOptions,
    progress: Mutex<Progress>,
}

#[derive(Debug)]
struct Progress {
    state: IntakeState,
    report: ImportReport,
    kept: Option<Kept>,
    faults: Option<File>,
    /// Why storing stopped.
    stopped: Option<String>,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Intakes {
    /// Makes an intake; an old one is forgotten for it.
    ///
    /// # Errors
    /// 429 if too many are under way; 500 if there is no chance to be had for its id.
    pub fn begin(&self, options: ImportOptions, by: Option<String>) -> Result<Arc<Intake>, Problem> {
        let mut chance = [0; 16];
        getrandom::fill(&mut chance).map_err(|error| Problem::internal(&error))?;
        let mut intakes = held(&self.0);
        if intakes.iter().filter(|intake| intake.state() == IntakeState::Running).count() >= AT_ONCE {
            let detail = format!("{AT_ONCE} intakes are under way; send this one when one of them is done");
            return Err(Problem::new(&kinds::TOO_MANY_REQUESTS, detail).header(RETRY_AFTER, "5"));
        }
        if intakes.len() >= KEPT
            && let Some(at) = intakes.iter().rposition(|intake| intake.state() != IntakeState::Running)
        {
            intakes.remove(at);
        }
        let progress = Progress {
            state: IntakeState::Running,
            report: ImportReport::empty(&options),
            kept: None,
            faults: None,
            stopped: None,
        };
        let id = chance.iter().map(|byte| format!("{byte:02x}")).collect();
        let at = jiff::Timestamp::now();
        let intake = Arc::new(Intake { id, at, by, options, progress: Mutex::new(progress) });
        intakes.push_front(intake.clone());
        Ok(intake)
    }

    /// The intake of this id.
    pub fn find(&self, id: &str) -> Option<Arc<Intake>> {
        self.all().into_iter().find(|intake| intake.id == id)
    }

    /// All of them, the newest first.
    pub fn all(&self) -> Vec<Arc<Intake>> {
        let mut intakes = held(&self.0);
        intakes.retain(|intake| intake.state() == IntakeState::Running || !intake.is_expired());
        intakes.iter().cloned().collect()
    }
}

impl Intake {
    /// Its id.
    pub fn id(&self) -> &str {
        &self.id
    }

    fn expires_at(&self) -> jiff::Timestamp {
        self.at.saturating_add(KEPT_FOR).unwrap_or(self.at)
    }

    fn is_expired(&self) -> bool {
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
        let outcome = self.take_in(catalog, &mut input);
        let mut progress = held(&self.progress);
        if let Err(error) = outcome {
            progress.stop(&error);
        }
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
        held(&self.progress).faults = Some(table.into_file()?);
        self.tell(&report);
        if mode == ImportMode::Whole && report.is_clean() {
            let stored = catalog.store_kept(&mut kept, &self.options, &mut report, |report| self.tell(report));
            self.tell(&report);
            stored?;
        }
        let mut progress = held(&self.progress);
        progress.state = match (mode, report.is_clean()) {
            (ImportMode::Check, true) => IntakeState::Checked,
            (_, true) => IntakeState::Stored,
            (_, false) if report.stored > 0 => IntakeState::PartlyStored,
            (_, false) => IntakeState::Refused,
        };
        if progress.state == IntakeState::Checked {
            progress.kept = Some(kept);
        }
        progress.report = report;
        Ok(())
    }

    fn tell(&self, report: &ImportReport) {
        let mut progress = held(&self.progress);
        progress.report = report.clone();
    }

    /// Takes what was checked, to store it. Nothing if it is no clean check, or was taken already.
    pub fn take_checked(&self) -> Option<Kept> {
        let mut progress = held(&self.progress);
        let kept = progress.kept.take()?;
        progress.state = IntakeState::Running;
        Some(kept)
    }

    /// Stores what was checked.
    pub fn apply(&self, catalog: &Catalog, mut kept: Kept, options: &ImportOptions) {
        let mut report = held(&self.progress).report.clone();
        let stored = catalog.store_kept(&mut kept, options, &mut report, |report| self.tell(report));
        let mut progress = held(&self.progress);
        progress.report = report;
        match stored {
            Ok(()) => progress.state = IntakeState::Stored,
            Err(error) => progress.stop(&error),
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
        self.stopped = Some(error.to_string());
        let is_changed = matches!(error, CatalogError::Store(StoreError::Changed { .. }));
        if !is_changed {
            tracing::error!(%error, "an intake broke off");
        }
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
