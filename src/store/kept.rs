//! Derived bytes that are kept beside a store for those who only read it: of one state of its history, and good for the
//! program that made them. What is missing, of another history or not whole is worked out anew.

use super::witness::Note;
use super::{Head, Store};
use std::fs;

/// Bytes that one state of the store has in front: sequence, digest and checksum.
const HEADING: usize = 8 + 16 + 4;

impl Store {
    /// What was kept under a name for a state of the store or one before it, by this program, and the last change of that.
    #[must_use]
    pub fn kept(&self, name: &str, made_by: u64, state: &Head) -> Option<(u64, Vec<u8>)> {
        let mut bytes = fs::read(self.path.as_ref()?.join(name)).ok()?;
        let (heading, body) = bytes.split_at_checked(HEADING)?;
        let (sequence, rest) = heading.split_first_chunk()?;
        let (digest, _) = rest.split_first_chunk()?;
        let note = Note { sequence: u64::from_be_bytes(*sequence), digest: u128::from_be_bytes(*digest) };
        let now = state.note();
        let is_there = note.sequence < now.sequence || note == now;
        (is_there && heading == heading_of(note, &state.epoch, made_by, body))
            .then(|| (note.sequence, bytes.split_off(HEADING)))
    }

    /// Keeps bytes under a name for a state of the store. If they can't be written they are not kept.
    pub fn keep(&self, name: &str, made_by: u64, state: &Head, body: &[u8]) {
        let Some(path) = &self.path else { return };
        let bytes = [&heading_of(state.note(), &state.epoch, made_by, body), body].concat();
        let half = path.join(format!("{name}.{}", std::process::id()));
        if fs::write(&half, bytes).and_then(|()| fs::rename(&half, path.join(name))).is_err() {
            let _ = fs::remove_file(half);
        }
    }
}

fn heading_of(note: Note, epoch: &str, made_by: u64, body: &[u8]) -> Vec<u8> {
    let mut heading = [note.sequence.to_be_bytes().as_slice(), &note.digest.to_be_bytes()].concat();
    let mut crc = crc32fast::Hasher::new();
    crc.update(&heading);
    crc.update(epoch.as_bytes());
    crc.update(&made_by.to_be_bytes());
    crc.update(body);
    heading.extend(crc.finalize().to_be_bytes());
    heading
}

/// A number that stands for the running program: another build judges anew.
#[must_use]
pub fn this_program() -> Option<u64> {
    use std::hash::{DefaultHasher, Hash, Hasher};
    let about = std::env::current_exe().and_then(fs::metadata).ok()?;
    let mut hash = DefaultHasher::new();
    (about.len(), about.modified().ok()?, env!("CARGO_PKG_VERSION")).hash(&mut hash);
    Some(hash.finish())
}
