//! Ids of the book that look like one that is not in it.

use super::super::{Catalog, CatalogError};
use crate::query::State;
use crate::record::Id;

/// How many are told.
const TOLD: usize = 3;

impl Catalog {
    /// Up to three ids of the book that differ from this one in a few characters or end with it, the nearest first.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<Id>, CatalogError> {
        let wanted = Wanted::of(id);
        let mut near: Vec<(usize, String)> = Vec::new();
        self.store().walk_slots(&[], |known, _| {
            let known = std::str::from_utf8(known).unwrap_or_default();
            near.extend(wanted.distance(known).map(|far| (far, known.to_owned())));
            Ok(true)
        })?;
        near.sort();
        let mut told = Vec::new();
        for (_, known) in near {
            // Withdrawn records have an id too.
            let Ok(known) = known.parse::<Id>() else { continue };
            if self.get(&known)?.is_some_and(|stored| stored.state == State::Current) {
                told.push(known);
            }
            if told.len() == TOLD {
                break;
            }
        }
        Ok(told)
    }
}

/// An id that others are compared with. Most are told apart by which characters they have, without a closer look.
struct Wanted<'i> {
    id: &'i str,
    end: String,
    most: usize,
    characters: [i16; 128],
}

impl<'i> Wanted<'i> {
    fn of(id: &'i Id) -> Self {
        let id = id.as_str();
        Self { id, end: format!(".{id}"), most: (id.len() / 5).max(2), characters: characters(id) }
    }

    /// How far an id is from this one; nothing if that is too far.
    fn distance(&self, known: &str) -> Option<usize> {
        if known.ends_with(&self.end) {
            return Some(0);
        }
        if known.len().abs_diff(self.id.len()) > self.most {
            return None;
        }
        // One change puts at most one character in the place of another.
        let its = characters(known);
        let other: i16 = self.characters.iter().zip(&its).map(|(mine, its)| (mine - its).abs()).sum();
        if usize::try_from(other).is_ok_and(|other| other > 2 * self.most) {
            return None;
        }
        Some(strsim::osa_distance(self.id, known)).filter(|far| *far <= self.most)
    }
}

/// How often each character occurs.
fn characters(text: &str) -> [i16; 128] {
    let mut counts = [0; 128];
    text.bytes().for_each(|byte| counts[usize::from(byte & 127)] += 1);
    counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Record;
    use crate::store::{Author, Expected};

    #[test]
    fn the_short_look_passes_over_nothing_that_is_near() {
        let id = "skua.diesel.pump.cover".parse().expect("an id");
        let wanted = Wanted::of(&id);
        for known in
            ["skua.diesel.pump.cover", "skua.diesle.pmup.cover", "skua.diesel.pump.covers", "skua.diesel.pxyz.cover"]
        {
            let far = strsim::osa_distance("skua.diesel.pump.cover", known);
            assert_eq!(wanted.distance(known), Some(far), "{known}");
        }
        assert_eq!(wanted.distance("tern.skua.diesel.pump.cover"), Some(0));
        assert_eq!(wanted.distance("tern.gearbox.pump.cover"), None);
    }

    #[test]
    fn what_was_withdrawn_is_not_told() {
        let catalog = Catalog::in_memory().expect("a book");
        let author = Author::unknown();
        for id in ["skua.pump.a", "skua.pump.b", "skua.pump.c", "skua.pump.d"] {
            let joint = serde_json::json!({ "kind": "joint", "id": id });
            let record = Record::from_json(&joint).expect("a joint");
            catalog.put(record, Expected::Any, &author).expect("it is stored");
        }
        let b = "skua.pump.b".parse().expect("an id");
        catalog.withdraw(&b, Expected::Any, None, &author).expect("it is withdrawn");
        let near = catalog.ids_near(&"skua.pump.x".parse().expect("an id")).expect("the book can be read");
        let near: Vec<&str> = near.iter().map(Id::as_str).collect();
        assert_eq!(near, ["skua.pump.a", "skua.pump.c", "skua.pump.d"]);
    }
}
