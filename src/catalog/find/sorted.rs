//! The first records of a set in an order, without reading the others where the index can tell.

use super::super::StoreError;
use crate::query::{Cursor, Field, Query, Sort, SortField, Stored, sort_key};
use crate::record::Id;
use crate::store::{Bits, Index, Store};
use std::sync::Arc;

/// Up to this many records are simply read and sorted, where the index has no groups for the order.
const FEW: u64 = 300;

/// The first `wanted` records of a set after the cursor, in the order of the question.
pub fn first_of(store: &Store, query: &Query, set: &Bits, wanted: usize) -> Result<Vec<Stored>, StoreError> {
    let after = query.after.as_ref().map(|Cursor { key, .. }| key.as_slice());
    let mut collector = Collector { store, query, after, wanted, found: Vec::new() };
    collector.collect(set, &levels(&query.sort), Vec::new())?;
    Ok(collector.found)
}

/// Bytes to order by, each with the records that have the value.
type Groups = Vec<(Vec<u8>, Arc<Bits>)>;

/// One step of an order that the index may know.
#[derive(Clone, Copy)]
enum Level {
    Field(Sort),
    TorqueLow(Sort),
    TorqueHigh(Sort),
}

impl Level {
    /// Whether the index has the records in groups by this.
    fn has_groups(self) -> bool {
        match self {
            Self::Field(sort) => field_of(sort.field).is_some(),
            Self::TorqueLow(_) | Self::TorqueHigh(_) => true,
        }
    }
}

fn levels(sort: &[Sort]) -> Vec<Level> {
    let mut levels = Vec::new();
    for sort in sort {
        match sort.field {
            SortField::Torque => levels.extend([Level::TorqueLow(*sort), Level::TorqueHigh(*sort)]),
            _ => levels.push(Level::Field(*sort)),
        }
        // Ids and changes are different for every record: what comes after them says nothing.
        if matches!(sort.field, SortField::Id | SortField::Changed) {
            break;
        }
    }
    levels
}

struct Collector<'a> {
    store: &'a Store,
    query: &'a Query,
    after: Option<&'a [u8]>,
    wanted: usize,
    found: Vec<Stored>,
}

