//! A record by itself as bytes, for keeping it aside: in the stored form, which is read sooner than JSON.

use super::bytes;
use super::error::StoreError;
use super::layout::v1::{self, RecordV1};
use crate::record::Record;

/// The checksum covers this in the place of a key.
const ASIDE: &[u8] = b"aside";

/// The bytes of a record.
///
/// # Errors
/// If it is too large to be stored.
pub fn pack(record: &Record) -> Result<Vec<u8>, StoreError> {
    bytes::encode(ASIDE, v1::SCHEMA, &RecordV1::from(record))
}

/// Reads the bytes of a record.
///
/// # Errors
/// If they are not what was written.
pub fn unpack(bytes: &[u8]) -> Result<Record, StoreError> {
    let form: RecordV1 = bytes::decode(ASIDE, v1::SCHEMA, bytes)?;
    form.read().map_err(|how| StoreError::damaged_value(ASIDE, &how))
}
