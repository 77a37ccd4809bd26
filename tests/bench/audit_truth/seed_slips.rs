//! A second generator of slips, over the demo yard: what happens when a workshop book is dictated, read off and typed.

use crate::seed::Yard;
use clampbook::record::{Fastener, Record, Stage};
use clampbook::units::{Number, TorqueUnit, Unit};
use serde_json::{Value as Json, json};

/// A record after one slip, and what should stand there.
pub struct Slipped {
    pub kind: &'static str,
    pub record: Record,
    /// The stage that went wrong.
    pub stage: usize,
    /// What was meant, as the audit would name it.
    pub meant: String,
    /// The same torque as the other column of the source prints it, where the slip read that.
    pub also: Option<String>,
}

/// What a slip makes of a torque; nothing where it cannot happen.
type Change = fn(&Place) -> Option<String>;

/// The kinds in the order in which they are tried.
const KINDS: [(&str, Change); 16] = [
    ("heard: teen as ty", |place| place.digits(teen_as_ty)),
    ("heard: ty as teen", |place| place.digits(ty_as_teen)),
    ("heard: tens and ones swapped", |place| place.digits(swapped_by_ear)),
    ("two digits transposed", |place| place.digits(transposed)),
    ("one digit misread", |place| place.digits(misread)),
    ("one digit mistyped (next key)", |place| place.digits(mistyped)),
    ("a digit dropped", |place| place.digits(dropped)),
    ("a digit doubled", |place| place.digits(doubled)),
    ("point lost", |place| place.times(10.0)),
    ("point gained", |place| place.times(0.1)),
    ("decimal comma as thousands", |place| place.text().contains('.').then(|| place.times(1000.0))?),
    ("number right, unit wrong", |place| place.other_unit()),
    ("number from the other unit's column", |place| place.other_column()),
    ("value of the next size of the joint", |place| place.next_size()),
    ("value of another fastener of the joint", |place| place.other_fastener()),
    ("torque of an earlier stage", |place| place.earlier_stage()),
];

/// One torque of one fastener of the yard.
struct Place<'y> {
    yard: &'y Yard,
    fastener: &'y Fastener,
    stage: usize,
    number: Number,
    unit: TorqueUnit,
    seed: usize,
}

/// Every slip that can happen to the last torque of this fastener.
pub fn slips(yard: &Yard, fastener: &Fastener, seed: usize) -> Vec<Slipped> {
    let Some(place) = Place::of(yard, fastener, seed) else { return Vec::new() };
    let meant = format!("{} {}", place.number, place.unit);
    let torque = |(kind, change): (&'static str, Change)| {
        let seen = change(&place).filter(|seen| *seen != meant)?;
        let stage = place.stage_with(&seen);
        let record = place.with_stages(place.stage, vec![stage]);
        let also = kind.contains("column").then(|| place.also(&seen));
        Some(Slipped { kind, record, stage: place.stage, meant: meant.clone(), also })
    };
    KINDS.into_iter().filter_map(torque).chain(place.angle_as_torque()).collect()
}

impl<'y> Place<'y> {
    /// The last torque, where it is a single number.
    fn of(yard: &'y Yard, fastener: &'y Fastener, seed: usize) -> Option<Self> {
        let torques: Vec<_> =
            fastener.stages.iter().enumerate().filter_map(|(i, stage)| Some((i, stage.torque()?))).collect();
        let (stage, setting) = *torques.last()?;
        let [number] = setting.numbers()[..] else { return None };
        let plain = setting.to_string() == format!("{number} {}", setting.unit());
        plain.then_some(Self { yard, fastener, stage, number, unit: setting.unit(), seed })
    }

    fn text(&self) -> String {
        self.number.to_string()
    }

    fn stated(&self, number: &str) -> String {
        format!("{number} {}", self.unit)
    }

    fn digits(&self, change: fn(&str, usize) -> Option<String>) -> Option<String> {
        let changed = change(&self.text(), self.seed)?;
        let number: Number = changed.parse().ok()?;
        (number.value() > 0.0).then(|| self.stated(&changed))
    }

    fn times(&self, factor: f64) -> Option<String> {
        let number = Number::from_f64(self.number.value() * factor, 8);
        (number.value() > 0.0).then(|| self.stated(&number.to_string()))
    }

    fn other_unit(&self) -> Option<String> {
        let others: Vec<TorqueUnit> = match self.unit {
            TorqueUnit::NewtonMeter => vec![TorqueUnit::PoundFoot, TorqueUnit::KilogramMeter],
            TorqueUnit::PoundFoot => vec![TorqueUnit::NewtonMeter, TorqueUnit::PoundInch],
            TorqueUnit::PoundInch => vec![TorqueUnit::PoundFoot],
            _ => vec![TorqueUnit::NewtonMeter],
        };
        Some(format!("{} {}", self.number, others[self.seed % others.len()]))
    }

    /// The number of the same torque in the other unit, written with this unit.
    fn other_column(&self) -> Option<String> {
        let other = if self.unit == TorqueUnit::NewtonMeter { TorqueUnit::PoundFoot } else { TorqueUnit::NewtonMeter };
        let value = self.number.value() * self.unit.in_base() / other.in_base();
        Some(self.stated(&Number::from_f64(value.round().max(1.0), 4).to_string()))
    }

    /// The seen number with the unit that it has in the other column.
    fn also(&self, seen: &str) -> String {
        let other = if self.unit == TorqueUnit::NewtonMeter { TorqueUnit::PoundFoot } else { TorqueUnit::NewtonMeter };
        format!("{} {other}", seen.split(' ').next().unwrap_or_default())
    }

