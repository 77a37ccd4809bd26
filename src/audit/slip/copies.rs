//! Columns that were copied from the same ancestor: the same figures in several documents, but for the slips.
//!
//! Where such copies differ in one place, one of them is wrong there. Where they agree, both may have inherited the
//! same slip: agreement says little.

use super::entry::{Entry, Part, Value};
use std::collections::HashMap;

type Column = (u32, u32, Part);
type Thread = (i64, i64);
type Members = HashMap<Thread, usize>;

/// So many threads must be the same in both columns, beside the one that is looked at.
const SHARED_MIN: usize = 4;
/// And this share of them must have the same figures.
const EQUAL_MIN: f64 = 0.8;
/// The most columns that one column is compared with.
const OTHERS_MAX: usize = 8;

/// For each entry, the distinct values that copies of its column have at its place.
#[must_use]
pub fn copies(entries: &[Entry]) -> Vec<Vec<Value>> {
    let columns = columns(entries);
    let mut values = vec![Vec::new(); entries.len()];
    let mut by_class: HashMap<(u32, Part), Vec<(Column, &Members)>> = HashMap::new();
    for (key, column) in &columns {
        if let Some(class) = column.values().next().and_then(|i| entries[*i].class)
            && column.len() > SHARED_MIN
        {
            by_class.entry((class, key.2)).or_default().push((*key, column));
        }
    }
    for group in by_class.values_mut() {
        group.sort_by_key(|(key, _)| *key);
        for (at, (key, column)) in group.iter().enumerate() {
            let others = group.iter().enumerate().filter(|(other, (its, _))| *other != at && its.0 != key.0);
            for (_, (_, other)) in others.take(OTHERS_MAX) {
                compare(entries, column, other, &mut values);
            }
        }
    }
    values
}

/// The columns with their threads; a thread that stands twice in a column makes it no table.
fn columns(entries: &[Entry]) -> HashMap<Column, Members> {
    let mut columns: HashMap<Column, Members> = HashMap::new();
    let mut doubled = Vec::new();
    for (i, entry) in entries.iter().enumerate() {
        let (Some(document), Some(size)) = (entry.document, entry.size) else { continue };
        let key = (document, entry.column, entry.part);
        if columns.entry(key).or_default().insert(size.key(), i).is_some() {
            doubled.push(key);
        }
    }
    for key in doubled {
        columns.remove(&key);
    }
    columns
}

fn compare(entries: &[Entry], column: &Members, other: &Members, values: &mut [Vec<Value>]) {
    let shared: Vec<(usize, usize)> =
        column.iter().filter_map(|(thread, i)| other.get(thread).map(|j| (*i, *j))).collect();
    let same = |(i, j): &&(usize, usize)| entries[*i].stated.equals(entries[*j].stated);
    let (count, equal) = (shared.len(), shared.iter().filter(same).count());
    for pair in &shared {
        let (others, agree) = (count - 1, equal - usize::from(same(&pair)));
        let value = entries[pair.1].stated;
        if others >= SHARED_MIN
            && agree as f64 >= EQUAL_MIN * others as f64
            && !values[pair.0].iter().any(|known| known.equals(value))
        {
            values[pair.0].push(value);
        }
    }
}
