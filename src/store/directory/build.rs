//! The directory of a store that is open, from its entries and its index, without reading a record.

use super::family::Traits;
use super::{Changed, Directory, Entry, Family, Members};
use crate::query::State;
use crate::store::index::{self, Index};
use crate::store::revision::{self, Latest};
use crate::store::{Bits, Store, StoreError, keys};
use std::collections::HashMap;
use std::sync::{Arc, PoisonError};

/// Says that what is being made is not wanted any more.
pub type Unwanted<'u> = &'u dyn Fn() -> bool;

/// Up to so many changes are taken in while writes wait.
const FEW: usize = 200;
/// How many changes are taken in at a time otherwise.
const AT_A_TIME: usize = 5000;

impl Store {
    /// Makes the directory, unless it is there, and keeps it up with every write from then on. Writes go on meanwhile. If it
    /// can't be made, questions are answered without it. Says whether it is worth trying again later, should it be missing.
    ///
    /// # Errors
    /// If the engine can't read, or what it reads is damaged.
    pub fn keep_directory(&self, unwanted: Unwanted<'_>) -> Result<bool, StoreError> {
        if self.directory.load().is_some() {
            return Ok(true);
        }
        let head = self.head();
        if head.index_version != index::VERSION {
            return Ok(false);
        }
        let mut sequence = head.sequence;
        let Some(mut directory) = self.read_directory(unwanted)? else { return Ok(unwanted()) };
        // What was written meanwhile was read or not; it is entered as it is now.
        loop {
            let waits = self.head().sequence.saturating_sub(sequence) <= FEW as u64;
            let writing = waits.then(|| self.writer.lock().unwrap_or_else(PoisonError::into_inner));
            if self.head().epoch != head.epoch || unwanted() {
                return Ok(true);
            }
            if self.stopped().is_some() {
                return Ok(false);
            }
            let changes = self.changes(sequence, AT_A_TIME)?;
            sequence = changes.last().map_or(sequence, |change| change.sequence);
            let now = self.head().sequence;
            let changed = changes.iter().map(|change| self.changed(&change.id, now)).collect::<Result<Vec<_>, _>>()?;
            let Some(next) = directory.after(changed.into_iter().flatten().collect()) else { return Ok(false) };
            directory = next;
            if writing.is_some() && sequence == self.head().sequence {
                self.directory.store(Some(Arc::new(directory)));
                return Ok(true);
            }
        }
    }

    /// What a record has become up to a change.
    pub(super) fn changed(&self, id: &crate::record::Id, now: u64) -> Result<Option<Changed>, StoreError> {
        let Some(latest) = self.latest(id)? else { return Ok(None) };
        Ok(self.get_up_to(now, id)?.map(|stored| Changed {
            id: id.to_string(),
            slot: latest.slot,
            revision: stored.revision,
            sequence: stored.sequence,
            record: (stored.state == State::Current).then_some(stored.record),
        }))
    }

    /// The directory of what the engine holds.
    fn read_directory(&self, unwanted: Unwanted<'_>) -> Result<Option<Directory>, StoreError> {
        let mut directory = Directory::default();
        let mut read = Read::default();
        let mut goes_on = true;
        self.each(keys::latest_within(None), |key, bytes| {
            read.push(&String::from_utf8_lossy(&key[1..]), revision::decode_latest(key, bytes)?);
            goes_on = !read.entries.len().is_multiple_of(AT_A_TIME) || !unwanted();
            Ok(goes_on)
        })?;
        let Some(traits) = self.traits(&mut directory, unwanted)? else { return Ok(None) };
        if !goes_on {
            return Ok(None);
        }
        let mut by_family: HashMap<Traits, Vec<u32>> = HashMap::new();
        for Latest { slot, withdrawn, .. } in read.entries.iter().map(|(_, latest)| *latest) {
            if !withdrawn {
                by_family.entry(traits.get(slot as usize).copied().unwrap_or_default()).or_default().push(slot);
            }
        }
        drop(traits);
        directory.order = Members::of(&read.entries.iter().map(|(_, latest)| latest.slot).collect::<Vec<_>>());
        directory.enter_ids(&mut read);
        directory.label_anew();
        // Families that a question lets through together lie close to each other then, which is what looking at them costs.
        let mut by_family: Vec<(Traits, Vec<u32>)> = by_family.into_iter().collect();
        by_family.sort_unstable_by_key(|(traits, _)| *traits);
        for (traits, slots) in by_family {
            directory.enter_family(traits, &slots);
        }
        Ok(Some(directory))
    }

