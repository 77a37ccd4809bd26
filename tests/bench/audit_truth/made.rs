//! Wrong entries made from the right rows of the tables: one slip each, with its whole table around it or alone.
//!
//! The kinds are those of the corpus' own generator: heard teen or ty, digits transposed, one digit misread, point lost
//! or gained, each unit written as another, the row above or below.

use crate::corpus::{Published, entries};
use crate::measure::{CHANGE_MIN, SAYS_WRONG, change, is_plausible, with_slip};
use crate::published::is_about_number;
use crate::seed_slips::{doubled, dropped, mistyped};
use crate::tally::{Calibration, Tally, share};
use clampbook::audit::slip::{Entry, Figures, Judged, Priors, Slip, Value, judge};
use clampbook::audit::{Audit, Book, Severity};
use clampbook::record::Record;
use clampbook::units::{Number, TorqueUnit};
use serde_json::json;
use std::collections::BTreeMap;

/// A slip: its kind and what it turns the value into.
pub struct Made {
    pub kind: String,
    /// As the model names it.
    pub slip: Slip,
    pub seen: Value,
}

impl Made {
    fn new(kind: impl Into<String>, slip: Slip, seen: Value) -> Self {
        Self { kind: kind.into(), slip, seen }
    }
}

/// Everything that is counted.
#[derive(Default)]
struct Measured {
    in_table: Tally,
    small: Tally,
    alone: Tally,
    named: Calibration,
    named_alone: Calibration,
    named_all: Calibration,
    /// As `named_alone`, each kind of slip as often as the model says that it happens, and kinds that the corpus'
    /// generator does not make among them.
    named_by_chance: Calibration,
    wrong: Calibration,
    /// How many of the records alone the whole audit finds.
    alone_by_audit: usize,
}

/// Each right row of the tables, with one slip of every kind, judged by priors learned without its source.
pub fn report(tables: &[Published], folds: &BTreeMap<String, Priors>) {
    let mut measured = Measured::default();
    println!("\nEach source judged by priors learned from the others");
    println!("  {:7} {:>10} {:>12} {:>14} {:>12}", "source", "right rows", "false alarms", "slips ≥ 15 %", "found");
    for (source, priors) in folds {
        let right: Vec<&Published> =
            tables.iter().filter(|row| row.source == *source && row.misprint.is_none()).collect();
        let mut list = entries(right.iter().copied());
        // What the made slips are judged by is the table and the bolt, not the other unit that gives them away.
        list.iter_mut().for_each(|entry| entry.printed = Box::default());
        let records: Vec<&Record> = right.iter().map(|row| &row.record).collect();
        assert_eq!(records.len(), list.len(), "each row states one torque");
        measured.source(source, &list, &records, priors);
    }
    measured.in_table.print("Slips that change a value by 15 % or more, the rest of the table being there");
    measured.small.print("Slips that change it by less, the rest of the table being there");
    measured.alone.print(
        "Slips that change it by 15 % or more, the record alone with class and condition known\n  \
         (impossible: the wrong value lies at 0.3 to 1.8 of the torque for 90 % of yield, as right ones do)",
    );
    let made = measured.alone.all().made;
    println!(
        "  by the whole audit, each record a book of its own (priors learned from all sources): {} of {made} found ({:.1} %)",
        measured.alone_by_audit,
        share(measured.alone_by_audit, made)
    );
    measured.named.print("Probability of the first value named, against whether it was meant, in tables");
    measured.named_alone.print("The same for records alone");
    measured.named_by_chance.print(
        "The same for records alone, with digits mistyped, dropped and doubled too, each kind weighed by the stated chance \
         of it,\n  right rows among them",
    );
    measured.named_all.print("In tables and alone, made slips counting alike");
    measured
        .wrong
        .print("Probability that a number is wrong, against whether it was: right rows and slips, slips at 6 in 100");
}

