//! What is taken in in bulk: intakes that run, and what became of the last ones.
//!
//! Only the last ones are kept, and for a day: the book itself has the history. Where the book lies in a folder they are
//! written down there, so that a service that is started again knows them; elsewhere they live as long as the process.

mod one;
mod shelf;

pub use one::Intake;
pub use shelf::{Shelf, is_id};

use super::problem::Problem;
use super::problem_kinds as kinds;
use crate::catalog::ImportOptions;
use crate::view::IntakeState;
use actix_web::http::header::RETRY_AFTER;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many intakes are kept.
const KEPT: usize = 32;
/// How many intakes may be read or stored at once.
const AT_ONCE: usize = 4;
/// How many bytes of intakes are written down at most, before another one comes.
const BYTES_KEPT: u64 = 1 << 30;
/// How many faults an answer shows; the table has all of them.
pub const FAULTS_SHOWN: usize = 1000;

/// The intakes of a service.
#[derive(Debug, Default)]
pub struct Intakes {
    all: Mutex<VecDeque<Arc<Intake>>>,
    shelf: Option<Shelf>,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Intakes {
    /// The intakes that are written down on this shelf.
    #[must_use]
    pub fn on(shelf: Shelf) -> Self {
        let known = shelf.entries().into_iter().map(|entry| Arc::new(Intake::taken_up(entry, &shelf))).collect();
        let intakes = Self { all: Mutex::new(known), shelf: Some(shelf) };
        intakes.forget_expired();
        intakes
    }

    /// Makes an intake; an old one is forgotten for it.
    ///
    /// # Errors
    /// 429 if too many are under way; 500 if there is no chance to be had for its id.
    pub fn begin(&self, options: ImportOptions, by: Option<String>) -> Result<Arc<Intake>, Problem> {
        let mut chance = [0; 16];
        getrandom::fill(&mut chance).map_err(|error| Problem::internal(&error))?;
        let mut intakes = held(&self.all);
        if intakes.iter().filter(|intake| intake.state() == IntakeState::Running).count() >= AT_ONCE {
            let detail = format!("{AT_ONCE} intakes are under way; send this one when one of them is done");
            return Err(Problem::new(&kinds::TOO_MANY_REQUESTS, detail).header(RETRY_AFTER, "5"));
        }
        while (intakes.len() >= KEPT || self.bytes(&intakes) > BYTES_KEPT)
            && let Some(at) = intakes.iter().rposition(|intake| intake.state() != IntakeState::Running)
            && let Some(oldest) = intakes.remove(at)
        {
            oldest.forget();
        }
        let id = chance.iter().map(|byte| format!("{byte:02x}")).collect();
        let intake = Arc::new(Intake::new(id, options, by, self.shelf.clone()));
        intake.enter();
        intakes.push_front(intake.clone());
        Ok(intake)
    }

    fn bytes(&self, intakes: &VecDeque<Arc<Intake>>) -> u64 {
        self.shelf.as_ref().map_or(0, |shelf| intakes.iter().map(|intake| shelf.size(intake.id())).sum())
    }

    /// The intake of this id.
    pub fn find(&self, id: &str) -> Option<Arc<Intake>> {
        self.all().into_iter().find(|intake| intake.id() == id)
    }

    /// All of them, the newest first.
    pub fn all(&self) -> Vec<Arc<Intake>> {
        self.forget_expired();
        held(&self.all).iter().cloned().collect()
    }

    /// Forgets those whose time is over.
    pub fn forget_expired(&self) {
        held(&self.all).retain(|intake| {
            let stays = intake.state() == IntakeState::Running || !intake.is_expired();
            if !stays {
                intake.forget();
            }
            stays
        });
    }
}

#[cfg(test)]
mod tests {
    use super::one::STOPPED_OVER;
    use super::*;
    use crate::catalog::{Catalog, ImportFormat, ImportMode};
    use std::io::{Cursor, Read};
    use std::path::Path;

    const TWO: &str = "id,joint,thread,stages\na.b.c1,a.b,M8,20 N·m\na.b.c2,a.b,M8,22 N·m\n";

    fn intakes(folder: &Path) -> Intakes {
        Intakes::on(Shelf::at(folder))
    }

    fn check() -> ImportOptions {
        let (mode, format) = (ImportMode::Check, Some(ImportFormat::Csv));
        ImportOptions { mode, format, ..ImportOptions::default() }
    }

