//! What its series says of each entry of a book, document by document; it follows a book that changes.

use super::entry::Entry;
use super::index::Index;
use super::priors::Priors;
use super::said::Said;
use super::series::{Column, EACH_WAY, InSeries, columns_of};
use rayon::prelude::*;
use std::collections::{BTreeSet, HashMap, HashSet};

/// What its series says of each entry.
#[derive(Debug)]
pub struct Series {
    by_entry: Said,
    /// The columns of each document, in the order of their first entries.
    order: HashMap<u64, Vec<u64>>,
}

impl Series {
    /// What the series of these entries say.
    #[must_use]
    pub fn of(entries: &[Entry], priors: &Priors) -> Self {
        let documents = Index::of(entries.len(), |i| entries[i].ln_stress().map(|_| entries[i].document));
        let groups = documents.groups();
        let answers = groups.par_iter().map(|(document, group)| {
            let columns = columns_of(entries, group.iter().map(|i| *i as usize));
            let order: Vec<u64> = columns.iter().map(|column| entries[column.members[0]].column).collect();
            let judged = (0..columns.len()).flat_map(|at| Column::judge(entries, &columns, at, priors));
            (*document, order, judged.collect::<Vec<_>>())
        });
        let mut series = Self { by_entry: Said::of(entries.len()), order: HashMap::new() };
        for (document, order, judged) in answers.collect::<Vec<_>>() {
            series.order.insert(document, order);
            judged.into_iter().for_each(|(i, answer)| series.by_entry.set(i, Some(answer)));
        }
        series
    }

    /// What its series says of entry `i`; nothing where it has none.
    #[must_use]
    pub fn get(&self, i: usize) -> Option<InSeries> {
        self.by_entry.get(i)
    }

    /// Looks again at columns of a document that have gained or lost entries, and at those beside them. `columns` are
    /// the entries by their column, in the order of the book, in which `comes_before` tells who is first. Gives the entries of
    /// which something else is said now.
    pub fn look_again(
        &mut self,
        entries: &[Entry],
        (document, touched): (u64, &BTreeSet<u64>),
        columns: &Index,
        comes_before: &dyn Fn(usize, usize) -> bool,
        priors: &Priors,
    ) -> Vec<usize> {
        self.by_entry.grow(entries.len());
        let members = |column: u64| columns.group(column).filter(|i| entries[*i].ln_stress().is_some());
        let order = self.order.entry(document).or_default();
        let mut near: HashSet<u64> = beside(order, touched).into_iter().collect();
        order.retain(|column| !touched.contains(column));
        for column in touched {
            if let Some(first) = members(*column).next() {
                let is_before = |other: &u64| members(*other).next().is_some_and(|other| comes_before(other, first));
                order.insert(order.partition_point(is_before), *column);
            }
        }
        near.extend(beside(order, touched));
        let places: Vec<usize> = (0..order.len()).filter(|place| near.contains(&order[*place])).collect();
        // A column is judged with those that stand beside it.
        let runs = places.chunk_by(|a, b| b - a <= 2 * EACH_WAY);
        let found = runs.flat_map(|run| {
            let from = run[0].saturating_sub(EACH_WAY);
            let to = (run[run.len() - 1] + EACH_WAY + 1).min(order.len());
            let columns = order[from..to].par_iter().map(|column| Column::new(entries, members(*column).collect()));
            let columns: Vec<Column> = columns.collect();
            let judged = run.par_iter().flat_map_iter(|place| {
                let silent = columns[place - from].members.iter().map(|i| (*i, None));
                let told = Column::judge(entries, &columns, place - from, priors).into_iter();
                silent.chain(told.map(|(i, answer)| (i, Some(answer)))).collect::<HashMap<_, _>>()
            });
            judged.collect::<Vec<_>>()
        });
        let changed: Vec<_> = found.filter(|(i, answer)| self.by_entry.get(*i) != *answer).collect();
        changed.iter().for_each(|(i, answer)| self.by_entry.set(*i, *answer));
        self.by_entry.tidy();
        changed.into_iter().map(|(i, _)| i).collect()
    }

    /// Forgets an entry that has gone.
    pub fn strike(&mut self, i: usize) {
        self.by_entry.set(i, None);
    }
}

/// These columns of a document and those that may be asked about them.
fn beside(order: &[u64], touched: &BTreeSet<u64>) -> Vec<u64> {
    let places = (0..order.len()).filter(|place| touched.contains(&order[*place]));
    let around = |place: usize| &order[place.saturating_sub(EACH_WAY)..(place + EACH_WAY + 1).min(order.len())];
    places.flat_map(around).copied().collect()
}
