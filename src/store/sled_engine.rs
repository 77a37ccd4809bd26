//! The engine on sled: one tree, atomic batches, and a guard around what sled does badly.
//!
//! sled 0.34 flushes with `sync_file_range`, which a loss of power may undo, so every sync is followed by an
//! `fsync` of the data file. It panics when it opens some damaged files; the panic is caught and told.

use super::engine::{Batch, Engine, EngineError, Pair};
use super::folder::Sync as Durability;
use super::sled_notes;
use std::cell::Cell;
use std::fs::{File, TryLockError};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, Once, PoisonError};
use std::time::{Duration, Instant};

/// Bytes that sled may keep in memory: a share of its file, which is about four times the JSON of the records. It counts
/// stored bytes, and pages in memory take about three times as many. What is read again and again is kept by the store
/// itself, so this is for pages that are written to, of which a new store has many: an import writes to most of the index with
/// each batch, in no order, and reads and unpacks again whatever page was let go of.
fn cache_bytes(path: &Path) -> u64 {
    const SHARE: u64 = 64;
    const LEAST: u64 = 4 << 20;
    const MOST: u64 = 256 << 20;
    const NEW: u64 = 16 << 20;
    const OF_NEW: u64 = 64 << 20;
    let file = path.join("db").metadata().map_or(0, |file| file.len());
    if file > NEW { (file / SHARE).clamp(LEAST, MOST) } else { OF_NEW }
}

/// From so many more bytes of its file on sled is made to remember where they end.
const MANY_MORE: u64 = if cfg!(test) { 1 << 20 } else { 64 << 20 };

/// The engine on sled.
pub struct SledEngine {
    /// Taken away when the engine is closed.
    open: Option<(sled::Tree, sled::Db)>,
    data_file: File,
    path: PathBuf,
    /// The bytes of its file when it was opened.
    bytes: u64,
    /// Whether a write has failed.
    has_failed: AtomicBool,
    durability: Durability,
    /// Held while a requirement is checked and its batch applied.
    writing: Mutex<()>,
}

impl SledEngine {
    /// Opens or makes the engine's files in a folder of its own.
    ///
    /// # Errors
    /// If the files can't be opened or are damaged.
    pub fn open(path: &Path, durability: Durability) -> Result<Self, EngineError> {
        let bytes = path.join("db").metadata().map_or(0, |file| file.len());
        let open = Self::open_files(path)?;
        let data_file = File::open(path.join("db")).map_err(EngineError::Io)?;
        let (path, has_failed) = (path.to_path_buf(), AtomicBool::new(false));
        Ok(Self { open: Some(open), data_file, path, bytes, has_failed, durability, writing: Mutex::new(()) })
    }

    fn open_files(path: &Path) -> Result<(sled::Tree, sled::Db), EngineError> {
        sled_notes::take_away_broken(path).map_err(EngineError::Io)?;
        let config = sled::Config::new().path(path).cache_capacity(cache_bytes(path));
        let db = quietly(|| config.open())?;
        Ok((quietly(|| db.open_tree("book"))?, db))
    }

    /// Waits until sled's own threads have let go of its file.
    fn wait_until_closed(&self) {
        /// After so long the file is left to whoever still has it.
        const PATIENCE: Duration = Duration::from_secs(5);
        let until = Instant::now() + PATIENCE;
        while matches!(self.data_file.try_lock(), Err(TryLockError::WouldBlock)) && Instant::now() < until {
            std::thread::sleep(Duration::from_micros(200));
        }
    }

    /// Whether so much was written that sled would take long to open its file: it reads all that has come since it was opened
    /// last, and then notes where that ends. Whoever has just written much can wait for that better than whoever comes next.
    fn has_much_to_note(&self) -> bool {
        let bytes = self.data_file.metadata().map_or(0, |file| file.len());
        !self.has_failed.load(Ordering::Relaxed) && bytes.saturating_sub(self.bytes) > MANY_MORE
    }

    fn tree(&self) -> Result<&sled::Tree, sled::Error> {
        let closed = || sled::Error::Unsupported("the engine is closed".to_owned());
        self.open.as_ref().map(|(tree, _)| tree).ok_or_else(closed)
    }
}

