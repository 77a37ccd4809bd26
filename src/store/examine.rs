//! Looking at a store from end to end, damaged or not, and leaving it as it was found.

use super::bundles::Bundles;
use super::error::StoreError;
use super::folder::{Folder, Opening};
use super::salvage::Salvage;
use super::seal::Sealed;
use super::verify::{Depth, Progress, VerifyReport};
use super::{Store, Sync};
use crate::record::Id;
use std::path::Path;

/// What an examination has found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Examination {
    /// What the check from end to end has found.
    pub report: VerifyReport,
    /// Whether the store was closed the last time it was open.
    pub was_closed: bool,
    /// What a repair could do; only where there is damage.
    pub remedy: Option<Remedy>,
}

/// What a repair could do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remedy {
    /// How many revisions are whole somewhere in the files.
    pub revisions: u64,
    /// The changes whose revision is whole nowhere, with the record and its revision where they are known.
    pub lost: Vec<(u64, Option<(Id, u64)>)>,
    /// Whether it is proved that nothing would be lost.
    pub is_complete: bool,
}

impl Store {
    /// Checks a store from end to end. What the engine does to damaged files is undone.
    ///
    /// # Errors
    /// If the check itself can't be done; damage is in what it gives.
    pub fn examine(
        path: &Path,
        opening: &Opening,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<Examination, StoreError> {
        let mut folder = Folder::open(path, &Opening { create: false, ..opening.clone() })?;
        let (report, was_closed) = match Self::checked(&mut folder, on_progress) {
            Ok((store, report, was_closed)) if report.is_whole() => {
                folder.drop_copy()?;
                store.close_in(folder);
                return Ok(Examination { report, was_closed, remedy: None });
            }
            Ok((_, report, was_closed)) => (report, was_closed),
            Err(error @ StoreError::Damaged { .. }) => (VerifyReport::of_error(&error), false),
            Err(error) => return Err(error),
        };
        folder.put_back();
        let salvage = Salvage::of(&folder.sources())?;
        let end = salvage.end(folder.known());
        let lost = salvage.history(end).filter_map(|(sequence, revision)| match revision {
            Ok(_) => None,
            Err(change) => Some((sequence, change.map(|change| (change.id, change.revision)))),
        });
        let remedy =
            Remedy { revisions: salvage.found(end), lost: lost.collect(), is_complete: salvage.is_complete(end) };
        Ok(Examination { report, was_closed, remedy: Some(remedy) })
    }

    fn checked(
        folder: &mut Folder,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<(Self, VerifyReport, bool), StoreError> {
        let sealed = folder.prepare()?;
        let engine = Bundles::in_files(&folder.data(), Sync::Always)?;
        let store = Self::on(Box::new(engine), folder.known())?;
        let report = store.verify(Depth::Everything, on_progress)?;
        Ok((store, report, sealed == Sealed::Whole))
    }

    /// Closes the store in its folder, which is sealed and gets a reading copy.
    fn close_in(mut self, folder: Folder) {
        self.path = Some(folder.path().to_path_buf());
        self.is_for_reading = true;
        self.folder = Some(folder);
    }
}
