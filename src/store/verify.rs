//! Checking a store from end to end: every checksum, every chain of revisions, the feed, and the index both ways.

use super::change::{self, LostV1};
use super::error::StoreError;
use super::head::{Counts, digest_of};
use super::index::{self, Term};
use super::revision::{self, Latest};
use super::{Store, bits::Bits, keys};
use crate::query::{State, Stored};
use crate::record::{Id, Kind};
use std::collections::HashMap;
use std::ops::Range;

/// How much is checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// Revisions, latest revisions, slots and changes, and the checksums of the index.
    Records,
    /// All that, and the index entry by entry, both ways.
    Everything,
}

/// Something that is not as it was stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// What is hit.
    pub what: String,
    /// How it shows.
    pub how: String,
    /// Whether it can be made again from what is whole.
    pub derived: bool,
}

/// What a check has found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct VerifyReport {
    /// How many records there are, withdrawn ones too.
    pub records: u64,
    /// How many revisions were read.
    pub revisions: u64,
    /// How many changes were read.
    pub changes: u64,
    /// How many blocks of the index were read.
    pub index_blocks: u64,
    /// The first damages.
    pub damages: Vec<Damage>,
    /// How many there are in all.
    pub damages_total: u64,
}

/// How many damages are listed.
const DAMAGES_MAX: usize = 1000;

impl VerifyReport {
    /// Whether nothing is damaged.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.damages_total == 0
    }

    /// The damage as an error.
    ///
    /// # Errors
    /// If there is one.
    pub fn into_result(self) -> Result<Self, StoreError> {
        let Some(first) = self.damages.first() else { return Ok(self) };
        let more = match self.damages_total {
            1 => String::new(),
            total => format!(" (and {} more)", total - 1),
        };
        Err(StoreError::Damaged { what: first.what.clone(), how: format!("{}{more}", first.how) })
    }

    /// The report of a store that can't even be opened.
    pub(super) fn of_error(error: &StoreError) -> Self {
        let mut report = Self::default();
        report.blame_error(error, false);
        report
    }

    fn blame(&mut self, what: impl Into<String>, how: impl Into<String>, derived: bool) {
        self.damages_total += 1;
        if self.damages.len() < DAMAGES_MAX {
            self.damages.push(Damage { what: what.into(), how: how.into(), derived });
        }
    }

    fn blame_error(&mut self, error: &StoreError, derived: bool) {
        match error {
            StoreError::Damaged { what, how } => self.blame(what, how, derived),
            other => self.blame("the files of the store", other.to_string(), derived),
        }
    }
}

/// How far a check is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// What is being checked.
    pub step: &'static str,
    /// How many entries of that have been checked.
    pub done: u64,
    /// How many there are, as far as is known.
    pub of: u64,
}

impl Store {
    /// Checks the store from end to end, as it was when the check began.
    ///
    /// # Errors
    /// If the check itself can't be done; damage is in the report.
    pub fn verify(&self, depth: Depth, on_progress: &mut dyn FnMut(Progress)) -> Result<VerifyReport, StoreError> {
        let _writing = self.writer.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let (lost, unread) = match self.lost() {
            Ok(lost) => (lost, None),
            Err(error) => (Losses(HashMap::new()), Some(error)),
        };
        let mut check = Check {
            store: self,
            report: VerifyReport::default(),
            on_progress,
            made_by: vec![0; usize::try_from(self.head().sequence).unwrap_or(0) + 1],
            lost,
            last: None,
            counts: Counts::default(),
            digest: 0,
            terms: 0,
        };
        if let Some(error) = unread {
            check.report.blame_error(&error, false);
        }
        check.revisions();
        check.changes();
        check.slots();
        check.blocks();
        if depth == Depth::Everything {
            check.index();
        }
        Ok(check.report)
    }
}

struct Check<'a> {
    store: &'a Store,
    report: VerifyReport,
    on_progress: &'a mut dyn FnMut(Progress),
    /// For each change the fingerprint of the revision that it made; 0 if none was found.
    made_by: Vec<u64>,
    /// Changes whose revision is known to be lost.
    lost: Losses,
    /// The revision before this one.
    last: Option<Stored>,
    counts: Counts,
    digest: u128,
    /// How many terms the records in force have.
    terms: u64,
}

/// A number that stands for a revision.
fn fingerprint(id: &Id, revision: u64) -> u64 {
    use std::hash::{DefaultHasher, Hash, Hasher};
    let mut hash = DefaultHasher::new();
    (id.as_str(), revision).hash(&mut hash);
    hash.finish().max(1)
}

