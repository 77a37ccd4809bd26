//! A record as the book keeps it, and a page of them.

use super::evaluate::Facet;
use crate::record::{Id, Record, Text};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

/// Whether a record is in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// In force.
    Current,
    /// Taken back; it stays readable.
    Withdrawn,
}

impl State {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Current => "current",
            Self::Withdrawn => "withdrawn",
        }
    }
}

impl fmt::Display for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// One revision of a record, with what the book knows about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// The record.
    pub record: Arc<Record>,
    /// Its revision, from 1.
    pub revision: u64,
    /// Whether it is in force.
    pub state: State,
    /// When this revision was stored.
    pub changed_at: jiff::Timestamp,
    /// Who stored it, where that is known.
    pub changed_by: Option<Text>,
    /// Why it was withdrawn, if it was.
    pub why: Option<Text>,
    /// The number of the change in the book, from 1.
    pub sequence: u64,
}

/// One page of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// The records, in the order asked for.
    pub items: Vec<Stored>,
    /// The cursor of the next page, if there is one.
    pub next: Option<String>,
    /// How many records match in all, if that was asked.
    pub count: Option<u64>,
    /// Whether something changed in the book since the first page.
    pub drift: bool,
    /// The fields whose values were to be counted.
    pub facets: Vec<Facet>,
    /// Ids that were asked for by name and are not in the book.
    pub missing: Vec<Id>,
    /// What was understood otherwise than written, by parameter.
    pub read_as: BTreeMap<String, String>,
    /// The number of the last change that the answer knows.
    pub sequence: u64,
}
