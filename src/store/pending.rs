//! Writes that are taken one after the other and made into one batch.

use super::Store;
use super::change::{self, Change, Expected, Put, Write};
use super::engine::Batch;
use super::error::{Found, StoreError};
use super::head::{Head, digest_of};
use super::index::{self, Term, Touched};
use super::keys;
use super::pack::Ready;
use super::revision::{self, Latest};
use super::writer::Author;
use crate::query::{State, Stored};
use crate::record::{Id, Kind, Record, Text};
use rayon::prelude::*;
use std::collections::HashMap;
use std::ops::Range;
use std::sync::Arc;

/// Writes that have been taken and are not stored yet.
pub(super) struct Pending<'s> {
    store: &'s Store,
    author: &'s Author,
    now: jiff::Timestamp,
    pub(super) head: Head,
    pub(super) batch: Batch,
    entered: Vec<Entered>,
    /// What was made ready beforehand.
    ready: Arc<Ready>,
    /// What stands under the ids that were written here, and their slots.
    written: HashMap<Id, (Stored, u32)>,
    /// Keys between which nothing stood before this.
    gap: Range<Vec<u8>>,
}

/// A revision that was entered, and what was in force before it.
struct Entered {
    stored: Stored,
    slot: u32,
    before: Option<Stored>,
    /// Its place among what was made ready, if it was.
    ready: Option<usize>,
}

/// Writes that only have to be applied.
pub(super) struct Finished {
    pub head: Head,
    pub batch: Batch,
    pub index: Touched,
    /// What stands under the ids that were written, and their slots.
    pub records: HashMap<Id, (Stored, u32)>,
}

