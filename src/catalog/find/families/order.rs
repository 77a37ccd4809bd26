//! The order of a question, as far as families have it, and where its last page ended in that.

use crate::query::{Field, Query, Sort, SortField};
use crate::store::{Column, Directory, Family};
use std::cmp::Ordering;

/// How many numbers a family is ordered by.
const NUMBERS: usize = 6;

/// What a family is ordered by: numbers that rise in the order of the question.
pub type Key = [u64; NUMBERS];

/// What comes last: there is no value.
const LAST: u64 = u64::MAX;

/// The place of a field in the codes of a family, and its values in their order.
type Ranked<'q> = (usize, &'q Column);

/// The order of a question: first by what families have, then by id.
pub struct Order<'q> {
    sorts: Vec<(Sort, Option<Ranked<'q>>)>,
    /// Whether the greatest id comes first.
    pub is_downwards: bool,
    after: Option<After<'q>>,
}

/// Where the page before ended.
struct After<'q> {
    key: &'q [u8],
    label: u64,
}

/// Where something is in relation to the end of the page before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Before it.
    Before,
    /// There, from this label on, which is left out.
    At(u64),
    /// Behind it.
    Behind,
}

fn column_of(sort: SortField) -> Option<Field> {
    match sort {
        SortField::Head => Some(Field::Head),
        SortField::Thread => Some(Field::Thread),
        SortField::PropertyClass => Some(Field::PropertyClass),
        SortField::Id | SortField::Name | SortField::Torque | SortField::Changed => None,
    }
}

impl<'q> Order<'q> {
    /// The order of a question; nothing if families don't have it.
    pub fn of(query: &'q Query, directory: &'q Directory) -> Option<Self> {
        // Ids are different for every record: what comes after them says nothing.
        let by_id = query.sort.iter().position(|sort| sort.field == SortField::Id);
        let sorts = &query.sort[..by_id.unwrap_or(query.sort.len())];
        let has_order = |sort: &Sort| match column_of(sort.field) {
            Some(field) => directory.column(field).is_some_and(|(_, column)| column.has_order()),
            None => sort.field == SortField::Torque,
        };
        let numbers: usize = sorts.iter().map(|sort| 1 + usize::from(sort.field == SortField::Torque)).sum();
        if numbers > NUMBERS || !sorts.iter().all(has_order) {
            return None;
        }
        let is_downwards = by_id.is_some_and(|at| query.sort[at].descending);
        let after = match &query.after {
            Some(cursor) => {
                // A key ends with the id, and what comes before that ends with a byte that no id has.
                let is_of_id = |byte: &u8| matches!(byte, b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.');
                let start = cursor.key.iter().rposition(|byte| !is_of_id(byte)).map_or(0, |end| end + 1);
                let id = std::str::from_utf8(&cursor.key[start..]).ok()?;
                Some(After { key: &cursor.key, label: directory.label(directory.slot(id)?) })
            }
            None => None,
        };
        let ranked = |sort: &Sort| (*sort, column_of(sort.field).and_then(|field| directory.column(field)));
        Some(Self { sorts: sorts.iter().map(ranked).collect(), is_downwards, after })
    }

    /// Whether it goes by ids alone.
    pub fn is_by_id(&self) -> bool {
        self.sorts.is_empty()
    }

    /// Whether this is the first page.
    pub fn begins(&self) -> bool {
        self.after.is_none()
    }

    /// What a family is ordered by.
    pub fn key(&self, family: &Family) -> Key {
        let mut key = [0; NUMBERS];
        let mut numbers = key.iter_mut();
        for (sort, ranked) in &self.sorts {
            let mut add = |value: Option<u64>| {
                if let Some(number) = numbers.next() {
                    // No value is greater than half of the numbers, so none becomes the last one.
                    *number = value.map_or(LAST, |value| if sort.descending { !(value + 1) } else { value + 1 });
                }
            };
            match ranked {
                Some((at, column)) => add(column.rank(family.traits.codes[*at])),
                None => {
                    let torque = family.traits.torque().is_some();
                    add(torque.then_some(family.traits.low));
                    add(torque.then_some(family.traits.high));
                }
            }
        }
        key
    }

    /// Where the members of a family are in relation to the end of the page before.
    pub fn side(&self, family: &Family) -> Side {
        let Some(after) = &self.after else { return Side::Behind };
        let mut prefix = Vec::with_capacity(after.key.len());
        for (sort, ranked) in &self.sorts {
            let torque = [family.traits.low.to_be_bytes(), family.traits.high.to_be_bytes()].concat();
            let value = match ranked {
                Some((at, column)) => column.order_bytes(family.traits.codes[*at]),
                None => family.traits.torque().map(|_| torque.as_slice()),
            };
            prefix.extend(sort.part_of_key(value));
        }
        let there = &after.key[..prefix.len().min(after.key.len())];
        match prefix.as_slice().cmp(there) {
            Ordering::Less => Side::Before,
            Ordering::Equal => Side::At(after.label),
            Ordering::Greater => Side::Behind,
        }
    }

    /// A number for a label that rises in the order of the question.
    #[inline]
    pub fn rising(&self, label: u64) -> u64 {
        if self.is_downwards { !label } else { label }
    }
}
