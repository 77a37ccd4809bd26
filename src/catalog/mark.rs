//! Which state of the book an answer was made from.

use super::Catalog;
use crate::store::Head;
use std::sync::Arc;

/// A state of the book: as long as the mark is the same, so is everything in the book.
#[derive(Debug, Clone)]
pub struct Mark(Arc<Head>);

impl Mark {
    /// The name of this history.
    #[must_use]
    pub fn epoch(&self) -> &str {
        &self.0.epoch
    }

    /// The number of the last change; no record is in a book where it is 0.
    #[must_use]
    pub fn sequence(&self) -> u64 {
        self.0.sequence
    }
}

impl PartialEq for Mark {
    fn eq(&self, other: &Self) -> bool {
        self.sequence() == other.sequence() && self.epoch() == other.epoch()
    }
}

impl Eq for Mark {}

impl Catalog {
    /// Which state of the book this is.
    #[must_use]
    pub fn mark(&self) -> Mark {
        Mark(self.store().head())
    }
}
