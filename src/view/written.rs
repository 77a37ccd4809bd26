//! What became of a write.

use crate::catalog::Put;
use serde::Serialize;

/// What became of a record that was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Written {
    /// The record.
    #[schema(value_type = crate::record::Id)]
    pub id: String,
    /// The revision that stands there now.
    #[schema(minimum = 1)]
    pub revision: u64,
    /// Whether it is a new one: a write whose result equals what stands there makes none.
    pub changed: bool,
}

impl Written {
    /// The outcome of a write.
    #[must_use]
    pub fn of(id: String, put: &Put) -> Self {
        Self { id, revision: put.revision, changed: put.changed }
    }
}

/// What became of several records that were written, in the order of the writes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct WrittenList {
    /// The records.
    #[schema(max_items = 500)]
    pub items: Vec<Written>,
}
