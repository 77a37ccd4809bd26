//! One record as it is sent, and as it is kept for being sent again.

use super::packing::Packing;
use crate::answer::json_bytes;
use crate::api::tags;
use crate::audit::Severity;
use crate::catalog::{AuditSummary, Mark, Stored};
use crate::record::Kind;
use crate::view::Entry;
use actix_web::http::header::HeaderValue;
use actix_web::web::Bytes;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// What is known of a record that is sent, besides its bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct About {
    /// The revision.
    revision: u64,
    /// The change that made the revision, which no other revision has.
    pub change: u64,
    /// The digest of the bytes.
    digest: tags::Short,
    /// Whether it is a joint or a fastener.
    pub kind: Kind,
}

/// A record as it is sent.
#[derive(Debug, Clone)]
pub struct Shown {
    /// What it is.
    pub about: About,
    /// The bytes: its JSON and a line break.
    pub line: Bytes,
}

/// A record as it is kept.
#[derive(Debug)]
pub struct Kept {
    about: About,
    /// What the audit says of it in short.
    audit: Told,
    /// How long the bytes are, where these are packed.
    unpacked: Option<NonZeroU32>,
    line: Box<[u8]>,
    /// The last state of the book in which this was known to be what is sent, by its last change; 0 for none.
    known_at: AtomicU64,
}

/// A record as it goes into an answer with others.
#[derive(Debug)]
pub enum Line {
    /// As it is kept.
    Kept(Arc<Kept>),
    /// As it was just made.
    Shown(Arc<Shown>),
}

impl Line {
    /// How many bytes it has.
    pub fn length(&self) -> usize {
        match self {
            Self::Kept(kept) => kept.length(),
            Self::Shown(shown) => shown.line.len(),
        }
    }

    /// Writes the bytes behind what is there already. Says whether that could be done.
    pub fn write(&self, packing: Option<&Packing>, onto: &mut Vec<u8>) -> bool {
        match self {
            Self::Kept(kept) => kept.write(packing, onto),
            Self::Shown(shown) => {
                onto.extend_from_slice(&shown.line);
                true
            }
        }
    }
}

/// What an audit says, in less room. More findings than fit are not told from each other, and no record has as many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Told {
    worst: Option<Severity>,
    count: u32,
    accepted: u32,
}

impl Told {
    fn of(AuditSummary { worst, count, accepted }: AuditSummary) -> Self {
        let number = |count| u32::try_from(count).unwrap_or(u32::MAX);
        Self { worst, count: number(count), accepted: number(accepted) }
    }
}

impl Shown {
    /// A record with what the audit says of it; nothing where that is pending.
    pub fn of(stored: &Stored, audit: Option<AuditSummary>) -> Self {
        let line = json_bytes(&Entry::with(stored.clone(), audit));
        let digest = tags::short_digest(&line);
        let about = About { revision: stored.revision, change: stored.sequence, digest, kind: stored.record.kind() };
        // No more room than it needs.
        Self { about, line: line.into_boxed_slice().into() }
    }

    /// The tag of the bytes.
    pub fn tag(&self) -> HeaderValue {
        let tag = tags::of_digest(self.about.revision, self.about.digest);
        HeaderValue::try_from(tag).unwrap_or(HeaderValue::from_static(""))
    }
}

impl Kept {
    pub fn of(shown: &Shown, audit: AuditSummary, packing: Option<&Packing>) -> Self {
        let length = u32::try_from(shown.line.len()).ok().and_then(NonZeroU32::new);
        let packed = packing.filter(|_| length.is_some()).and_then(|packing| packing.packed(&shown.line));
        Self {
            about: shown.about,
            audit: Told::of(audit),
            unpacked: length.filter(|_| packed.is_some()),
            line: packed.unwrap_or_else(|| shown.line[..].into()),
            known_at: AtomicU64::new(0),
        }
    }

    /// Whether this change made the revision.
    pub fn is_of(&self, change: u64) -> bool {
        self.about.change == change
    }

    /// Whether the audit said just this.
    pub fn is_audited_as(&self, audit: AuditSummary) -> bool {
        self.audit == Told::of(audit)
    }

    /// Whether this is known to be what is sent in this state of the book.
    pub fn is_known_at(&self, mark: &Mark) -> bool {
        self.was_known_at(mark.sequence())
    }

    /// Whether this is known to have been what was sent in the state of the book after this change.
    pub fn was_known_at(&self, sequence: u64) -> bool {
        sequence > 0 && self.known_at.load(Ordering::Relaxed) == sequence
    }

    /// Notes that it is.
    pub fn know_at(&self, mark: &Mark) {
        self.known_at.store(mark.sequence(), Ordering::Relaxed);
    }

    /// How many bytes are kept.
    pub fn len(&self) -> usize {
        self.line.len()
    }

    /// How many bytes are sent.
    pub fn length(&self) -> usize {
        self.unpacked.map_or(self.line.len(), |length| length.get() as usize)
    }

    /// Writes the bytes that are sent behind what is there already. Says whether that could be done.
    pub fn write(&self, packing: Option<&Packing>, onto: &mut Vec<u8>) -> bool {
        match (self.unpacked, packing) {
            (None, _) => {
                onto.extend_from_slice(&self.line);
                true
            }
            (Some(length), Some(packing)) => packing.unpack(&self.line, length.get() as usize, onto),
            (Some(_), None) => false,
        }
    }

    /// What is sent.
    pub fn shown(&self, packing: Option<&Packing>) -> Option<Shown> {
        let mut line = Vec::with_capacity(self.length());
        self.write(packing, &mut line).then(|| Shown { about: self.about, line: line.into() })
    }
}
