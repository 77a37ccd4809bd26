//! The first audit of a book. The book is read in portions, twice: once for all that its torques are weighed by, once for
//! the findings. So never are all of its records in memory.

use super::book::{Book, Elsewhere, OfAll};
use super::kept::{Kept, PartKey, joint_of};
use super::live::{LiveAudit, Standing};
use super::parts::Parts;
use super::run::Audit;
use super::slip::Index;
use super::torques::{Gathered, Torques};
use super::ways::Ways;
use crate::record::Record;
use rayon::prelude::*;
use std::convert::Infallible;

/// A book that can be read in portions from its beginning to its end, as often as that is asked for, and is the same every time.
pub trait Portions {
    /// Why it can't be read.
    type Error;

    /// Calls `visit` with one portion after the other, in the order of the ids, cut as [`Cut`] says.
    ///
    /// # Errors
    /// If it can't be read.
    fn each(&self, visit: &mut dyn FnMut(&[Standing])) -> Result<(), Self::Error>;
}

/// Says where a book may be cut into portions: a joint and its fasteners are judged together, so they are in one portion.
#[derive(Debug, Default)]
pub struct Cut {
    /// Behind every id that lies below a joint which has been seen.
    end: String,
}

impl Cut {
    /// Takes the next record in the order of the ids, and says whether the book may be cut before it.
    pub fn is_before(&mut self, record: &Record) -> bool {
        let joint = joint_of(record).as_str();
        let may_cut = record.id().as_str() >= self.end.as_str();
        if self.end.strip_suffix('/').is_none_or(|last| last != joint) {
            // The slash comes right behind the point.
            let end = format!("{joint}/");
            if end > self.end {
                self.end = end;
            }
        }
        may_cut
    }
}

impl LiveAudit {
    /// The audit of a book that is read in portions.
    ///
    /// # Errors
    /// If it can't be read.
    pub fn read<P: Portions>(book: &P) -> Result<Self, P::Error> {
        let mut gathering = Gathering::default();
        book.each(&mut |portion| gathering.add(portion))?;
        let mut judging = gathering.done();
        book.each(&mut |portion| judging.judge(portion))?;
        Ok(judging.done())
    }

    /// The audit of these records.
    #[must_use]
    pub fn of(mut records: Vec<Standing>) -> Self {
        records.sort_by(|a, b| a.record.id().cmp(b.record.id()));
        match Self::read(&InMemory(records)) {
            Ok(audit) => audit,
            Err(never) => match never {},
        }
    }
}

/// A book that is in memory anyway.
struct InMemory(Vec<Standing>);

impl Portions for InMemory {
    type Error = Infallible;

    fn each(&self, visit: &mut dyn FnMut(&[Standing])) -> Result<(), Infallible> {
        const AT_A_TIME: usize = 1024;
        let (mut cut, mut start) = (Cut::default(), 0);
        for (at, standing) in self.0.iter().enumerate() {
            if cut.is_before(&standing.record) && at - start >= AT_A_TIME {
                visit(&self.0[start..at]);
                start = at;
            }
        }
        visit(&self.0[start..]);
        Ok(())
    }
}

/// What is gathered in the first reading.
#[derive(Default)]
struct Gathering {
    /// By their numbers, as all that follows.
    records: Vec<Option<Kept>>,
    torques: Gathered,
    ways: Ways,
    parts: Parts,
}

impl Gathering {
    fn add(&mut self, portion: &[Standing]) {
        let (mut fasteners, mut numbers) = (Vec::new(), Vec::new());
        for Standing { record, version } in portion {
            let number = self.torques.enter(record.id());
            match &**record {
                Record::Fastener(fastener) => {
                    self.parts.enter(fastener, number);
                    fasteners.push(&**fastener);
                    numbers.push(number);
                }
                Record::Joint(joint) => self.ways.enter(joint),
            }
            self.records.push(Some(Kept::of(record, *version)));
        }
        self.torques.add(&fasteners, &numbers);
    }

    fn done(mut self) -> Judging {
        self.ways.look_for_rings();
        self.records.shrink_to_fit();
        let part = |number: usize| self.records[number].as_ref()?.part.map(PartKey::get);
        let by_part = Index::of(self.records.len(), part);
        Judging { records: self.records, torques: self.torques.weighed(), ways: self.ways, parts: self.parts, by_part }
    }
}

/// What the second reading enters findings into.
struct Judging {
    records: Vec<Option<Kept>>,
    torques: Torques,
    ways: Ways,
    parts: Parts,
    by_part: Index,
}

impl Judging {
    fn judge(&mut self, portion: &[Standing]) {
        let elsewhere = Some(Elsewhere { parts: &self.parts, records: &self.records });
        let of_all = OfAll { torques: &self.torques, ways: &self.ways, elsewhere };
        let book = Book::part(portion.iter().map(|standing| &*standing.record), of_all);
        let audit = Audit::of(&book);
        let judged = |Standing { record, version }: &Standing| {
            let mut kept = Kept::of(record, *version);
            kept.enter(&audit.findings_of(record));
            kept
        };
        let judged: Vec<Kept> = portion.par_iter().map(judged).collect();
        for (standing, kept) in portion.iter().zip(judged) {
            if let Some(number) = self.torques.roll().number(standing.record.id().as_str()) {
                self.records[number as usize] = Some(kept);
            }
        }
    }

    fn done(self) -> LiveAudit {
        LiveAudit::new(self.records, self.by_part, self.torques, self.ways)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_book_is_cut_only_where_no_joint_is_open() {
        let joint = |id: &str| json!({ "kind": "joint", "id": id });
        let fastener = |id: &str, joint: &str| json!({ "kind": "fastener", "id": id, "joint": joint, "thread": "M8", "stages": ["hand"] });
        let book = [
            (joint("skua.pump"), true),
            // A hyphen comes before the point, so this one stands between a joint and its fasteners.
            (joint("skua.pump-two"), false),
            (fastener("skua.pump-two.bolt", "skua.pump-two"), false),
            (fastener("skua.pump.bolt", "skua.pump"), false),
            (fastener("skua.pump.cover.bolt", "skua.pump.cover"), false),
            (fastener("skua.pump.stud", "skua.pump"), false),
            // Whose joint has no record of its own.
            (fastener("skua.ram.bolt", "skua.ram"), true),
            (fastener("skua.ram.stud", "skua.ram"), false),
            (joint("skua.sump"), true),
            (joint("tern.sump"), true),
        ];
        let mut cut = Cut::default();
        let mut last = String::new();
        for (json, may_cut) in book {
            let record = Record::from_json(&json).expect("a record");
            assert!(last.as_str() < record.id().as_str(), "{last} comes before {}", record.id());
            assert_eq!(cut.is_before(&record), may_cut, "{}", record.id());
            record.id().as_str().clone_into(&mut last);
        }
    }
}
