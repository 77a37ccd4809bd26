//! Who stands beside whom: the entries whose values may have been taken for another's.

use super::chances;
use super::entry::{Entry, Part, Value};
use super::grain::Grain;
use super::index::{Index, joined};
use super::kind::Slip;
use super::priors::Priors;
use super::suspect::Suspect;
use super::unit_habit::UnitHabit;
use crate::units::Number;
use rayon::prelude::*;
use std::collections::HashMap;
use std::ops::Range;

/// An entry's neighbours, and the ways to them.
#[derive(Debug)]
pub struct Peers<'e> {
    pub(super) entries: &'e [Entry],
    pub(super) ways: &'e Ways,
    usual: Grain,
}

/// The ways from an entry to its neighbours; they follow a book that changes.
#[derive(Debug)]
pub struct Ways {
    /// Entries of a known thread by their column.
    pub(super) columns: Index,
    /// Those of an unknown thread.
    pub(super) without_size: Index,
    /// Which units each column uses, by the column.
    units: HashMap<u64, UnitHabit>,
    /// By document and thread.
    pub(super) threads: Index,
    /// By joint.
    pub(super) joints: Index,
    /// By class and thread.
    pub(super) classes: Index,
}

fn column(entry: &Entry) -> Option<u64> {
    entry.size.map(|_| entry.column)
}

fn column_without_size(entry: &Entry) -> Option<u64> {
    if entry.size.is_none() { Some(entry.column) } else { None }
}

/// The thread in its document.
pub(super) fn thread(entry: &Entry) -> Option<u64> {
    entry.size.map(|size| joined(entry.document, size.number()))
}

/// The thread with its class.
pub(super) fn class(entry: &Entry) -> Option<u64> {
    entry.class.zip(entry.size).map(|(class, size)| joined(class, size.number()))
}

impl Ways {
    /// The ways between these entries.
    #[must_use]
    pub fn of(entries: &[Entry]) -> Self {
        let by = |key: &(dyn Fn(&Entry) -> Option<u64> + Sync)| Index::of(entries.len(), |i| key(&entries[i]));
        let columns = by(&column);
        let habit = |(column, group): &(u64, &[u32])| {
            let mut habit = UnitHabit::default();
            group.iter().for_each(|i| habit.count(entries[*i as usize].stated.unit, 1.0));
            (*column, habit)
        };
        Self {
            units: columns.groups().par_iter().map(habit).collect(),
            columns,
            without_size: by(&column_without_size),
            threads: by(&thread),
            joints: by(&|entry| Some(entry.joint)),
            classes: by(&class),
        }
    }

    /// Enters an entry that has come.
    pub fn enter(&mut self, entry: &Entry, place: u32, comes_before: impl Fn(usize) -> bool) {
        self.each_index(entry, |index, key| index.add(key, place, &comes_before));
        if let Some(column) = column(entry) {
            self.units.entry(column).or_default().count(entry.stated.unit, 1.0);
        }
    }

    /// Strikes out an entry that has gone.
    pub fn strike(&mut self, entry: &Entry, place: u32) {
        self.each_index(entry, |index, key| index.remove(key, place));
        if let Some(habit) = column(entry).and_then(|column| self.units.get_mut(&column)) {
            habit.count(entry.stated.unit, -1.0);
        }
    }

    fn each_index(&mut self, entry: &Entry, mut change: impl FnMut(&mut Index, u64)) {
        let keys = [
            (&mut self.columns, column(entry)),
            (&mut self.without_size, column_without_size(entry)),
            (&mut self.threads, thread(entry)),
            (&mut self.joints, Some(entry.joint)),
            (&mut self.classes, class(entry)),
        ];
        for (index, key) in keys {
            if let Some(key) = key {
                change(index, key);
            }
        }
    }
}

/// The most values of other entries that are looked at.
const OTHERS_MAX: usize = 24;
/// The most entries of one group that are looked through.
const COLUMN_MAX: usize = 200;

impl<'e> Peers<'e> {
    /// The neighbours among these entries.
    #[must_use]
    pub fn of(entries: &'e [Entry], ways: &'e Ways, priors: &Priors) -> Self {
        Self { entries, ways, usual: Grain::new(priors.grain) }
    }

    pub(super) fn column(&self, entry: &Entry) -> Vec<usize> {
        entry.size.map_or(Vec::new(), |_| self.ways.columns.group(entry.column).take(COLUMN_MAX).collect())
    }

