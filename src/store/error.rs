//! What can stand in the way of storing and reading: what, where, and what to do about it.

use super::engine::EngineError;
use super::keys;
use crate::record::{Id, Text};
use std::path::PathBuf;

/// Who holds a store.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Holder {
    /// The number of the process, if it is known.
    pub process: Option<u32>,
    /// What the process is doing, such as `clampbook serve`.
    pub command: Option<String>,
    /// Where it answers, if it does.
    pub address: Option<String>,
}

impl std::fmt::Display for Holder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.process {
            Some(process) => write!(f, "process {process}")?,
            None => f.write_str("another process")?,
        }
        if let Some(command) = &self.command {
            write!(f, " ({command})")?;
        }
        match &self.address {
            Some(address) => write!(f, " at {address}"),
            None => Ok(()),
        }
    }
}

/// What can stand in the way.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// Nothing is there.
    #[error("{}: there is no store here. Make one with `clampbook import` or `clampbook put`, or correct the path.", path.display())]
    Missing {
        /// The path.
        path: PathBuf,
    },
    /// The path is a file.
    #[error("{}: this is a file where a folder belongs. Name a folder.", path.display())]
    NotAFolder {
        /// The path.
        path: PathBuf,
    },
    /// There is a store where a new one was to be made.
    #[error("{}: there is a store here already. Name another folder.", path.display())]
    Occupied {
        /// The path.
        path: PathBuf,
    },
    /// The folder holds something else.
    #[error("{}: this folder is not empty and holds no store ({found} is in it). Name another folder.", path.display())]
    Foreign {
        /// The path.
        path: PathBuf,
        /// Something that is in it.
        found: String,
    },
    /// A newer program has written it.
    #[error("{}: written in format {found} by a newer clampbook; this one reads up to {known}. Use the newer one, or export there and import here.", path.as_ref().map_or_else(|| "the store".to_owned(), |path| path.display().to_string()))]
    Newer {
        /// The path, where it is known.
        path: Option<PathBuf>,
        /// The format that was found.
        found: u32,
        /// The newest that is known.
        known: u32,
    },
    /// Another process has it open.
    #[error("{}: the store is held by {by}. End that process, or ask it over HTTP.", path.display())]
    Held {
        /// The path.
        path: PathBuf,
        /// Who has it.
        by: Holder,
    },
    /// It can't be written, which even reading needs.
    #[error("{}: the store can't be written, and reading it needs that where it has no reading copy. Read it once as its owner, copy it to a folder of your own, or ask for an export.", path.display())]
    NotWritable {
        /// The path.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// The disk is full.
    #[error("the disk is full: {what} failed. What was stored before is safe. Make room and start the program again.")]
    DiskFull {
        /// What was being done.
        what: String,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// An earlier write failed, so that nobody can tell what the engine holds.
    #[error(
        "the store takes no more writes since one failed ({why}). Clear the cause and start the program again; reading goes on."
    )]
    Stopped {
        /// What the failed write said.
        why: String,
    },
    /// It was opened to read it.
    #[error("the store was opened for reading only. Open it to write.")]
    ForReading,
    /// Another trouble with files.
    #[error("{what} failed")]
    Io {
        /// What was being done.
        what: String,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// Something that was stored is not as it was.
    #[error(
        "damage: {what}: {how}. `clampbook verify` tells all that is hit; then restore the last backup, or keep what is whole with `clampbook verify --repair`."
    )]
    Damaged {
        /// What is hit.
        what: String,
        /// How it shows.
        how: String,
    },
    /// A backup is not there, or not as it was written.
    #[error("{}: {how}. Name another backup, or take a new one.", path.display())]
    Backup {
        /// The part of the backup.
        path: PathBuf,
        /// How it shows.
        how: String,
    },
    /// The record was changed by somebody else.
    #[error("{id}: {}", found_words(.found.as_ref()))]
    Changed {
        /// The record.
        id: Id,
        /// What is there, or nothing.
        found: Option<Found>,
    },
    /// The record is too large to be stored.
    #[error("the record takes {bytes} bytes, at most {most} are stored. Shorten its lists.")]
    TooLarge {
        /// Its size.
        bytes: usize,
        /// The limit.
        most: usize,
    },
    /// The database can't be reached.
    #[error("the database can't be reached ({why}); nothing was stored. Try again when it is back.")]
    Away {
        /// What is known of it.
        why: String,
    },
    /// The database went away over a write.
    #[error(
        "the database went away over this write ({why}), and it can't be told whether it was stored. Read the record before writing again."
    )]
    Untold {
        /// What is known of it.
        why: String,
    },
    /// The database was reached and says no.
    #[error("{why}")]
    Refused {
        /// Why, and what to do about it.
        why: String,
    },
    /// Somebody else has written meanwhile.
    #[error("somebody else has written meanwhile; nothing of this write was stored. Try again.")]
    Overtaken,
    /// Others have written so fast that this write never came to its turn.
    #[error("others wrote {times} times before this write could; nothing of it was stored. Try again in a moment.")]
    Crowded {
        /// How often it was tried.
        times: u32,
    },
    /// The program can't work with databases.
    #[error(
        "{place}: this clampbook was built without databases. Build it with `cargo build --release --features postgres`, or name a folder."
    )]
    NotBuilt {
        /// The address.
        place: String,
    },
    /// The program contradicts itself.
    #[error("internal fault: {0}. Please report it.")]
    Internal(String),
}

/// What stands where another revision was expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// The revision.
    pub revision: u64,
    /// When it was stored.
    pub changed_at: jiff::Timestamp,
    /// By whom.
    pub changed_by: Option<Text>,
    /// Whether it is withdrawn.
    pub withdrawn: bool,
}

fn found_words(found: Option<&Found>) -> String {
    match found {
        None => "it is not in the book. Correct the id, or put it as a new record.".to_owned(),
        Some(found) => {
            let by = found.changed_by.as_ref().map(|by| format!(" by {by}")).unwrap_or_default();
            let state = if found.withdrawn { "withdrawn" } else { "changed" };
            let (revision, at) = (found.revision, found.changed_at);
            format!("it was {state}{by} at {at} and is at revision {revision} now. Read it again, then write.")
        }
    }
}

impl StoreError {
    pub(super) fn damaged_value(key: &[u8], how: &str) -> Self {
        Self::Damaged { what: keys::in_words(key), how: how.to_owned() }
    }

    pub(super) fn missing_revision(id: &Id, number: u64) -> Self {
        Self::Damaged { what: format!("revision {number} of {id}"), how: "it is missing".to_owned() }
    }

    pub(super) fn io(what: impl Into<String>) -> impl FnOnce(std::io::Error) -> Self {
        move |source| match source.kind() {
            std::io::ErrorKind::StorageFull => Self::DiskFull { what: what.into(), source },
            _ => Self::Io { what: what.into(), source },
        }
    }
}

impl From<EngineError> for StoreError {
    fn from(error: EngineError) -> Self {
        match error {
            EngineError::Io(source) => Self::io("reading or writing the files of the store")(source),
            EngineError::Damaged(how) => Self::Damaged { what: "the files of the store".to_owned(), how },
            EngineError::Away(why) => Self::Away { why },
            EngineError::Untold(why) => Self::Untold { why },
            EngineError::Refused(why) => Self::Refused { why },
            EngineError::Overtaken => Self::Overtaken,
        }
    }
}
