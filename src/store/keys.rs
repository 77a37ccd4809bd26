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
    id_in(key, &key[1..])
}

fn id_in(key: &[u8], bytes: &[u8]) -> Result<Id, StoreError> {
    let id = std::str::from_utf8(bytes).ok().and_then(|text| text.parse().ok());
    id.ok_or_else(|| StoreError::damaged_value(key, "its key holds no id"))
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
    let parts = key.split_last_chunk::<4>().and_then(|(rest, number)| Some((rest.strip_suffix(&[0])?, number)));
    let (id, number) = parts.ok_or_else(|| StoreError::damaged_value(key, "its key is no key of a revision"))?;
    Ok((id_in(key, id.get(1..).unwrap_or_default())?, u32::from_be_bytes(*number)))
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
    let bytes = key.get(1..).and_then(|bytes| bytes.try_into().ok());
    bytes.map(u64::from_be_bytes).ok_or_else(|| StoreError::damaged_value(key, "its key is no key of a change"))
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
    let bytes = key.get(1..).and_then(|bytes| bytes.try_into().ok());
    bytes.map(u32::from_be_bytes).ok_or_else(|| StoreError::damaged_value(key, "its key is no key of a slot"))
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

/// A key in words, for messages.
pub fn in_words(key: &[u8]) -> String {
    match key.first() {
        Some(&LATEST) => id_of_latest(key).map(|id| format!("the entry of {id}")),
        Some(&REVISION) => id_and_number(key).map(|(id, number)| format!("revision {number} of {id}")),
        Some(&CHANGE) => sequence_of(key).map(|sequence| format!("change {sequence}")),
        Some(&LOST) => sequence_of(key).map(|sequence| format!("the note that change {sequence} was lost")),
        Some(&SLOT) => slot_of(key).map(|slot| format!("slot {slot}")),
        Some(&BLOCK) => Ok("an entry of the index".to_owned()),
        _ if key == HEAD => Ok("the head of the store".to_owned()),
        _ => Ok("an unknown entry".to_owned()),
    }
    .unwrap_or_else(|_| "an entry with an unreadable key".to_owned())
}
