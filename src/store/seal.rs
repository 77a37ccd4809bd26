//! The seal: what the engine's files were when the store was last closed.
//!
//! The engine opens some damaged files without a word, loses what it can't read, and writes over the rest. So the
//! files are compared with the seal *before* the engine may touch them. A store whose seal is broken was not
//! closed (the process was killed) or has rotted; either way it is copied aside and checked from end to end.

use super::error::StoreError;
use crc32fast::Hasher;
use rayon::prelude::*;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// The name of the seal's file.
const SEAL: &str = "seal";
/// How much of a file is read at a time.
const PIECE: usize = 256 << 10;

/// What the seal says about the files now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sealed {
    /// They are what they were when the store was closed, or there are none yet.
    Whole,
    /// They are not.
    Broken,
}

/// The size and the time of the last change of every file: what tells cheaply that nothing was written.
pub type Look = Vec<(PathBuf, u64, Option<SystemTime>)>;

/// The files of the engine in order: its data file, and those it keeps large values in.
pub fn files(data: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let mut files = Vec::new();
    for folder in [data.to_path_buf(), data.join("blobs")] {
        let entries = match fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => continue,
            Err(error) => return Err(StoreError::io(format!("reading {}", folder.display()))(error)),
        };
        for entry in entries {
            let path = entry.map_err(StoreError::io(format!("reading {}", folder.display())))?.path();
            // What is noted besides has checksums of its own, and is made anew where it is missing or wrong.
            if path.is_file() && (folder != data || path.file_name().is_some_and(|name| name == "db")) {
                files.push(path);
            }
        }
    }
    files.sort();
    Ok(files)
}

/// The text of a seal for the files as they are now.
fn text_now(data: &Path) -> Result<String, StoreError> {
    let mut text = String::new();
    for file in files(data)? {
        let (bytes, crc) = checksum(&file).map_err(StoreError::io(format!("reading {}", file.display())))?;
        let name = file.strip_prefix(data).unwrap_or(&file).display();
        let _ = writeln!(text, "{name} {bytes} {crc:08x}");
    }
    Ok(text)
}

/// The size of a file and its checksum, which is made of those of its pieces, so that all cores work on it.
fn checksum(path: &Path) -> std::io::Result<(u64, u32)> {
    /// Pieces so large keep each core at it for some milliseconds.
    const PART: u64 = 16 << 20;
    let file = File::open(path)?;
    let bytes = file.metadata()?.len();
    let part = |buffer: &mut Vec<u8>, number: u64| -> std::io::Result<Hasher> {
        let mut crc = Hasher::new();
        let (mut at, end) = (number * PART, bytes.min((number + 1) * PART));
        while at < end {
            let most = usize::try_from(end - at).unwrap_or(PIECE).min(PIECE);
            file.read_exact_at(&mut buffer[..most], at)?;
            crc.update(&buffer[..most]);
            at += most as u64;
        }
        Ok(crc)
    };
    let parts: Vec<Hasher> =
        (0..bytes.div_ceil(PART)).into_par_iter().map_init(|| vec![0; PIECE], part).collect::<Result<_, _>>()?;
    let mut whole = Hasher::new();
    parts.iter().for_each(|part| whole.combine(part));
    Ok((bytes, whole.finalize()))
}

/// Compares the files with the seal.
pub fn check(store: &Path, data: &Path) -> Result<Sealed, StoreError> {
    // Any bytes: a seal that was hit itself is one that does not match.
    let seal = match fs::read(store.join(SEAL)) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(StoreError::io("reading the seal of the store")(error)),
    };
    Ok(if seal == text_now(data)?.into_bytes() { Sealed::Whole } else { Sealed::Broken })
}

/// Seals the files as they are now.
pub fn put(store: &Path, data: &Path) -> Result<(), StoreError> {
    let text = text_now(data)?;
    write_whole(&store.join(SEAL), text.as_bytes()).map_err(StoreError::io("sealing the store"))
}

/// Writes a file so that it is there whole or not at all, whatever happens.
pub fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let half = path.with_extension("new");
    let mut file = File::create(&half)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&half, path)?;
    match path.parent() {
        Some(folder) => File::open(folder)?.sync_all(),
        None => Ok(()),
    }
}

/// Size and time of change of the files.
pub fn look(data: &Path) -> Look {
    let one = |path: PathBuf| {
        let metadata = fs::metadata(&path).ok();
        let bytes = metadata.as_ref().map_or(0, fs::Metadata::len);
        (path, bytes, metadata.and_then(|metadata| metadata.modified().ok()))
    };
    files(data).unwrap_or_default().into_iter().map(one).collect()
}
