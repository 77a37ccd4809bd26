//! The torques of a book, each with what stands around it, and the verdict on each.

use super::entries::read;
use super::roll::Roll;
use super::slip::{Entry, Judged, Ledger, Priors, Sharing};
use crate::record::{Fastener, Id};
use std::ops::Range;

/// The torques of a book with the verdict on each.
#[derive(Debug)]
pub struct Torques {
    ledger: Ledger,
    /// The stage of each entry of the ledger.
    stages: Vec<u16>,
    roll: Roll,
    /// Where those of each record are, by its number.
    places: Vec<Places>,
}

impl Default for Torques {
    fn default() -> Self {
        Self::of(std::iter::empty())
    }
}

/// Where the torques of a record stand in the ledger.
#[derive(Debug, Clone, Copy, Default)]
struct Places {
    first: u32,
    count: u16,
}

impl Places {
    fn of(entries: Range<usize>) -> Self {
        let first = u32::try_from(entries.start).unwrap_or(u32::MAX);
        Self { first, count: u16::try_from(entries.len()).unwrap_or(u16::MAX) }
    }

    fn entries(self) -> Range<usize> {
        let first = self.first as usize;
        first..first + usize::from(self.count)
    }
}

/// One torque of a fastener.
#[derive(Debug, Clone, Copy)]
pub struct JudgedTorque<'t> {
    /// The index of the stage that states it.
    pub stage: usize,
    /// The torque as the model saw it.
    pub entry: &'t Entry,
    /// The verdict; nothing where nothing asks for a closer look.
    pub judged: Option<&'t Judged>,
    /// Does it stand in line with a smooth series of its own?
    pub in_line: bool,
}

/// Torques that are gathered from a book that is read in portions.
#[derive(Debug, Default)]
pub(super) struct Gathered {
    entries: Vec<Entry>,
    stages: Vec<u16>,
    roll: Roll,
    places: Vec<Places>,
    common: Sharing,
}

impl Gathered {
    /// Enters the id of the record that comes next in the order of the book, and gives its number.
    pub fn enter(&mut self, id: &Id) -> u32 {
        self.places.push(Places::default());
        self.roll.push(id)
    }

    /// Adds the torques of the fasteners that come next, whole joints of them, which were entered under these numbers.
    pub fn add(&mut self, fasteners: &[&Fastener], numbers: &[u32]) {
        for (number, staged) in numbers.iter().zip(read(fasteners)) {
            let (record, from) = (*number as usize, self.entries.len());
            for (stage, entry) in staged {
                self.stages.push(small(stage));
                self.entries.push(Entry { record, ..entry });
            }
            self.common.share(&mut self.entries[from..]);
            self.places[record] = Places::of(from..self.entries.len());
        }
    }

    /// All of them, weighed.
    pub fn weighed(self) -> Torques {
        self.with(|entries| Ledger::of(entries, &Priors::LEARNED))
    }

    fn with(mut self, ledger: impl FnOnce(Vec<Entry>) -> Ledger) -> Torques {
        self.stages.shrink_to_fit();
        self.roll.shrink();
        self.places.shrink_to_fit();
        Torques { ledger: ledger(self.entries), stages: self.stages, roll: self.roll, places: self.places }
    }
}