impl Measured {
    fn source(&mut self, source: &str, list: &[Entry], records: &[&Record], priors: &Priors) {
        let judged = judge(list, priors);
        let alarms = judged.iter().filter(|judged| doubt(judged.as_ref()) >= SAYS_WRONG).count();
        for judged in &judged {
            self.wrong.add(doubt(judged.as_ref()), false, 1.0);
        }
        let (mut made, mut found) = (0, 0);
        for at in (0..list.len()).filter(|at| list[*at].size.is_some()) {
            let slips = slips_of(list, at);
            // As many slips together as would be in a book where six numbers of a hundred are wrong.
            let weight = 0.06 / 0.94 / slips.len().max(1) as f64;
            for slip in &slips {
                let big = change(slip.seen, list[at].stated) >= CHANGE_MIN;
                let hit = self.in_table(list, at, slip, priors, weight);
                made += usize::from(big);
                found += usize::from(big && hit);
                if big && is_known(&list[at]) {
                    self.alone(&list[at], slip, priors);
                    self.alone_by_audit += usize::from(is_found_by_audit(records[at], slip.seen));
                }
            }
            if is_known(&list[at]) {
                self.by_chance(list, at, slips, priors);
            }
        }
        println!("  {source:7} {:10} {alarms:12} {made:14} {found:12}", list.len());
    }

    fn in_table(&mut self, list: &[Entry], at: usize, slip: &Made, priors: &Priors, weight: f64) -> bool {
        let judged = with_slip(list, at, slip.seen, priors);
        let meant = list[at].stated;
        let big = change(slip.seen, meant) >= CHANGE_MIN;
        let tally = if big { &mut self.in_table } else { &mut self.small };
        let found = counted(tally, &slip.kind, judged.as_ref(), meant, false);
        self.wrong.add(doubt(judged.as_ref()), true, weight);
        if found && let Some(first) = judged.as_ref().and_then(|judged| judged.verdict.meant.first()) {
            self.named.add(first.probability, first.meant.is_torque(meant), 1.0);
            self.named_all.add(first.probability, first.meant.is_torque(meant), 1.0);
        }
        found
    }

    /// The record alone, right and after every slip that the model knows and that can be made here.
    fn by_chance(&mut self, list: &[Entry], at: usize, mut slips: Vec<Made>, priors: &Priors) {
        let entry = &list[at];
        slips.extend(more_slips(entry, at));
        let kinds = |slip: Slip| slips.iter().filter(|other| other.slip == slip).count() as f64;
        let mut count = |seen: Value, weight: f64| {
            let judged = with_slip(std::slice::from_ref(entry), 0, seen, priors);
            let first = judged.as_ref().and_then(|judged| judged.verdict.meant.first());
            if let Some(first) = first.filter(|_| doubt(judged.as_ref()) >= SAYS_WRONG) {
                self.named_by_chance.add(first.probability, first.meant.is_torque(entry.stated), weight);
            }
        };
        count(entry.stated, 0.94 / 0.06);
        for slip in slips.iter().filter(|slip| change(slip.seen, entry.stated) >= CHANGE_MIN) {
            count(slip.seen, slip.slip.chance() / kinds(slip.slip));
        }
    }

    fn alone(&mut self, entry: &Entry, slip: &Made, priors: &Priors) {
        let judged = with_slip(std::slice::from_ref(entry), 0, slip.seen, priors);
        let found = counted(&mut self.alone, &slip.kind, judged.as_ref(), entry.stated, is_plausible(entry, slip.seen));
        if found && let Some(first) = judged.as_ref().and_then(|judged| judged.verdict.meant.first()) {
            self.named_alone.add(first.probability, first.meant.is_torque(entry.stated), 1.0);
            self.named_all.add(first.probability, first.meant.is_torque(entry.stated), 1.0);
        }
    }
}

/// Are class and condition known, so that a record can be judged alone?
fn is_known(entry: &Entry) -> bool {
    entry.yield_mpa.is_some() && entry.general
}