/// Closes the engine and waits until its own threads have let go of the data file too: only then may anybody seal
/// or copy it, or open it again.
impl Drop for SledEngine {
    fn drop(&mut self) {
        let Some((tree, db)) = self.open.take() else { return };
        let _ = quietly(|| db.flush());
        let close = |open: (sled::Tree, sled::Db)| {
            let _ = quietly(move || {
                drop(open);
                Ok(())
            });
            self.wait_until_closed();
        };
        close((tree, db));
        if self.has_much_to_note() && self.data_file.unlock().is_ok() {
            let _ = Self::open_files(&self.path).map(close);
        }
    }
}

impl std::fmt::Debug for SledEngine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SledEngine").field("durability", &self.durability).finish_non_exhaustive()
    }
}

thread_local! {
    /// Whether a panic of this thread is caught and told as an error, so that it need not be printed.
    static IS_QUIET: Cell<bool> = const { Cell::new(false) };
}

/// Keeps panics that are caught here from being printed; all others are printed as before.
fn keep_quiet_about_caught_panics() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            if !IS_QUIET.get() {
                before(panic);
            }
        }));
    });
}

/// Runs something of sled's; a panic comes back as an error, and is not printed.
fn quietly<T>(work: impl FnOnce() -> Result<T, sled::Error>) -> Result<T, EngineError> {
    keep_quiet_about_caught_panics();
    let before = IS_QUIET.replace(true);
    let result = catch_unwind(AssertUnwindSafe(work));
    IS_QUIET.set(before);
    match result {
        Ok(result) => result.map_err(engine_error),
        Err(panic) => Err(EngineError::Damaged(words_of_panic(panic.as_ref()))),
    }
}

fn words_of_panic(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("it gave no reason").to_owned()
}

fn engine_error(error: sled::Error) -> EngineError {
    match error {
        sled::Error::Io(error) => EngineError::Io(error),
        other => EngineError::Damaged(other.to_string()),
    }
}

