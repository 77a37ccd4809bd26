//! The ids of a book, each with a number that it keeps.
//!
//! A book is mostly entered once, in the order of its ids: those stand packed, and their numbers are their places. What
//! comes later, or out of that order, stands beside them.

use super::names::Names;
use crate::record::Id;
use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::ops::Bound;

/// The ids of a book with their numbers.
#[derive(Debug, Default)]
pub(super) struct Roll {
    first: Names,
    /// Those that came later, by their numbers less how many came first.
    later: Vec<Later>,
    numbers_of_later: BTreeMap<Id, u32>,
}

#[derive(Debug)]
struct Later {
    id: Id,
    /// How many of those that came first come before it.
    behind: usize,
}

impl Roll {
    /// How many ids there are, and so the next number.
    pub fn count(&self) -> usize {
        self.first.count() + self.later.len()
    }

    /// Enters an id and gives its number. If it was entered before, its number is this one from now on.
    pub fn push(&mut self, id: &Id) -> u32 {
        // So many records no book has.
        let number = u32::try_from(self.count()).unwrap_or(u32::MAX);
        if self.later.is_empty() && self.first.last().is_none_or(|last| last < id) {
            self.first.push(id);
        } else {
            let id = id.apart();
            self.later.push(Later { behind: self.first.seek(id.as_str()).0, id: id.clone() });
            self.numbers_of_later.insert(id, number);
        }
        number
    }

    /// Gives back what room it has for more.
    pub fn shrink(&mut self) {
        self.first.shrink();
    }

    /// The number of an id.
    pub fn number(&self, id: &str) -> Option<u32> {
        let later = if self.later.is_empty() { None } else { self.numbers_of_later.get(id).copied() };
        later.or_else(|| match self.first.seek(id) {
            (place, true) => Some(place as u32),
            _ => None,
        })
    }

    /// The id that has a number.
    pub fn id(&self, number: u32) -> Option<Id> {
        match self.later(number) {
            Some(later) => Some(later.id.clone()),
            None => self.first.get(number as usize),
        }
    }

    fn later(&self, number: u32) -> Option<&Later> {
        self.later.get((number as usize).checked_sub(self.first.count())?)
    }

    /// Which of two numbers is that of the id that comes first.
    pub fn compare(&self, a: u32, b: u32) -> Ordering {
        match (self.later(a), self.later(b)) {
            (None, None) => a.cmp(&b),
            (Some(a), Some(b)) => a.id.cmp(&b.id),
            (Some(later), None) if later.behind <= b as usize => Ordering::Less,
            (None, Some(later)) if later.behind > a as usize => Ordering::Less,
            _ => Ordering::Greater,
        }
    }

    /// The numbers of the ids from one text up to another, in the order of the ids.
    pub fn range(&self, from: &str, below: &str) -> impl Iterator<Item = u32> + use<'_> {
        let mut first = (self.first.seek(from).0..self.first.seek(below).0).map(|place| place as u32).peekable();
        let range = (Bound::Included(from), Bound::Excluded(below));
        let mut later = self.numbers_of_later.range::<str, _>(range).map(|(_, number)| *number).peekable();
        std::iter::from_fn(move || match (first.peek(), later.peek()) {
            (Some(a), Some(b)) if self.compare(*b, *a) == Ordering::Less => later.next(),
            (Some(_), _) => first.next(),
            (None, _) => later.next(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn ids_keep_their_numbers_and_their_order(
            first in prop::collection::btree_set(0_u32..400, 0..80),
            later in prop::collection::vec(0_u32..400, 0..60),
        ) {
            let id = |number: &u32| -> Id { format!("skua.pump.b{number:03}").parse().expect("an id") };
            let (mut roll, mut model) = (Roll::default(), BTreeMap::new());
            for id in first.iter().chain(&later).map(id) {
                if !model.contains_key(&id) {
                    model.insert(id.clone(), roll.push(&id));
                }
            }
            prop_assert_eq!(roll.count(), model.len());
            for (id, number) in &model {
                prop_assert_eq!((roll.number(id.as_str()), roll.id(*number)), (Some(*number), Some(id.clone())));
            }
            prop_assert_eq!(roll.number("skua.pump"), None);
            let in_order: Vec<u32> = model.values().copied().collect();
            let all: Vec<u32> = roll.range("", "{").collect();
            prop_assert_eq!(&all, &in_order);
            prop_assert!(in_order.is_sorted_by(|a, b| roll.compare(*a, *b) == Ordering::Less));
            prop_assert!(in_order.is_sorted_by(|a, b| roll.compare(*b, *a) == Ordering::Greater));
            let (from, below) = ("skua.pump.b1", "skua.pump.b3");
            let within = model.iter().filter(|(id, _)| (from..below).contains(&id.as_str())).map(|(_, number)| *number);
            prop_assert!(roll.range(from, below).eq(within));
        }
    }
}