/// Does the whole audit call the number of a record wrong, the record being a book of its own?
fn is_found_by_audit(record: &Record, seen: Value) -> bool {
    let mut value = serde_json::to_value(record).expect("a record can be written");
    value["kind"] = json!("fastener");
    value["stages"] = json!([seen.to_string()]);
    value["source"].as_object_mut().map(|source| source.shift_remove("printed"));
    let record = Record::from_json(&value).unwrap_or_else(|e| panic!("{e:?}: {value}"));
    let book = Book::new([&record]);
    let findings = Audit::of(&book).findings();
    findings.iter().any(|finding| finding.severity >= Severity::Warning && is_about_number(finding))
}

fn doubt(judged: Option<&Judged>) -> f64 {
    judged.map_or(0.0, |judged| judged.verdict.wrong + judged.verdict.printed_wrong)
}

fn counted(tally: &mut Tally, kind: &str, judged: Option<&Judged>, meant: Value, impossible: bool) -> bool {
    let count = tally.kind(kind);
    let found = doubt(judged) >= SAYS_WRONG;
    let named = judged.map_or(&[][..], |judged| judged.verdict.meant.as_slice());
    let right: Vec<bool> = named.iter().map(|meaning| meaning.meant.is_torque(meant)).collect();
    count.made += 1;
    count.impossible += usize::from(impossible && !found);
    count.found += usize::from(found);
    count.first += usize::from(found && right.first() == Some(&true));
    count.among_three += usize::from(found && right.contains(&true));
    found
}

/// Changes the digits of a number, a seed choosing the place.
type Change = fn(&str, usize) -> Option<String>;

/// One slip of every kind that the value allows.
pub fn slips_of(list: &[Entry], at: usize) -> Vec<Made> {
    let entry = &list[at];
    let mut made = Vec::new();
    let kinds: [(&str, Slip, Change); 5] = [
        ("heard teen or ty", Slip::HeardTeenAsTy, teen_or_ty),
        ("digits transposed", Slip::DigitsTransposed, transposed),
        ("1 read as 7 or back", Slip::DigitMisread, |text, seed| misread(text, seed, ['1', '7'])),
        ("3 read as 8 or back", Slip::DigitMisread, |text, seed| misread(text, seed, ['3', '8'])),
        ("5 read as 6 or back", Slip::DigitMisread, |text, seed| misread(text, seed, ['5', '6'])),
    ];
    made.extend(kinds.into_iter().filter_map(|kind| of_digits(entry, kind, at)));
    made.extend(scaled(entry.stated, 10.0).map(|seen| Made::new("point lost", Slip::PointLost, seen)));
    made.extend(scaled(entry.stated, 0.1).map(|seen| Made::new("point gained", Slip::PointGained, seen)));
    made.extend(units(entry.stated));
    made.extend(neighbours(list, at));
    made.retain(|slip| change(slip.seen, entry.stated) > 1.0 + 1e-9);
    made
}

/// Slips of kinds that the corpus' generator does not make.
fn more_slips(entry: &Entry, at: usize) -> Vec<Made> {
    let kinds: [(&str, Slip, Change); 3] = [
        ("digit mistyped", Slip::DigitMistyped, mistyped),
        ("digit dropped", Slip::DigitDropped, dropped),
        ("digit doubled", Slip::DigitDoubled, doubled),
    ];
    kinds.into_iter().filter_map(|kind| of_digits(entry, kind, at)).collect()
}

fn of_digits(entry: &Entry, (kind, slip, change): (&str, Slip, Change), seed: usize) -> Option<Made> {
    let changed = |number: Number| change(&number.to_string(), seed).and_then(|text| text.parse().ok());
    let seen = one_number(entry.stated, changed)?;
    (seen.figures.middle() > 0.0).then(|| Made::new(kind, slip, seen))
}