impl Torques {
    /// The torques of these fasteners, which stand in the order of the book.
    #[must_use]
    pub fn of<'f>(fasteners: impl Iterator<Item = &'f Fastener>) -> Self {
        Self::made(fasteners, |entries| Ledger::of(entries, &Priors::LEARNED))
    }

    /// The torques of these fasteners for one who goes through them once: each is judged when it is asked for.
    #[must_use]
    pub fn judged_when_asked<'f>(fasteners: impl Iterator<Item = &'f Fastener>) -> Self {
        Self::made(fasteners, |entries| Ledger::judged_when_asked(entries, &Priors::LEARNED))
    }

    fn made<'f>(fasteners: impl Iterator<Item = &'f Fastener>, ledger: impl FnOnce(Vec<Entry>) -> Ledger) -> Self {
        let mut gathered = Gathered::default();
        let fasteners: Vec<&Fastener> = fasteners.collect();
        let numbers: Vec<u32> = fasteners.iter().map(|fastener| gathered.enter(&fastener.id)).collect();
        gathered.add(&fasteners, &numbers);
        gathered.with(ledger)
    }

    /// The torques of the fastener of this id, in the order of its stages.
    pub fn of_fastener(&self, id: &str) -> impl Iterator<Item = JudgedTorque<'_>> {
        let range = self.roll.number(id).map_or(0..0, |number| self.places[number as usize].entries());
        range.map(|i| {
            let (entry, found) = self.ledger.get(i);
            JudgedTorque { stage: self.stages[i].into(), entry, judged: found.judged, in_line: found.in_line }
        })
    }

    /// Takes in what has changed in a book that is kept in the order of its ids: fasteners that are gone, and joints, each
    /// with all fasteners that it has now. Gives the ids of the fasteners about whose torques something else is found.
    pub fn change(&mut self, gone: &[&Id], joints: &[Vec<&Fastener>]) -> Vec<Id> {
        let mut struck = Vec::new();
        for id in gone {
            if let Some(number) = self.roll.number(id.as_str()) {
                struck.extend(std::mem::take(&mut self.places[number as usize]).entries());
            }
        }
        let mut come = Vec::new();
        for fasteners in joints {
            for (fastener, staged) in fasteners.iter().zip(read(fasteners)) {
                self.replace(&fastener.id, staged, &mut struck, &mut come);
            }
        }
        let roll = &self.roll;
        let records = self.ledger.change(&struck, come, &|a, b| roll.compare(a as u32, b as u32));
        records.into_iter().filter_map(|record| roll.id(record as u32)).collect()
    }

    /// Puts other torques in the place of those that a fastener had, unless they are the same.
    fn replace(&mut self, id: &Id, staged: Vec<(usize, Entry)>, struck: &mut Vec<usize>, come: &mut Vec<Entry>) {
        let record = self.number_for(id) as usize;
        let before = self.places[record];
        let staged: Vec<(usize, Entry)> =
            staged.into_iter().map(|(stage, entry)| (stage, Entry { record, ..entry })).collect();
        let known = before.entries().map(|i| (self.stages[i].into(), self.ledger.get(i).0));
        if known.eq(staged.iter().map(|(stage, entry)| (*stage, entry))) {
            return;
        }
        struck.extend(before.entries());
        let from = self.ledger.next_place() + come.len();
        self.places[record] = Places::of(from..from + staged.len());
        for (stage, entry) in staged {
            self.stages.push(small(stage));
            come.push(entry);
        }
    }

    /// The ids of the book with their numbers.
    pub(super) fn roll(&self) -> &Roll {
        &self.roll
    }

    /// The number of an id, which is entered if it has none.
    pub(super) fn number_for(&mut self, id: &Id) -> u32 {
        self.roll.number(id.as_str()).unwrap_or_else(|| {
            self.places.push(Places::default());
            self.roll.push(id)
        })
    }

    /// Whether so much has come and gone that it is better made anew.
    #[must_use]
    pub fn is_worn(&self) -> bool {
        self.ledger.is_worn()
    }

    /// What the model sees of these fasteners, for the measurement of the model.
    #[must_use]
    pub fn entries_of<'f>(fasteners: impl Iterator<Item = &'f Fastener>) -> Vec<Entry> {
        let fasteners: Vec<&Fastener> = fasteners.collect();
        read(&fasteners).into_iter().flatten().map(|(_, entry)| entry).collect()
    }
}

/// Records have a few stages.
fn small(stage: usize) -> u16 {
    u16::try_from(stage).unwrap_or(u16::MAX)
}
