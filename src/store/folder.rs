//! The folder of a store: what lies in it, and what is wrong with one that is not.
//!
//! ```text
//! store.toml   says that this is a store, and of which format
//! lock         held by the process that has it open, and who that is
//! data/        the files of the engine
//! seal         what those files were when the store was last closed
//! witness      the last change that was reported stored
//! reading-copy every pair of the closed store, for those who only read
//! audit        what the audit of that state came to, for those who only read
//! intakes/     what the HTTP API was sent in bulk lately, until it is forgotten
//! data.kept/   the engine's files as they were found broken, until all is known to be whole
//! ```

use super::engine::Engine;
use super::error::StoreError;
use super::lock::Lock;
use super::reading_copy::{self, READING_COPY, Unfinished};
use super::seal::{self, Look, Sealed, write_whole};
use super::sled_notes;
use super::witness::{Note, Witness};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
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
    /// Whether a damaged store is opened all the same, for reading what is whole.
    pub damaged: bool,
}

impl Default for Opening {
    fn default() -> Self {
        Self { create: false, sync: Sync::Always, wait: Duration::from_secs(2), damaged: false }
    }
}

/// The folder of an open store.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    lock: Lock,
    witness: Witness,
    known: Option<Note>,
    /// What the engine's files looked like when their seal was whole.
    sealed: Option<Look>,
    /// Whether the engine's files are as they were found and are to stay so.
    leaves_alone: bool,
    /// Set when the mark says the format in which stores are written.
    is_of_now: OnceLock<()>,
    /// A reading copy that gets its foot once the engine is closed.
    copy: Option<(Unfinished, Note)>,
}

/// The format in which stores are written, and the newest that is read. In format 1 the engine had every pair by itself, in
/// format 2 they may be in bundles. A store of format 1 stays one until it is written to.
const FORMAT: u32 = 2;
const MARK: &str = "store.toml";
/// The mark while it is written.
const HALF_MARK: &str = "store.new";
const LOCK: &str = "lock";
const DATA: &str = "data";
const KEPT: &str = "data.kept";
const FIRST_LINE: &str = "# A clampbook store. Do not change anything in this folder by hand.";

impl Folder {
    /// Checks the folder, makes it if that is wanted, and takes its lock.
    pub fn open(path: &Path, opening: &Opening) -> Result<Self, StoreError> {
        let marked = match look(path)? {
            Some(true) => true,
            _ if !opening.create => return Err(StoreError::Missing { path: path.to_path_buf() }),
            Some(false) => false,
            None => {
                fs::create_dir_all(path).map_err(|source| cannot_write(path, source))?;
                false
            }
        };
        let lock = Lock::take(&path.join(LOCK), path, opening.wait)?;
        if !marked {
            write_mark(path)?;
        }
        // From here on the engine may write, so that the copy may be of another state.
        match fs::remove_file(path.join(READING_COPY)) {
            Err(error) if error.kind() != ErrorKind::NotFound => return Err(cannot_write(path, error)),
            _ => {}
        }
        let (witness, known) = Witness::open(path)?;
        let is_of_now = OnceLock::new();
        if format_of(path)? == Some(FORMAT) {
            let _ = is_of_now.set(());
        }
        let path = path.to_path_buf();
        Ok(Self { path, lock, witness, known, sealed: None, leaves_alone: false, is_of_now, copy: None })
    }

    /// Compares the engine's files with their seal, before the engine may touch them, and keeps a copy of broken ones.
    pub fn prepare(&mut self) -> Result<Sealed, StoreError> {
        let data = self.data();
        if self.known.is_some() && !data.join("db").exists() && !self.path.join(KEPT).exists() {
            let what = data.join("db").display().to_string();
            return Err(StoreError::Damaged { what, how: "the file is missing".to_owned() });
        }
        let broken_notes = |source| StoreError::io("reading what the engine has noted")(source);
        let sealed = if self.path.join(KEPT).exists() || !sled_notes::are_whole(&data).map_err(broken_notes)? {
            Sealed::Broken
        } else {
            seal::check(&self.path, &data)?
        };
        match sealed {
            Sealed::Whole => self.sealed = Some(seal::look(&data)),
            Sealed::Broken => self.keep_copy()?,
        }
        Ok(sealed)
    }

    /// What the witness knew when the folder was opened.
    pub fn known(&self) -> Option<Note> {
        self.known
    }

    /// Notes a change as stored.
    pub fn note(&self, note: Note) -> Result<(), StoreError> {
        self.witness.note(note)
    }

