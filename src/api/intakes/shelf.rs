//! Where intakes are written down, so that a service that is started again knows them.
//!
//! An intake is up to three files: `ID.json` says what became of it and comes last, `ID.kept` holds the records that a clean
//! check would store, `ID.faults.csv` its faults.

use crate::catalog::{ImportOptions, ImportReport};
use crate::view::IntakeState;
use serde::{Deserialize, Serialize};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// An intake as it is written down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// Its id.
    pub id: String,
    /// When it came.
    pub at: jiff::Timestamp,
    /// Who sent it.
    pub by: Option<String>,
    /// How it is to be taken in.
    pub options: ImportOptions,
    /// What became of it.
    pub state: IntakeState,
    /// The numbers, and the first faults.
    pub report: ImportReport,
    /// How many records are kept to be stored, if some are.
    pub kept: Option<u64>,
    /// Why it came to no good end.
    pub stopped: Option<String>,
}

/// What lies beside an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// The records that a clean check would store.
    Kept,
    /// The table of faults.
    Faults,
}

impl Beside {
    const ALL: [Self; 2] = [Self::Kept, Self::Faults];

    fn ending(self) -> &'static str {
        match self {
            Self::Kept => "kept",
            Self::Faults => "faults.csv",
        }
    }
}

/// The folder of the intakes of one service.
#[derive(Debug, Clone)]
pub struct Shelf(PathBuf);

const ENTRY: &str = "json";
/// The ending of a file that is not yet written to its end.
const HALF: &str = "half";

impl Shelf {
    /// The shelf in this folder, which is made when something is first put there.
    #[must_use]
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self(folder.into())
    }

    fn path(&self, id: &str, ending: &str) -> PathBuf {
        self.0.join(format!("{id}.{ending}"))
    }

    /// Writes an intake down.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn enter(&self, entry: &Entry) -> io::Result<()> {
        self.write(&self.path(&entry.id, ENTRY), |file| Ok(serde_json::to_writer(file, entry)?))
    }

    /// Puts something beside an intake.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn put(&self, id: &str, beside: Beside, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
        self.write(&self.path(id, beside.ending()), fill)
    }

    /// Writes a file whole or not at all.
    fn write(&self, path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
        fs::create_dir_all(&self.0)?;
        let half = path.with_added_extension(HALF);
        let mut file = File::create(&half)?;
        let written = fill(&mut file).and_then(|()| file.flush()).and_then(|()| file.sync_all());
        written.and_then(|()| fs::rename(&half, path)).inspect_err(|_| drop(fs::remove_file(&half)))
    }

    /// Opens what lies beside an intake.
    ///
    /// # Errors
    /// If it is not there, or can't be read.
    pub fn open(&self, id: &str, beside: Beside) -> io::Result<File> {
        File::open(self.path(id, beside.ending()))
    }

    /// Takes away what lies beside an intake.
    pub fn take_away(&self, id: &str, beside: Beside) {
        let _ = fs::remove_file(self.path(id, beside.ending()));
    }

    /// Takes an intake away with all that lies beside it.
    pub fn forget(&self, id: &str) {
        let _ = fs::remove_file(self.path(id, ENTRY));
        Beside::ALL.iter().for_each(|beside| self.take_away(id, *beside));
    }

    /// How many bytes an intake takes up.
    #[must_use]
    pub fn size(&self, id: &str) -> u64 {
        let endings = [ENTRY].into_iter().chain(Beside::ALL.map(Beside::ending));
        endings.filter_map(|ending| fs::metadata(self.path(id, ending)).ok()).map(|metadata| metadata.len()).sum()
    }

    /// Every intake that is written down, the newest first. What belongs to none is taken away: a service died over it.
    #[must_use]
    pub fn entries(&self) -> Vec<Entry> {
        let Ok(files) = fs::read_dir(&self.0) else { return Vec::new() };
        let paths: Vec<PathBuf> = files.flatten().map(|file| file.path()).collect();
        let mut entries: Vec<Entry> = paths.iter().filter_map(|path| read(path)).collect();
        for path in &paths {
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
            let id = name.split('.').next().unwrap_or_default();
            let is_known = entries.iter().any(|entry| entry.id == id) && !name.ends_with(HALF);
            if !is_known && is_id(id) {
                let _ = fs::remove_file(path);
            }
        }
        entries.sort_by_key(|entry| std::cmp::Reverse(entry.at));
        entries
    }
}

/// Whether a text is the id of an intake.
#[must_use]
pub fn is_id(text: &str) -> bool {
    text.len() == 32 && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

fn read(path: &Path) -> Option<Entry> {
    if path.extension()? != ENTRY {
        return None;
    }
    let entry = fs::read(path).and_then(|bytes| Ok(serde_json::from_slice::<Entry>(&bytes)?));
    let entry = entry.inspect_err(|error| tracing::warn!(path = %path.display(), %error, "an intake cannot be read"));
    entry.ok().filter(|entry| is_id(&entry.id) && path.file_stem().is_some_and(|stem| *stem == *entry.id))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(id: char, at: i64) -> Entry {
        let options = ImportOptions::default();
        let report = ImportReport::empty(&options);
        let at = jiff::Timestamp::from_second(at).unwrap();
        let (id, state) = (id.to_string().repeat(32), IntakeState::Checked);
        Entry { id, at, by: Some("mo".to_owned()), options, state, report, kept: Some(3), stopped: None }
    }

    #[test]
    fn what_is_written_down_is_read_and_the_rest_is_cleared_away() {
        let folder = tempfile::tempdir().unwrap();
        let shelf = Shelf::at(folder.path().join("intakes"));
        assert_eq!(shelf.entries(), []);
        let (older, newer) = (entry('a', 1), entry('b', 2));
        for one in [&older, &newer] {
            shelf.put(&one.id, Beside::Kept, |file| file.write_all(b"kept")).unwrap();
            shelf.enter(one).unwrap();
        }
        let there = |id: char, ending: &str| shelf.path(&id.to_string().repeat(32), ending);
        for stray in [there('c', "kept"), there('a', "faults.csv.half"), there('d', "json")] {
            fs::write(stray, "{").unwrap();
        }
        let foreign = shelf.0.join("notes.txt");
        fs::write(&foreign, "somebody's").unwrap();
        assert_eq!(shelf.entries(), [newer, older.clone()]);
        let left = fs::read_dir(&shelf.0).unwrap().count();
        assert_eq!((left, foreign.exists()), (5, true));
        shelf.forget(&older.id);
        assert_eq!((shelf.size(&older.id), shelf.entries().len()), (0, 1));
        assert!(shelf.open(&older.id, Beside::Kept).is_err());
    }
}
