//! The torques of a book, each with what stands around it, and the verdict on each.

use super::entries::read;
use super::slip::{Entry, Judged, Ledger, Priors, Sharing};
use crate::record::{Fastener, Id};
use std::collections::HashMap;
use std::ops::Range;

/// The torques of a book with the verdict on each.
#[derive(Debug)]
pub struct Torques {
    ledger: Ledger,
    /// The stage of each entry of the ledger.
    stages: Vec<u16>,
    by_record: HashMap<Id, Places>,
    /// The ids of the records by their numbers.
    ids: Vec<Id>,
}

impl Default for Torques {
    fn default() -> Self {
        Self::of(std::iter::empty())
    }
}

/// Where the torques of a fastener stand in the ledger.
#[derive(Debug, Clone, Copy)]
struct Places {
    /// The number of its record.
    record: u32,
    first: u32,
    count: u16,
}

impl Places {
    fn of(record: usize, entries: Range<usize>) -> Self {
        let number = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        let count = u16::try_from(entries.len()).unwrap_or(u16::MAX);
        Self { record: number(record), first: number(entries.start), count }
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
    by_record: HashMap<Id, Places>,
    ids: Vec<Id>,
    common: Sharing,
}

impl Gathered {
    /// Adds the fasteners that come next in the order of the book, whole joints of them, and gives their ids with texts that
    /// hold nothing else.
    pub fn add(&mut self, fasteners: &[&Fastener]) -> &[Id] {
        let first = self.ids.len();
        for (fastener, staged) in fasteners.iter().zip(read(fasteners)) {
            let (record, from) = (self.ids.len(), self.entries.len());
            for (stage, entry) in staged {
                self.stages.push(small(stage));
                self.entries.push(Entry { record, ..entry });
            }
            self.common.share(&mut self.entries[from..]);
            let id = fastener.id.apart();
            self.by_record.insert(id.clone(), Places::of(record, from..self.entries.len()));
            self.ids.push(id);
        }
        &self.ids[first..]
    }

    /// All of them, weighed.
    pub fn weighed(self) -> Torques {
        self.with(|entries| Ledger::of(entries, &Priors::LEARNED))
    }

    fn with(mut self, ledger: impl FnOnce(Vec<Entry>) -> Ledger) -> Torques {
        self.stages.shrink_to_fit();
        self.by_record.shrink_to_fit();
        self.ids.shrink_to_fit();
        Torques { ledger: ledger(self.entries), stages: self.stages, by_record: self.by_record, ids: self.ids }
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
        gathered.add(&fasteners.collect::<Vec<_>>());
        gathered.with(ledger)
    }

    /// The torques of the fastener of this id, in the order of its stages.
    pub fn of_fastener(&self, id: &str) -> impl Iterator<Item = JudgedTorque<'_>> {
        let range = self.by_record.get(id).map_or(0..0, |places| places.entries());
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
            struck.extend(self.by_record.remove(id.as_str()).map_or(0..0, Places::entries));
        }
        let mut come = Vec::new();
        for fasteners in joints {
            for (fastener, staged) in fasteners.iter().zip(read(fasteners)) {
                self.replace(&fastener.id, staged, &mut struck, &mut come);
            }
        }
        let ids = &self.ids;
        let records = self.ledger.change(&struck, come, &|a, b| ids[a].cmp(&ids[b]));
        records.into_iter().map(|record| ids[record].clone()).collect()
    }

    /// Puts other torques in the place of those that a fastener had, unless they are the same.
    fn replace(&mut self, id: &Id, staged: Vec<(usize, Entry)>, struck: &mut Vec<usize>, come: &mut Vec<Entry>) {
        let before = self.by_record.get(id.as_str()).copied();
        let record = before.map_or(self.ids.len(), |places| places.record as usize);
        let staged: Vec<(usize, Entry)> =
            staged.into_iter().map(|(stage, entry)| (stage, Entry { record, ..entry })).collect();
        if let Some(before) = before {
            let known = before.entries().map(|i| (self.stages[i].into(), self.ledger.get(i).0));
            if known.eq(staged.iter().map(|(stage, entry)| (*stage, entry))) {
                return;
            }
            struck.extend(before.entries());
        } else {
            self.ids.push(id.clone());
        }
        let from = self.ledger.next_place() + come.len();
        self.by_record.insert(id.clone(), Places::of(record, from..from + staged.len()));
        for (stage, entry) in staged {
            self.stages.push(small(stage));
            come.push(entry);
        }
    }

    /// The number of a fastener, which it keeps as long as it is in the book; the first ones are numbered in their order.
    #[must_use]
    pub(super) fn number_of(&self, id: &str) -> Option<u32> {
        Some(self.by_record.get(id)?.record)
    }

    /// The id of the fastener that has, or had, a number.
    pub(super) fn id_of(&self, number: usize) -> Option<&Id> {
        self.ids.get(number)
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
