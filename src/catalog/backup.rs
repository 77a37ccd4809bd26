//! Backups: the whole history as plain text that can be read without this program, and back again.
//!
//! A backup is a folder. `manifest.json` says what belongs to it, with a digest of each file, and is written last.
//! Each `changes-….ndjson` holds one line for each change, in order: the revision that it made, whole. Finished
//! files never change, so that a backup that was broken off, or is made again later, goes on where it ended.

use super::{Catalog, CatalogError, OpenOptions, Place, Progress, StoreError};
use crate::query::{State, Stored};
use crate::record::{Id, Record};
use crate::store::{Change, Replay, Store};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The format of backups that this program writes, and the newest that it reads.
const FORMAT: u32 = 1;
/// How many changes one file holds.
const CHANGES_OF_A_FILE: u64 = 10_000;

/// What belongs to a backup.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BackupManifest {
    /// The format of the backup.
    pub format: u32,
    /// The program that wrote it.
    pub written_by: String,
    /// When it was written.
    pub written_at: String,
    /// The history that it holds.
    pub epoch: String,
    /// The last change that it holds.
    pub sequence: u64,
    /// The digest of all revisions, as the store keeps it.
    pub digest: String,
    /// Its files in order.
    pub files: Vec<BackupFile>,
}

/// A file of a backup.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BackupFile {
    /// Its name.
    pub name: String,
    /// How many changes it holds.
    pub changes: u64,
    /// Its size.
    pub bytes: u64,
    /// Its SHA-256 in hexadecimal.
    pub sha256: String,
}

impl Catalog {
    /// Writes the whole history into a folder, as it is now; others may read and write meanwhile. A backup of the
    /// same history that is there already is continued.
    ///
    /// # Errors
    /// If the folder holds something else, or can't be written.
    pub fn backup(&self, folder: &Path) -> Result<BackupManifest, CatalogError> {
        self.backup_with(folder, &mut |_| {})
    }