impl<'s> Pending<'s> {
    pub(super) fn new(store: &'s Store, before: &Head, author: &'s Author) -> Self {
        // A clock that was set back must not turn the history round.
        let now = jiff::Timestamp::now().max(before.changed_at);
        let now = jiff::Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now);
        let (batch, entered, ready, written, gap) = Default::default();
        Self { store, author, now, head: before.clone(), batch, entered, ready, written, gap }
    }

    pub(super) fn write(&mut self, write: Write) -> Result<Put, StoreError> {
        let id = write.id().clone();
        let there = self.there(&id)?;
        match write {
            Write::Put { record, expected } => {
                check(&id, expected, there.as_ref().map(|(there, _)| there))?;
                if let Some((there, _)) = &there
                    && there.state == State::Current
                    && *there.record == *record
                {
                    return Ok(unchanged(there));
                }
                self.store_revision(Arc::new(*record), State::Current, None, there.as_ref())
            }
            Write::Withdraw { expected, why, .. } => {
                let Some(there) = there else { return Err(StoreError::Changed { id, found: None }) };
                check(&id, expected, Some(&there.0))?;
                if there.0.state == State::Withdrawn {
                    return Ok(unchanged(&there.0));
                }
                self.store_revision(there.0.record.clone(), State::Withdrawn, why, Some(&there))
            }
        }
    }

    /// Writes what was made ready.
    pub(super) fn write_ready(&mut self, ready: Arc<Ready>) -> Result<Vec<Put>, StoreError> {
        self.ready = ready.clone();
        let mut puts = Vec::with_capacity(ready.records.len());
        for (at, one) in ready.records.iter().enumerate() {
            if one.expected == Expected::New {
                self.look_ahead(one.record.id())?;
            }
            let there = self.there(one.record.id())?;
            check(one.record.id(), one.expected, there.as_ref().map(|(there, _)| there))?;
            let put = match &there {
                Some((there, _)) if there.state == State::Current && there.record == one.record => unchanged(there),
                _ => {
                    let put = self.store_revision(one.record.clone(), State::Current, None, there.as_ref())?;
                    self.entered.last_mut().into_iter().for_each(|entered| entered.ready = Some(at));
                    put
                }
            };
            puts.push(put);
        }
        Ok(puts)
    }

    fn store_revision(
        &mut self,
        record: Arc<Record>,
        state: State,
        why: Option<Text>,
        before: Option<&(Stored, u32)>,
    ) -> Result<Put, StoreError> {
        let stored = Stored {
            record,
            revision: before.map_or(1, |(before, _)| before.revision + 1),
            state,
            changed_at: self.now,
            changed_by: self.author.0.clone(),
            why,
            sequence: self.head.sequence + 1,
        };
        self.enter_revision(stored, before)
    }

    /// Writes a revision again as it was.
    pub(super) fn replay(&mut self, stored: Stored) -> Result<(), StoreError> {
        let before = self.there(stored.record.id())?;
        if stored.sequence <= self.head.sequence {
            return Err(StoreError::Internal(format!("change {} comes too late", stored.sequence)));
        }
        self.enter_revision(stored, before.as_ref()).map(|_| ())
    }

    /// What stands under an id now, with its slot.
    fn there(&self, id: &Id) -> Result<Option<(Stored, u32)>, StoreError> {
        match self.written.get(id) {
            Some(there) => Ok(Some(there.clone())),
            None if !self.gap.is_empty() && self.gap.contains(&keys::latest(id)) => Ok(None),
            None => self.store.get_with_slot(id),
        }
    }

    /// Looks how far after an id nothing stands, so that those that follow it in order need not be looked for one by one.
    fn look_ahead(&mut self, id: &Id) -> Result<(), StoreError> {
        let key = keys::latest(id);
        if !self.gap.contains(&key) {
            let end = keys::latest_within(None).end;
            let next = self.store.engine.scan(&key, &end, 1)?.pop();
            self.gap = key..next.map_or(end, |(next, _)| next);
        }
        Ok(())
    }

    fn enter_revision(&mut self, stored: Stored, before: Option<&(Stored, u32)>) -> Result<Put, StoreError> {
        let slot = before.map_or(self.head.next_slot, |(_, slot)| *slot);
        self.head.sequence = stored.sequence;
        self.head.changed_at = stored.changed_at;
        if before.is_none() {
            let next = slot.checked_add(1).ok_or_else(|| StoreError::Internal("too many records".to_owned()))?;
            self.head.next_slot = next;
        }
        let before = before.map(|(before, _)| before);
        self.count(before, &stored);
        let put = Put { revision: stored.revision, changed: true, new: before.is_none(), sequence: stored.sequence };
        self.written.insert(stored.record.id().clone(), (stored.clone(), slot));
        self.entered.push(Entered { stored, slot, before: before.cloned(), ready: None });
        Ok(put)
    }

    /// Makes the bytes of everything that was entered, on all cores if it is much.
    ///
    /// # Errors
    /// If a record is too large, or does not read back as it was.
    pub(super) fn finish(self) -> Result<Finished, StoreError> {
        /// So few are made sooner than shared out.
        const FEW: usize = 16;
        let Self { store, mut head, mut batch, entered, ready, written: records, .. } = self;
        let of = |entered: &Entered| Form::of(entered, &ready);
        // What was made ready leaves little to do, and other threads make ready what comes next.
        let forms: Vec<Form> = if entered.len() <= FEW || !ready.is_empty() {
            entered.iter().map(of).collect::<Result<_, _>>()?
        } else {
            entered.par_iter().map(of).collect::<Result<_, _>>()?
        };
        let engine = store.engine.as_ref();
        let mut index = Touched::new(store.head().next_slot);
        let mut slots = vec![0; ready.len()];
        // Of one kind after the other, since within a kind they come in order.
        let mut pairs: [Vec<_>; KINDS] = std::array::from_fn(|_| Vec::with_capacity(entered.len()));
        for (entered, form) in entered.iter().zip(forms) {
            head.digest = head.digest.wrapping_add(form.digest);
            for (kind, (key, bytes)) in pairs.iter_mut().zip(form.pairs) {
                kind.push((key, Some(bytes)));
            }
            index.change(engine, entered.slot, &form.terms_before, &form.terms)?;
            entered.ready.into_iter().for_each(|at| slots[at] = entered.slot);
        }
        batch.change_all(pairs.into_iter().flatten().collect());
        for (term, places) in &ready.terms {
            index.add(engine, term, places.iter().map(|at| slots[*at as usize]))?;
        }
        Ok(Finished { head, batch, index, records })
    }

    fn count(&mut self, before: Option<&Stored>, now: &Stored) {
        self.head.counts.revisions += 1;
        if let Some(before) = before {
            *self.counter(before) -= 1;
        }
        *self.counter(now) += 1;
    }

    fn counter(&mut self, stored: &Stored) -> &mut u64 {
        let counts = &mut self.head.counts;
        match (stored.state, stored.record.kind()) {
            (State::Withdrawn, _) => &mut counts.withdrawn,
            (State::Current, Kind::Joint) => &mut counts.joints,
            (State::Current, Kind::Fastener) => &mut counts.fasteners,
        }
    }
}

