//! The folder of a store: what lies in it, and what is wrong with one that is not.
//!
//! ```text
//! store.toml   says that this is a store, and of which format
//! lock         held by the process that has it open
//! data/        the files of the engine
//! ```

use super::bytes::FORMAT;
use super::error::StoreError;
use super::head::Head;
use super::lock::Lock;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// When a write counts as stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sync {
    /// Each one survives a loss of power once it has returned.
    #[default]
    Always,
    /// Each one survives a kill of the process within half a second, and a loss of power once the store was synced or closed.
    Batch,
}

/// How a store is to be opened.
#[derive(Debug, Clone)]
pub struct Opening {
    /// Whether one is made where none is.
    pub create: bool,
    /// When a write counts as stored.
    pub sync: Sync,
    /// How long to wait for another process that has it open just now.
    pub wait: Duration,
}

impl Default for Opening {
    fn default() -> Self {
        Self { create: false, sync: Sync::Always, wait: Duration::from_secs(2) }
    }
}

/// The folder of an open store.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    lock: Lock,
}

const MARK: &str = "store.toml";
const LOCK: &str = "lock";
const DATA: &str = "data";
const FIRST_LINE: &str = "# A clampbook store. Do not change anything in this folder by hand.";

impl Folder {
    /// Checks the folder, makes it if that is wanted, and takes its lock.
    pub fn open(path: &Path, opening: &Opening) -> Result<Self, StoreError> {
        match fs::metadata(path) {
            Ok(there) if !there.is_dir() => return Err(StoreError::NotAFolder { path: path.to_path_buf() }),
            Ok(_) => {}
            Err(error) if error.kind() == ErrorKind::NotFound && opening.create => {
                fs::create_dir_all(path).map_err(|source| cannot_write(path, source))?;
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Err(StoreError::Missing { path: path.to_path_buf() });
            }
            Err(error) => return Err(StoreError::io(format!("looking at {}", path.display()))(error)),
        }
        let marked = read_mark(path)?;
        if !marked {
            refuse_foreign(path)?;
            if !opening.create {
                return Err(StoreError::Missing { path: path.to_path_buf() });
            }
        }
        let lock = Lock::take(&path.join(LOCK), path, opening.wait)?;
        if !marked {
            write_mark(path)?;
        }
        Ok(Self { path: path.to_path_buf(), lock })
    }

    /// Where the engine keeps its files.
    pub fn data(&self) -> PathBuf {
        self.path.join(DATA)
    }

    /// Compares the head that the engine gave with what was noted outside it.
    #[expect(clippy::unused_self, clippy::unnecessary_wraps, reason = "the seal comes with the next step")]
    pub fn compare(&self, _head: &Head) -> Result<(), StoreError> {
        Ok(())
    }

    /// Writes where this process answers.
    pub fn announce(&self, address: &str) -> Result<(), StoreError> {
        self.lock.sign(Some(address))
    }
}

fn cannot_write(path: &Path, source: std::io::Error) -> StoreError {
    match source.kind() {
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            StoreError::NotWritable { path: path.to_path_buf(), source }
        }
        _ => StoreError::io(format!("writing {}", path.display()))(source),
    }
}

/// Whether the folder says that it is a store of a format that is known.
fn read_mark(path: &Path) -> Result<bool, StoreError> {
    let file = path.join(MARK);
    let text = match fs::read_to_string(&file) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(false),
        Err(error) => return Err(StoreError::io(format!("reading {}", file.display()))(error)),
    };
    let format = text.lines().find_map(|line| line.strip_prefix("format = ")?.trim().parse::<u32>().ok());
    match format {
        Some(format) if format > u32::from(FORMAT) => {
            Err(StoreError::Newer { path: Some(path.to_path_buf()), found: format, known: u32::from(FORMAT) })
        }
        Some(_) => Ok(true),
        None => {
            let what = file.display().to_string();
            Err(StoreError::Damaged { what, how: "it does not say which format the store has".to_owned() })
        }
    }
}

fn refuse_foreign(path: &Path) -> Result<(), StoreError> {
    let entries = fs::read_dir(path).map_err(StoreError::io(format!("reading {}", path.display())))?;
    for entry in entries {
        let entry = entry.map_err(StoreError::io(format!("reading {}", path.display())))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if name != LOCK {
            return Err(StoreError::Foreign { path: path.to_path_buf(), found: name });
        }
    }
    Ok(())
}

fn write_mark(path: &Path) -> Result<(), StoreError> {
    let (file, half) = (path.join(MARK), path.join("store.toml.new"));
    let text = format!("{FIRST_LINE}\nformat = {FORMAT}\n");
    let written = fs::write(&half, text).and_then(|()| fs::File::open(&half)?.sync_all());
    written.and_then(|()| fs::rename(&half, &file)).map_err(|source| cannot_write(path, source))
}