impl Check<'_> {
    /// Visits the pairs of a range, also beyond those that can't be read.
    fn each(
        &mut self,
        step: &'static str,
        of: u64,
        range: Range<Vec<u8>>,
        mut visit: impl FnMut(&mut Self, &[u8], &[u8]) -> Result<(), StoreError>,
    ) {
        let store = self.store;
        let mut done = 0;
        let walked = store.each(range, |key, value| {
            if let Err(error) = visit(self, key, value) {
                self.report.blame_error(&error, step != REVISIONS);
            }
            done += 1;
            if done % 1024 == 0 {
                (self.on_progress)(Progress { step, done, of });
            }
            Ok(true)
        });
        if let Err(error) = walked {
            self.report.blame_error(&error, step != REVISIONS);
        }
        (self.on_progress)(Progress { step, done, of });
    }

    fn revisions(&mut self) {
        let head = self.store.head();
        self.each(REVISIONS, head.counts.revisions, keys::all_revisions(), Self::revision);
        self.end_of_chain();
        let counts = self.counts;
        if counts != head.counts {
            let how = format!("{} were counted in writing, {} are there", in_words(head.counts), in_words(counts));
            self.report.blame("the number of records", how, false);
        } else if self.digest != head.digest {
            self.report.blame("the revisions as a whole", "their digest does not match", false);
        }
        self.report.revisions = counts.revisions;
        self.report.records = counts.joints + counts.fasteners + counts.withdrawn;
    }

    fn revision(&mut self, key: &[u8], value: &[u8]) -> Result<(), StoreError> {
        self.counts.revisions += 1;
        self.digest = self.digest.wrapping_add(digest_of(key, value));
        let stored = revision::decode(key, value)?;
        let id = stored.record.id();
        let before = match self.last.take() {
            Some(last) if last.record.id() == id => Some(last),
            other => {
                self.last = other;
                self.end_of_chain();
                None
            }
        };
        let expected = before.as_ref().map_or(1, |before| before.revision + 1);
        if stored.revision != expected && !self.lost.explain(id, expected..stored.revision) {
            self.report.blame(format!("revision {expected} of {id}"), "it is missing", false);
        }
        if before.is_some_and(|before| before.sequence >= stored.sequence) {
            self.report.blame(keys::in_words(key), "it is not later than the one before it", false);
        }
        match usize::try_from(stored.sequence).ok().and_then(|at| self.made_by.get_mut(at)) {
            Some(place) if *place == 0 => *place = fingerprint(id, stored.revision),
            Some(_) => self.report.blame(keys::in_words(key), "another revision has its change", false),
            None => self.report.blame(keys::in_words(key), "its change is later than the last one", false),
        }
        self.last = Some(stored);
        Ok(())
    }

    /// The last revision of a record has been read: compares it with the entry that says which one is the latest.
    fn end_of_chain(&mut self) {
        let Some(last) = self.last.take() else { return };
        match (last.state, last.record.kind()) {
            (State::Withdrawn, _) => self.counts.withdrawn += 1,
            (State::Current, Kind::Joint) => self.counts.joints += 1,
            (State::Current, Kind::Fastener) => self.counts.fasteners += 1,
        }
        if last.state == State::Current {
            self.terms += index::terms_of(&last.record).len() as u64;
        }
        let id = last.record.id();
        let says = |latest: &Latest| {
            (latest.revision, latest.sequence, latest.withdrawn)
                == (last.revision, last.sequence, last.state == State::Withdrawn)
        };
        match self.store.latest(id) {
            Ok(Some(latest)) if says(&latest) => {}
            Ok(Some(_)) => self.report.blame(format!("the entry of {id}"), "it names another revision", true),
            Ok(None) => self.report.blame(format!("the entry of {id}"), "it is missing", true),
            Err(error) => self.report.blame_error(&error, true),
        }
    }

    fn changes(&mut self) {
        let mut expected = 1;
        let last = self.store.head().sequence;
        self.each(CHANGES, last, keys::changes(0, u64::MAX - 1), |check, key, value| {
            let change = change::decode(key, value)?;
            check.blame_changes(expected..change.sequence.min(last + 1));
            expected = change.sequence + 1;
            check.report.changes += 1;
            let made = usize::try_from(change.sequence).ok().and_then(|at| check.made_by.get(at).copied());
            match made {
                Some(0) => {
                    let what = format!("revision {} of {}", change.revision, change.id);
                    check.report.blame(what, format!("it is missing, but change {} made it", change.sequence), false);
                }
                Some(made) if made == fingerprint(&change.id, change.revision) => {}
                _ => check.report.blame(keys::in_words(key), "no revision belongs to it", true),
            }
            Ok(())
        });
        self.blame_changes(expected..last + 1);
    }

    fn blame_changes(&mut self, missing: Range<u64>) {
        for sequence in missing.filter(|sequence| !self.lost.0.contains_key(sequence)).collect::<Vec<_>>() {
            self.report.blame(format!("change {sequence}"), "it is missing", true);
        }
    }

    fn slots(&mut self) {
        let next = self.store.slots();
        let mut count = 0;
        self.each(SLOTS, u64::from(next), keys::slots(), |check, key, value| {
            count += 1;
            let id = revision::decode_slot(key, value)?;
            let slot = keys::slot_of(key)?;
            match check.store.latest(&id)? {
                Some(latest) if latest.slot == slot => {}
                _ => check.report.blame(format!("slot {slot}"), format!("{id} does not have it"), true),
            }
            Ok(())
        });
        if count != u64::from(next) {
            self.report.blame("the slots", format!("{next} were given away, {count} are there"), true);
        }
    }

    fn blocks(&mut self) {
        let mut found = 0;
        self.each(INDEX, 0, keys::all_blocks(), |check, key, value| {
            check.report.index_blocks += 1;
            found += index::decode(key, value)?.iter().map(|word| u64::from(word.count_ones())).sum::<u64>();
            Ok(())
        });
        // An index of another version is not asked.
        if found != self.terms && self.store.head().index_version == index::VERSION {
            let how = format!("it has {found} entries, the records have {} terms", self.terms);
            self.report.blame("the index", how, true);
        }
    }

    /// Every term of every record is in the index, and the index has no more than these.
    fn index(&mut self) {
        let mut cache: HashMap<Term, Bits> = HashMap::new();
        let of = u64::from(self.store.slots());
        self.each(ENTRIES, of, keys::slots(), |check, key, value| {
            let slot = keys::slot_of(key)?;
            let id = revision::decode_slot(key, value)?;
            let Some(stored) = check.store.get(&id)? else { return Ok(()) };
            if stored.state == State::Withdrawn {
                return Ok(());
            }
            for term in index::terms_of(&stored.record) {
                if !cache.contains_key(&term) {
                    if cache.len() >= TERMS_IN_MEMORY {
                        cache.clear();
                    }
                    cache.insert(term.clone(), check.store.set_of_term(&term)?);
                }
                if !cache[&term].contains(slot) {
                    check.report.blame(
                        format!("the index of {id}"),
                        format!("{} is missing", index::in_words(&term)),
                        true,
                    );
                }
            }
            Ok(())
        });
    }
}

