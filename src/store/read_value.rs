//! Reading any value by its key alone: the door through which arbitrary bytes are tried on every decoder.

use super::change::{self, LostV1};
use super::error::StoreError;
use super::head::Head;
use super::{bundle, index, keys, revision};

/// Reads a value as what its key says it is, for those who test what arbitrary bytes do.
///
/// # Errors
/// If it is damaged, of a newer format, or the key is none that the store writes.
pub fn read_value(key: &[u8], value: &[u8]) -> Result<(), StoreError> {
    match keys::Kind::of(key) {
        Some(keys::Kind::Head) => Head::decode(value).map(|_| ()),
        Some(keys::Kind::Latest) => keys::id_of_latest(key).and(revision::decode_latest(key, value)).map(|_| ()),
        Some(keys::Kind::Revision) => revision::decode(key, value).map(|_| ()),
        Some(keys::Kind::Change) => change::decode(key, value).map(|_| ()),
        Some(keys::Kind::Lost) => keys::sequence_of(key).and(LostV1::decode(key, value)).map(|_| ()),
        Some(keys::Kind::Slot) => keys::slot_of(key).and(revision::decode_slot(key, value)).map(|_| ()),
        Some(keys::Kind::Block) => keys::term_and_block(key).and(index::decode(key, value)).map(|_| ()),
        None => Err(StoreError::damaged_value(key, "its key is none of the store")),
    }
}

/// Reads the members of a bundle whose checksum is made right before, for those who test what arbitrary bytes do; gives
/// how many there are.
///
/// # Errors
/// If it is none.
pub fn read_bundle(key: &[u8], mut bytes: Vec<u8>) -> Result<usize, StoreError> {
    // As it came, too.
    let _ = bundle::each(key, &bytes, |_, _| true);
    bundle::seal(key, &mut bytes);
    let mut members = 0;
    bundle::each(key, &bytes, |_, _| {
        members += 1;
        true
    })?;
    Ok(members)
}
