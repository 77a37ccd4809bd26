//! Counts: of all that answers a question, and of the values of fields.

use super::first::Search;
use super::{Admitted, All};
use crate::query::{Facet, Query};
use crate::store::{Column, Entry, Family};

/// A family, its number, and how many of its records get through.
type Counted<'s> = (u32, &'s Family, u64);

impl<'s> Search<'s> {
    /// How many records of each family get through.
    pub fn counts(&self) -> Vec<Counted<'s>> {
        let All { list, members } = self.families.all();
        let families = list.iter();
        if self.parts.is_open() {
            return families.map(|(number, family)| (*number, *family, u64::from(family.count))).collect();
        }
        let smallest = self.parts.must.first().filter(|one_of| one_of.size < *members);
        let Some(smallest) = smallest else {
            let has = |family: &Family| family.members.iter().filter(|slot| self.parts.has(*slot)).count() as u64;
            return families.map(|(number, family)| (*number, *family, has(family))).collect();
        };
        let mut counts = vec![0; self.directory.families()];
        for slot in smallest.together().iter() {
            let family = self.directory.entry(slot).and_then(Entry::family);
            if let Some(family) = family.filter(|family| self.families.has(*family) && self.parts.has(slot)) {
                counts[family as usize] += 1;
            }
        }
        families.map(|(number, family)| (*number, *family, counts[*number as usize])).collect()
    }
}

/// The facets of a question. What a field's own filter leaves out is counted too.
pub fn facets(search: &Search<'_>, query: &Query) -> Vec<Facet> {
    let mut of_all: Option<Vec<Counted<'_>>> = None;
    let mut facets = Vec::with_capacity(query.facets.len());
    for field in &query.facets {
        let Some((at, column)) = search.directory.column(*field) else { continue };
        let own = query.filter(*field).map(|_| *field);
        let counts = if own.is_some() && search.parts.is_open() {
            search.directory.tally(&query.filters, &query.torque, own, at)
        } else if own.is_some() {
            let families = Admitted::of(search.directory.through(&query.filters, &query.torque, own));
            by_code(&Search { families, ..*search }.counts(), at, column)
        } else {
            by_code(of_all.get_or_insert_with(|| search.counts()), at, column)
        };
        // The code 0 is no value.
        let values = (0_u16..).zip(counts).skip(1).filter(|(_, count)| *count > 0);
        facets.push(Facet::new(*field, values.map(|(code, count)| (column.text(code).to_owned(), count))));
    }
    facets
}

fn by_code(counts: &[Counted<'_>], at: usize, column: &Column) -> Vec<u64> {
    let mut by_code = vec![0; column.codes()];
    for (_, family, count) in counts {
        by_code[usize::from(family.traits.codes[at])] += count;
    }
    by_code
}