    fn next_size(&self) -> Option<String> {
        self.of_others(|other| {
            other.property_class == self.fastener.property_class
                && other.thread != self.fastener.thread
                && other.source.as_ref().map(|source| &source.document)
                    == self.fastener.source.as_ref().map(|source| &source.document)
        })
    }

    fn other_fastener(&self) -> Option<String> {
        self.of_others(|other| other.joint == self.fastener.joint && other.id != self.fastener.id)
    }

    fn of_others(&self, fits: impl Fn(&Fastener) -> bool) -> Option<String> {
        let others: Vec<&Fastener> = self.yard.fasteners().filter(|other| fits(other)).collect();
        let other = others.get(self.seed % others.len().max(1))?;
        other.stages.iter().filter_map(Stage::torque).next_back().map(|torque| torque.to_string())
    }

    fn earlier_stage(&self) -> Option<String> {
        let earlier = self.fastener.stages[..self.stage].iter().filter_map(Stage::torque).next_back()?;
        Some(earlier.to_string())
    }

    /// `20 N·m + 90°` entered as `20 N·m` and `90 N·m`.
    fn angle_as_torque(&self) -> Option<Slipped> {
        let stage = &self.fastener.stages[self.stage];
        let [turn] = stage.turns() else { return None };
        let [degrees] = turn.numbers()[..] else { return None };
        let (torque, typed) = (self.stated(&self.text()), self.stated(&degrees.to_string()));
        let record = self.with_stages(self.stage, vec![torque, typed]);
        let meant = format!("+ {degrees}°");
        Some(Slipped { kind: "angle typed as torque", record, stage: self.stage + 1, meant, also: None })
    }

    /// The stage with another torque.
    fn stage_with(&self, torque: &str) -> String {
        let turns = self.fastener.stages[self.stage].turns().iter().map(|turn| format!(" + {turn}"));
        format!("{torque}{}", turns.collect::<String>())
    }

    fn with_stages(&self, at: usize, instead: Vec<String>) -> Record {
        let mut record = serde_json::to_value(self.fastener).expect("a record can be written");
        let stages = record["stages"].as_array_mut().expect("stages are a list");
        stages.splice(at..=at, instead.into_iter().map(Json::String));
        record["kind"] = json!("fastener");
        Record::from_json(&record).unwrap_or_else(|e| panic!("{e:?}: {record}"))
    }
}

fn teen_as_ty(text: &str, _: usize) -> Option<String> {
    let (head, tail) = last_two(text)?;
    match tail {
        ['1', ones @ '3'..='9'] => Some(format!("{head}{ones}0")),
        _ => None,
    }
}

fn ty_as_teen(text: &str, _: usize) -> Option<String> {
    let (head, tail) = last_two(text)?;
    match tail {
        [tens @ '3'..='9', '0'] => Some(format!("{head}1{tens}")),
        _ => None,
    }
}

fn swapped_by_ear(text: &str, _: usize) -> Option<String> {
    let (head, [tens, ones]) = last_two(text)?;
    (tens != ones && tens != '0' && ones != '0').then(|| format!("{head}{ones}{tens}"))
}

fn last_two(text: &str) -> Option<(&str, [char; 2])> {
    if text.contains('.') || text.len() < 2 {
        return None;
    }
    let (head, tail) = text.split_at(text.len() - 2);
    let mut digits = tail.chars();
    Some((head, [digits.next()?, digits.next()?]))
}

fn transposed(text: &str, seed: usize) -> Option<String> {
    let mut digits: Vec<char> = text.chars().collect();
    let fits = |i: &usize| {
        digits[*i].is_ascii_digit()
            && digits[i + 1].is_ascii_digit()
            && digits[*i] != digits[i + 1]
            && digits[i + 1] != '0'
    };
    let places: Vec<usize> = (0..digits.len().saturating_sub(1)).filter(fits).collect();
    let place = *places.get(seed % places.len().max(1))?;
    digits.swap(place, place + 1);
    Some(digits.into_iter().collect())
}

fn misread(text: &str, seed: usize) -> Option<String> {
    replaced(text, seed, |digit| match digit {
        '1' => Some('7'),
        '7' => Some('1'),
        '3' => Some('8'),
        '8' => Some('3'),
        '5' => Some('6'),
        '6' => Some('5'),
        _ => None,
    })
}

/// The key to the right, or the last one's left.
pub fn mistyped(text: &str, seed: usize) -> Option<String> {
    replaced(text, seed, |digit| match digit {
        '1' | '2' | '4' | '5' | '7' | '8' => char::from_digit(digit.to_digit(10)? + 1, 10),
        '3' | '6' | '9' => char::from_digit(digit.to_digit(10)? - 1, 10),
        _ => None,
    })
}

fn replaced(text: &str, seed: usize, other: fn(char) -> Option<char>) -> Option<String> {
    let places: Vec<(usize, char)> = text.char_indices().filter_map(|(i, digit)| Some((i, other(digit)?))).collect();
    let (place, digit) = *places.get(seed % places.len().max(1))?;
    Some(format!("{}{digit}{}", &text[..place], &text[place + 1..]))
}

pub fn dropped(text: &str, seed: usize) -> Option<String> {
    let places: Vec<usize> = text.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(i, _)| i).collect();
    let place = *places.get(seed % places.len().max(1))?;
    let left = format!("{}{}", &text[..place], &text[place + 1..]);
    (!left.is_empty() && !left.starts_with(['0', '.']) && !left.ends_with('.')).then_some(left)
}

pub fn doubled(text: &str, seed: usize) -> Option<String> {
    let places: Vec<(usize, char)> = text.char_indices().filter(|(_, c)| c.is_ascii_digit()).collect();
    let (place, digit) = *places.get(seed % places.len().max(1))?;
    Some(format!("{}{digit}{}", &text[..place], &text[place..]))
}
