//! Columns that were copied from the same ancestor: the same figures in several documents, but for the slips.
//!
//! Where such copies differ in one place, one of them is wrong there. Where they agree, both may have inherited the
//! same slip: agreement says little.

use super::entry::{Entry, Value};
use super::index::{Index, joined};
use rayon::prelude::*;

/// So many threads must be the same in both columns, beside the one that is looked at.
const SHARED_MIN: usize = 4;
/// And this share of them must have the same figures.
const EQUAL_MIN: f64 = 0.8;
/// The most columns that one column is compared with.
const OTHERS_MAX: usize = 8;

/// A column of a document: its threads in order, each with its entry.
struct Column {
    document: u64,
    members: Vec<(u64, usize)>,
}

/// For each entry that has any, the distinct values that copies of its column have at its place.
#[must_use]
pub fn copies(entries: &[Entry]) -> Vec<(usize, Vec<Value>)> {
    let by_column = Index::of(entries.len(), |i| entries[i].size.and(entries[i].class).map(|_| entries[i].column));
    let columns: Vec<Column> =
        by_column.groups().into_par_iter().filter_map(|(_, group)| column(entries, group)).collect();
    let by_class = Index::of(columns.len(), |at| {
        let entry = &entries[columns[at].members[0].1];
        entry.class.map(|class| joined(class, entry.part as u64))
    });
    let found = by_class.groups().into_par_iter().flat_map_iter(|(_, group)| {
        let group: Vec<&Column> = group.iter().map(|(_, at)| &columns[*at as usize]).collect();
        (0..group.len()).flat_map(move |at| of_column(entries, &group, at)).collect::<Vec<_>>()
    });
    found.collect()
}

/// The column; nothing for a few entries, or where a thread stands twice: that is no table.
fn column(entries: &[Entry], group: &[(u64, u32)]) -> Option<Column> {
    if group.len() <= SHARED_MIN {
        return None;
    }
    let member = |(_, i): &(u64, u32)| Some((entries[*i as usize].size?.number(), *i as usize));
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
