//! The directory: what is kept of every record in memory while a book is served, some hundred bytes each.
//!
//! It leads from an id to its slot and its last revision, knows the order of the ids, and has the records in families
//! that are alike in every field with at most one value and in torque. Of a workshop's fasteners many are alike, so a
//! question with several filters and an order looks at some hundreds of families where there are a hundred thousand records.
//!
//! Like the index it is derived. A version of it never changes: a write makes the next one, which shares with it what
//! stayed the same. Fields with several values, and words, are left to the sets of the index.

mod blocks;
mod build;
mod change;
mod column;
mod family;
mod family_set;
mod ids;
mod keep;
mod members;
mod order;
mod sift;

pub use change::Changed;
pub use column::Column;
pub use family::{FIELDS, Family, Traits, is_of_families};
pub use members::{Members, Spot};
pub use sift::Through;

use crate::query::Field;
use blocks::Blocks;
use ids::Ids;
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// The family of what is not in force.
const NONE: u32 = u32::MAX;

/// What is known of the record that has a slot.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// A number that compares with others like the ids.
    pub label: u64,
    /// The change that made its last revision.
    pub sequence: u64,
    /// Its last revision; 0 where the slot has none.
    pub revision: u32,
    family: u32,
}

impl Default for Entry {
    fn default() -> Self {
        Self { label: 0, sequence: 0, revision: 0, family: NONE }
    }
}

impl Entry {
    /// Its family, if it is in force.
    #[must_use]
    pub fn family(&self) -> Option<u32> {
        (self.family != NONE).then_some(self.family)
    }
}

/// One version of the directory.
#[derive(Debug, Clone)]
pub struct Directory {
    ids: Ids,
    entries: Blocks<Entry>,
    /// All slots in the order of their ids, withdrawn records too.
    order: Members,
    families: Blocks<Family>,
    columns: Vec<Arc<Column>>,
    /// The family that has some traits. Families never change theirs, so that all versions share this.
    by_traits: Arc<Mutex<HashMap<Traits, u32>>>,
}

impl Default for Directory {
    fn default() -> Self {
        Self {
            ids: Ids::default(),
            entries: Blocks::default(),
            order: Members::default(),
            families: Blocks::default(),
            columns: FIELDS.iter().map(|field| Arc::new(Column::new(*field))).collect(),
            by_traits: Arc::default(),
        }
    }
}

impl Directory {
    /// The slot of an id, if it has ever been used.
    #[must_use]
    pub fn slot(&self, id: &str) -> Option<u32> {
        self.ids.slot(id)
    }

    /// The id that has a slot; nothing stands where there is none.
    #[must_use]
    pub fn id(&self, slot: u32) -> &str {
        self.ids.get(slot)
    }

    /// What is known of a slot.
    #[must_use]
    #[inline]
    pub fn entry(&self, slot: u32) -> Option<&Entry> {
        self.entries.get(slot as usize)
    }

    /// A number that compares with others like the ids.
    #[must_use]
    #[inline]
    pub fn label(&self, slot: u32) -> u64 {
        self.entry(slot).map_or(0, |entry| entry.label)
    }

    /// All slots in the order of their ids, withdrawn records too.
    #[must_use]
    pub fn order(&self) -> &Members {
        &self.order
    }

    /// How many slots there are.
    #[must_use]
    pub fn slots(&self) -> usize {
        self.entries.len()
    }

    /// How many families there are; some may have no members any more.
    #[must_use]
    pub fn families(&self) -> usize {
        self.families.len()
    }

    /// A family.
    #[must_use]
    #[inline]
    pub fn family(&self, number: u32) -> Option<&Family> {
        self.families.get(number as usize)
    }

    /// The column of a field, and its place in the codes of a family; nothing if the field has none.
    #[must_use]
    pub fn column(&self, field: Field) -> Option<(usize, &Column)> {
        let at = FIELDS.iter().position(|other| *other == field)?;
        Some((at, self.columns.get(at)?))
    }
}

#[cfg(test)]
mod tests;
