//! Walking over records in the order of their ids.

use super::error::StoreError;
use super::revision::Latest;
use super::{Store, keys, revision};
use crate::query::Stored;
use crate::record::Id;
use rayon::prelude::*;

/// How far somebody is who reads the book in portions, in the order of the ids, as it was after one change.
#[derive(Debug, Clone)]
pub struct Reading {
    sequence: u64,
    /// The last id that was read, as bytes; nothing is before the first one.
    after: Vec<u8>,
    is_at_end: bool,
}

impl Reading {
    /// At the beginning of the book as it was after a change.
    #[must_use]
    pub fn at(sequence: u64) -> Self {
        Self { sequence, after: Vec::new(), is_at_end: false }
    }

    /// Whether all has been read.
    #[must_use]
    pub fn is_at_end(&self) -> bool {
        self.is_at_end
    }
}

impl Store {
    /// Walks over the records whose id is `path` or lies below it, in the order of their ids, each in the revision that
    /// it had at `sequence`, withdrawn ones too, until `visit` says that it has enough.
    ///
    /// # Errors
    /// If the engine can't read, what it reads is damaged, or `visit` fails.
    pub fn walk(
        &self,
        path: Option<&str>,
        sequence: u64,
        mut visit: impl FnMut(Stored) -> Result<bool, StoreError>,
    ) -> Result<(), StoreError> {
        self.each(keys::latest_within(path), |key, bytes| {
            let latest = revision::decode_latest(key, bytes)?;
            let id = keys::id_of_latest(key)?;
            if path.is_some_and(|path| !id.is_within(path)) {
                return Ok(true);
            }
            let stored = if latest.sequence <= sequence {
                let found = || self.revision(&id, latest.revision);
                let revision = || found()?.ok_or_else(|| StoreError::missing_revision(&id, latest.revision));
                // What lies below a path is asked for again and again; the whole book passes by once.
                match path {
                    Some(_) => self.known.revision(latest.slot, latest.revision, latest.sequence, revision)?,
                    None => revision()?,
                }
            } else {
                match self.get_at(&id, sequence)? {
                    Some(stored) => stored,
                    None => return Ok(true),
                }
            };
            visit(stored)
        })
    }

    /// Reads the next records, at most so many, withdrawn ones too. They are decoded on all cores.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn go_on(&self, reading: &mut Reading, count: usize) -> Result<Vec<Stored>, StoreError> {
        let range = keys::latest_after(&reading.after);
        let pairs = self.engine.scan(&range.start, &range.end, count)?;
        let record = |(key, bytes): &(Vec<u8>, Vec<u8>)| {
            let (id, latest) = (keys::id_of_latest(key)?, revision::decode_latest(key, bytes)?);
            self.as_of(&id, latest, reading.sequence)
        };
        let records = pairs.par_iter().with_min_len(64).map(record).collect::<Result<Vec<_>, _>>()?;
        reading.is_at_end = pairs.len() < count;
        if let Some((key, _)) = pairs.last() {
            reading.after = key.get(1..).unwrap_or_default().to_vec();
        }
        Ok(records.into_iter().flatten().collect())
    }

    /// A record as it was after a change; nothing if it was not there yet.
    fn as_of(&self, id: &Id, latest: Latest, sequence: u64) -> Result<Option<Stored>, StoreError> {
        if latest.sequence > sequence {
            return self.get_at(id, sequence);
        }
        let stored = self.revision(id, latest.revision)?;
        stored.map(Some).ok_or_else(|| StoreError::missing_revision(id, latest.revision))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Record;
    use crate::store::{Author, Expected, Write};

    #[test]
    fn a_book_that_is_read_in_portions_is_the_book_that_is_walked_over() {
        let store = Store::in_memory().expect("a store");
        let put = |number: usize, torque: usize| {
            let json = serde_json::json!({ "kind": "fastener", "id": format!("skua.pump.b-{number:03}"),
                "joint": "skua.pump", "thread": "M8", "stages": [format!("{torque} N·m")] });
            let record = Box::new(Record::from_json(&json).expect("a record"));
            store
                .apply(vec![Write::Put { record, expected: Expected::Any }], &Author::unknown())
                .expect("it is stored");
        };
        (0..150).for_each(|number| put(number * 2, 10));
        let then = store.head().sequence;
        (0..60).for_each(|number| put(number * 5, 20));
        let withdrawn = "skua.pump.b-010".parse().expect("an id");
        let withdraw = Write::Withdraw { id: withdrawn, expected: Expected::Any, why: None };
        store.apply(vec![withdraw], &Author::unknown()).expect("it is withdrawn");
        for sequence in [0, 1, then, store.head().sequence] {
            let mut walked = Vec::new();
            let visit = |stored| {
                walked.push(stored);
                Ok(true)
            };
            store.walk(None, sequence, visit).expect("a walk");
            for count in [1, 7, 64, 1000] {
                let (mut reading, mut read) = (Reading::at(sequence), Vec::new());
                while !reading.is_at_end() {
                    read.extend(store.go_on(&mut reading, count).expect("a portion"));
                }
                assert_eq!(read, walked, "{count} at a time, at change {sequence}");
            }
            assert_eq!(walked.is_empty(), sequence == 0);
        }
    }
}
