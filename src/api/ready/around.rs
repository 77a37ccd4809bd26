//! A view that was made without its records, into which they are put as they are sent.

use super::Shown;
use crate::answer::json_bytes;
use actix_web::web::Bytes;
use serde::Serialize;
use std::sync::Arc;

/// The bytes of a view without its records.
#[derive(Debug)]
pub struct Around {
    bytes: Box<[u8]>,
    /// Where the records go.
    place: usize,
}

/// A view into which records are being put.
#[derive(Debug)]
pub struct Begun<'a> {
    whole: Vec<u8>,
    after: &'a [u8],
    is_empty: bool,
}

impl Around {
    /// What is around the records of this view, which has none.
    pub fn of(view: &impl Serialize) -> Self {
        const NONE: &[u8] = br#""items":[]"#;
        let bytes = json_bytes(view).into_boxed_slice();
        // Within a text a quotation mark has a backslash before it: only the member itself looks like this.
        let place = bytes.windows(NONE.len()).position(|bytes| bytes == NONE);
        Self { place: place.map_or(bytes.len(), |at| at + NONE.len() - 1), bytes }
    }

    /// The bytes that the whole view has.
    pub fn with(&self, items: &[Arc<Shown>]) -> Bytes {
        let mut whole = self.begin(items.iter().map(|item| item.line.len()).sum());
        for item in items {
            whole.add_line(&item.line);
        }
        whole.end()
    }

    /// Begins a view with room for so many bytes of records.
    pub fn begin(&self, length: usize) -> Begun<'_> {
        let (before, after) = self.bytes.split_at(self.place);
        let mut whole = Vec::with_capacity(self.bytes.len() + length);
        whole.extend_from_slice(before);
        Begun { whole, after, is_empty: true }
    }
}

impl Begun<'_> {
    /// Adds a record, whose JSON and line break are written to the end of what is there. Gives back what writing says.
    pub fn add<T>(&mut self, write: impl FnOnce(&mut Vec<u8>) -> T) -> T {
        if !self.is_empty {
            self.whole.push(b',');
        }
        self.is_empty = false;
        let said = write(&mut self.whole);
        if self.whole.ends_with(b"\n") {
            self.whole.pop();
        }
        said
    }

    /// Adds a record as it is sent.
    pub fn add_line(&mut self, line: &[u8]) -> bool {
        self.add(|whole| whole.extend_from_slice(line));
        true
    }

    /// The whole view.
    pub fn end(mut self) -> Bytes {
        self.whole.extend_from_slice(self.after);
        self.whole.into()
    }
}