    /// The traits of every slot, from the index.
    fn traits(&self, directory: &mut Directory, unwanted: Unwanted<'_>) -> Result<Option<Vec<Traits>>, StoreError> {
        let mut traits: Vec<Traits> = vec![Traits::default(); self.slots() as usize];
        for at in 0..directory.columns.len() {
            if unwanted() {
                return Ok(None);
            }
            let field = directory.columns[at].field;
            for valued in self.sets_unheld(Index::Field(field))? {
                let text = String::from_utf8_lossy(valued.value());
                let Some(code) = Arc::make_mut(&mut directory.columns[at]).enter(&text) else { return Ok(None) };
                each_of(&mut traits, &valued.set, |traits| traits.codes[at] = code);
            }
        }
        let bits = |value: &[u8]| value.get(1..9).and_then(|bytes| bytes.try_into().ok()).map(u64::from_be_bytes);
        for valued in self.sets_unheld(Index::TorqueLow)? {
            bits(valued.value()).into_iter().for_each(|low| each_of(&mut traits, &valued.set, |t| t.low = low));
        }
        for valued in self.sets_unheld(Index::TorqueHigh)? {
            bits(valued.value()).into_iter().for_each(|high| each_of(&mut traits, &valued.set, |t| t.high = high));
        }
        Ok(Some(traits))
    }
}

/// Does something with the traits of each slot of a set. Those behind the end came after the reading began.
fn each_of(traits: &mut [Traits], set: &Bits, mut work: impl FnMut(&mut Traits)) {
    set.iter().for_each(|slot| traits.get_mut(slot as usize).into_iter().for_each(&mut work));
}

/// What was read of every record: the ids one behind the other, and where each begins.
#[derive(Default)]
struct Read {
    ids: String,
    entries: Vec<(usize, Latest)>,
}

impl Read {
    fn push(&mut self, id: &str, latest: Latest) {
        self.entries.push((self.ids.len(), latest));
        self.ids.push_str(id);
        self.ids.push('\n');
    }

    fn id(&self, start: usize) -> &str {
        self.ids.get(start..).and_then(|rest| rest.split('\n').next()).unwrap_or_default()
    }
}

impl Directory {
    /// Enters ids with what is known of their slots, whose order is then that of the slots.
    fn enter_ids(&mut self, read: &mut Read) {
        read.entries.sort_unstable_by_key(|(_, latest)| latest.slot);
        for (start, latest) in &read.entries {
            while self.ids.len() < latest.slot as usize {
                self.ids.push("");
                self.entries.push(Entry::default());
            }
            self.ids.push(read.id(*start));
            let revision = u32::try_from(latest.revision).unwrap_or_default();
            self.entries.push(Entry { sequence: latest.sequence, revision, ..Entry::default() });
        }
    }

    /// Enters a family with its members, which are in order.
    fn enter_family(&mut self, traits: Traits, slots: &[u32]) {
        let number = self.found(traits);
        self.by_traits.lock().unwrap_or_else(PoisonError::into_inner).insert(traits, number);
        if let Some(family) = self.families.get_mut(number as usize) {
            *family = Family { traits, members: Members::of(slots), count: slots.len() as u32 };
        }
        for slot in slots {
            if let Some(entry) = self.entries.get_mut(*slot as usize) {
                entry.family = number;
            }
        }
    }
}