/// How many kinds of pairs are written for a revision.
const KINDS: usize = 4;

/// What is written for a revision.
struct Form {
    /// One of each kind, always in the same order, the last one only for a new record.
    pairs: Vec<(Vec<u8>, Vec<u8>)>,
    digest: u128,
    terms_before: Vec<Term>,
    terms: Vec<Term>,
}

impl Form {
    fn of(Entered { stored, slot, before, ready: place }: &Entered, ready: &Ready) -> Result<Self, StoreError> {
        let ready = place.and_then(|place| ready.records.get(place));
        let id = stored.record.id();
        let mut pairs = Vec::with_capacity(KINDS);
        let number = u32::try_from(stored.revision).map_err(|_| StoreError::Internal("too many revisions".into()))?;
        let key = keys::revision(id, number);
        let bytes = match ready {
            Some(ready) => revision::encode_ready(&key, stored, ready.form())?,
            None => revision::encode(&key, stored)?,
        };
        let digest = digest_of(&key, &bytes);
        pairs.push((key, bytes));
        let key = keys::change(stored.sequence);
        let bytes = change::encode(&key, &Change::of(stored))?;
        pairs.push((key, bytes));
        let key = keys::latest(id);
        let withdrawn = stored.state == State::Withdrawn;
        let latest = Latest { revision: stored.revision, sequence: stored.sequence, withdrawn, slot: *slot };
        let bytes = revision::encode_latest(&key, &latest)?;
        pairs.push((key, bytes));
        if before.is_none() {
            let key = keys::slot(*slot);
            let bytes = revision::encode_slot(&key, id)?;
            pairs.push((key, bytes));
        }
        let terms_before = before.as_ref().map(terms_in_force).unwrap_or_default();
        // Those of a new record that was made ready are known.
        let is_listed = ready.is_some() && before.is_none();
        let terms = if is_listed { Vec::new() } else { terms_in_force(stored) };
        Ok(Self { pairs, digest, terms_before, terms })
    }
}

/// The terms under which a record is found: none once it is withdrawn.
fn terms_in_force(stored: &Stored) -> Vec<Term> {
    match stored.state {
        State::Current => index::terms_of(&stored.record),
        State::Withdrawn => Vec::new(),
    }
}

fn unchanged(there: &Stored) -> Put {
    Put { revision: there.revision, changed: false, new: false, sequence: there.sequence }
}

fn check(id: &Id, expected: Expected, there: Option<&Stored>) -> Result<(), StoreError> {
    let met = match expected {
        Expected::Any => true,
        Expected::New => there.is_none(),
        Expected::Revision(revision) => there.is_some_and(|there| there.revision == revision),
    };
    let found = |there: &Stored| Found {
        revision: there.revision,
        changed_at: there.changed_at,
        changed_by: there.changed_by.clone(),
        withdrawn: there.state == State::Withdrawn,
    };
    if met { Ok(()) } else { Err(StoreError::Changed { id: id.clone(), found: there.map(found) }) }
}
