//! Pages whose records are not read, for one who has kept what there is to say about most of them.

use super::super::{Catalog, CatalogError};
use super::{Asked, families};
use crate::query::{Field, Page, Query, Stored};
use crate::record::{Id, Kind};
use crate::store::Directory;
use std::sync::Arc;

/// A page, and which records are on it.
#[derive(Debug)]
pub struct Listed {
    /// The page without its records.
    pub page: Page,
    directory: Arc<Directory>,
    slots: Vec<u32>,
}

impl Listed {
    /// The slots of its records in their order, each with the change that made the revision.
    pub fn records(&self) -> impl Iterator<Item = (u32, u64)> + '_ {
        self.slots.iter().map(|slot| (*slot, self.directory.entry(*slot).map_or(0, |entry| entry.sequence)))
    }
}

impl Catalog {
    /// Answers a question with a page whose records are only named; nothing comes back where the directory of the book
    /// can't tell.
    ///
    /// # Errors
    /// As [`Catalog::find`].
    pub fn list(&self, query: &Query) -> Result<Option<Listed>, CatalogError> {
        if query.as_of.is_some() || !query.ids.is_empty() {
            return Ok(None);
        }
        let (store, asked) = (self.store(), Asked::of(self, query)?);
        let found = store.undisturbed(|| families::slots(store, query))?.flatten();
        let Some(families::Slots { directory, slots, beside }) = found else { return Ok(None) };
        let last = slots.last().filter(|_| beside.more);
        let last = last.map(|last| store.records_of(&directory, [*last])).transpose()?;
        let next = last.iter().flatten().next().map(|last| asked.next(last));
        let page = asked.page(beside, next, asked.head.sequence);
        Ok(Some(Listed { page, directory, slots }))
    }

    /// Reads some records of a page.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn read_listed(
        &self,
        listed: &Listed,
        slots: impl IntoIterator<Item = u32>,
    ) -> Result<Vec<Stored>, CatalogError> {
        Ok(self.store().records_of(&listed.directory, slots)?)
    }

    /// The slot of a record, if the id has ever been used: a number that it has for as long as the book has this history.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn slot_of(&self, id: &str) -> Result<Option<u32>, CatalogError> {
        match self.store().directory() {
            Some(directory) => Ok(directory.slot(id)),
            None => id.parse::<Id>().map_or(Ok(None), |id| Ok(self.store().slot_of(&id)?)),
        }
    }

    /// The id that has a slot, by the directory of the book.
    #[must_use]
    pub fn id_in(&self, slot: u32) -> Option<String> {
        self.store().directory().map(|directory| directory.id(slot).to_owned())
    }

    /// How many slots there are; nothing where there is no directory of the book.
    #[must_use]
    pub fn slots(&self) -> Option<u32> {
        self.store().directory().map(|directory| u32::try_from(directory.slots()).unwrap_or(u32::MAX))
    }

    /// The fasteners in force that have these slots, by the directory of the book, read for one who keeps them himself.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn fasteners_in(&self, slots: impl IntoIterator<Item = u32>) -> Result<Vec<Stored>, CatalogError> {
        let Some(directory) = self.store().directory() else { return Ok(Vec::new()) };
        let fastener =
            directory.column(Field::Kind).and_then(|(at, kinds)| Some((at, kinds.code(Kind::Fastener.word())?)));
        let Some((at, fastener)) = fastener else { return Ok(Vec::new()) };
        let is_fastener = |slot: &u32| {
            let family = directory.entry(*slot).and_then(|entry| directory.family(entry.family()?));
            family.is_some_and(|family| family.traits.codes[at] == fastener)
        };
        Ok(self.store().records_apart(&directory, slots.into_iter().filter(is_fastener))?)
    }
}
