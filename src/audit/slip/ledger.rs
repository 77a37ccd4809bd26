//! The entries of a book with what was found about each, kept up to date as entries come and go.
//!
//! What is found about an entry rests on groups of others: its column and the columns beside it in the document,
//! comparable records, copies of its column, how the document converts units, its joint, its record. A change touches the
//! groups of what has come or gone; only they are worked out again, and only entries whose group says something else now
//! are judged again. So the ledger after a change is the ledger that would be made of the same entries anew, provided
//! that every group keeps its entries in the order of the book.

use super::alone::Comparables;
use super::copies::{Copies, class_and_part};
use super::entry::{Entry, Sharing};
use super::judge::{Book, Found};
use super::noted::{Noted, Notes};
use super::peers::{Peers, Ways, class, thread};
use super::printed::{Agreement, Agreements};
use super::priors::Priors;
use super::series_of_book::Series;
use fixedbitset::FixedBitSet;
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::sync::OnceLock;

/// The entries of a book with what was found about each.
#[derive(Debug)]
pub struct Ledger {
    entries: Vec<Entry>,
    priors: Priors,
    series: Series,
    comparables: Comparables,
    agreements: Agreements,
    copies: Copies,
    ways: Ways,
    found: Notes,
    /// In a ledger that is read once: what was found about the entries that somebody has asked about.
    asked: Option<Box<[OnceLock<Found>]>>,
    /// The entries with a twin, by their document.
    twins: HashMap<u64, BTreeSet<usize>>,
    /// How many places are empty.
    gone: usize,
}

/// Places of entries: a bit for each, since one that comes may put all others in doubt.
type Places = FixedBitSet;

/// The number of the record of an entry that was struck out.
const STRUCK: usize = usize::MAX;

/// Which of two records comes first in the book, by the numbers that their entries give.
pub type BookOrder<'o> = &'o (dyn Fn(usize, usize) -> Ordering + Sync);

impl Ledger {
    /// The ledger of these entries, in the order of the book.
    #[must_use]
    pub fn of(entries: Vec<Entry>, priors: &Priors) -> Self {
        let mut ledger = Self::with_evidence(entries, priors);
        ledger.find_all();
        ledger
    }

    /// The ledger of these entries for one who goes through them once: an entry is judged when it is asked for, so that the
    /// first ones need not wait for the last ones.
    #[must_use]
    pub fn judged_when_asked(entries: Vec<Entry>, priors: &Priors) -> Self {
        let mut ledger = Self::with_evidence(entries, priors);
        ledger.asked = Some(ledger.entries.iter().map(|_| OnceLock::new()).collect());
        ledger
    }

    fn with_evidence(mut entries: Vec<Entry>, priors: &Priors) -> Self {
        Sharing::default().share(&mut entries);
        entries.shrink_to_fit();
        let ways = Ways::of(&entries);
        Self {
            series: Series::of(&entries, priors),
            comparables: Comparables::of(&entries),
            agreements: Agreements::of(&entries, Agreement::new(priors.agreement)),
            copies: Copies::of(&entries, &ways.columns),
            ways,
            priors: *priors,
            found: Notes::default(),
            asked: None,
            twins: HashMap::new(),
            gone: 0,
            entries,
        }
    }

    fn find_all(&mut self) {
        self.asked = None;
        let book = self.book();
        let all = (0..self.entries.len()).into_par_iter().with_min_len(64);
        let found: Vec<Found> = all.map(|i| book.find(i)).collect();
        for (i, found) in found.into_iter().enumerate() {
            if found.has_twin {
                self.twins.entry(self.entries[i].document).or_default().insert(i);
            }
            self.found.push(found);
        }
    }