/// The value with one of its numbers changed: of a range, the lower or the higher end where that can be.
fn one_number(value: Value, change: impl Fn(Number) -> Option<Number>) -> Option<Value> {
    let figures = match value.figures {
        Figures::One(n) => Figures::One(change(n)?),
        Figures::Around(n, off) => Figures::Around(change(n)?, off),
        Figures::Range(a, b) => match (change(a), change(b)) {
            (Some(low), _) if low != a => Figures::Range(low, b),
            (_, high) => Figures::Range(a, high?),
        },
    };
    Some(Value { figures, ..value })
}

fn scaled(value: Value, factor: f64) -> Option<Value> {
    let number = |n: Number| Number::from_f64(n.value() * factor, 8);
    let figures = match value.figures {
        Figures::One(n) => Figures::One(number(n)),
        Figures::Around(n, off) => Figures::Around(number(n), number(off)),
        Figures::Range(a, b) => Figures::Range(number(a), number(b)),
    };
    let positive = figures.numbers().all(|n| n.value() > 0.0);
    positive.then_some(Value { figures, ..value })
}

fn teen_or_ty(text: &str, _: usize) -> Option<String> {
    if text.contains('.') || text.len() < 2 {
        return None;
    }
    let (head, tail) = text.split_at(text.len() - 2);
    let digits: Vec<char> = tail.chars().collect();
    match (digits[0], digits[1]) {
        ('1', ones @ '3'..='9') => Some(format!("{head}{ones}0")),
        (tens @ '3'..='9', '0') => Some(format!("{head}1{tens}")),
        _ => None,
    }
}

fn transposed(text: &str, seed: usize) -> Option<String> {
    let digits: Vec<char> = text.chars().collect();
    let fits = |i: &usize| {
        let (a, b) = (digits[*i], digits[*i + 1]);
        a.is_ascii_digit() && b.is_ascii_digit() && a != b && !(*i == 0 && b == '0')
    };
    let places: Vec<usize> = (0..digits.len().saturating_sub(1)).filter(fits).collect();
    let place = *places.get(seed % places.len().max(1))?;
    let mut swapped = digits;
    swapped.swap(place, place + 1);
    Some(swapped.into_iter().collect())
}

fn misread(text: &str, seed: usize, pair: [char; 2]) -> Option<String> {
    let places: Vec<usize> = text.char_indices().filter(|(_, c)| pair.contains(c)).map(|(i, _)| i).collect();
    let place = *places.get(seed % places.len().max(1))?;
    let other = if text[place..].starts_with(pair[0]) { pair[1] } else { pair[0] };
    Some(format!("{}{other}{}", &text[..place], &text[place + 1..]))
}

/// The same number with another unit.
fn units(value: Value) -> impl Iterator<Item = Made> {
    use TorqueUnit::{KilogramMeter, NewtonMeter, PoundFoot, PoundInch};
    let swaps = [
        (NewtonMeter, PoundFoot),
        (PoundFoot, NewtonMeter),
        (PoundFoot, PoundInch),
        (PoundInch, PoundFoot),
        (NewtonMeter, KilogramMeter),
        (KilogramMeter, NewtonMeter),
    ];
    swaps.into_iter().filter(move |(stated, _)| *stated == value.unit).map(move |(stated, written)| {
        let kind = format!("{stated} written as {written}");
        Made::new(kind, Slip::WrongUnit, Value { unit: written, ..value })
    })
}

/// The values of the rows above and below in the column, as the document has them in order.
fn neighbours(list: &[Entry], at: usize) -> Vec<Made> {
    let entry = &list[at];
    let in_column = |other: &&Entry| other.column == entry.column && other.stated.unit == entry.stated.unit;
    let above = list[..at].iter().rev().find(in_column);
    let below = list[at + 1..].iter().find(in_column);
    let row = |kind: &str, other: &Entry| Made::new(kind, Slip::NextSize, other.stated);
    let mut made = Vec::new();
    made.extend(above.filter(|other| other.size != entry.size).map(|other| row("row above", other)));
    made.extend(below.filter(|other| other.size != entry.size).map(|other| row("row below", other)));
    made
}
