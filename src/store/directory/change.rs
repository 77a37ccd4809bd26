//! The next version of the directory, after a write.

use super::{Directory, Family, NONE, Traits};
use crate::record::Record;
use std::sync::{Arc, PoisonError};

/// What a record has become.
#[derive(Debug, Clone)]
pub struct Changed {
    /// Its id.
    pub id: String,
    /// Its slot.
    pub slot: u32,
    /// Its last revision.
    pub revision: u64,
    /// The change that made that.
    pub sequence: u64,
    /// The record, if it is in force.
    pub record: Option<Arc<Record>>,
}

impl Directory {
    /// The directory after some changes; nothing if it can't hold them.
    #[must_use]
    pub fn after(&self, mut changes: Vec<Changed>) -> Option<Self> {
        let mut next = self.clone();
        changes.sort_unstable_by_key(|changed| changed.slot);
        let known = u32::try_from(next.ids.len()).ok()?;
        // New ids in the order of their slots, which is the order in which the table has them.
        for changed in changes.iter().filter(|changed| changed.slot >= known) {
            while next.ids.len() < changed.slot as usize {
                next.push("");
            }
            next.push(&changed.id);
        }
        changes.into_iter().try_for_each(|changed| next.change(&changed))?;
        Some(next)
    }

    fn change(&mut self, changed: &Changed) -> Option<()> {
        let family = match &changed.record {
            Some(record) => {
                let traits = Traits::of(record, &mut self.columns)?;
                self.family_with(traits)
            }
            None => NONE,
        };
        let entry = self.entries.get_mut(changed.slot as usize)?;
        let before = std::mem::replace(&mut entry.family, family);
        entry.revision = u32::try_from(changed.revision).ok()?;
        entry.sequence = changed.sequence;
        let label = entry.label;
        if before != family {
            self.leave(before, changed.slot, label);
            self.join(family, changed.slot, label);
        }
        Some(())
    }

    /// The family with these traits, made if there is none.
    fn family_with(&mut self, traits: Traits) -> u32 {
        let by_traits = self.by_traits.clone();
        let mut by_traits = by_traits.lock().unwrap_or_else(PoisonError::into_inner);
        *by_traits.entry(traits).or_insert_with(|| self.found(traits))
    }

    /// Makes a family without members.
    pub(super) fn found(&mut self, traits: Traits) -> u32 {
        let number = u32::try_from(self.families.len()).unwrap_or(NONE);
        self.families.push(Family { traits, ..Family::default() });
        for (column, code) in self.columns.iter_mut().zip(traits.codes) {
            Arc::make_mut(column).enter_family(code, number);
        }
        number
    }

    fn leave(&mut self, family: u32, slot: u32, label: u64) {
        let Some(of_family) = self.families.get(family as usize) else { return };
        let place = of_family.members.seek(|other| self.label(other) < label);
        if of_family.members.at(place) == Some(slot)
            && let Some(family) = self.families.get_mut(family as usize)
        {
            family.members.remove(place);
            family.count -= 1;
        }
    }

    fn join(&mut self, family: u32, slot: u32, label: u64) {
        let Some(of_family) = self.families.get(family as usize) else { return };
        let place = of_family.members.seek(|other| self.label(other) < label);
        if let Some(family) = self.families.get_mut(family as usize) {
            family.members.insert(place, slot);
            family.count += 1;
        }
    }
}