    fn book(&self) -> Book<'_> {
        Book {
            entries: &self.entries,
            priors: &self.priors,
            series: &self.series,
            comparables: &self.comparables,
            agreements: &self.agreements,
            copies: &self.copies,
            peers: Peers::of(&self.entries, &self.ways, &self.priors),
        }
    }

    /// The entry at a place, and what was found about it.
    #[must_use]
    pub fn get(&self, place: usize) -> (&Entry, Noted<'_>) {
        let found = match &self.asked {
            Some(asked) => asked[place].get_or_init(|| self.book().find(place)).noted(),
            None => self.found.get(place),
        };
        (&self.entries[place], found)
    }

    /// The place that the next entry will have.
    #[must_use]
    pub fn next_place(&self) -> usize {
        self.entries.len()
    }

    /// Whether it has so many empty places that it is better made anew.
    #[must_use]
    pub fn is_worn(&self) -> bool {
        const FEW: usize = 10_000;
        self.gone > FEW.max(self.entries.len() / 2)
    }

    /// Strikes out the entries at these places, enters others behind all places, and judges again what that touches.
    /// Gives the numbers of the records about which something else is found now.
    pub fn change(&mut self, gone: &[usize], come: Vec<Entry>, order: BookOrder<'_>) -> BTreeSet<usize> {
        if self.asked.is_some() {
            self.find_all();
        }
        let mut touched = Touched::default();
        for place in gone {
            self.strike(*place, &mut touched);
        }
        for entry in come {
            self.enter(entry, order, &mut touched);
        }
        let changed = self.look_again(&touched, order);
        self.judge_again(&self.in_doubt(&touched, changed))
    }

    fn strike(&mut self, place: usize, touched: &mut Touched) {
        let number = number(place);
        let entry = &self.entries[place];
        self.ways.strike(entry, number);
        self.series.strike(place);
        touched.comparables.extend(self.comparables.strike(entry, number));
        if self.agreements.strike(entry, number) {
            touched.habits.insert(entry.document);
        }
        touched.note(entry);
        touched.gone.insert(place);
        self.found.set(place, Found::default());
        if let Some(twins) = self.twins.get_mut(&entry.document) {
            twins.remove(&place);
        }
        self.gone += 1;
        // What comes for the same record later stands apart from it.
        self.entries[place].record = STRUCK;
    }

    fn enter(&mut self, entry: Entry, order: BookOrder<'_>, touched: &mut Touched) {
        let place = self.entries.len();
        let number = number(place);
        let record = entry.record;
        touched.note(&entry);
        touched.come.push(place);
        self.entries.push(entry);
        debug_assert_eq!(self.found.count(), place);
        self.found.push(Found::default());
        let (entries, entry) = (&self.entries, &self.entries[place]);
        // Of one record the entries come in the order of its stages.
        let comes_before = |other: usize| order(entries[other].record, record) != Ordering::Greater;
        self.ways.enter(entry, number, comes_before);
        touched.comparables.extend(self.comparables.enter(entry, number, comes_before));
        if self.agreements.enter(entry, number, comes_before) {
            touched.habits.insert(entry.document);
        }
    }

    /// Works out the touched groups again; gives the entries of which one of them says something else now.
    fn look_again(&mut self, touched: &Touched, order: BookOrder<'_>) -> Places {
        let entries = &self.entries;
        let mut changed = Places::with_capacity(entries.len());
        changed.extend(touched.come.iter().copied());
        changed.extend(self.comparables.look_again(entries, &touched.comparables));
        let by_column = &self.ways.columns;
        let comes_before =
            |a: usize, b: usize| order(entries[a].record, entries[b].record).then(a.cmp(&b)) == Ordering::Less;
        for (document, columns) in &touched.columns {
            let touched = (*document, columns);
            changed.extend(self.series.look_again(entries, touched, by_column, &comes_before, &self.priors));
        }
        for (class, column) in &touched.tables {
            let members: Vec<usize> = by_column.group(*column).collect();
            changed.extend(self.copies.look_again(entries, *class, *column, &members));
        }
        changed
    }

    /// The entries about which something else may be found now.
    fn in_doubt(&self, touched: &Touched, changed: Places) -> Vec<usize> {
        let ways = &self.ways;
        let documents: HashSet<u64> = changed.ones().map(|i| self.entries[i].document).collect();
        let mut doubt = changed;
        for column in touched.columns.values().flatten() {
            // The units of a column, and how it is rounded, tell about each of its entries.
            doubt.extend(ways.columns.group(*column).chain(ways.without_size.group(*column)));
        }
        for document in &touched.habits {
            doubt.extend(self.agreements.printed.group(*document));
        }
        // Whose values may have been taken for another's is asked only of what is suspicious already.
        let is_suspicious = |i: &usize| self.found.is_judged(*i);
        let joints = touched.joints.iter().flat_map(|joint| ways.joints.group(*joint));
        let threads = touched.threads.iter().flat_map(|thread| ways.threads.group(*thread));
        let classes = touched.classes.iter().flat_map(|class| ways.classes.group(*class));
        doubt.extend(joints.chain(threads).chain(classes).filter(is_suspicious));
        let documents = documents.iter().chain(touched.columns.keys());
        doubt.extend(documents.filter_map(|document| self.twins.get(document)).flatten().copied());
        doubt.ones().filter(|place| !touched.gone.contains(place)).collect()
    }

    fn judge_again(&mut self, places: &[usize]) -> BTreeSet<usize> {
        let book = self.book();
        let again =
            places.par_iter().map(|i| (*i, book.find(*i))).filter(|(i, found)| self.found.get(*i) != found.noted());
        let again: Vec<(usize, Found)> = again.collect();
        let mut records = BTreeSet::new();
        for (i, found) in again {
            let entry = &self.entries[i];
            records.insert(entry.record);
            if found.has_twin {
                self.twins.entry(entry.document).or_default().insert(i);
            } else if let Some(twins) = self.twins.get_mut(&entry.document) {
                twins.remove(&i);
            }
            self.found.set(i, found);
        }
        records
    }
}

