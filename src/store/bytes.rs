//! The frame around every stored value: format, schema, checksum, then the value in bincode 2.
//!
//! `[format u8][schema u16 big-endian][crc32 u32 big-endian][bincode …]`. The checksum covers the key too, so that
//! a value under a wrong key is damage.

use super::error::StoreError;
use serde::{Serialize, de::DeserializeOwned};

/// The format of the frame that this program writes, and the newest that it reads.
pub const FORMAT: u8 = 1;
/// The most bytes of one stored value: beyond about 128 kB the engine would put it into a file of its own.
pub const VALUE_BYTES_MAX: usize = 64 << 10;
/// The bytes of a frame before the value.
pub const FRAME: usize = 7;

fn config() -> impl bincode::config::Config {
    bincode::config::standard().with_limit::<VALUE_BYTES_MAX>()
}

/// Frames a value.
///
/// # Errors
/// If it is larger than [`VALUE_BYTES_MAX`].
pub fn encode<T: Serialize>(key: &[u8], schema: u16, value: &T) -> Result<Vec<u8>, StoreError> {
    encode_with_end(key, schema, value, &[])
}

/// Frames a value whose last member has been encoded before.
///
/// # Errors
/// If it is larger than [`VALUE_BYTES_MAX`].
pub fn encode_with_end<T: Serialize>(key: &[u8], schema: u16, value: &T, end: &[u8]) -> Result<Vec<u8>, StoreError> {
    /// Room for what comes before the end.
    const START: usize = 64;
    let mut bytes = Vec::with_capacity(FRAME + START + end.len());
    bytes.resize(FRAME, 0);
    bytes[0] = FORMAT;
    bytes[1..3].copy_from_slice(&schema.to_be_bytes());
    bincode::serde::encode_into_std_write(value, &mut bytes, config())
        .map_err(|error| StoreError::Internal(error.to_string()))?;
    bytes.extend_from_slice(end);
    if bytes.len() - FRAME > VALUE_BYTES_MAX {
        return Err(StoreError::TooLarge { bytes: bytes.len() - FRAME, most: VALUE_BYTES_MAX });
    }
    let crc = checksum(key, &bytes);
    bytes[3..FRAME].copy_from_slice(&crc.to_be_bytes());
    Ok(bytes)
}

fn checksum(key: &[u8], framed: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(key);
    crc.update(&framed[..3]);
    crc.update(&framed[FRAME..]);
    crc.finalize()
}

/// Opens the frame of a value: its schema and its bytes.
///
/// # Errors
/// If it is damaged or of a newer format.
pub fn open<'b>(key: &[u8], bytes: &'b [u8]) -> Result<(u16, &'b [u8]), StoreError> {
    let damaged = |what: &str| StoreError::damaged_value(key, what);
    if bytes.len() < FRAME {
        return Err(damaged("it is cut off"));
    }
    let crc = u32::from_be_bytes([bytes[3], bytes[4], bytes[5], bytes[6]]);
    if crc != checksum(key, bytes) {
        return Err(damaged("its checksum does not match"));
    }
    if bytes[0] > FORMAT {
        return Err(StoreError::Newer { path: None, found: u32::from(bytes[0]), known: u32::from(FORMAT) });
    }
    Ok((u16::from_be_bytes([bytes[1], bytes[2]]), &bytes[FRAME..]))
}

/// Reads a value that stands in a frame of this schema, to its last byte.
///
/// # Errors
/// If it is damaged or of a newer format or schema.
pub fn decode<T: DeserializeOwned>(key: &[u8], schema: u16, bytes: &[u8]) -> Result<T, StoreError> {
    let (found, body) = open(key, bytes)?;
    if found != schema {
        return Err(StoreError::Newer { path: None, found: u32::from(found), known: u32::from(schema) });
    }
    decode_body(key, body)
}

/// Reads the bytes inside a frame, to the last one.
///
/// # Errors
/// If they are damaged.
pub fn decode_body<T: DeserializeOwned>(key: &[u8], body: &[u8]) -> Result<T, StoreError> {
    let read = bincode::serde::decode_from_slice::<T, _>(body, config());
    let (value, consumed) = read.map_err(|error| StoreError::damaged_value(key, &error.to_string()))?;
    if consumed == body.len() { Ok(value) } else { Err(StoreError::damaged_value(key, "it is longer than it says")) }
}

/// Reads the frame of this schema at the beginning of some bytes, without checking it, and gives its length.
pub fn decode_start<T: DeserializeOwned>(schema: u16, bytes: &[u8]) -> Option<(T, usize)> {
    if bytes.len() < FRAME || bytes[0] != FORMAT || bytes[1..3] != schema.to_be_bytes() {
        return None;
    }
    let (value, length) = bincode::serde::decode_from_slice(&bytes[FRAME..], config()).ok()?;
    Some((value, FRAME + length))
}
