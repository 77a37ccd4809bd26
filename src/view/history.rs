//! Changes of the book and revisions of a record.

use crate::catalog::{Change, Recorded, RevisionInfo, State};
use crate::record::Record;
use serde::Serialize;
use std::sync::Arc;

/// One change of the book.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct ChangeShown {
    /// Its number, from 1, without gaps.
    pub sequence: u64,
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: String,
    /// By whom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Joint or fastener.
    pub kind: String,
    /// The record.
    pub id: String,
    /// The revision that it made.
    pub revision: u64,
    /// `current`, or `withdrawn` if it took the record back.
    pub state: State,
    /// Why the record was taken back; told with the records.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The record as this change left it, if records are asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, value_type = Object)]
    pub record: Option<Arc<Record>>,
}

/// Changes in the order they were made.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct ChangeList {
    /// The changes.
    pub items: Vec<ChangeShown>,
    /// The life of the store that the numbers belong to; another after a restore.
    pub epoch: String,
    /// The number that the next list begins after.
    pub since: u64,
    /// The same with the life of the store: what to ask for next as `since`.
    #[schema(pattern = "^[0-9a-f]+[.][0-9]+$", max_length = 60)]
    pub next: String,
    /// The number of the last change of the book: how far behind this list is.
    pub last: u64,
}

impl ChangeList {
    /// The list of these changes, asked for since a number, from a book whose last change is `last`.
    #[must_use]
    pub fn of(changes: Vec<Change>, epoch: String, since: u64, last: u64) -> Self {
        Self::of_items(changes.into_iter().map(ChangeShown::of).collect(), epoch, since, last)
    }

    /// The same, with the records that the changes made.
    #[must_use]
    pub fn with_records(changes: Vec<Recorded>, epoch: String, since: u64, last: u64) -> Self {
        Self::of_items(changes.into_iter().map(ChangeShown::with_record).collect(), epoch, since, last)
    }

    fn of_items(items: Vec<ChangeShown>, epoch: String, since: u64, last: u64) -> Self {
        let since = items.last().map_or(since, |change| change.sequence);
        Self { items, next: format!("{epoch}.{since}"), epoch, since, last: last.max(since) }
    }
}

impl ChangeShown {
    /// The change in its public shape.
    #[must_use]
    pub fn of(change: Change) -> Self {
        Self {
            sequence: change.sequence,
            at: change.at.to_string(),
            by: change.by.map(|by| by.to_string()),
            kind: change.kind.word().to_owned(),
            id: change.id.to_string(),
            revision: change.revision,
            state: change.state,
            why: None,
            record: None,
        }
    }

    /// The change with the record that it made.
    #[must_use]
    pub fn with_record(recorded: Recorded) -> Self {
        let shown = Self::of(recorded.change);
        match recorded.stored {
            Some(stored) => Self { why: stored.why.map(|why| why.to_string()), record: Some(stored.record), ..shown },
            None => shown,
        }
    }
}

/// What is known of a revision, without the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct RevisionShown {
    /// Its number, from 1.
    pub revision: u64,
    /// Whether it is a withdrawal.
    pub state: State,
    /// When it was stored.
    #[schema(value_type = String, format = DateTime)]
    pub changed_at: String,
    /// By whom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_by: Option<String>,
    /// Why it was withdrawn, if it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The number of the change.
    pub sequence: u64,
}

/// The revisions of a record, the first one first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct RevisionList {
    /// The revisions.
    pub items: Vec<RevisionShown>,
}

impl RevisionList {
    /// The list of these revisions.
    #[must_use]
    pub fn of(revisions: Vec<RevisionInfo>) -> Self {
        let items = revisions.into_iter().map(|revision| RevisionShown {
            revision: revision.revision,
            state: revision.state,
            changed_at: revision.changed_at.to_string(),
            changed_by: revision.changed_by.map(|by| by.to_string()),
            why: revision.why.map(|why| why.to_string()),
            sequence: revision.sequence,
        });
        Self { items: items.collect() }
    }
}