    /// The entries of the same thread in other columns of the document.
    pub(super) fn same_thread(&self, i: usize) -> impl Iterator<Item = usize> + '_ {
        let entry = &self.entries[i];
        let group = entry.size.map(|size| self.ways.threads.group(joined(entry.document, size.number())));
        let others = group.into_iter().flatten().take(COLUMN_MAX);
        others.filter(|j| self.entries[*j].column != entry.column).take(OTHERS_MAX)
    }

    /// How the column of an entry is rounded.
    #[must_use]
    pub fn grain(&self, entry: &Entry) -> Grain {
        const NUMBERS_MAX: usize = 60;
        let column = self.column(entry);
        let some = column.iter().step_by(column.len().div_ceil(NUMBERS_MAX).max(1));
        let numbers: Vec<Number> = some.flat_map(|i| self.entries[*i].stated.figures.numbers()).collect();
        if numbers.is_empty() { self.usual } else { Grain::of(&numbers, &self.usual) }
    }

    /// Does the record state a torque in an earlier stage than entry `i`?
    #[must_use]
    pub fn follows_torque(&self, i: usize) -> bool {
        self.of_record(i).start != i
    }

    /// The entries of the record of entry `i`, which stand together.
    fn of_record(&self, i: usize) -> Range<usize> {
        let is_another = |j: &usize| self.entries[*j].record != self.entries[i].record;
        let first = (0..i).rev().find(is_another).map_or(0, |before| before + 1);
        first..(i..self.entries.len()).find(is_another).unwrap_or(self.entries.len())
    }

    /// Which units the other values of the column, and the source, state torques in.
    #[must_use]
    pub fn units(&self, entry: &Entry) -> UnitHabit {
        let column = self.ways.units.get(&entry.column).copied();
        let mut habit = column.unwrap_or_default();
        if column.is_some() && entry.size.is_some() {
            habit.count(entry.stated.unit, -1.0);
        }
        // The stated figures over again carry the same slip, if there is one.
        let others = entry.printed.iter().filter(|second| !second.is_copy_of(entry.stated));
        others.for_each(|second| habit.count(second.unit, 1.0));
        habit.for_thread(entry.size)
    }

    /// The values that may have been taken for the value of entry `i`, with the chance of each.
    #[must_use]
    pub fn takeable(&self, i: usize) -> Vec<Suspect> {
        let mut found = Vec::new();
        self.beside_in_column(i, &mut found);
        let entry = &self.entries[i];
        let mut add = |others: &mut dyn Iterator<Item = usize>, slip, chance: f64, fits: &dyn Fn(&Entry) -> bool| {
            let others = others.take(COLUMN_MAX).filter(|j| *j != i && fits(&self.entries[*j])).take(OTHERS_MAX);
            let values: Vec<Value> = others.map(|j| self.entries[j].stated).collect();
            let share = chance / values.len().max(1) as f64;
            found.extend(values.into_iter().map(|value| Suspect { value, slip, chance: share }));
        };
        if let Some(size) = entry.size {
            let mut same_thread = self.ways.threads.group(joined(entry.document, size.number()));
            add(&mut same_thread, Slip::NextClass, chances::NEXT_CLASS, &|other| other.column != entry.column);
        }
        add(&mut self.of_record(i), Slip::EarlierStage, chances::EARLIER_STAGE, &|other| other.part == Part::Step);
        let mut joint = self.ways.joints.group(entry.joint);
        add(&mut joint, Slip::OtherFastener, chances::OTHER_FASTENER, &|other| {
            other.record != entry.record && other.size != entry.size
        });
        found
    }

    /// The values of the sizes next to it, and of the other pitch of its own size.
    fn beside_in_column(&self, i: usize, found: &mut Vec<Suspect>) {
        let entry = &self.entries[i];
        let mut column = self.column(entry);
        column.sort_by(|a, b| self.diameter(*a).total_cmp(&self.diameter(*b)));
        let mine = self.diameter(i);
        let same = |a: f64, b: f64| (a - b).abs() < 0.001;
        let next = |others: &mut dyn Iterator<Item = &usize>| -> Vec<Value> {
            let mut size = None;
            let near = others.take_while(|j| same(*size.get_or_insert(self.diameter(**j)), self.diameter(**j)));
            near.take(3).map(|j| self.entries[*j].stated).collect()
        };
        let smaller = next(&mut column.iter().rev().filter(|j| self.diameter(**j) < mine - 0.001));
        let larger = next(&mut column.iter().filter(|j| self.diameter(**j) > mine + 0.001));
        for side in [smaller, larger] {
            let chance = chances::NEXT_SIZE / 2.0 / side.len().max(1) as f64;
            found.extend(side.into_iter().map(|value| Suspect { value, slip: Slip::NextSize, chance }));
        }
        let pitches = column.iter().filter(|j| same(self.diameter(**j), mine) && self.entries[**j].size != entry.size);
        for j in pitches.take(3) {
            let (value, slip) = (self.entries[*j].stated, Slip::OtherPitch);
            found.push(Suspect { value, slip, chance: chances::OTHER_PITCH });
        }
    }

    /// The values that the same thread and class has elsewhere in the book.
    #[must_use]
    pub fn elsewhere(&self, i: usize) -> Vec<Value> {
        let entry = &self.entries[i];
        let Some((class, size)) = entry.class.zip(entry.size) else { return Vec::new() };
        let others = self.ways.classes.group(joined(class, size.number()));
        let mut values: Vec<Value> = Vec::new();
        for j in others.take(COLUMN_MAX).filter(|j| self.entries[*j].record != entry.record).take(OTHERS_MAX) {
            let value = self.entries[j].stated;
            if !values.iter().any(|known| known.equals(value)) {
                values.push(value);
            }
        }
        values
    }

    fn diameter(&self, i: usize) -> f64 {
        self.entries[i].size.map_or(0.0, |size| size.diameter_mm)
    }
}