/// Changes whose revision is known to be lost, with the record and its revision where they are known.
struct Losses(HashMap<u64, Option<(Id, u64)>>);

impl Losses {
    /// Whether these revisions of a record may be missing. A change that nobody knows more about may explain any.
    fn explain(&self, id: &Id, missing: Range<u64>) -> bool {
        let anything = self.0.values().any(Option::is_none);
        let is_lost = |number: u64| self.0.values().flatten().any(|(lost, revision)| lost == id && *revision == number);
        anything || missing.into_iter().all(is_lost)
    }
}

impl Store {
    fn lost(&self) -> Result<Losses, StoreError> {
        Ok(Losses(self.lost_changes()?))
    }

    /// The changes whose revision is known to be lost, with the record and its revision where they are known.
    pub(super) fn lost_changes(&self) -> Result<HashMap<u64, Option<(Id, u64)>>, StoreError> {
        let mut lost = HashMap::new();
        self.each(keys::all_lost(), |key, value| {
            let LostV1 { revision } = LostV1::decode(key, value)?;
            let revision = revision.and_then(|(id, revision)| Some((id.parse().ok()?, revision)));
            lost.insert(keys::sequence_of(key)?, revision);
            Ok(true)
        })?;
        Ok(lost)
    }
}

const REVISIONS: &str = "revisions";
const CHANGES: &str = "changes";
const SLOTS: &str = "slots";
const INDEX: &str = "index";
const ENTRIES: &str = "index entries";
/// How many sets of the index are kept while its entries are checked.
const TERMS_IN_MEMORY: usize = 2000;

fn in_words(counts: Counts) -> String {
    let Counts { joints, fasteners, withdrawn, revisions } = counts;
    format!("{joints} joints, {fasteners} fasteners, {withdrawn} withdrawn, {revisions} revisions")
}
