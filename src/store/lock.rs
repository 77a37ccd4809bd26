//! The lock of a store's folder: one process at a time, and who it is.

use super::error::{Holder, StoreError};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The lock of a folder; let go of when dropped, or when the process dies in any way.
#[derive(Debug)]
pub struct Lock(Mutex<File>);

/// How long to sleep between two tries.
const PAUSE: Duration = Duration::from_millis(10);

impl Lock {
    /// Takes the lock, waiting for a holder that is busy for a moment, but not for one that answers at an address.
    pub fn take(file: &Path, store: &Path, wait: Duration) -> Result<Self, StoreError> {
        let opened = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(file);
        let mut lock = opened.map_err(|source| not_writable(store, source))?;
        let until = Instant::now() + wait;
        loop {
            match lock.try_lock() {
                Ok(()) => break,
                Err(TryLockError::Error(source)) => return Err(StoreError::io("locking the store")(source)),
                Err(TryLockError::WouldBlock) => {
                    let by = read_holder(&mut lock);
                    if by.address.is_some() || Instant::now() >= until {
                        return Err(StoreError::Held { path: store.to_path_buf(), by });
                    }
                    std::thread::sleep(PAUSE);
                }
            }
        }
        let lock = Self(Mutex::new(lock));
        lock.sign(None)?;
        Ok(lock)
    }

    /// Looks whether the lock could be taken, and leaves it as it is.
    ///
    /// # Errors
    /// If somebody holds it, or it can't be written.
    pub fn probe(file: &Path, store: &Path) -> Result<(), StoreError> {
        let mut lock = match OpenOptions::new().read(true).write(true).open(file) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
            opened => opened.map_err(|source| not_writable(store, source))?,
        };
        match lock.try_lock_shared() {
            Ok(()) => Ok(()),
            Err(TryLockError::Error(source)) => Err(StoreError::io("looking at the lock of the store")(source)),
            Err(TryLockError::WouldBlock) => {
                Err(StoreError::Held { path: store.to_path_buf(), by: read_holder(&mut lock) })
            }
        }
    }

    /// Writes who holds the lock, and where it answers.
    pub fn sign(&self, address: Option<&str>) -> Result<(), StoreError> {
        let command: Vec<String> = std::env::args().take(2).collect();
        let name = command.first().and_then(|path| Path::new(path).file_name()).map(|name| name.to_string_lossy());
        let verb = command.get(1).map_or("", String::as_str);
        let command = format!("{} {verb}", name.unwrap_or_default());
        let text = format!("{}\n{}\n{}\n", std::process::id(), command.trim(), address.unwrap_or(""));
        let mut file = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let written = file.seek(SeekFrom::Start(0)).and_then(|_| file.set_len(0));
        written.and_then(|()| file.write_all(text.as_bytes())).map_err(StoreError::io("signing the lock of the store"))
    }
}

fn not_writable(store: &Path, source: std::io::Error) -> StoreError {
    use std::io::ErrorKind::{PermissionDenied, ReadOnlyFilesystem};
    match source.kind() {
        PermissionDenied | ReadOnlyFilesystem => StoreError::NotWritable { path: store.to_path_buf(), source },
        _ => StoreError::io("opening the lock of the store")(source),
    }
}

fn read_holder(file: &mut File) -> Holder {
    let mut text = String::new();
    if file.seek(SeekFrom::Start(0)).and_then(|_| file.take(1000).read_to_string(&mut text)).is_err() {
        return Holder::default();
    }
    let mut lines = text.lines().map(str::to_owned);
    let process = lines.next().and_then(|line| line.parse().ok());
    let mut filled = || lines.next().filter(|line| !line.is_empty());
    Holder { process, command: filled(), address: filled() }
}