/// Places are kept as 32-bit numbers in groups.
fn number(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}

/// The groups that entries have come into or gone from.
#[derive(Debug, Default)]
struct Touched {
    /// Columns by their document.
    columns: HashMap<u64, BTreeSet<u64>>,
    /// Columns with a class, by what they are compared with.
    tables: BTreeSet<(u64, u64)>,
    comparables: BTreeSet<u64>,
    /// Documents whose habit of converting units has changed.
    habits: BTreeSet<u64>,
    joints: BTreeSet<u64>,
    threads: BTreeSet<u64>,
    classes: BTreeSet<u64>,
    /// The places of what has come, and of what has gone.
    come: Vec<usize>,
    gone: HashSet<usize>,
}

impl Touched {
    fn note(&mut self, entry: &Entry) {
        self.columns.entry(entry.document).or_default().insert(entry.column);
        self.tables.extend(class_and_part(entry).map(|compared| (compared, entry.column)));
        self.joints.insert(entry.joint);
        self.threads.extend(thread(entry));
        self.classes.extend(class(entry));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audit::slip::{Common, Figures, Part, Size, Value, Written};
    use crate::units::TorqueUnit;

    /// A column with one value out of line, and the same diameters once more with a fine pitch.
    fn entries() -> Vec<Entry> {
        let entry = |record: usize| {
            let diameter_mm: f64 = [6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 20.0, 24.0][record % 8];
            let fine = record >= 8;
            let torque_per_mpa = diameter_mm * diameter_mm * diameter_mm / 6000.0;
            let torque = (torque_per_mpa * if record == 3 { 900.0 } else { 500.0 }).round();
            let number = torque.to_string().parse().expect("a number");
            let common = Common {
                document: 1,
                column: 2,
                class: Some(3),
                size: Some(Size { diameter_mm, pitch_mm: if fine { 1.0 } else { 1.5 }, fine, torque_per_mpa }),
                yield_mpa: Some(640.0),
                friction_ratio: 1.0,
                general: true,
                bolted: true,
                part: Part::Final,
            };
            let stated = Value { figures: Figures::One(number), unit: TorqueUnit::NewtonMeter };
            let written = Written { stated, printed: Box::default(), common: common.into() };
            Entry { record, joint: 4, written: written.into() }
        };
        (0..16).map(entry).collect()
    }

    #[test]
    fn what_is_judged_when_asked_is_what_is_judged_at_once() {
        let at_once = Ledger::of(entries(), &Priors::LEARNED);
        let mut when_asked = Ledger::judged_when_asked(entries(), &Priors::LEARNED);
        assert!((0..16).any(|i| at_once.get(i).1.judged.is_some()), "nothing is suspicious");
        for i in [9, 3, 3, 0] {
            assert_eq!(at_once.get(i), when_asked.get(i));
        }
        // A change judges whatever nobody has asked about first.
        let mut changed = Ledger::of(entries(), &Priors::LEARNED);
        let order = |a: usize, b: usize| a.cmp(&b);
        let told = (changed.change(&[3], Vec::new(), &order), when_asked.change(&[3], Vec::new(), &order));
        assert_eq!(told.0, told.1);
        assert!((0..16).all(|i| changed.get(i) == when_asked.get(i)));
    }
}
