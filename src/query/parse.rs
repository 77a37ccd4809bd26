//! Reading a question from pairs of parameter and value, all faults at once.

use super::cursor::Cursor;
use super::field::{Field, read_truth};
use super::moment::Moment;
use super::order::{Sort, SortField};
use super::parameter::{About, PARAMETERS, Parameter, Test, parameter};
use super::words::folded_words;
use super::{IDS_MAX, Query, TAKE_MAX};
use crate::record::{Fastener, Fault, Id, Joint, Kind, Place, Refused, did_you_mean, near_words};
use crate::standards::PropertyClass;
use crate::units::{Number, Stated, StatedTorque, Torque, TorqueUnit, Unit};
use std::sync::Arc;

/// The most values in one list of a question.
const VALUES_MAX: usize = 100;
/// The most words that are looked for at once.
const WORDS_MAX: usize = 50;
/// The most characters of one value, and of the words together.
pub const TEXT_LENGTH_MAX: usize = 200;
/// The greatest number that is asked for as a torque.
const TORQUE_MAX: f64 = 100_000.0;

impl Query {
    /// Reads a question. Each parameter may be given once.
    ///
    /// # Errors
    /// All faults at once: unknown parameters with near names, values that can't be read, parameters given twice.
    /// The place of a fault is `/` and the name of the parameter.
    pub fn parse<K: AsRef<str>, V: AsRef<str>>(pairs: impl IntoIterator<Item = (K, V)>) -> Result<Self, Refused> {
        Self::read(pairs, false)
    }

    /// Reads a question and passes over unknown parameters.
    ///
    /// # Errors
    /// As [`Query::parse`], without the unknown ones.
    pub fn parse_leniently<K: AsRef<str>, V: AsRef<str>>(
        pairs: impl IntoIterator<Item = (K, V)>,
    ) -> Result<Self, Refused> {
        Self::read(pairs, true)
    }

    fn read<K: AsRef<str>, V: AsRef<str>>(
        pairs: impl IntoIterator<Item = (K, V)>,
        lenient: bool,
    ) -> Result<Self, Refused> {
        let mut reader = Reader::default();
        let mut seen = Vec::new();
        for (name, value) in pairs {
            let (name, value) = (name.as_ref(), value.as_ref());
            match parameter(name) {
                Some(parameter) if seen.contains(&parameter.name) => reader.fault_twice(name, value),
                Some(parameter) => {
                    seen.push(parameter.name);
                    reader.take(parameter, value);
                }
                None if lenient => {}
                None => reader.faults.push(unknown(name)),
            }
        }
        reader.finish()
    }
}

fn unknown(name: &str) -> Fault {
    let detail = match name.split_once('.') {
        Some((field, test)) if parameter(field).is_some() => format!("\"{field}\" has no test \"{test}\""),
        _ => format!("there is no parameter \"{name}\""),
    };
    let known: Vec<&str> = PARAMETERS.iter().map(|parameter| parameter.name).collect();
    let mut fault = Fault::new("unknown-parameter", &Place::root().below(name), detail).given(name);
    fault.hint = did_you_mean(name, &known);
    if let Some((field, _)) = name.split_once('.')
        && fault.hint.is_none()
    {
        fault.hint = did_you_mean(field, &known);
    }
    fault
}

/// The members that records can have, of this kind or of both.
#[must_use]
pub fn members_of(kind: Option<Kind>) -> Vec<&'static str> {
    let both = [(Kind::Fastener, Fastener::FIELDS), (Kind::Joint, Joint::FIELDS)];
    let fields = both.into_iter().filter(|(of, _)| kind.is_none_or(|kind| kind == *of)).flat_map(|(_, fields)| fields);
    let mut members: Vec<&str> = Vec::new();
    for name in fields.copied().chain(["book"]) {
        if !members.contains(&name) {
            members.push(name);
        }
    }
    members
}

/// The most names in one list of members: no record has as many.
const MEMBERS_MAX: usize = 100;

