//! Revisions of records as bytes, and the entry that says which one is the latest.

use super::bytes;
use super::error::StoreError;
use super::keys;
use super::layout::v1::{self, RecordV1, RevisionV1};
use crate::query::{State, Stored};
use crate::record::Id;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Which revision of a record is the latest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Latest {
    /// Its number.
    pub revision: u64,
    /// The change that made it.
    pub sequence: u64,
    /// Whether it is a withdrawal.
    pub withdrawn: bool,
    /// The slot that stands for the record in the index.
    pub slot: u32,
}

#[derive(Serialize, Deserialize)]
struct LatestV1 {
    revision: u64,
    sequence: u64,
    withdrawn: bool,
    slot: u32,
}

/// The bytes of a revision. What does not read back the same is not stored.
pub fn encode(key: &[u8], stored: &Stored) -> Result<Vec<u8>, StoreError> {
    let form = RevisionV1 {
        revision: stored.revision,
        sequence: stored.sequence,
        changed_at: stored.changed_at.as_microsecond(),
        changed_by: stored.changed_by.as_ref().map(ToString::to_string),
        why: stored.why.as_ref().map(ToString::to_string),
        withdrawn: stored.state == State::Withdrawn,
        record: RecordV1::from(stored.record.as_ref()),
    };
    let bytes = bytes::encode(key, v1::SCHEMA, &form)?;
    let back = decode(key, &bytes)?;
    if back == *stored {
        Ok(bytes)
    } else {
        Err(StoreError::Internal(format!("{} does not read back as it was written", keys::in_words(key))))
    }
}

/// The same of a record that is there in its stored form already, which is known to read back as it was.
pub fn encode_ready(key: &[u8], stored: &Stored, form: &[u8]) -> Result<Vec<u8>, StoreError> {
    // The members of `RevisionV1` before the record, in their order.
    let start = (
        stored.revision,
        stored.sequence,
        stored.changed_at.as_microsecond(),
        stored.changed_by.as_deref(),
        stored.why.as_deref(),
        stored.state == State::Withdrawn,
    );
    bytes::encode_with_end(key, v1::SCHEMA, &start, form)
}

/// Reads a revision.
pub fn decode(key: &[u8], bytes: &[u8]) -> Result<Stored, StoreError> {
    let (id, number) = keys::id_and_number(key)?;
    let form: RevisionV1 = bytes::decode(key, v1::SCHEMA, bytes)?;
    let record = form.record.read().map_err(|how| StoreError::damaged_value(key, &how))?;
    if *record.id() != id || form.revision != u64::from(number) {
        return Err(StoreError::damaged_value(key, "it holds another record"));
    }
    let line = |text: Option<String>| text.map(|text| text.parse()).transpose();
    let (by, why) = (line(form.changed_by), line(form.why));
    let at = jiff::Timestamp::from_microsecond(form.changed_at);
    let unreadable = |error: &dyn std::fmt::Display| StoreError::damaged_value(key, &error.to_string());
    Ok(Stored {
        record: Arc::new(record),
        revision: u64::from(number),
        state: if form.withdrawn { State::Withdrawn } else { State::Current },
        changed_at: at.map_err(|error| unreadable(&error))?,
        changed_by: by.map_err(|error| unreadable(&error))?,
        why: why.map_err(|error| unreadable(&error))?,
        sequence: form.sequence,
    })
}

/// The key and the length of the revision whose frame stands at the beginning of some bytes, if one does.
pub fn carve(bytes: &[u8]) -> Option<(Vec<u8>, usize, u64)> {
    let (form, length) = bytes::decode_start::<RevisionV1>(v1::SCHEMA, bytes)?;
    let id = form.record.id().parse().ok()?;
    let key = keys::revision(&id, u32::try_from(form.revision).ok()?);
    bytes::open(&key, &bytes[..length]).ok()?;
    Some((key, length, form.sequence))
}

/// The bytes of an entry that says which revision is the latest.
pub fn encode_latest(key: &[u8], latest: &Latest) -> Result<Vec<u8>, StoreError> {
    let Latest { revision, sequence, withdrawn, slot } = *latest;
    bytes::encode(key, v1::SCHEMA, &LatestV1 { revision, sequence, withdrawn, slot })
}

/// Reads an entry that says which revision is the latest.
pub fn decode_latest(key: &[u8], bytes: &[u8]) -> Result<Latest, StoreError> {
    let LatestV1 { revision, sequence, withdrawn, slot } = bytes::decode(key, v1::SCHEMA, bytes)?;
    Ok(Latest { revision, sequence, withdrawn, slot })
}

/// The bytes of the id that has a slot.
pub fn encode_slot(key: &[u8], id: &Id) -> Result<Vec<u8>, StoreError> {
    bytes::encode(key, v1::SCHEMA, &id.as_str())
}

/// Reads the id that has a slot.
pub fn decode_slot(key: &[u8], bytes: &[u8]) -> Result<Id, StoreError> {
    let text: String = bytes::decode(key, v1::SCHEMA, bytes)?;
    text.parse().map_err(|_| StoreError::damaged_value(key, "it holds no id"))
}