impl Engine for SledEngine {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        quietly(|| self.tree()?.get(key)).map(|value| value.map(|value| value.to_vec()))
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        if from >= below {
            return Ok(Vec::new());
        }
        quietly(|| {
            let pairs = self.tree()?.range(from..below).take(limit);
            pairs.map(|pair| pair.map(|(key, value)| (key.to_vec(), value.to_vec()))).collect()
        })
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        self.apply_whole(batch.clone())
    }

    fn apply_whole(&self, batch: Batch) -> Result<(), EngineError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(required) = batch.requirement()
            && self.get(&required.key)? != required.value
        {
            return Err(EngineError::Overtaken);
        }
        let mut changes = sled::Batch::default();
        for (key, value) in batch.into_changes() {
            match value {
                Some(value) => changes.insert(key, value),
                None => changes.remove(key),
            }
        }
        quietly(|| self.tree()?.apply_batch(changes))
            .inspect_err(|_| self.has_failed.store(true, Ordering::Relaxed))?;
        match self.durability {
            Durability::Always => self.sync(),
            Durability::Batch => Ok(()),
        }
    }

    fn sync(&self) -> Result<(), EngineError> {
        let flushed = quietly(|| self.tree()?.flush()).map(drop);
        let synced = flushed.and_then(|()| self.data_file.sync_all().map_err(EngineError::Io));
        synced.inspect_err(|_| self.has_failed.store(true, Ordering::Relaxed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A hundred pairs, written in the second run of an engine, so that there is a note of the first.
    fn written_twice(folder: &Path) -> Vec<Pair> {
        let pair = |key: u32| (key.to_be_bytes().to_vec(), key.to_le_bytes().repeat(64));
        for keys in [0..50, 50..100] {
            let engine = SledEngine::open(folder, Durability::Always).expect("an engine");
            let mut batch = Batch::default();
            keys.map(pair).for_each(|(key, value)| batch.put(key, value));
            engine.apply(&batch).expect("it is written");
        }
        drop(SledEngine::open(folder, Durability::Always).expect("an engine"));
        (0..100).map(pair).collect()
    }

    fn read_back(folder: &Path) -> Result<Vec<Pair>, EngineError> {
        SledEngine::open(folder, Durability::Always)?.scan(&[], &[0xff], 1000)
    }

    /// As a process leaves them that is killed while sled notes something down.
    #[test]
    fn a_note_that_was_begun_and_not_finished_keeps_nobody_from_the_pairs() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, pairs) = (folder.path(), written_twice(folder.path()));
        let unfinished = path.join("snap.00000000FFFFFFFF.generating");
        for half in [&b""[..], b"half of a note, longer than its tail"] {
            std::fs::write(&unfinished, half).expect("a file");
            // What is guarded against: sled takes it for the newest one.
            let refused = quietly(|| sled::Config::new().path(path).open().map(drop)).expect_err("sled has learned it");
            assert!(matches!(&refused, EngineError::Damaged(how) if how.contains("corrupted")), "{refused:?}");
            assert_eq!(read_back(path).expect("pairs"), pairs);
            assert!(!unfinished.exists());
        }
    }

    /// A new store whose settings were not finished, and notes that have rotted.
    #[test]
    fn broken_notes_are_made_anew_from_the_data_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        let settings = path.join("conf");
        std::fs::write(&settings, "segment_size: 524288\nuse_compression: false\nversion: 0.34\n").expect("a file");
        quietly(|| sled::Config::new().path(path).open().map(drop)).expect_err("sled has learned it");
        let pairs = written_twice(path);
        let snapshot = || path.join(format!("snap.{:016X}", noted(path).expect("a note")));
        for broken in [settings, snapshot()] {
            assert!(sled_notes::are_whole(path).expect("notes"));
            let mut bytes = std::fs::read(&broken).expect("a note");
            bytes[3] ^= 4;
            std::fs::write(&broken, bytes).expect("a file");
            assert!(!sled_notes::are_whole(path).expect("notes"), "{}", broken.display());
            assert_eq!(read_back(path).expect("pairs"), pairs);
        }
    }

    /// Sled writes over parts of its file that are of no use any more; what it reads from the whole of it must be the same
    /// as with its notes.
    #[test]
    fn the_whole_log_tells_the_same_as_the_notes() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, mut expected, mut written) = (folder.path(), std::collections::BTreeMap::new(), 0);
        for run in 0..30_u32 {
            let engine = SledEngine::open(path, Durability::Batch).expect("an engine");
            for part in 0..10_u32 {
                let mut batch = Batch::default();
                for number in 0..200_u32 {
                    let mixed = (run * 2000 + part * 200 + number).wrapping_mul(0x9E37_79B1);
                    let key = (mixed % 3000).to_be_bytes().to_vec();
                    if mixed.is_multiple_of(7) {
                        batch.remove(key.clone());
                        expected.remove(&key);
                    } else {
                        let value = mixed.to_le_bytes().repeat(20 + run as usize);
                        written += value.len() as u64;
                        batch.put(key.clone(), value.clone());
                        expected.insert(key, value);
                    }
                }
                engine.apply(&batch).expect("it is written");
            }
        }
        let expected: Vec<Pair> = expected.into_iter().collect();
        let bytes = path.join("db").metadata().expect("a file").len();
        assert!(bytes < written, "{bytes} of {written}: nothing was written over");
        assert!(noted(path).is_some_and(|noted| noted > 0));
        let all = |path: &Path| SledEngine::open(path, Durability::Batch)?.scan(&[], &[0xff], 10_000);
        assert!(all(path).expect("pairs") == expected);
        for note in sled_notes::notes(path).expect("notes") {
            std::fs::remove_file(note.path).expect("a note");
        }
        assert!(all(path).expect("pairs") == expected);
    }

    /// Where sled has noted that its log ends, as the name of its note says; nothing without a note.
    fn noted(path: &Path) -> Option<u64> {
        let names = std::fs::read_dir(path).expect("a folder").map(|entry| entry.expect("an entry").file_name());
        let ends = names.filter_map(|name| u64::from_str_radix(name.to_str()?.strip_prefix("snap.")?, 16).ok());
        ends.max()
    }

    #[test]
    fn who_has_written_much_leaves_a_note_of_where_it_ends_and_who_has_written_little_does_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let write = |keys: std::ops::Range<u32>| {
            let engine = SledEngine::open(folder.path(), Durability::Batch).expect("an engine");
            let mut batch = Batch::default();
            // Every value is another one.
            keys.for_each(|key| batch.put(key.to_be_bytes().to_vec(), key.to_le_bytes().repeat(64)));
            engine.apply(&batch).expect("it is written");
        };
        write(0..100);
        let little = noted(folder.path()).unwrap_or_default();
        write(100..10_000);
        let much = noted(folder.path()).unwrap_or_default();
        assert!(little < 1 << 20 && much > 2 << 20, "{little} and {much} bytes of the log were noted");
        let engine = SledEngine::open(folder.path(), Durability::Batch).expect("an engine");
        let pairs = engine.scan(&[], &[0xff], 20_000).expect("a read");
        assert!(pairs.iter().map(|(key, _)| key.clone()).eq((0..10_000_u32).map(|key| key.to_be_bytes().to_vec())));
    }
}