/// The members of records that are named in a list.
///
/// # Errors
/// Every name that no record of this kind has, with those that are near it.
pub fn members_named(name: &str, value: &str, kind: Option<Kind>) -> Result<Arc<[String]>, Refused> {
    let known = members_of(kind);
    let members: Vec<String> = value.split(',').map(|member| member.trim().to_owned()).collect();
    let fault = |member: &String| {
        let of = kind.map_or("record", Kind::word);
        let detail = format!("a {of} has no member \"{member}\"");
        let mut fault = Fault::new("unreadable", &Place::root().below(name), detail).given(member);
        fault.hint = did_you_mean(member, &known);
        fault
    };
    let mut faults: Vec<Fault> = members.iter().filter(|member| !known.contains(&member.as_str())).map(fault).collect();
    if members.len() > MEMBERS_MAX {
        let detail = format!("at most {MEMBERS_MAX} members can be named, these are {}", members.len());
        faults = vec![Fault::new("unreadable", &Place::root().below(name), detail).given(value)];
    }
    if faults.is_empty() { Ok(members.into()) } else { Err(Refused(faults)) }
}

#[derive(Default)]
struct Reader {
    query: Query,
    faults: Vec<Fault>,
    torque: [Option<(&'static str, String)>; 2],
    unit: Option<TorqueUnit>,
}

impl Reader {
    fn take(&mut self, parameter: &'static Parameter, value: &str) {
        let name = parameter.name;
        let is_long = |item: &str| item.chars().count() > TEXT_LENGTH_MAX;
        let is_text = matches!(parameter.about, About::Words | About::Field(..));
        if is_text && (value.split(',').any(is_long) || (parameter.about == About::Words && is_long(value))) {
            self.unreadable(name, value, format!("a value has at most {TEXT_LENGTH_MAX} characters"), "");
            return;
        }
        match parameter.about {
            About::Field(field, test) => self.take_field(name, field, test, value),
            About::Words => self.take_words(name, value),
            About::Ids => self.take_ids(name, value),
            About::TorqueMin => self.torque[0] = Some((name, value.to_owned())),
            About::TorqueMax => self.torque[1] = Some((name, value.to_owned())),
            About::TorqueUnit => {
                self.unit = TorqueUnit::from_name(value);
                if self.unit.is_none() {
                    self.unreadable(name, value, format!("\"{value}\" is not a unit of torque"), TorqueUnit::symbols());
                }
            }
            About::TorqueHas => self.query.torque.has = self.truth(name, value),
            About::AsOf => self.take_moment(name, value),
            About::Sort => self.take_sort(name, value),
            About::Take => self.take_take(name, value),
            About::After => self.take_cursor(name, value),
            About::Count => match value {
                "exact" => self.query.count = true,
                "none" => self.query.count = false,
                _ => self.unreadable(name, value, "count is exact or none", "exact, none"),
            },
            About::Facets => self.take_facets(name, value),
            About::Members => match members_named(name, value, None) {
                Ok(members) => self.query.members = Some(members),
                Err(Refused(faults)) => self.faults.extend(faults),
            },
        }
    }

    fn take_field(&mut self, name: &'static str, field: Field, test: Test, value: &str) {
        match test {
            Test::Has => {
                let has = self.truth(name, value);
                self.query.filter_mut(field).has = has;
            }
            Test::Starts => {
                let start = value.trim().to_lowercase();
                if start.is_empty() {
                    self.unreadable(name, value, "the beginning is empty", "text");
                } else {
                    self.query.filter_mut(field).starts = Some(start);
                }
            }
            Test::Any | Test::Not => {
                let values = self.values(name, field, value);
                let filter = self.query.filter_mut(field);
                if test == Test::Any { filter.any = values } else { filter.not = values }
            }
        }
    }

    /// The values of a list in canonical form, each once; what reads otherwise than written is noted.
    fn values(&mut self, name: &'static str, field: Field, value: &str) -> Vec<String> {
        let mut values = Vec::new();
        for item in items_of(field, value) {
            match field.read(&item) {
                Ok(read) if values.contains(&read) => {}
                Ok(read) => values.push(read),
                Err(error) => {
                    let allowed = field.words().map(|words| words.join(", ")).unwrap_or_default();
                    self.unreadable(name, &item, error, allowed);
                }
            }
        }
        if values.len() > VALUES_MAX {
            self.unreadable(name, value, format!("at most {VALUES_MAX} values can be asked for at once"), "");
        }
        let written: Vec<&str> = value.split(',').map(str::trim).collect();
        let ignores_case = matches!(field, Field::Variant | Field::PartNo | Field::Document);
        if written != values && !ignores_case {
            self.query.read_as.insert(name.to_owned(), values.join(","));
        }
        values
    }

    fn take_words(&mut self, name: &'static str, value: &str) {
        let words = folded_words(value);
        if words.len() > WORDS_MAX {
            self.unreadable(name, value, format!("at most {WORDS_MAX} words can be looked for at once"), "");
        } else if words.is_empty() {
            self.unreadable(name, value, "there is no letter or digit in it", "words");
        }
        self.query.words = words;
    }

    fn take_ids(&mut self, name: &'static str, value: &str) {
        let mut ids: Vec<Id> = Vec::new();
        for item in value.split(',').map(str::trim) {
            match item.parse() {
                Ok(id) if ids.contains(&id) => {}
                Ok(id) => ids.push(id),
                Err(error) => self.unreadable(name, item, format!("{error}"), "ids joined by commas"),
            }
        }
        if ids.len() > IDS_MAX {
            let detail = format!("at most {IDS_MAX} ids can be asked for at once, these are {}", ids.len());
            self.unreadable(name, value, detail, "");
        }
        self.query.ids = ids;
    }

    fn take_moment(&mut self, name: &'static str, value: &str) {
        let value = value.trim();
        let moment = value.parse().ok().map(|Moment(moment)| moment);
        if let Some(moment) = moment.filter(|_| value.parse::<jiff::Timestamp>().is_err()) {
            self.query.read_as.insert(name.to_owned(), moment.to_string());
        }
        self.query.as_of = moment;
        if moment.is_none() {
            let detail = format!("\"{value}\" is not a moment");
            self.unreadable(name, value, detail, "a moment such as 2026-03-01T00:00:00Z, or a day");
        }
    }

    fn take_sort(&mut self, name: &'static str, value: &str) {
        for item in value.split(',').map(str::trim) {
            let (descending, word) = item.strip_prefix('-').map_or((false, item), |word| (true, word));
            let field = SortField::ALL.iter().copied().find(|field| field.name() == word);
            match field {
                Some(field) if self.query.sort.iter().any(|sort| sort.field == field) => {
                    let detail = format!("{word} is named twice in the order");
                    let fault = Fault::new("contradiction", &Place::root().below(name), detail);
                    self.faults.push(fault.given(item).hint("Keep one of them"));
                }
                Some(field) => self.query.sort.push(Sort { field, descending }),
                None => {
                    let names: Vec<&str> = SortField::ALL.iter().map(|field| field.name()).collect();
                    self.unknown_name(name, word, &names, "can't be ordered by");
                }
            }
        }
    }

    fn take_facets(&mut self, name: &'static str, value: &str) {
        let names: Vec<&str> = Field::ALL.iter().map(|field| field.name()).collect();
        for item in value.split(',').map(str::trim) {
            match Field::ALL.iter().copied().find(|field| field.name() == item) {
                Some(field) if self.query.facets.contains(&field) => {}
                Some(field) => self.query.facets.push(field),
                None => self.unknown_name(name, item, &names, "is not a field that can be counted"),
            }
        }
    }

    fn unknown_name(&mut self, name: &'static str, word: &str, names: &[&str], what: &str) {
        self.unreadable(name, word, format!("\"{word}\" {what}"), names.join(", "));
        if let Some(fault) = self.faults.last_mut() {
            fault.hint = did_you_mean(word, names);
        }
    }

    fn take_take(&mut self, name: &'static str, value: &str) {
        match value.trim().parse().ok().filter(|take| (1..=TAKE_MAX).contains(take)) {
            Some(take) => self.query.take = take,
            None => {
                let detail = format!("a page holds 1 to {TAKE_MAX} records");
                self.unreadable(name, value, detail, format!("1 to {TAKE_MAX}"));
            }
        }
    }

    fn take_cursor(&mut self, name: &'static str, value: &str) {
        match value.parse::<Cursor>() {
            Ok(cursor) => self.query.after = Some(cursor),
            Err(error) => {
                self.faults.push(
                    Fault::new("cursor-mismatch", &Place::root().below(name), "this is not a cursor of this book")
                        .given(value)
                        .hint(format!("{error}")),
                );
            }
        }
    }

    fn truth(&mut self, name: &'static str, value: &str) -> Option<bool> {
        let truth = read_truth(value);
        if let Err(error) = &truth {
            self.unreadable(name, value, error.clone(), "true, false");
        }
        truth.ok()
    }

    fn unreadable(&mut self, name: &str, given: &str, detail: impl Into<String>, allowed: impl Into<String>) {
        let mut fault = Fault::new("unreadable", &Place::root().below(name), detail).given(given);
        let allowed = allowed.into();
        if !allowed.is_empty() {
            let words: Vec<&str> = allowed.split(", ").collect();
            if near_words(given, words.iter().copied()).len() <= 3 {
                fault.hint = did_you_mean(given, &words);
            }
            fault.allowed = Some(allowed);
        }
        self.faults.push(fault);
    }

    fn fault_twice(&mut self, name: &str, value: &str) {
        let detail = format!("\"{name}\" is given twice");
        self.faults.push(
            Fault::new("given-twice", &Place::root().below(name), detail)
                .given(value)
                .hint("Join the values with a comma, or keep one"),
        );
    }

    fn torque_end(&mut self, at: usize) -> Option<Torque> {
        let (name, value) = self.torque[at].take()?;
        let within = |number: &Number| (0.0..=TORQUE_MAX).contains(&number.value());
        if let Some(number) = value.parse::<Number>().ok().filter(within) {
            let stated = Stated::new(number, self.unit.unwrap_or(TorqueUnit::NewtonMeter));
            self.query.read_as.insert(name.to_owned(), stated.to_string());
            return Some(stated.quantity());
        }
        match value.parse::<StatedTorque>() {
            Ok(stated) => Some(stated.quantity()),
            Err(_) => {
                let detail = format!("\"{value}\" is not a torque");
                self.unreadable(name, &value, detail, "a number that is not negative, or a torque such as 30 N·m");
                None
            }
        }
    }

    fn finish(mut self) -> Result<Query, Refused> {
        self.query.torque.min = self.torque_end(0);
        self.query.torque.max = self.torque_end(1);
        if let (Some(min), Some(max)) = (self.query.torque.min, self.query.torque.max)
            && min.newton_meters() > max.newton_meters()
        {
            let detail = "torque.min is greater than torque.max";
            self.faults.push(
                Fault::new("contradiction", &Place::root().below("torque.max"), detail).hint("Swap the two values"),
            );
        }
        if self.faults.is_empty() { Ok(self.query) } else { Err(Refused(self.faults)) }
    }
}

/// The items of a list. A comma that is a decimal comma (`m8x1,25`, `8,8`) does not part two items.
fn items_of(field: Field, value: &str) -> Vec<String> {
    let mut items: Vec<String> = Vec::new();
    for piece in value.split(',').map(str::trim).filter(|piece| !piece.is_empty()) {
        match items.last_mut() {
            Some(before) if is_decimal_comma(field, before, piece) => {
                before.push('.');
                before.push_str(piece);
            }
            _ => items.push(piece.to_owned()),
        }
    }
    if items.is_empty() { vec![String::new()] } else { items }
}

fn is_decimal_comma(field: Field, before: &str, piece: &str) -> bool {
    let digits = piece.bytes().all(|b| b.is_ascii_digit()) && before.ends_with(|c: char| c.is_ascii_digit());
    match field {
        Field::Thread => digits,
        Field::PropertyClass => {
            digits && format!("{before}.{piece}").parse::<PropertyClass>().is_ok_and(|class| class.is_known())
        }
        _ => false,
    }
}
