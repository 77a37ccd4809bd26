//! The keys of the one tree. The first byte says what stands there.
//!
//! | key | value |
//! |---|---|
//! | `h` | the head: manifest of the whole |
//! | `l` id | the latest revision of a record: number, state, change |
//! | `r` id `00` number u32 | one revision of a record |
//! | `c` sequence u64 | one change: which record, which revision, when |
//! | `x` sequence u64 | a change whose revision was lost |
//! | `s` slot u32 | the id of the record that has the slot |
//! | `p` term `00` block u32 | one block of the set of slots that have a term |
//!
//! Numbers are big-endian, so that keys stand in their order. An id has no zero byte.

use super::error::StoreError;
use crate::record::Id;
use std::ops::Range;

const LATEST: u8 = b'l';
const REVISION: u8 = b'r';
const CHANGE: u8 = b'c';
const LOST: u8 = b'x';
const SLOT: u8 = b's';
const BLOCK: u8 = b'p';

/// What stands under a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The manifest of the whole.
    Head,
    /// Which revision of a record is the latest.
    Latest,
    /// One revision of a record.
    Revision,
    /// One change.
    Change,
    /// A change whose revision was lost.
    Lost,
    /// The id that has a slot.
    Slot,
    /// One block of the index.
    Block,
}

impl Kind {
    /// What stands under this key; nothing if the store writes no such key.
    pub fn of(key: &[u8]) -> Option<Self> {
        match *key.first()? {
            LATEST => Some(Self::Latest),
            REVISION => Some(Self::Revision),
            CHANGE => Some(Self::Change),
            LOST => Some(Self::Lost),
            SLOT => Some(Self::Slot),
            BLOCK => Some(Self::Block),
            _ => (key == HEAD).then_some(Self::Head),
        }
    }
}

/// The key of the head.
pub const HEAD: &[u8] = b"h";

/// The key of the latest revision of a record.
pub fn latest(id: &Id) -> Vec<u8> {
    [&[LATEST], id.as_str().as_bytes()].concat()
}

/// The keys of the latest revisions of everything whose id begins with `path`, and maybe of neighbours; of
/// everything without a path.
pub fn latest_within(path: Option<&str>) -> Range<Vec<u8>> {
    match path {
        Some(path) => [&[LATEST], path.as_bytes()].concat()..[&[LATEST], path.as_bytes(), &[0xff]].concat(),
        None => vec![LATEST]..vec![LATEST + 1],
    }
}

/// The keys of the latest revisions of everything whose id comes after `after`; of everything if that is empty.
pub fn latest_after(after: &[u8]) -> Range<Vec<u8>> {
    let end: &[u8] = if after.is_empty() { &[] } else { &[0] };
    [&[LATEST], after, end].concat()..vec![LATEST + 1]
}

/// The id in the key of a latest revision.
pub fn id_of_latest(key: &[u8]) -> Result<Id, StoreError> {
    id_in(key.get(1..).unwrap_or_default()).ok_or_else(|| StoreError::damaged_value(key, "its key holds no id"))
}

fn id_in(bytes: &[u8]) -> Option<Id> {
    std::str::from_utf8(bytes).ok()?.parse().ok()
}

/// The key of one revision of a record.
pub fn revision(id: &Id, number: u32) -> Vec<u8> {
    [&[REVISION], id.as_str().as_bytes(), &[0], &number.to_be_bytes()].concat()
}

/// The keys of all revisions of a record.
pub fn revisions_of(id: &Id) -> Range<Vec<u8>> {
    let id = id.as_str().as_bytes();
    [&[REVISION], id, &[0]].concat()..[&[REVISION], id, &[1]].concat()
}

/// The keys of all revisions of all records.
pub fn all_revisions() -> Range<Vec<u8>> {
    vec![REVISION]..vec![REVISION + 1]
}

/// Whether this is the key of a revision.
#[cfg(feature = "postgres")]
pub fn is_revision(key: &[u8]) -> bool {
    key.first() == Some(&REVISION)
}

/// The keys of the whole index.
pub fn all_blocks() -> Range<Vec<u8>> {
    vec![BLOCK]..vec![BLOCK + 1]
}

