//! One record as it is sent, and may be kept for being sent again.

use crate::answer::json_bytes;
use crate::api::tags;
use crate::audit::Severity;
use crate::catalog::{AuditSummary, Mark, Stored};
use crate::record::Kind;
use crate::view::Entry;
use actix_web::http::header::HeaderValue;
use actix_web::web::Bytes;
use std::sync::atomic::{AtomicU64, Ordering};

/// A record as it is sent.
#[derive(Debug)]
pub struct Shown {
    revision: u64,
    /// The change that made the revision, which no other revision has.
    change: u64,
    /// Whether it is a joint or a fastener.
    pub kind: Kind,
    /// The bytes: its JSON and a line break.
    pub line: Bytes,
    digest: tags::Short,
    /// What the audit says of it in short; nothing where that is pending.
    audit: Option<Told>,
    /// The last state of the book in which this was known to be what is sent, by its last change; 0 for none.
    known_at: AtomicU64,
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
        Self {
            revision: stored.revision,
            change: stored.sequence,
            kind: stored.record.kind(),
            digest: tags::short_digest(&line),
            // No more room than it needs.
            line: line.into_boxed_slice().into(),
            audit: audit.map(Told::of),
            known_at: AtomicU64::new(0),
        }
    }

    /// The tag of the bytes.
    pub fn tag(&self) -> HeaderValue {
        let tag = tags::of_digest(self.revision, self.digest);
        HeaderValue::try_from(tag).unwrap_or(HeaderValue::from_static(""))
    }

    /// Whether this change made the revision.
    pub fn is_of(&self, change: u64) -> bool {
        self.change == change
    }

    /// Whether the audit said just this.
    pub fn is_audited_as(&self, audit: AuditSummary) -> bool {
        self.audit == Some(Told::of(audit))
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
}
