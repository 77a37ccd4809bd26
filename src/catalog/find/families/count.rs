//! Counts: of all that answers a question, and of the values of fields.

use super::Admitted;
use super::first::Search;
use crate::query::{Facet, Field, Query};

impl Search<'_> {
    /// How many records of each family get through.
    pub fn counts(&self) -> Vec<(u32, u64)> {
        let count = |number: u32| self.directory.family(number).map_or(0, |family| u64::from(family.count));
        if self.parts.is_open() {
            return self.families.list.iter().map(|number| (*number, count(*number))).collect();
        }
        let mut counts = vec![0; self.directory.families()];
        let mut see = |slot: u32, family: u32| {
            if self.families.has(family) && self.parts.has(slot) {
                counts[family as usize] += 1;
            }
        };
        match self.parts.must.first().filter(|one_of| one_of.size < self.families.members) {
            Some(smallest) => {
                for slot in smallest.together().iter() {
                    let family = self.directory.entry(slot).and_then(crate::store::Entry::family);
                    family.into_iter().for_each(|family| see(slot, family));
                }
            }
            None => {
                for number in &self.families.list {
                    let family = self.directory.family(*number);
                    family.into_iter().flat_map(|family| family.members.iter()).for_each(|slot| see(slot, *number));
                }
            }
        }
        (0_u32..).zip(counts).filter(|(_, count)| *count > 0).collect()
    }
}

/// The facets of a question. What a field's own filter leaves out is counted too.
pub fn facets(search: &Search<'_>, query: &Query) -> Vec<Facet> {
    let mut of_all: Option<Vec<(u32, u64)>> = None;
    let mut facets = Vec::with_capacity(query.facets.len());
    for field in &query.facets {
        let facet = if query.filter(*field).is_some() {
            let directory = search.directory;
            let through = directory.families_through(&query.filters, &query.torque, Some(*field));
            let families = Admitted::of(directory, through);
            facet(search, *field, &Search { directory, families, parts: search.parts }.counts())
        } else {
            facet(search, *field, of_all.get_or_insert_with(|| search.counts()))
        };
        facets.push(facet);
    }
    facets
}

fn facet(search: &Search<'_>, field: Field, counts: &[(u32, u64)]) -> Facet {
    let Some((at, column)) = search.directory.column(field) else { return Facet::new(field, []) };
    let mut of_codes = vec![0; column.len()];
    for (number, count) in counts {
        if let Some(family) = search.directory.family(*number) {
            of_codes[usize::from(family.traits.codes[at])] += count;
        }
    }
    // The code 0 is no value.
    let values = (0_u16..).zip(of_codes).skip(1);
    Facet::new(field, values.filter(|(_, count)| *count > 0).map(|(code, count)| (column.text(code).to_owned(), count)))
}