    /// Makes the mark say the format in which stores are written, before anything is written in it: a program that knows
    /// only older ones refuses the store from here on, instead of taking what it can't read for damage.
    pub fn raise_mark(&self) -> Result<(), StoreError> {
        if self.is_of_now.get().is_none() {
            write_mark(&self.path)?;
            let _ = self.is_of_now.set(());
        }
        Ok(())
    }

    /// Copies the engine's files aside, or takes those that an earlier try has left.
    fn keep_copy(&self) -> Result<(), StoreError> {
        let (data, kept, half) = (self.data(), self.path.join(KEPT), self.path.join("data.kept.new"));
        let failed = |source| StoreError::io("keeping a copy of the files of the store")(source);
        if kept.exists() {
            return replace_folder(&kept, &data).map_err(failed);
        }
        if data.exists() {
            copy_folder(&data, &half).and_then(|()| fs::rename(&half, &kept)).map_err(failed)?;
        }
        Ok(())
    }

    /// The folders in which revisions may be found: the engine's files as they were kept and as they are; if there
    /// are none, those that a repair has put aside and died over.
    pub fn sources(&self) -> Vec<PathBuf> {
        let here: Vec<_> = [self.path.join(KEPT), self.data()].into_iter().filter(|path| path.exists()).collect();
        if here.is_empty() {
            let aside = (1..).map(|number| self.aside(number)).take_while(|path| path.exists());
            return aside.last().map(|path| path.join(DATA)).into_iter().collect();
        }
        here
    }

    fn aside(&self, number: u32) -> PathBuf {
        self.path.join(format!("damaged-{number}"))
    }

    /// An empty place for new files of the engine.
    pub fn fresh_data(&self) -> Result<PathBuf, StoreError> {
        let fresh = self.path.join("data.new");
        match fs::remove_dir_all(&fresh) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(StoreError::io("removing old files")(error)),
            _ => Ok(fresh),
        }
    }

    /// Puts new files in the place of the old ones, which go aside with a word about why.
    pub fn swap_data(&mut self, fresh: &Path, note: Note, why: &str) -> Result<PathBuf, StoreError> {
        let failed = |source| StoreError::io("putting the new files in place")(source);
        self.raise_mark()?;
        let number = (1..).find(|number| !self.aside(*number).exists()).unwrap_or(1);
        let aside = self.aside(number);
        fs::create_dir(&aside).map_err(failed)?;
        write_whole(&aside.join("report.txt"), why.as_bytes()).map_err(failed)?;
        for (name, goal) in [(KEPT, "data.kept"), (DATA, DATA)] {
            let from = self.path.join(name);
            if from.exists() {
                fs::rename(from, aside.join(goal)).map_err(failed)?;
            }
        }
        fs::rename(fresh, self.data()).map_err(failed)?;
        // Both notes, so that the older one does not speak against the new files.
        self.witness.note(note)?;
        self.witness.note(note)?;
        seal::put(&self.path, &self.data())?;
        self.sealed = Some(seal::look(&self.data()));
        Ok(aside)
    }

    /// Puts new files in the place of the old ones, which go.
    pub fn take_data(&mut self, fresh: &Path, note: Note) -> Result<(), StoreError> {
        let aside = self.swap_data(fresh, note, "The files before they were written anew.\n")?;
        fs::remove_dir_all(aside).map_err(StoreError::io("removing the old files"))
    }

    /// The size of the engine's files.
    pub fn bytes(&self) -> u64 {
        seal::look(&self.data()).iter().map(|(_, bytes, _)| bytes).sum()
    }

    /// Everything is known to be whole: the copy is not needed any more.
    pub fn drop_copy(&self) -> Result<(), StoreError> {
        match fs::remove_dir_all(self.path.join(KEPT)) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(StoreError::io("removing a copy")(error)),
            _ => Ok(()),
        }
    }

    /// Puts the engine's files back as they were found; the engine is closed. They are left alone from now on.
    pub fn put_back(&mut self) {
        let (data, kept) = (self.data(), self.path.join(KEPT));
        if kept.exists() {
            // If this fails, the copy is still there and is taken the next time.
            let _ = fs::remove_dir_all(&data).and_then(|()| fs::rename(&kept, &data));
        }
        self.leaves_alone = true;
    }

    /// Where the engine keeps its files.
    pub fn data(&self) -> PathBuf {
        data_below(&self.path)
    }

    /// Writes a reading copy of the engine's pairs, which counts once the engine is closed. If it can't be written
    /// there is none: look-ups are slower then, not wrong.
    pub fn begin_copy(&mut self, engine: &dyn Engine, note: Note) {
        self.copy = reading_copy::write(&self.half_copy(), engine).ok().map(|copy| (copy, note));
        if self.copy.is_none() {
            let _ = fs::remove_file(self.half_copy());
        }
    }

    fn half_copy(&self) -> PathBuf {
        self.path.join("reading-copy.new")
    }

    fn finish_copy(&mut self) {
        let Some((copy, note)) = self.copy.take() else { return };
        let (half, look) = (self.half_copy(), seal::look(&self.data()));
        let done = copy.finish(&half, note, &look).and_then(|()| fs::rename(&half, self.path.join(READING_COPY)));
        if done.is_err() {
            let _ = fs::remove_file(half);
        }
    }

    /// The folder itself.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes where this process answers.
    pub fn announce(&self, address: &str) -> Result<(), StoreError> {
        self.lock.sign(Some(address))
    }
}

