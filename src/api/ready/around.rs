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
        let (before, after) = self.bytes.split_at(self.place);
        let length: usize = items.iter().map(|item| item.line.len()).sum();
        let mut whole = Vec::with_capacity(self.bytes.len() + length);
        whole.extend_from_slice(before);
        for (number, item) in items.iter().enumerate() {
            if number > 0 {
                whole.push(b',');
            }
            whole.extend_from_slice(item.json());
        }
        whole.extend_from_slice(after);
        whole.into()
    }

    /// How many bytes there are.
    pub fn len(&self) -> usize {
        self.bytes.len()
    }
}