    /// Does what [`Catalog::backup`] does and tells how far it is.
    ///
    /// # Errors
    /// As [`Catalog::backup`].
    pub fn backup_with(
        &self,
        folder: &Path,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<BackupManifest, CatalogError> {
        self.sync()?;
        let head = self.store().head();
        prepare(folder, &head.epoch)?;
        let mut files = Vec::new();
        let mut first = 1;
        while first <= head.sequence {
            let last = (first + CHANGES_OF_A_FILE - 1).min(head.sequence);
            files.push(self.backup_file(folder, &head.epoch, first, last)?);
            first = last + 1;
            on_progress(Progress { step: "changes", done: last, of: head.sequence });
        }
        let manifest = BackupManifest {
            format: FORMAT,
            written_by: format!("clampbook {}", env!("CARGO_PKG_VERSION")),
            written_at: jiff::Timestamp::now().to_string(),
            epoch: head.epoch.clone(),
            sequence: head.sequence,
            digest: format!("{:032x}", head.digest),
            files,
        };
        let text = serde_json::to_string_pretty(&manifest).map_err(|error| writing(error.into()))?;
        write_whole(&folder.join("manifest.json"), text.as_bytes()).map_err(writing)?;
        Ok(manifest)
    }

    /// Writes the file of some changes, unless it is there whole.
    fn backup_file(&self, folder: &Path, epoch: &str, first: u64, last: u64) -> Result<BackupFile, CatalogError> {
        let name = format!("changes-{first:010}.ndjson");
        let path = folder.join(&name);
        let heading = json!({ "epoch": epoch, "first": first, "last": last }).to_string();
        if !is_whole(&path, &heading) {
            let mut lines = heading + "\n";
            for (sequence, revision) in self.store().history(first, last)? {
                lines.push_str(&line_of(sequence, revision).to_string());
                lines.push('\n');
            }
            let end = json!({ "sha256": hex(&Sha256::digest(&lines)) });
            write_whole(&path, format!("{lines}{end}\n").as_bytes()).map_err(writing)?;
        }
        let (bytes, sha256) = digest_of(&path).map_err(reading)?;
        Ok(BackupFile { name, changes: last + 1 - first, bytes, sha256 })
    }

    /// Makes a store from a backup. It begins a new epoch, so that whoever followed the old history notices.
    ///
    /// # Errors
    /// If the backup is damaged, incomplete or of a newer format, or if there is a store already.
    pub fn restore(backup: &Path, path: &Path, options: &OpenOptions) -> Result<BackupManifest, CatalogError> {
        Self::restore_with(backup, &Place::Folder(path.to_path_buf()), options, &mut |_| {})
    }

    /// Does what [`Catalog::restore`] does, in a folder or in a database that was prepared and holds no record, and tells
    /// how far it is.
    ///
    /// # Errors
    /// As [`Catalog::restore`].
    pub fn restore_with(
        backup: &Path,
        place: &Place,
        options: &OpenOptions,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<BackupManifest, CatalogError> {
        let manifest = read_manifest(backup)?;
        for file in &manifest.files {
            check_file(backup, file)?;
        }
        let tell = |replay: &mut Replay| {
            let mut done = 0;
            for file in &manifest.files {
                restore_file(&backup.join(&file.name), replay)?;
                done += file.changes;
                on_progress(Progress { step: "changes", done, of: manifest.sequence });
            }
            Ok(())
        };
        match place {
            Place::Folder(path) => Store::build(path, &options.opening(), tell)?,
            Place::Database(url) => Store::build_in_database(url, &options.sharing, tell)?,
        }
        let restored = Self::open_at(place, options)?;
        let head = restored.store().head();
        if (head.sequence, format!("{:032x}", head.digest)) != (manifest.sequence, manifest.digest.clone()) {
            let how = "what was restored is not what was backed up".to_owned();
            return Err(damaged(&backup.join("manifest.json"), how).into());
        }
        Ok(manifest)
    }
}

fn writing(source: std::io::Error) -> CatalogError {
    CatalogError::Stream { what: "writing the backup failed", source }
}

fn reading(source: std::io::Error) -> CatalogError {
    CatalogError::Stream { what: "reading the backup failed", source }
}

fn damaged(path: &Path, how: impl Into<String>) -> StoreError {
    StoreError::Backup { path: path.to_path_buf(), how: how.into() }
}

/// Makes the folder, or checks that what is in it is a backup of the same history.
fn prepare(folder: &Path, epoch: &str) -> Result<(), CatalogError> {
    if folder.is_file() {
        return Err(StoreError::NotAFolder { path: folder.to_path_buf() }.into());
    }
    fs::create_dir_all(folder).map_err(writing)?;
    let mark = folder.join("README.txt");
    let text = format!(
        "A backup of a clampbook, history {epoch}.\nmanifest.json says what belongs to it; each line of the other files is\none change of the book in JSON, in order, with the whole record.\n"
    );
    match fs::read_to_string(&mark) {
        Ok(there) if there == text => Ok(()),
        Ok(_) => Err(foreign(folder, "a backup of another history").into()),
        Err(_) => {
            if let Some(entry) = fs::read_dir(folder).map_err(reading)?.next() {
                let name = entry.map_err(reading)?.file_name();
                return Err(foreign(folder, &name.to_string_lossy()).into());
            }
            write_whole(&mark, text.as_bytes()).map_err(writing)
        }
    }
}

fn foreign(folder: &Path, found: &str) -> StoreError {
    StoreError::Foreign { path: folder.to_path_buf(), found: found.to_owned() }
}

/// Whether a file is there with this heading and everything that it ends with a digest of.
fn is_whole(path: &Path, heading: &str) -> bool {
    let Ok(text) = fs::read_to_string(path) else { return false };
    let Some((lines, end)) = text.strip_suffix('\n').and_then(|text| text.rsplit_once('\n')) else { return false };
    let end: Value = serde_json::from_str(end).unwrap_or_default();
    lines.lines().next() == Some(heading) && end["sha256"] == hex(&Sha256::digest(format!("{lines}\n")))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn line_of(sequence: u64, revision: Result<Stored, Option<(Id, u64)>>) -> Value {
    match revision {
        Ok(stored) => json!({
            "sequence": sequence, "revision": stored.revision, "state": stored.state,
            "changed_at": stored.changed_at.to_string(), "changed_by": stored.changed_by, "why": stored.why,
            "record": *stored.record,
        }),
        Err(Some((id, revision))) => json!({ "sequence": sequence, "lost": { "id": id, "revision": revision } }),
        Err(None) => json!({ "sequence": sequence, "lost": {} }),
    }
}

fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let half = path.with_extension("new");
    let mut file = File::create(&half)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(half, path)
}

/// The size and the digest of a file.
fn digest_of(path: &Path) -> std::io::Result<(u64, String)> {
    let mut reader = BufReader::with_capacity(1 << 18, File::open(path)?);
    let mut hash = Sha256::new();
    let mut bytes = 0;
    loop {
        let buffer = reader.fill_buf()?;
        if buffer.is_empty() {
            return Ok((bytes, hex(&hash.finalize())));
        }
        hash.update(buffer);
        let length = buffer.len();
        bytes += length as u64;
        reader.consume(length);
    }
}

fn read_manifest(backup: &Path) -> Result<BackupManifest, CatalogError> {
    if !backup.is_dir() {
        return Err(damaged(backup, "there is no such folder").into());
    }
    let path = backup.join("manifest.json");
    let text = fs::read_to_string(&path)
        .map_err(|error| damaged(&path, format!("it can't be read ({error}); the backup is not finished")))?;
    let value: Value = serde_json::from_str(&text).map_err(|error| damaged(&path, error.to_string()))?;
    let found = value["format"].as_u64().and_then(|format| u32::try_from(format).ok());
    if let Some(found) = found.filter(|found| *found > FORMAT) {
        return Err(StoreError::Newer { path: Some(backup.to_path_buf()), found, known: FORMAT }.into());
    }
    Ok(serde_json::from_value(value).map_err(|error| damaged(&path, error.to_string()))?)
}

fn check_file(backup: &Path, file: &BackupFile) -> Result<(), CatalogError> {
    let path: PathBuf = backup.join(&file.name);
    let (bytes, sha256) = digest_of(&path).map_err(|error| damaged(&path, error.to_string()))?;
    if (bytes, &sha256) == (file.bytes, &file.sha256) {
        Ok(())
    } else {
        Err(damaged(&path, "it is not what was written").into())
    }
}

/// Puts the changes of a file into a history that is being written.
fn restore_file(path: &Path, replay: &mut Replay) -> Result<(), StoreError> {
    let file = File::open(path).map_err(|error| damaged(path, error.to_string()))?;
    for (at, line) in BufReader::new(file).lines().enumerate().skip(1) {
        let line = line.map_err(|error| damaged(path, error.to_string()))?;
        if line.starts_with("{\"sha256\":") {
            continue;
        }
        let unreadable = |how: String| damaged(path, format!("line {}: {how}", at + 1));
        let (sequence, revision) = read_line(&line).map_err(unreadable)?;
        replay.take(sequence, revision)?;
    }
    Ok(())
}

/// Reads a line of a backup and says what is wrong with it, for those who test what arbitrary lines do.
///
/// # Errors
/// What is wrong, in words.
pub fn check_backup_line(line: &str) -> Result<(), String> {
    read_line(line).map(|_| ())
}

type Line = (u64, Result<Stored, Option<Change>>);

fn read_line(line: &str) -> Result<Line, String> {
    let mut value: Value = serde_json::from_str(line).map_err(|error| error.to_string())?;
    let number = |value: &Value, name: &str| value[name].as_u64().ok_or_else(|| format!("\"{name}\" is no number"));
    let sequence = number(&value, "sequence")?;
    if value.get("lost").is_some() {
        return Ok((sequence, Err(lost(sequence, &value["lost"]))));
    }
    let text = |name: &str| value[name].as_str().map(str::parse).transpose();
    let changed_by = text("changed_by").map_err(|error| format!("changed_by: {error}"))?;
    let why = text("why").map_err(|error| format!("why: {error}"))?;
    let state = match value["state"].as_str() {
        Some("current") => State::Current,
        Some("withdrawn") => State::Withdrawn,
        _ => return Err("\"state\" is neither current nor withdrawn".to_owned()),
    };
    let changed_at = value["changed_at"].as_str().unwrap_or_default();
    let changed_at = changed_at.parse().map_err(|error| format!("changed_at: {error}"))?;
    let revision = number(&value, "revision")?;
    let record = Record::from_json(&value["record"].take()).map_err(|refused| refused.to_string())?;
    let record = Arc::new(record);
    Ok((sequence, Ok(Stored { record, revision, state, changed_at, changed_by, why, sequence })))
}

/// What is known of a lost change.
fn lost(sequence: u64, value: &Value) -> Option<Change> {
    let id: Id = value["id"].as_str()?.parse().ok()?;
    Some(Change::lost(sequence, id, value["revision"].as_u64()?))
}
