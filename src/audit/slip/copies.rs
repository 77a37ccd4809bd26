//! Columns that were copied from the same ancestor: the same figures in several documents, but for the slips.
//!
//! Where such copies differ in one place, one of them is wrong there. Where they agree, both may have inherited the
//! same slip: agreement says little.

use super::entry::{Entry, Value};
use super::index::{Index, joined};
use rayon::prelude::*;
use std::collections::{BTreeMap, HashMap};

/// So many threads must be the same in both columns, beside the one that is looked at.
const SHARED_MIN: usize = 4;
/// And this share of them must have the same figures.
const EQUAL_MIN: f64 = 0.8;
/// The most columns that one column is compared with.
const OTHERS_MAX: usize = 8;

/// A column of a document: its threads in order, each with its entry.
#[derive(Debug)]
struct Column {
    document: u64,
    members: Vec<(u64, usize)>,
}

/// What copies of its column have at the place of an entry; it follows a book that changes.
#[derive(Debug)]
pub struct Copies {
    /// The columns that are tables, by class and part of the plan: those are compared.
    tables: HashMap<u64, BTreeMap<u64, Column>>,
    values: HashMap<usize, Vec<Value>>,
}

impl Copies {
    /// The copies among these entries.
    #[must_use]
    pub fn of(entries: &[Entry], columns: &Index) -> Self {
        let one = |(key, group): &(u64, &[u32])| {
            let group: Vec<usize> = group.iter().map(|i| *i as usize).collect();
            Some((compared(entries, &group)?, *key, column(entries, &group)?))
        };
        let found: Vec<(u64, u64, Column)> = columns.groups().par_iter().filter_map(one).collect();
        let mut tables: HashMap<u64, BTreeMap<u64, Column>> = HashMap::new();
        for (class, key, column) in found {
            tables.entry(class).or_default().insert(key, column);
        }
        let alike: Vec<&BTreeMap<u64, Column>> = tables.values().collect();
        let values = alike.into_par_iter().flat_map_iter(|alike| of_alike(entries, alike)).collect();
        Self { tables, values }
    }

    /// The distinct values that copies have at the place of entry `i`.
    #[must_use]
    pub fn get(&self, i: usize) -> &[Value] {
        self.values.get(&i).map_or(&[], Vec::as_slice)
    }

    /// Looks at a column again that has gained or lost entries, and gives the entries that have other copies now. All of
    /// its entries have the same class and part: if none is left, `class` tells with which it was compared.
    pub fn look_again(&mut self, entries: &[Entry], class: u64, key: u64, group: &[usize]) -> Vec<usize> {
        let alike = self.tables.entry(class).or_default();
        let before = alike.remove(&key);
        let now = column(entries, group);
        if before.is_none() && now.is_none() {
            return Vec::new();
        }
        let mut known: HashMap<usize, Vec<Value>> = HashMap::new();
        for (_, i) in alike.values().chain(&before).flat_map(|column| &column.members) {
            known.extend(self.values.remove(i).map(|values| (*i, values)));
        }
        alike.extend(now.map(|now| (key, now)));
        let found: HashMap<usize, Vec<Value>> = of_alike(entries, alike).collect();
        let all = known.keys().chain(found.keys());
        let mut changed: Vec<usize> = all.filter(|i| known.get(i) != found.get(i)).copied().collect();
        self.values.extend(found);
        changed.sort_unstable();
        changed.dedup();
        changed
    }
}

/// Class and part of the plan of a column's entries; nothing where no class is stated.
fn compared(entries: &[Entry], group: &[usize]) -> Option<u64> {
    class_and_part(&entries[*group.first()?])
}

/// Which columns the column of this entry is compared with; none where it states no class.
#[must_use]
pub fn class_and_part(entry: &Entry) -> Option<u64> {
    entry.class.map(|class| joined(class, entry.part as u64))
}

/// What the columns that are compared have in each other's places.
fn of_alike(entries: &[Entry], alike: &BTreeMap<u64, Column>) -> impl Iterator<Item = (usize, Vec<Value>)> {
    let alike: Vec<&Column> = alike.values().collect();
    (0..alike.len()).flat_map(move |at| of_column(entries, &alike, at))
}

/// The column; nothing for a few entries, or where a thread stands twice: that is no table.
fn column(entries: &[Entry], group: &[usize]) -> Option<Column> {
    if group.len() <= SHARED_MIN {
        return None;
    }
    let member = |i: &usize| Some((entries[*i].size?.number(), *i));
    let mut members: Vec<(u64, usize)> = group.iter().filter_map(member).collect();
    members.sort_unstable();
    let once = members.windows(2).all(|pair| pair[0].0 != pair[1].0);
    once.then(|| Column { document: entries[members[0].1].document, members })
}

fn of_column(entries: &[Entry], group: &[&Column], at: usize) -> Vec<(usize, Vec<Value>)> {
    let column = group[at];
    let mut values: Vec<Vec<Value>> = vec![Vec::new(); column.members.len()];
    let others = group.iter().filter(|other| other.document != column.document);
    for other in others.take(OTHERS_MAX) {
        compare(entries, column, other, &mut values);
    }
    let members = column.members.iter().map(|(_, i)| *i);
    members.zip(values).filter(|(_, values)| !values.is_empty()).collect()
}

fn compare(entries: &[Entry], column: &Column, other: &Column, values: &mut [Vec<Value>]) {
    let place = |thread: u64| other.members.binary_search_by_key(&thread, |(its, _)| *its).ok();
    let shared = column.members.iter().enumerate().filter_map(|(k, (thread, i))| {
        let value = entries[other.members[place(*thread)?].1].stated;
        Some((k, value, value.equals(entries[*i].stated)))
    });
    let shared: Vec<(usize, Value, bool)> = shared.collect();
    let equal = shared.iter().filter(|(_, _, same)| *same).count();
    for (k, value, same) in &shared {
        let (others, agree) = (shared.len() - 1, equal - usize::from(*same));
        let copied = others >= SHARED_MIN && agree as f64 >= EQUAL_MIN * others as f64;
        if copied && !values[*k].iter().any(|known| known.equals(*value)) {
            values[*k].push(*value);
        }
    }
}
