//! Writes, their outcomes, and the change feed.

use super::Store;
use super::bytes;
use super::error::StoreError;
use super::keys;
use super::layout::v1;
use crate::query::{State, Stored};
use crate::record::{Id, Kind, Record, Text};
use serde::{Deserialize, Serialize};

/// What must stand there for a write to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Expected {
    /// Anything, or nothing.
    Any,
    /// Nothing: the id has never been used.
    New,
    /// This revision.
    Revision(u64),
}

/// One write.
#[derive(Debug, Clone, PartialEq)]
pub enum Write {
    /// Store a record; a withdrawn one is in force again.
    Put {
        /// The record.
        record: Box<Record>,
        /// What must stand there.
        expected: Expected,
    },
    /// Take a record back; it stays readable.
    Withdraw {
        /// The record.
        id: Id,
        /// What must stand there.
        expected: Expected,
        /// Why.
        why: Option<Text>,
    },
}

impl Write {
    /// Stores a record over whatever stands there.
    #[must_use]
    pub fn put(record: Record) -> Self {
        Self::Put { record: Box::new(record), expected: Expected::Any }
    }

    /// The id of the record that is written.
    #[must_use]
    pub fn id(&self) -> &Id {
        match self {
            Self::Put { record, .. } => record.id(),
            Self::Withdraw { id, .. } => id,
        }
    }
}

/// What a write has done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Put {
    /// The revision that stands there now.
    pub revision: u64,
    /// Whether it is a new one: a write whose result equals what stands there makes none.
    pub changed: bool,
    /// Whether the id had never been used before.
    pub new: bool,
    /// The number of the change that made the revision.
    pub sequence: u64,
}

/// What is known of a revision, without the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RevisionInfo {
    /// Its number, from 1.
    pub revision: u64,
    /// Whether it is a withdrawal.
    pub state: State,
    /// When it was stored.
    pub changed_at: jiff::Timestamp,
    /// By whom.
    pub changed_by: Option<Text>,
    /// Why it was withdrawn, if it was.
    pub why: Option<Text>,
    /// The number of the change.
    pub sequence: u64,
}

impl RevisionInfo {
    /// What is known of a revision.
    #[must_use]
    pub fn of(stored: &Stored) -> Self {
        Self {
            revision: stored.revision,
            state: stored.state,
            changed_at: stored.changed_at,
            changed_by: stored.changed_by.clone(),
            why: stored.why.clone(),
            sequence: stored.sequence,
        }
    }
}

/// One change of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Its number, from 1, without gaps.
    pub sequence: u64,
    /// The record.
    pub id: Id,
    /// Joint or fastener.
    pub kind: Kind,
    /// The revision that it made.
    pub revision: u64,
    /// Whether it is a withdrawal.
    pub state: State,
    /// When; never before the change before it, even if the clock went back.
    pub at: jiff::Timestamp,
    /// By whom.
    pub by: Option<Text>,
}

/// It holds everything that its key says, so that it can be told from its bytes alone.
#[derive(Serialize, Deserialize)]
struct ChangeV1 {
    sequence: u64,
    id: String,
    is_joint: bool,
    revision: u64,
    withdrawn: bool,
    at: i64,
    by: Option<String>,
}

impl Change {
    /// A change of which only the record and its revision are known.
    #[must_use]
    pub fn lost(sequence: u64, id: Id, revision: u64) -> Self {
        let (kind, state, at) = (Kind::Fastener, State::Current, jiff::Timestamp::UNIX_EPOCH);
        Self { sequence, id, kind, revision, state, at, by: None }
    }

    pub(super) fn of(stored: &Stored) -> Self {
        Self {
            sequence: stored.sequence,
            id: stored.record.id().clone(),
            kind: stored.record.kind(),
            revision: stored.revision,
            state: stored.state,
            at: stored.changed_at,
            by: stored.changed_by.clone(),
        }
    }
}

pub(super) fn encode(key: &[u8], change: &Change) -> Result<Vec<u8>, StoreError> {
    let form = ChangeV1 {
        sequence: change.sequence,
        id: change.id.to_string(),
        is_joint: change.kind == Kind::Joint,
        revision: change.revision,
        withdrawn: change.state == State::Withdrawn,
        at: change.at.as_microsecond(),
        by: change.by.as_ref().map(ToString::to_string),
    };
    bytes::encode(key, v1::SCHEMA, &form)
}

pub(super) fn decode(key: &[u8], bytes: &[u8]) -> Result<Change, StoreError> {
    let change = read(key, bytes::decode(key, v1::SCHEMA, bytes)?)?;
    if change.sequence == keys::sequence_of(key)? {
        Ok(change)
    } else {
        Err(StoreError::damaged_value(key, "it holds another change"))
    }
}

/// The change whose frame stands at the beginning of some bytes, if one does.
pub(super) fn carve(bytes: &[u8]) -> Option<Change> {
    let (form, length) = bytes::decode_start::<ChangeV1>(v1::SCHEMA, bytes)?;
    let key = keys::change(form.sequence);
    bytes::open(&key, &bytes[..length]).ok()?;
    read(&key, form).ok()
}

fn read(key: &[u8], form: ChangeV1) -> Result<Change, StoreError> {
    let unreadable = |error: &dyn std::fmt::Display| StoreError::damaged_value(key, &error.to_string());
    Ok(Change {
        sequence: form.sequence,
        id: form.id.parse().map_err(|error| unreadable(&error))?,
        kind: if form.is_joint { Kind::Joint } else { Kind::Fastener },
        revision: form.revision,
        state: if form.withdrawn { State::Withdrawn } else { State::Current },
        at: jiff::Timestamp::from_microsecond(form.at).map_err(|error| unreadable(&error))?,
        by: form.by.map(|by| by.parse()).transpose().map_err(|error| unreadable(&error))?,
    })
}

/// A change that is known to have been made and whose revision was lost.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct LostV1 {
    /// The record and the revision, if that much is known.
    pub revision: Option<(String, u64)>,
}

impl LostV1 {
    pub(super) fn of(change: Option<&Change>) -> Self {
        Self { revision: change.map(|change| (change.id.to_string(), change.revision)) }
    }

    pub(super) fn encode(&self, key: &[u8]) -> Result<Vec<u8>, StoreError> {
        bytes::encode(key, v1::SCHEMA, self)
    }

    pub(super) fn decode(key: &[u8], bytes: &[u8]) -> Result<Self, StoreError> {
        bytes::decode(key, v1::SCHEMA, bytes)
    }
}

impl Store {
    /// The last change that had been made at a moment; 0 before the first.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn sequence_at(&self, moment: jiff::Timestamp) -> Result<u64, StoreError> {
        let (mut before, mut after) = (0, self.head().sequence + 1);
        while before + 1 < after {
            let middle = u64::midpoint(before, after);
            // Changes that were lost leave gaps.
            match self.changes(middle - 1, 1)?.first() {
                Some(change) if change.at <= moment && change.sequence < after => before = change.sequence,
                _ => after = middle,
            }
        }
        Ok(before)
    }
}