impl Collector<'_> {
    fn is_full(&self) -> bool {
        self.found.len() >= self.wanted
    }

    /// Collects from a set whose records all have `prefix` at the beginning of their keys.
    fn collect(&mut self, set: &Bits, levels: &[Level], prefix: Vec<u8>) -> Result<(), StoreError> {
        if self.is_full() || set.is_empty() || self.is_before(&prefix) {
            return Ok(());
        }
        let Some((level, rest)) = levels.split_first() else {
            return if set.len() <= FEW { self.read_and_sort(set) } else { self.by_id(set, &prefix) };
        };
        let few = if level.has_groups() { self.wanted as u64 } else { FEW };
        if set.len() <= few {
            return self.read_and_sort(set);
        }
        match level {
            Level::Field(Sort { field: SortField::Id, descending: false }) => {
                self.by_id(set, &[&prefix[..], &[0]].concat())
            }
            Level::Field(Sort { field: SortField::Id, descending: true }) => self.by_id_downwards(set),
            Level::Field(sort @ Sort { field: SortField::Changed, .. }) if prefix.is_empty() => {
                self.by_change(set, *sort)
            }
            Level::Field(sort) => match groups(self.store, sort.field)? {
                Some(groups) => {
                    let part = |value: &[u8]| sort.part_of_key(Some(value));
                    self.by_group(set, groups, sort.descending, &part, rest, &prefix)
                }
                None => self.read_and_sort(set),
            },
            Level::TorqueLow(sort) => {
                // The value ends after the higher end, so that its last bytes belong to the next level.
                let part = |value: &[u8]| cut_end(sort.part_of_key(Some(value)));
                self.by_group(set, self.torques(Index::TorqueLow)?, sort.descending, &part, rest, &prefix)
            }
            Level::TorqueHigh(sort) => {
                let part = |value: &[u8]| sort.part_of_key(Some(value)).split_off(1);
                self.by_group(set, self.torques(Index::TorqueHigh)?, sort.descending, &part, rest, &prefix)
            }
        }
    }

    /// Whether everything with this prefix comes before the cursor.
    fn is_before(&self, prefix: &[u8]) -> bool {
        self.after.is_some_and(|after| *prefix < after[..prefix.len().min(after.len())])
    }

    fn read_and_sort(&mut self, set: &Bits) -> Result<(), StoreError> {
        let mut keyed = Vec::new();
        for slot in set.iter() {
            let stored = self.store.of_slot(slot)?;
            let key = sort_key(&self.query.sort, &stored);
            if self.after.is_none_or(|after| key.as_slice() > after) {
                keyed.push((key, stored));
            }
        }
        keyed.sort_unstable_by(|a, b| a.0.cmp(&b.0));
        let room = self.wanted - self.found.len();
        self.found.extend(keyed.into_iter().take(room).map(|(_, stored)| stored));
        Ok(())
    }

    /// Collects in the order of the ids.
    fn by_id(&mut self, set: &Bits, prefix: &[u8]) -> Result<(), StoreError> {
        let after = self.after.and_then(|after| after.strip_prefix(prefix));
        // With an id as the explicit first key, its end and the id once more follow.
        let after = after.map(|after| after.split(|byte| *byte == 0).next().unwrap_or_default()).unwrap_or_default();
        let room = self.wanted - self.found.len();
        let (members, all) = (set.len(), u64::from(self.store.slots()));
        let steps_of_walk = (room as u64).saturating_mul(all) / members.max(1);
        let ids = if steps_of_walk < members {
            self.ids_by_walk(set, after, room)?
        } else {
            let mut ids = self.ids_of(set)?;
            ids.retain(|id| id.as_str().as_bytes() > after);
            ids.sort_unstable();
            ids
        };
        self.read(ids.iter().take(room))
    }

    fn by_id_downwards(&mut self, set: &Bits) -> Result<(), StoreError> {
        let mut ids = self.ids_of(set)?;
        ids.sort_unstable_by(|a, b| b.cmp(a));
        let key = |id: &Id| {
            let sort = self.query.sort.last().copied();
            let part = sort.map(|sort| sort.part_of_key(Some(id.as_str().as_bytes()))).unwrap_or_default();
            [part, id.as_str().as_bytes().to_vec()].concat()
        };
        if self.query.sort.len() > 1 {
            return self.read_and_sort(set);
        }
        ids.retain(|id| self.after.is_none_or(|after| key(id).as_slice() > after));
        let room = self.wanted - self.found.len();
        self.read(ids.iter().take(room))
    }

    fn ids_of(&self, set: &Bits) -> Result<Vec<Id>, StoreError> {
        set.iter().map(|slot| self.store.id_of(slot)).collect()
    }

    fn ids_by_walk(&self, set: &Bits, after: &[u8], room: usize) -> Result<Vec<Id>, StoreError> {
        let mut ids = Vec::new();
        self.store.walk_slots(after, |id, slot| {
            if set.contains(slot) {
                let id = std::str::from_utf8(id).ok().and_then(|id| id.parse().ok());
                ids.push(id.ok_or_else(|| StoreError::Internal("a key that is no id".to_owned()))?);
            }
            Ok(ids.len() < room)
        })?;
        Ok(ids)
    }

    fn read<'i>(&mut self, ids: impl Iterator<Item = &'i Id>) -> Result<(), StoreError> {
        for id in ids {
            let stored = self.store.get(id)?.ok_or_else(|| StoreError::Internal(format!("{id} has gone")))?;
            self.found.push(stored);
        }
        Ok(())
    }

    /// Collects group by group; what is in none comes last.
    fn by_group(
        &mut self,
        set: &Bits,
        mut groups: Groups,
        descending: bool,
        part: &dyn Fn(&[u8]) -> Vec<u8>,
        rest: &[Level],
        prefix: &[u8],
    ) -> Result<(), StoreError> {
        if descending {
            groups.reverse();
        }
        let mut seen = 0;
        for (value, members) in &groups {
            if self.is_full() || seen == set.len() {
                return Ok(());
            }
            let here = set.and(members);
            if !here.is_empty() {
                seen += here.len();
                self.collect(&here, rest, [prefix, &part(value)].concat())?;
            }
        }
        let mut left = set.clone();
        groups.iter().for_each(|(_, members)| left.take_out(members));
        // What has no lower torque has no higher one either.
        let rest = if matches!(rest.first(), Some(Level::TorqueHigh(_))) { &rest[1..] } else { rest };
        self.collect(&left, rest, [prefix, &[1]].concat())
    }

    fn torques(&self, index: Index) -> Result<Groups, StoreError> {
        let sets = self.store.all_sets(index)?;
        Ok(sets.iter().map(|valued| (valued.value()[1..].to_vec(), valued.set.clone())).collect())
    }

    /// Collects in the order of the changes.
    fn by_change(&mut self, set: &Bits, sort: Sort) -> Result<(), StoreError> {
        /// How many changes are read at a time.
        const AT_A_TIME: u64 = 512;
        let last = self.store.head().sequence;
        let (mut from, mut to) = (1, last);
        if let Some(bytes) = self.after.and_then(|after| after.get(1..9)?.try_into().ok()) {
            let sequence = u64::from_be_bytes(bytes);
            if sort.descending { to = (!sequence).saturating_sub(1) } else { from = sequence.saturating_add(1) }
        }
        while from <= to && !self.is_full() {
            let (first, end) = if sort.descending {
                (to.saturating_sub(AT_A_TIME - 1).max(from), to)
            } else {
                (from, from.saturating_add(AT_A_TIME - 1).min(to))
            };
            let mut changes = self.store.changes(first - 1, (end - first + 1) as usize)?;
            if sort.descending {
                changes.reverse();
                to = first - 1;
            } else {
                from = end + 1;
            }
            for change in changes {
                let slot = self.store.slot_if_latest(&change.id, change.sequence)?;
                if slot.is_some_and(|slot| set.contains(slot)) && !self.is_full() {
                    self.read(std::iter::once(&change.id))?;
                }
            }
        }
        Ok(())
    }
}

/// Takes away the end of a part of a key.
fn cut_end(mut part: Vec<u8>) -> Vec<u8> {
    part.truncate(part.len().saturating_sub(2));
    part
}

/// The field whose values are the groups of an order.
fn field_of(field: SortField) -> Option<Field> {
    match field {
        SortField::Head => Some(Field::Head),
        SortField::Thread => Some(Field::Thread),
        SortField::PropertyClass => Some(Field::PropertyClass),
        SortField::Id | SortField::Name | SortField::Torque | SortField::Changed => None,
    }
}

/// The values of a field in its order, each with the records that have it; nothing if the index can't tell.
fn groups(store: &Store, field: SortField) -> Result<Option<Groups>, StoreError> {
    let Some(index) = field_of(field) else { return Ok(None) };
    let mut groups = Vec::new();
    for valued in store.all_sets(Index::Field(index))?.iter() {
        let text = std::str::from_utf8(valued.value()).ok();
        match text.and_then(|text| field.bytes_of(text)) {
            Some(bytes) => groups.push((bytes, valued.set.clone())),
            None => return Ok(None),
        }
    }
    groups.sort_by(|a, b| a.0.cmp(&b.0));
    Ok(Some(groups))
}