    #[test]
    fn what_was_checked_is_applied_by_another_service() {
        let folder = tempfile::tempdir().unwrap();
        let book = Catalog::in_memory().unwrap();
        let begun = intakes(folder.path()).begin(check(), Some("mo".to_owned())).unwrap();
        begun.run(&book, Cursor::new(TWO));
        let later = intakes(folder.path());
        let intake = later.find(begun.id()).unwrap();
        assert_eq!(intake.shown(), begun.shown());
        assert!(intake.begin_to_apply() && !intake.begin_to_apply(), "it is stored once");
        // This service, too, stops over it, having stored one of the two.
        let first = TWO.lines().take(2).collect::<Vec<_>>().join("\n");
        book.import(first.as_bytes(), &ImportOptions { format: check().format, ..ImportOptions::default() }).unwrap();
        let intake = intakes(folder.path()).find(begun.id()).unwrap();
        assert_eq!(intake.state(), IntakeState::Checked);
        assert!(intake.begin_to_apply());
        intake.apply(&book, intake.options());
        assert_eq!((intake.state(), book.sequence()), (IntakeState::Stored, 2));
        let last = intakes(folder.path()).find(begun.id()).unwrap();
        assert!(last.state() == IntakeState::Stored && !last.begin_to_apply());
    }

    #[test]
    fn a_check_that_was_overtaken_stays_refused() {
        let folder = tempfile::tempdir().unwrap();
        let book = Catalog::in_memory().unwrap();
        let begun = intakes(folder.path()).begin(check(), None).unwrap();
        begun.run(&book, Cursor::new(TWO));
        let other = TWO.replace("20 N·m", "21 N·m");
        book.import(other.as_bytes(), &ImportOptions { format: check().format, ..ImportOptions::default() }).unwrap();
        let intake = intakes(folder.path()).find(begun.id()).unwrap();
        assert!(intake.begin_to_apply());
        intake.apply(&book, intake.options());
        let after = intakes(folder.path()).find(begun.id()).unwrap();
        assert_eq!((after.state(), book.sequence()), (IntakeState::Refused, 2));
        assert!(after.stopped().unwrap().contains("a.b.c1"));
    }

    #[test]
    fn an_intake_over_which_the_service_stopped_says_so_and_faults_are_kept() {
        let folder = tempfile::tempdir().unwrap();
        let (book, before) = (Catalog::in_memory().unwrap(), intakes(folder.path()));
        let stopped = before.begin(ImportOptions { mode: ImportMode::Whole, ..check() }, None).unwrap();
        let faulty = before.begin(check(), None).unwrap();
        faulty.run(&book, Cursor::new(TWO.replace("22 N·m", "22")));
        let after = intakes(folder.path());
        assert_eq!(after.all().iter().map(|intake| intake.id()).collect::<Vec<_>>(), [faulty.id(), stopped.id()]);
        let stopped = after.find(stopped.id()).unwrap().shown();
        assert_eq!((stopped.state, stopped.stopped.as_deref()), (IntakeState::Failed, Some(STOPPED_OVER)));
        let again = after.find(faulty.id()).unwrap();
        let table = |intake: &Intake| {
            let mut text = String::new();
            intake.faults().unwrap().unwrap().read_to_string(&mut text).unwrap();
            text
        };
        assert_eq!((again.shown(), table(&again)), (faulty.shown(), table(&faulty)));
        assert!(table(&again).contains("no-unit"));
    }

    #[test]
    fn old_intakes_go_with_their_files() {
        let folder = tempfile::tempdir().unwrap();
        let (book, intakes) = (Catalog::in_memory().unwrap(), intakes(folder.path()));
        let mut ids = Vec::new();
        for _ in 0..KEPT + 2 {
            let intake = intakes.begin(check(), None).unwrap();
            intake.run(&book, Cursor::new(TWO));
            ids.push(intake.id().to_owned());
        }
        let files = |id: &str| {
            let names = std::fs::read_dir(folder.path()).unwrap().map(|file| file.unwrap().file_name());
            names.filter(|name| name.to_string_lossy().starts_with(id)).count()
        };
        assert_eq!((files(&ids[0]), files(&ids[1]), files(&ids[2])), (0, 0, 3));
        assert_eq!(intakes.all().len(), KEPT);
    }
}
