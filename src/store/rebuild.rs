//! Making a store's files anew from its revisions: repair, and giving back room.

use super::bundles::Bundles;
use super::error::StoreError;
use super::folder::{Folder, Opening};
use super::head::Head;
use super::memory::MemoryEngine;
use super::replay::Replay;
use super::salvage::Salvage;
use super::verify::{Depth, Progress};
use super::{Store, Sync};
use crate::record::Id;
use std::fs;
use std::path::{Path, PathBuf};

/// What a repair has done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepairReport {
    /// How many revisions were found whole and are in the store again.
    pub revisions: u64,
    /// The changes whose revision was lost, with the record and its revision where they are known.
    pub lost: Vec<(u64, Option<(Id, u64)>)>,
    /// Whether it is proved that nothing was lost.
    pub is_complete: bool,
    /// Where the damaged files were put.
    pub set_aside: PathBuf,
}

impl Store {
    /// Opens what is whole of a damaged store, for reading only; its files are left alone.
    pub(super) fn open_salvaged(folder: &Folder) -> Result<Self, StoreError> {
        let salvage = Salvage::of(&folder.sources())?;
        let (store, lost) = replayed(&salvage, folder, Box::new(MemoryEngine::default()), &mut |_| {})?;
        let why = format!("the store is damaged; {} of its changes can't be read", lost.len());
        let _ = store.stopped.set(why);
        Ok(store)
    }

    /// Makes the files of a store anew from every revision that is whole, wherever it lies in the old ones. Those
    /// are put aside. What was lost is noted, and the history gets a new epoch if something was.
    ///
    /// # Errors
    /// If nothing whole was found, or the new files can't be written; the old ones are as they were then.
    pub fn repair(
        path: &Path,
        opening: &Opening,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<RepairReport, StoreError> {
        let mut folder = Folder::open(path, &Opening { create: false, ..opening.clone() })?;
        let salvage = Salvage::of(&folder.sources())?;
        let end = salvage.end(folder.known());
        if salvage.found(end) == 0 && end > 0 {
            let how = "nothing in them is whole; restore a backup".to_owned();
            return Err(StoreError::Damaged { what: "the files of the store".to_owned(), how });
        }
        let fresh = folder.fresh_data()?;
        let engine = Bundles::in_files(&fresh, Sync::Batch)?;
        let (store, lost) = replayed(&salvage, &folder, Box::new(engine), on_progress)?;
        store.verify(Depth::Everything, on_progress)?.into_result()?;
        let note = store.head().note();
        drop(store);
        let text = in_words(&lost, salvage.found(end));
        let set_aside = folder.swap_data(&fresh, note, &text)?;
        let written = fs::write(set_aside.join(LOST), lines_of(&lost));
        written.map_err(StoreError::io("writing the list of what was lost"))?;
        Ok(RepairReport { revisions: salvage.found(end), is_complete: salvage.is_complete(end), lost, set_aside })
    }
}

type Lost = Vec<(u64, Option<(Id, u64)>)>;

/// Writes the history that was salvaged into an engine.
fn replayed(
    salvage: &Salvage,
    folder: &Folder,
    engine: Box<dyn super::Engine>,
    on_progress: &mut dyn FnMut(Progress),
) -> Result<(Store, Lost), StoreError> {
    let end = salvage.end(folder.known());
    let old = salvage.head(end);
    let head = match old {
        Some(old) if salvage.is_complete(end) => old.clone(),
        _ => Head::begin(),
    };
    let mut replay = Replay::into_engine(engine, &head)?;
    let mut lost = Vec::new();
    for (sequence, revision) in salvage.history(end) {
        if let Err(change) = &revision {
            lost.push((sequence, change.as_ref().map(|change| (change.id.clone(), change.revision))));
        }
        replay.take(sequence, revision)?;
        on_progress(Progress { step: "changes written", done: sequence, of: end });
    }
    Ok((replay.finish()?, lost))
}

/// The file beside the damaged ones that names what was lost, one change a line.
const LOST: &str = "lost.ndjson";

fn lines_of(lost: &[(u64, Option<(Id, u64)>)]) -> String {
    let line = |(sequence, revision): &(u64, Option<(Id, u64)>)| match revision {
        Some((id, revision)) => format!("{{\"sequence\":{sequence},\"id\":\"{id}\",\"revision\":{revision}}}\n"),
        None => format!("{{\"sequence\":{sequence}}}\n"),
    };
    lost.iter().map(line).collect()
}

fn in_words(lost: &[(u64, Option<(Id, u64)>)], found: u64) -> String {
    let mut text = format!("{found} revisions were whole and are in the store again.\n");
    for (sequence, revision) in lost {
        let line = match revision {
            Some((id, revision)) => format!("lost: change {sequence}: revision {revision} of {id}\n"),
            None => format!("lost: change {sequence}\n"),
        };
        text.push_str(&line);
    }
    text
}
