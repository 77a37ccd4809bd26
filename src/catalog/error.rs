//! What can go wrong in the catalog.

use crate::query::NotACursor;
use crate::store::StoreError;

/// What can go wrong in the catalog.
#[derive(Debug, thiserror::Error)]
pub enum CatalogError {
    /// The store stands in the way.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The cursor belongs to another question or another book.
    #[error(transparent)]
    Cursor(#[from] NotACursor),
    /// It would have taken longer than somebody waits for it.
    #[error("it takes longer than is waited for it")]
    OutOfTime,
    /// What was to be read could not be read, or what was to be written not written.
    #[error("{what}")]
    Stream {
        /// What was being done.
        what: &'static str,
        /// What the operating system said.
        source: std::io::Error,
    },
}

impl CatalogError {
    /// That an input could not be read.
    #[must_use]
    pub fn of_input(source: std::io::Error) -> Self {
        Self::reading(source)
    }

    pub(super) fn reading(source: std::io::Error) -> Self {
        Self::Stream { what: "reading what is to be imported failed", source }
    }

    pub(super) fn keeping(source: std::io::Error) -> Self {
        Self::Stream { what: "keeping what is to be imported in a temporary file failed", source }
    }

    pub(super) fn writing(source: std::io::Error) -> Self {
        Self::Stream { what: "writing the export failed", source }
    }
}
