//! What sled notes beside its data file: its settings, and how far its log had been read when it was opened last.
//!
//! Both are made anew where they are missing, the latter from the whole log. But sled refuses to open a store where one of
//! them was only half written when the process was killed, for it takes a note that is still being made for the newest one. So
//! those are taken away before it may look.

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// The name of the settings.
const SETTINGS: &str = "conf";
/// What the names of the other notes begin with.
const SNAPSHOT: &str = "snap.";
/// What the name of a note ends with while it is made.
const UNFINISHED: &str = ".generating";
/// Bytes at the end of a note: its checksum, before which a snapshot has its length.
const CHECKSUM: usize = 4;
const LENGTH: usize = 8;

/// A note.
pub struct Note {
    pub path: PathBuf,
    is_finished: bool,
    /// Bytes behind what its checksum covers.
    tail: usize,
}

impl Note {
    fn of(path: PathBuf) -> Option<Self> {
        let name = path.file_name()?.to_str()?;
        let tail = match name {
            SETTINGS => CHECKSUM,
            _ if name.starts_with(SNAPSHOT) => LENGTH + CHECKSUM,
            _ => return None,
        };
        let is_finished = !name.ends_with(UNFINISHED);
        Some(Self { path, is_finished, tail })
    }

    fn is_whole(&self) -> io::Result<bool> {
        let bytes = fs::read(&self.path)?;
        let covered = bytes.len().checked_sub(self.tail).filter(|covered| *covered > 0);
        let checksum = bytes.last_chunk::<CHECKSUM>().map(|bytes| u32::from_le_bytes(*bytes));
        Ok(covered.map(|covered| crc32fast::hash(&bytes[..covered])).is_some_and(|made| Some(made) == checksum))
    }
}

/// The notes in a folder of sled's; none if there is no such folder.
pub fn notes(folder: &Path) -> io::Result<Vec<Note>> {
    match fs::read_dir(folder) {
        Ok(entries) => {
            let paths = entries.map(|entry| Ok(entry?.path())).collect::<io::Result<Vec<_>>>()?;
            Ok(paths.into_iter().filter_map(Note::of).collect())
        }
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(error),
    }
}

/// Whether every finished note is as it was written.
///
/// # Errors
/// If one can't be read.
pub fn are_whole(folder: &Path) -> io::Result<bool> {
    let finished = notes(folder)?.into_iter().filter(|note| note.is_finished);
    finished.map(|note| note.is_whole()).try_fold(true, |all, one| Ok(all && one?))
}

/// Takes away what sled would stumble over: notes that were not finished, and those that are not as they were written.
///
/// # Errors
/// If one can't be read or taken away.
pub fn take_away_broken(folder: &Path) -> io::Result<()> {
    for note in notes(folder)? {
        if !note.is_finished || !note.is_whole()? {
            fs::remove_file(note.path)?;
        }
    }
    Ok(())
}
