//! A view that was made without its records, into which they are put as they are sent.

use super::Shown;
use crate::answer::json_bytes;
use actix_web::web::Bytes;
use memchr::memmem;
use serde::Serialize;
use std::sync::Arc;

/// The bytes of a view without its records.
#[derive(Debug)]
pub struct Around {
    bytes: Box<[u8]>,
    /// Where the records go.
    place: usize,
}

impl Around {
    /// What is around the records of this view, which has none.
    pub fn of(view: &impl Serialize) -> Self {
        const NONE: &[u8] = br#""items":[]"#;
        let bytes = json_bytes(view).into_boxed_slice();
        // Within a text a quotation mark has a backslash before it: only the member itself looks like this.
        let place = memmem::find(&bytes, NONE);
        Self { place: place.map_or(bytes.len(), |at| at + NONE.len() - 1), bytes }
    }

    /// How many bytes are kept.
    pub fn len(&self) -> usize {
        self.bytes.len()
    }

    /// The bytes that the whole view has.
    pub fn with(&self, records: &[Arc<Shown>]) -> Bytes {
        let (before, after) = self.bytes.split_at(self.place);
        let mut whole = Vec::with_capacity(self.bytes.len() + length_of(records));
        whole.extend_from_slice(before);
        put_together(whole, records, after)
    }
}

/// How many bytes records have together.
pub fn length_of(records: &[Arc<Shown>]) -> usize {
    records.iter().map(|shown| shown.line.len()).sum()
}

/// What is before some records, these, and what is after them.
pub fn put_together(before: Vec<u8>, records: &[Arc<Shown>], after: &[u8]) -> Bytes {
    let mut whole = before;
    for (at, line) in records.iter().map(|shown| &shown.line[..]).enumerate() {
        if at > 0 {
            whole.push(b',');
        }
        whole.extend_from_slice(line.strip_suffix(b"\n").unwrap_or(line));
    }
    whole.extend_from_slice(after);
    whole.into()
}
