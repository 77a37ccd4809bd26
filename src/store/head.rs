//! The head: the manifest of the whole store, written in the same batch as every change.

use super::bytes;
use super::engine::{Batch, Engine, Requirement};
use super::error::StoreError;
use super::index;
use super::keys;
use super::layout::v1;
use super::shared::Source;
use super::witness::Note;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::hash::{BuildHasher, Hasher, RandomState};

/// How many of everything there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Counts {
    /// Joints in force.
    pub joints: u64,
    /// Fasteners in force.
    pub fasteners: u64,
    /// Withdrawn records.
    pub withdrawn: u64,
    /// Revisions of all records.
    pub revisions: u64,
}

/// The manifest of the whole store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Names this history: a restored store has another.
    pub epoch: String,
    /// The number of the last change; 0 in an empty store.
    pub sequence: u64,
    /// When the last change was made.
    pub changed_at: jiff::Timestamp,
    /// How many of everything there are.
    pub counts: Counts,
    /// The sum of the digests of all revisions, whatever their order.
    pub digest: u128,
    /// What cursors are signed with.
    pub(crate) secret: [u8; 16],
    /// The slot that the next new record gets.
    pub(super) next_slot: u32,
    /// The version of the index.
    pub(super) index_version: u32,
}

#[derive(Serialize, Deserialize)]
struct HeadV1 {
    epoch: String,
    sequence: u64,
    changed_at: i64,
    counts: Counts,
    digest: u128,
    secret: [u8; 16],
    next_slot: u32,
    index_version: u32,
}

impl Head {
    pub(super) fn begin() -> Self {
        Self {
            epoch: fresh_epoch(),
            sequence: 0,
            changed_at: jiff::Timestamp::UNIX_EPOCH,
            counts: Counts::default(),
            digest: 0,
            secret: std::array::from_fn(|i| random()[i % 8]),
            next_slot: 0,
            index_version: index::VERSION,
        }
    }

    /// What the witness is to know of it.
    pub(super) fn note(&self) -> Note {
        Note { sequence: self.sequence, digest: self.digest }
    }

    pub(super) fn encode(&self) -> Result<Vec<u8>, StoreError> {
        let form = HeadV1 {
            epoch: self.epoch.clone(),
            sequence: self.sequence,
            changed_at: self.changed_at.as_microsecond(),
            counts: self.counts,
            digest: self.digest,
            secret: self.secret,
            next_slot: self.next_slot,
            index_version: self.index_version,
        };
        bytes::encode(keys::HEAD, v1::SCHEMA, &form)
    }

    pub(super) fn decode(bytes: &[u8]) -> Result<Self, StoreError> {
        Self::read(bytes::decode(keys::HEAD, v1::SCHEMA, bytes)?)
    }

    /// The head whose frame stands at the beginning of some bytes, if one does.
    pub(super) fn carve(bytes: &[u8]) -> Option<Self> {
        let (form, length) = bytes::decode_start::<HeadV1>(v1::SCHEMA, bytes)?;
        bytes::open(keys::HEAD, &bytes[..length]).ok()?;
        Self::read(form).ok()
    }

    /// The head of an empty store that goes on with the history of another one.
    pub(super) fn emptied(&self) -> Self {
        let (digest, counts) = Default::default();
        Self { sequence: 0, changed_at: jiff::Timestamp::UNIX_EPOCH, counts, digest, next_slot: 0, ..self.clone() }
    }

    fn read(form: HeadV1) -> Result<Self, StoreError> {
        let changed_at = jiff::Timestamp::from_microsecond(form.changed_at);
        Ok(Self {
            epoch: form.epoch,
            sequence: form.sequence,
            changed_at: changed_at.map_err(|error| StoreError::damaged_value(keys::HEAD, &error.to_string()))?,
            counts: form.counts,
            digest: form.digest,
            secret: form.secret,
            next_slot: form.next_slot,
            index_version: form.index_version,
        })
    }
}

/// A name that no other history has.
pub(super) fn fresh_epoch() -> String {
    format!("{:016x}", u64::from_be_bytes(random()))
}

/// Eight bytes that nobody foresees: the keys of the standard library's hash tables come from the operating system.
fn random() -> [u8; 8] {
    RandomState::new().build_hasher().finish().to_be_bytes()
}

/// The digest of one stored pair.
pub fn digest_of(key: &[u8], value: &[u8]) -> u128 {
    let mut hash = Sha256::new();
    hash.update(u64::try_from(key.len()).unwrap_or(u64::MAX).to_be_bytes());
    hash.update(key);
    hash.update(value);
    hash.finalize().iter().take(16).fold(0, |number, byte| number << 8 | u128::from(*byte))
}

/// The head of a store; an engine that holds nothing at all gets a new one, if nothing is known to have been there.
pub fn load_or_begin(engine: &dyn Engine, known: Option<Note>) -> Result<Head, StoreError> {
    if let Some(bytes) = engine.get(keys::HEAD)? {
        let head = Head::decode(&bytes)?;
        check_against(&head, known)?;
        return Ok(head);
    }
    if known.is_some() || !engine.scan(&[], &[0xff], 1)?.is_empty() {
        return Err(StoreError::Damaged { what: "the head of the store".to_owned(), how: "it is missing".to_owned() });
    }
    match begin(engine, Head::begin()) {
        Err(StoreError::Overtaken) => begun_by_another(engine),
        begun => begun,
    }
}

/// The head that another process was faster to put there.
fn begun_by_another(engine: &dyn Engine) -> Result<Head, StoreError> {
    if let Some(shared) = engine.shared()
        && let Some(news) = shared.news(Source::Writable)?
    {
        shared.take_in(&news);
    }
    load(engine)
}

/// The head that an engine holds.
pub fn load(engine: &dyn Engine) -> Result<Head, StoreError> {
    let bytes = engine.get(keys::HEAD)?;
    let missing = || StoreError::Damaged { what: "the head of the store".to_owned(), how: "it is missing".to_owned() };
    Head::decode(&bytes.ok_or_else(missing)?)
}

/// Puts the head into an engine that holds nothing.
pub fn begin(engine: &dyn Engine, head: Head) -> Result<Head, StoreError> {
    let mut batch = Batch::default();
    batch.put(keys::HEAD.to_vec(), head.encode()?);
    batch.require(Requirement { key: keys::HEAD.to_vec(), value: None });
    engine.apply(&batch)?;
    engine.sync()?;
    Ok(head)
}

/// Compares a head with what was noted outside the engine.
fn check_against(head: &Head, known: Option<Note>) -> Result<(), StoreError> {
    let Some(known) = known else { return Ok(()) };
    let how = if head.sequence < known.sequence {
        format!("changes up to {} were stored, but the files end at {}", known.sequence, head.sequence)
    } else if head.sequence == known.sequence && head.digest != known.digest {
        format!("it is not the state in which change {} was stored", known.sequence)
    } else {
        return Ok(());
    };
    Err(StoreError::Damaged { what: "the end of the history".to_owned(), how })
}
