//! Reading what is whole out of damaged files, without the engine.
//!
//! Every stored value stands in a frame with a checksum that covers its key, and holds what its key says. So
//! revisions, changes and heads are found in the engine's files wherever they lie, and proved whole, even if the
//! engine can't open the files or would lose what it can't read.

use super::change::{self, Change};
use super::error::StoreError;
use super::head::{Head, digest_of};
use super::revision;
use super::witness::Note;
use crate::query::Stored;
use std::collections::BTreeMap;
use std::fs::File;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

/// How much of a file is looked at at a time.
const WINDOW: usize = 8 << 20;
/// How far a value may reach beyond the window in which it begins.
const OVERLAP: usize = 2 * super::bytes::VALUE_BYTES_MAX;
/// The bytes that every frame of this format and schema begins with.
const FRAME_START: [u8; 3] = [super::bytes::FORMAT, 0, 1];

/// What was found whole in some files.
#[derive(Debug, Default)]
pub struct Salvage {
    files: Vec<File>,
    /// Where the revision of each change lies.
    revisions: BTreeMap<u64, Place>,
    changes: BTreeMap<u64, Change>,
    heads: BTreeMap<u64, Head>,
}

#[derive(Debug, Clone)]
struct Place {
    key: Vec<u8>,
    file: usize,
    offset: u64,
    length: usize,
    digest: u128,
}

impl Salvage {
    /// Looks through the engine's files below these folders.
    pub fn of(folders: &[PathBuf]) -> Result<Self, StoreError> {
        let mut salvage = Self::default();
        for folder in folders {
            for path in super::seal::files(folder)? {
                salvage.look_through(&path).map_err(StoreError::io(format!("reading {}", path.display())))?;
            }
        }
        Ok(salvage)
    }

    fn look_through(&mut self, path: &Path) -> std::io::Result<()> {
        let file = File::open(path)?;
        let size = file.metadata()?.len();
        let number = self.files.len();
        let mut from = 0;
        let mut window = Vec::new();
        while from < size {
            let length = usize::try_from(size - from).unwrap_or(usize::MAX).min(WINDOW + OVERLAP);
            window.resize(length, 0);
            file.read_exact_at(&mut window, from)?;
            let starts = window.windows(FRAME_START.len()).take(WINDOW).enumerate();
            for (at, _) in starts.filter(|(_, bytes)| **bytes == FRAME_START) {
                self.take(number, from + at as u64, &window[at..]);
            }
            from += WINDOW as u64;
        }
        self.files.push(file);
        Ok(())
    }

    /// Takes what stands at a place, if it is whole.
    fn take(&mut self, file: usize, offset: u64, bytes: &[u8]) {
        if let Some((key, length, sequence)) = revision::carve(bytes) {
            let digest = digest_of(&key, &bytes[..length]);
            self.revisions.entry(sequence).or_insert(Place { key, file, offset, length, digest });
        } else if let Some(change) = change::carve(bytes) {
            self.changes.entry(change.sequence).or_insert(change);
        } else if let Some(head) = Head::carve(bytes) {
            self.heads.entry(head.sequence).or_insert(head);
        }
    }

    /// The last change that is taken as made: what the witness knows, or the end of a later batch that is there whole.
    pub fn end(&self, known: Option<Note>) -> u64 {
        let known = known.map_or(0, |known| known.sequence);
        let later = self.heads.keys().rev().copied().filter(|sequence| *sequence > known);
        let whole = |end: &u64| self.revisions.range(known + 1..=*end).count() as u64 == end - known;
        later.into_iter().find(whole).unwrap_or(known)
    }

    /// The newest head that was found, up to a change.
    pub fn head(&self, end: u64) -> Option<&Head> {
        self.heads.range(..=end).next_back().map(|(_, head)| head)
    }

    /// Whether all revisions up to a change were found, proved by the digest that was kept with it.
    pub fn is_complete(&self, end: u64) -> bool {
        let sum = self.revisions.range(..=end).fold(0, |sum: u128, (_, place)| sum.wrapping_add(place.digest));
        let count = self.revisions.range(..=end).count() as u64;
        self.heads.get(&end).is_some_and(|head| head.digest == sum && head.counts.revisions == count)
    }

    /// The changes up to `end`, each with its revision, or with what is known of a lost one.
    pub fn history(&self, end: u64) -> impl Iterator<Item = (u64, Result<Stored, Option<Change>>)> + '_ {
        (1..=end).map(|sequence| {
            let stored = self.revisions.get(&sequence).and_then(|place| self.read(place).ok());
            (sequence, stored.ok_or_else(|| self.changes.get(&sequence).cloned()))
        })
    }

    /// How many revisions were found.
    pub fn found(&self, end: u64) -> u64 {
        self.revisions.range(..=end).count() as u64
    }

    fn read(&self, place: &Place) -> Result<Stored, StoreError> {
        let mut bytes = vec![0; place.length];
        let read = self.files[place.file].read_exact_at(&mut bytes, place.offset);
        read.map_err(StoreError::io("reading the files of the store"))?;
        revision::decode(&place.key, &bytes)
    }
}