/// The id and the number in the key of a revision.
pub fn id_and_number(key: &[u8]) -> Result<(Id, u32), StoreError> {
    revision_in(key).ok_or_else(|| StoreError::damaged_value(key, "its key is no key of a revision"))
}

fn revision_in(key: &[u8]) -> Option<(Id, u32)> {
    let (id, number) = key.split_last_chunk::<4>()?;
    Some((id_in(id.strip_suffix(&[0])?.get(1..)?)?, u32::from_be_bytes(*number)))
}

/// The key of a change.
pub fn change(sequence: u64) -> Vec<u8> {
    [&[CHANGE][..], &sequence.to_be_bytes()].concat()
}

/// The keys of the changes from one to another, both included.
pub fn changes(first: u64, last: u64) -> Range<Vec<u8>> {
    change(first)..change(last.saturating_add(1))
}

/// The key of a change whose revision was lost.
pub fn lost(sequence: u64) -> Vec<u8> {
    [&[LOST][..], &sequence.to_be_bytes()].concat()
}

/// The keys of all changes whose revision was lost.
pub fn all_lost() -> Range<Vec<u8>> {
    vec![LOST]..vec![LOST + 1]
}

/// The sequence in the key of a change.
pub fn sequence_of(key: &[u8]) -> Result<u64, StoreError> {
    sequence_in(key).ok_or_else(|| StoreError::damaged_value(key, "its key is no key of a change"))
}

fn sequence_in(key: &[u8]) -> Option<u64> {
    Some(u64::from_be_bytes(key.get(1..)?.try_into().ok()?))
}

/// The key of a slot.
pub fn slot(slot: u32) -> Vec<u8> {
    [&[SLOT][..], &slot.to_be_bytes()].concat()
}

/// The keys of all slots.
pub fn slots() -> Range<Vec<u8>> {
    vec![SLOT]..vec![SLOT + 1]
}

/// The slot in the key of a slot.
pub fn slot_of(key: &[u8]) -> Result<u32, StoreError> {
    slot_in(key).ok_or_else(|| StoreError::damaged_value(key, "its key is no key of a slot"))
}

fn slot_in(key: &[u8]) -> Option<u32> {
    Some(u32::from_be_bytes(key.get(1..)?.try_into().ok()?))
}

/// The key of one block of a term.
pub fn block(term: &[u8], number: u32) -> Vec<u8> {
    [&[BLOCK], term, &[0], &number.to_be_bytes()].concat()
}

/// The keys of all blocks of the terms from one to another, both included.
pub fn blocks(first: &[u8], last: &[u8]) -> Range<Vec<u8>> {
    [&[BLOCK], first].concat()..[&[BLOCK], last, &[1]].concat()
}

/// The term and the number in the key of a block.
pub fn term_and_block(key: &[u8]) -> Result<(&[u8], u32), StoreError> {
    let parts = key.split_last_chunk::<4>().and_then(|(rest, number)| Some((rest.strip_suffix(&[0])?, number)));
    let (term, number) = parts.ok_or_else(|| StoreError::damaged_value(key, "its key is no key of the index"))?;
    Ok((term.get(1..).unwrap_or_default(), u32::from_be_bytes(*number)))
}

/// A key in words, for messages. It makes no error itself, since every error about a key asks for its words.
pub fn in_words(key: &[u8]) -> String {
    let words = match Kind::of(key) {
        Some(Kind::Latest) => id_in(&key[1..]).map(|id| format!("the entry of {id}")),
        Some(Kind::Revision) => revision_in(key).map(|(id, number)| format!("revision {number} of {id}")),
        Some(Kind::Change) => sequence_in(key).map(|sequence| format!("change {sequence}")),
        Some(Kind::Lost) => sequence_in(key).map(|sequence| format!("the note that change {sequence} was lost")),
        Some(Kind::Slot) => slot_in(key).map(|slot| format!("slot {slot}")),
        Some(Kind::Block) => Some("an entry of the index".to_owned()),
        Some(Kind::Head) => Some("the head of the store".to_owned()),
        None => Some("an unknown entry".to_owned()),
    };
    words.unwrap_or_else(|| "an entry with an unreadable key".to_owned())
}
