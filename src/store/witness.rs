//! The witness: the last change that was reported stored, noted outside the engine's files.
//!
//! An engine whose files were cut off opens at an earlier state without a word. The witness tells that there was a
//! later one.

use super::error::StoreError;
use std::fs::{File, OpenOptions};
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

/// The name of the witness's file.
const WITNESS: &str = "witness";
/// Bytes of one note: sequence, digest, checksum, and room.
const NOTE: usize = 32;

/// The file in which the last stored change is noted: two notes that are written in turn, so that one is whole.
#[derive(Debug)]
pub struct Witness {
    file: File,
    turn: AtomicU64,
}

/// What the witness knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Note {
    /// The last change that was reported stored.
    pub sequence: u64,
    /// The digest of all revisions then.
    pub digest: u128,
}

impl Witness {
    /// Opens the witness of a store, and says what it knows: nothing if it has never been written.
    pub fn open(store: &Path) -> Result<(Self, Option<Note>), StoreError> {
        let opened = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(store.join(WITNESS));
        let file = opened.map_err(StoreError::io("opening the witness of the store"))?;
        let mut bytes = [0; NOTE * 2];
        let whole = file.metadata().is_ok_and(|metadata| metadata.len() == bytes.len() as u64);
        if whole {
            file.read_exact_at(&mut bytes, 0).map_err(StoreError::io("reading the witness of the store"))?;
        } else {
            file.set_len(bytes.len() as u64).map_err(StoreError::io("writing the witness of the store"))?;
        }
        let (first, second) = (read(&bytes[..NOTE]), read(&bytes[NOTE..]));
        // The newer note is left alone until the next one is whole.
        let turn = u64::from(first >= second);
        Ok((Self { file, turn: AtomicU64::new(turn) }, first.max(second)))
    }

    /// What the witness of a store knows, if it can be read; nothing is made or written.
    pub fn peek(store: &Path) -> Option<Note> {
        let bytes = std::fs::read(store.join(WITNESS)).ok().filter(|bytes| bytes.len() == NOTE * 2)?;
        read(&bytes[..NOTE]).max(read(&bytes[NOTE..]))
    }

    /// Notes a change; when it returns, the note survives a loss of power.
    pub fn note(&self, note: Note) -> Result<(), StoreError> {
        let turn = self.turn.fetch_add(1, Ordering::Relaxed);
        let mut bytes = [0; NOTE];
        bytes[..8].copy_from_slice(&note.sequence.to_be_bytes());
        bytes[8..24].copy_from_slice(&note.digest.to_be_bytes());
        let crc = crc32fast::hash(&bytes[..24]);
        bytes[24..28].copy_from_slice(&crc.to_be_bytes());
        let written = self.file.write_all_at(&bytes, turn % 2 * NOTE as u64);
        written.and_then(|()| self.file.sync_data()).map_err(StoreError::io("writing the witness of the store"))
    }
}

fn read(bytes: &[u8]) -> Option<Note> {
    let sequence = u64::from_be_bytes(bytes[..8].try_into().ok()?);
    let digest = u128::from_be_bytes(bytes[8..24].try_into().ok()?);
    let crc = u32::from_be_bytes(bytes[24..28].try_into().ok()?);
    (crc == crc32fast::hash(&bytes[..24])).then_some(Note { sequence, digest })
}
