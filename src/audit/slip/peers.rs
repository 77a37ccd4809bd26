//! Who stands beside whom: the entries whose values may have been taken for another's.

use super::chances;
use super::entry::{Entry, Part, Value};
use super::grain::Grain;
use super::kind::Slip;
use super::priors::Priors;
use super::suspect::Suspect;
use super::unit_habit::UnitHabit;
use crate::units::Number;
use std::collections::HashMap;

type Column = (u32, u32, Part);
type Thread = (i64, i64);

/// The ways from an entry to its neighbours.
#[derive(Debug)]
pub struct Peers {
    columns: HashMap<Column, Vec<usize>>,
    places: Vec<usize>,
    grains: HashMap<Column, Grain>,
    units: HashMap<Column, UnitHabit>,
    usual: Grain,
    threads: HashMap<(u32, Thread), Vec<usize>>,
    joints: HashMap<u32, Vec<usize>>,
    records: HashMap<usize, Vec<usize>>,
    classes: HashMap<(u32, Thread), Vec<usize>>,
}

/// The most values of other entries that are looked at.
const OTHERS_MAX: usize = 24;

impl Peers {
    /// The ways between these entries.
    #[must_use]
    pub fn of(entries: &[Entry], priors: &Priors) -> Self {
        let usual = Grain::new(priors.grain);
        let mut peers = Self {
            columns: HashMap::new(),
            places: vec![0; entries.len()],
            grains: HashMap::new(),
            units: HashMap::new(),
            usual,
            threads: HashMap::new(),
            joints: HashMap::new(),
            records: HashMap::new(),
            classes: HashMap::new(),
        };
        for (i, entry) in entries.iter().enumerate() {
            peers.joints.entry(entry.joint).or_default().push(i);
            peers.records.entry(entry.record).or_default().push(i);
            let Some(size) = entry.size else { continue };
            if let Some(document) = entry.document {
                peers.threads.entry((document, size.key())).or_default().push(i);
                let column = (document, entry.column, entry.part);
                peers.columns.entry(column).or_default().push(i);
                peers.units.entry(column).or_default().count(entry.stated.unit, 1.0);
            }
            if let Some(class) = entry.class {
                peers.classes.entry((class, size.key())).or_default().push(i);
            }
        }
        for (key, column) in &mut peers.columns {
            column.sort_by(|a, b| diameter(&entries[*a]).total_cmp(&diameter(&entries[*b])));
            for (place, i) in column.iter().enumerate() {
                peers.places[*i] = place;
            }
            let some = column.iter().step_by(column.len().div_ceil(60));
            let numbers: Vec<Number> = some.flat_map(|i| entries[*i].stated.figures.numbers()).collect();
            peers.grains.insert(*key, Grain::of(&numbers, &usual));
        }
        peers
    }

    /// How the column of an entry is rounded.
    #[must_use]
    pub fn grain(&self, entry: &Entry) -> Grain {
        let column = entry.document.and_then(|document| self.grains.get(&(document, entry.column, entry.part)));
        column.copied().unwrap_or(self.usual)
    }

    /// Does the record state a torque in an earlier stage than entry `i`?
    #[must_use]
    pub fn follows_torque(&self, entries: &[Entry], i: usize) -> bool {
        self.records.get(&entries[i].record).is_some_and(|stages| stages.first() != Some(&i))
    }

    /// Which units the other values of the column are stated in.
    #[must_use]
    pub fn units(&self, entry: &Entry) -> UnitHabit {
        let column = entry.document.and_then(|document| self.units.get(&(document, entry.column, entry.part)));
        let mut habit = column.copied().unwrap_or_default();
        if column.is_some() && entry.size.is_some() {
            habit.count(entry.stated.unit, -1.0);
        }
        habit
    }

    /// The values that may have been taken for the value of entry `i`, with the chance of each.
    #[must_use]
    pub fn takeable(&self, entries: &[Entry], i: usize) -> Vec<Suspect> {
        let mut found = Vec::new();
        self.beside_in_column(entries, i, &mut found);
        let entry = &entries[i];
        let mut add = |others: Option<&Vec<usize>>, slip, chance: f64, fits: &dyn Fn(&Entry) -> bool| {
            let others = others.into_iter().flatten().take(OTHERS_MAX);
            let values: Vec<Value> =
                others.filter(|j| **j != i && fits(&entries[**j])).map(|j| entries[*j].stated).collect();
            let share = chance / values.len().max(1) as f64;
            found.extend(values.into_iter().map(|value| Suspect { value, slip, chance: share }));
        };
        if let (Some(document), Some(size)) = (entry.document, entry.size) {
            let same_thread = self.threads.get(&(document, size.key()));
            add(same_thread, Slip::NextClass, chances::NEXT_CLASS, &|other| other.column != entry.column);
        }
        let record = self.records.get(&entry.record);
        add(record, Slip::EarlierStage, chances::EARLIER_STAGE, &|other| other.part == Part::Step);
        add(self.joints.get(&entry.joint), Slip::OtherFastener, chances::OTHER_FASTENER, &|other| {
            other.record != entry.record && other.size != entry.size
        });
        found
    }

    /// The values of the sizes next to it, and of the other pitch of its own size.
    fn beside_in_column(&self, entries: &[Entry], i: usize, found: &mut Vec<Suspect>) {
        let entry = &entries[i];
        let column = entry.document.and_then(|document| self.columns.get(&(document, entry.column, entry.part)));
        let (Some(column), Some(_)) = (column, entry.size) else { return };
        let mine = diameter(entry);
        let place = self.places[i];
        let next = |others: &mut dyn Iterator<Item = &usize>| -> Vec<Value> {
            let mut size = None;
            let other = others.filter(|j| (diameter(&entries[**j]) - mine).abs() > 0.001);
            let same = other.take_while(|j| {
                let its = diameter(&entries[**j]);
                (*size.get_or_insert(its) - its).abs() < 0.001
            });
            same.take(3).map(|j| entries[*j].stated).collect()
        };
        let smaller = next(&mut column[..place].iter().rev());
        let larger = next(&mut column[place..].iter());
        for side in [smaller, larger] {
            let chance = chances::NEXT_SIZE / 2.0 / side.len().max(1) as f64;
            found.extend(side.into_iter().map(|value| Suspect { value, slip: Slip::NextSize, chance }));
        }
        let from = column[..place].iter().rposition(|j| diameter(&entries[*j]) < mine - 0.001).map_or(0, |at| at + 1);
        let same = column[from..].iter().take_while(|j| diameter(&entries[**j]) < mine + 0.001);
        for j in same.filter(|j| **j != i && entries[**j].size != entry.size).take(3) {
            let slip = Slip::OtherPitch;
            found.push(Suspect { value: entries[*j].stated, slip, chance: chances::OTHER_PITCH });
        }
    }

    /// The values that the same thread and class has elsewhere in the book.
    #[must_use]
    pub fn elsewhere(&self, entries: &[Entry], i: usize) -> Vec<Value> {
        let entry = &entries[i];
        let key = entry.class.zip(entry.size.map(|size| size.key()));
        let others = key.and_then(|key| self.classes.get(&key)).into_iter().flatten();
        let others = others.filter(|j| **j != i && entries[**j].record != entry.record);
        let mut values: Vec<Value> = Vec::new();
        for j in others.take(OTHERS_MAX) {
            let value = entries[*j].stated;
            if !values.iter().any(|known| known.equals(value)) {
                values.push(value);
            }
        }
        values
    }
}

fn diameter(entry: &Entry) -> f64 {
    entry.size.map_or(0.0, |size| size.diameter_mm)
}