/// Where the engine of a store keeps its files.
pub fn data_below(store: &Path) -> PathBuf {
    store.join(DATA)
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
pub fn read_mark(path: &Path) -> Result<bool, StoreError> {
    Ok(format_of(path)?.is_some())
}

/// The format that the folder says it has, if it says that it is a store.
fn format_of(path: &Path) -> Result<Option<u32>, StoreError> {
    let file = path.join(MARK);
    // A bit that flipped in the words above the number is no reason to refuse the store.
    let text = match fs::read(&file) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(StoreError::io(format!("reading {}", file.display()))(error)),
    };
    let format = text.lines().find_map(|line| line.strip_prefix("format = ")?.trim().parse::<u32>().ok());
    match format {
        Some(format) if format > FORMAT => {
            Err(StoreError::Newer { path: Some(path.to_path_buf()), found: format, known: FORMAT })
        }
        Some(format) => Ok(Some(format)),
        None => {
            let what = file.display().to_string();
            let how = format!(
                "it does not say which format the store has, so nothing else is touched; if it was written by a program \
                 of this version, put the line \"format = {FORMAT}\" into it"
            );
            Err(StoreError::Damaged { what, how })
        }
    }
}

fn refuse_foreign(path: &Path) -> Result<(), StoreError> {
    let entries = fs::read_dir(path).map_err(StoreError::io(format!("reading {}", path.display())))?;
    for entry in entries {
        let entry = entry.map_err(StoreError::io(format!("reading {}", path.display())))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        // Whoever was killed while making a store may have left these.
        if name != LOCK && name != HALF_MARK {
            return Err(StoreError::Foreign { path: path.to_path_buf(), found: name });
        }
    }
    Ok(())
}

/// Whether a folder has the mark of a store; nothing where there is no folder.
fn look(path: &Path) -> Result<Option<bool>, StoreError> {
    match fs::metadata(path) {
        Ok(there) if !there.is_dir() => return Err(StoreError::NotAFolder { path: path.to_path_buf() }),
        Ok(_) => {}
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(StoreError::io(format!("looking at {}", path.display()))(error)),
    }
    let marked = read_mark(path)?;
    if !marked {
        refuse_foreign(path)?;
    }
    Ok(Some(marked))
}

/// Looks whether a store is there that can be opened, and touches nothing.
///
/// # Errors
/// What would stand in the way, as far as that can be seen.
pub fn glance(path: &Path) -> Result<(), StoreError> {
    match look(path)? {
        Some(true) => Lock::probe(&path.join(LOCK), path),
        _ => Err(StoreError::Missing { path: path.to_path_buf() }),
    }
}

fn write_mark(path: &Path) -> Result<(), StoreError> {
    let text = format!("{FIRST_LINE}\nformat = {FORMAT}\n");
    write_whole(&path.join(MARK), text.as_bytes()).map_err(|source| cannot_write(path, source))
}

/// Copies a folder and what is below it; what stood at the goal is removed.
fn copy_folder(from: &Path, to: &Path) -> std::io::Result<()> {
    if to.exists() {
        fs::remove_dir_all(to)?;
    }
    fs::create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let goal = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy_folder(&entry.path(), &goal)?;
        } else {
            fs::copy(entry.path(), &goal)?;
        }
    }
    Ok(())
}

/// Makes a folder a copy of another one.
fn replace_folder(from: &Path, to: &Path) -> std::io::Result<()> {
    if to.exists() {
        fs::remove_dir_all(to)?;
    }
    copy_folder(from, to)
}

/// Seals the engine's files. The engine is closed by now.
impl Drop for Folder {
    fn drop(&mut self) {
        if self.leaves_alone {
            return;
        }
        let data = self.data();
        let untouched = self.sealed.as_ref().is_some_and(|look| *look == seal::look(&data));
        if !untouched && data.exists() {
            // Without a seal the next opening checks everything: slower, not wrong.
            let _ = seal::put(&self.path, &data);
        }
        self.finish_copy();
    }
}
