//! Records made ready before they are stored: in the stored form, and with the terms under which they will be found.
//!
//! That needs no store, so it is done on other threads while records before them are stored.

use super::bytes;
use super::change::Expected;
use super::error::StoreError;
use super::index::{self, Term};
use super::layout::v1::{self, RecordV1};
use crate::record::Record;
use rayon::prelude::*;
use std::collections::HashMap;
use std::sync::Arc;

/// The checksum covers this in the place of a key.
const ASIDE: &[u8] = b"aside";

/// The bytes of a record by itself, for keeping it aside.
///
/// # Errors
/// If it is too large to be stored, or would not read back as it is.
pub fn pack(record: &Record) -> Result<Vec<u8>, StoreError> {
    let bytes = bytes::encode(ASIDE, v1::SCHEMA, &RecordV1::from(record))?;
    if unpack(&bytes)? == *record {
        Ok(bytes)
    } else {
        Err(StoreError::Internal(format!("{} does not read back as it was written", record.id())))
    }
}

/// Reads the bytes of a record.
fn unpack(bytes: &[u8]) -> Result<Record, StoreError> {
    let form: RecordV1 = bytes::decode(ASIDE, v1::SCHEMA, bytes)?;
    form.read().map_err(|how| StoreError::damaged_value(ASIDE, &how))
}

/// Records that are to be stored together.
#[derive(Debug, Default)]
pub struct Ready {
    pub(super) records: Vec<ReadyRecord>,
    /// The terms of those that are to be new, each with their places among the records, rising.
    pub(super) terms: HashMap<Term, Vec<u32>>,
}

/// A record, the form in which it is stored, and what must stand there.
#[derive(Debug)]
pub struct ReadyRecord {
    pub(super) record: Arc<Record>,
    /// The packed record, whose frame is not stored.
    packed: Vec<u8>,
    pub(super) expected: Expected,
}

impl ReadyRecord {
    /// Reads a packed record, with what must stand there when it is stored.
    ///
    /// # Errors
    /// If it is not what was packed.
    pub fn of(packed: Vec<u8>, expected: Expected) -> Result<Self, StoreError> {
        Ok(Self { record: Arc::new(unpack(&packed)?), packed, expected })
    }

    /// The record.
    #[must_use]
    pub fn record(&self) -> &Record {
        &self.record
    }

    /// The bytes of the record in its revision.
    pub(super) fn form(&self) -> &[u8] {
        self.packed.get(bytes::FRAME..).unwrap_or_default()
    }
}

impl Ready {
    /// Makes records ready, on all cores.
    #[must_use]
    pub fn of(records: Vec<ReadyRecord>) -> Self {
        /// The terms of so many records are held before they are gathered.
        const AT_A_TIME: usize = 1024;
        let terms_of = |one: &ReadyRecord| match one.expected {
            Expected::New => index::terms_of(&one.record),
            // What such a one leaves and joins is told by what stands there then.
            Expected::Any | Expected::Revision(_) => Vec::new(),
        };
        let mut terms: HashMap<Term, Vec<u32>> = HashMap::new();
        let mut places = 0..;
        for some in records.chunks(AT_A_TIME) {
            let terms_of_each: Vec<Vec<Term>> = some.par_iter().map(terms_of).collect();
            for (terms_of_one, at) in terms_of_each.into_iter().zip(&mut places) {
                for term in terms_of_one {
                    terms.entry(term).or_default().push(at);
                }
            }
        }
        Self { records, terms }
    }

    /// How many records there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.records.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.records.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::query::{State, Stored};
    use crate::store::{Author, Depth, Store, keys, revision};

    fn record(number: u32) -> Record {
        let json = serde_json::json!({
            "kind": "fastener", "id": format!("skua.pump.cover.bolt-{number}"), "joint": "skua.pump.cover",
            "thread": "M8", "stages": [format!("{} Nm + 90°", 10 + number % 7)], "part_no": format!("SY-{}", number % 9),
        });
        Record::from_json(&json).expect("a record")
    }

    fn ready(numbers: std::ops::Range<u32>, expected: Expected) -> Ready {
        let one = |number| ReadyRecord::of(pack(&record(number)).expect("bytes"), expected).expect("the record");
        Ready::of(numbers.map(one).collect())
    }

    #[test]
    fn is_stored_as_a_record_that_was_not_made_ready() {
        let stored = Stored {
            record: Arc::new(record(7)),
            revision: 3,
            state: State::Current,
            changed_at: jiff::Timestamp::from_microsecond(1_700_000_000_123_456).expect("a moment"),
            changed_by: Some("runa".parse().expect("a name")),
            why: None,
            sequence: 400_000,
        };
        let key = keys::revision(stored.record.id(), 3);
        let form = ready(7..8, Expected::New);
        let bytes = revision::encode_ready(&key, &stored, form.records[0].form()).expect("bytes");
        assert_eq!(bytes, revision::encode(&key, &stored).expect("bytes"));
    }

    #[test]
    fn is_found_in_the_index_when_new_and_when_replaced() {
        let store = Store::in_memory().expect("a store");
        let author = Author::unknown();
        // More than a block of the index has, and from the middle of one.
        for numbers in [0..3, 3..5000, 5000..5003] {
            let count = numbers.len();
            let puts = store.apply_ready(ready(numbers, Expected::New), &author).expect("it is stored");
            assert_eq!(puts.iter().filter(|put| put.new).count(), count);
        }
        let refused = store.apply_ready(ready(4..6, Expected::New), &author);
        assert!(matches!(refused, Err(StoreError::Changed { .. })), "{refused:?}");
        let one = |number| {
            let mut json = serde_json::to_value(record(number)).expect("JSON");
            json["part_no"] = "SY-other".into();
            let other = Record::from_json(&json).expect("a record");
            ReadyRecord::of(pack(&other).expect("bytes"), Expected::Revision(1)).expect("the record")
        };
        let puts = store.apply_ready(Ready::of((4090..4100).map(one).collect()), &author).expect("it is stored");
        assert!(puts.iter().all(|put| put.revision == 2 && !put.new));
        let report = store.verify(Depth::Everything, &mut |_| {}).expect("a check");
        assert!(report.is_whole(), "{:?}", report.damages);
    }

    #[test]
    fn new_ones_are_refused_for_what_stands_behind_a_gap_and_for_what_came_in_the_same_batch() {
        let store = Store::in_memory().expect("a store");
        let author = Author::unknown();
        store.apply_ready(ready(5..6, Expected::New), &author).expect("it is stored");
        let twice = [2..4, 3..5].into_iter().flat_map(|numbers| ready(numbers, Expected::New).records).collect();
        for (refused, over) in [(ready(3..7, Expected::New), 5), (Ready::of(twice), 3)] {
            let refused = store.apply_ready(refused, &author);
            let Err(StoreError::Changed { id, .. }) = refused else { panic!("{refused:?}") };
            assert_eq!(&id, record(over).id());
            assert_eq!(store.head().counts.revisions, 1);
        }
        for between in [3..5, 6..9] {
            store.apply_ready(ready(between, Expected::New), &author).expect("it is stored");
        }
        assert_eq!(store.head().counts.revisions, 6);
    }
}
