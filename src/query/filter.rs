//! What a record must be to answer a question.

use super::field::Field;
use super::words::{expanded, words_of};
use super::{Query, Vocabulary};
use crate::record::{Fastener, Record, Stage};
use crate::units::Torque;

/// What one field must be: any of some values, none of others, there or not, beginning with a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filter {
    /// The field.
    pub field: Field,
    /// It must have one of these values; empty means any.
    pub any: Vec<String>,
    /// It must have none of these.
    pub not: Vec<String>,
    /// It must have a value, or none.
    pub has: Option<bool>,
    /// A value must begin with this, in lower case.
    pub starts: Option<String>,
}

impl Filter {
    /// The filter of a field that lets everything through.
    #[must_use]
    pub fn new(field: Field) -> Self {
        Self { field, any: Vec::new(), not: Vec::new(), has: None, starts: None }
    }

    /// Whether a record with these values in the field gets through.
    #[must_use]
    pub fn admits(&self, values: &[String]) -> bool {
        let open = self.field.none_means_all() && values.is_empty();
        let any = self.any.is_empty() || open || self.any.iter().any(|wanted| values.contains(wanted));
        let none_unwanted = !self.not.iter().any(|unwanted| values.contains(unwanted));
        let there = self.has.is_none_or(|has| has != values.is_empty());
        let begins =
            self.starts.as_ref().is_none_or(|start| values.iter().any(|value| value.to_lowercase().starts_with(start)));
        any && none_unwanted && there && begins
    }
}

/// What the final torque of a fastener must be; the ends belong to the range.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TorqueFilter {
    /// The least.
    pub min: Option<Torque>,
    /// The most.
    pub max: Option<Torque>,
    /// Whether there must be a torque at all, or none.
    pub has: Option<bool>,
}

/// How far apart two torques may lie and still be the same number in two units: 1 part in 10⁹.
const SAME_TORQUE: f64 = 1e-9;

impl TorqueFilter {
    /// Whether it lets everything through.
    #[must_use]
    pub fn is_open(&self) -> bool {
        *self == Self::default()
    }

    /// Whether a fastener with this final torque, from one value to another, gets through: the two ranges overlap.
    #[must_use]
    pub fn admits(&self, torque: Option<(Torque, Torque)>) -> bool {
        let there = self.has.is_none_or(|has| has == torque.is_some());
        let reaches = |(low, high): (Torque, Torque)| {
            self.least().is_none_or(|min| high.newton_meters() >= min)
                && self.most().is_none_or(|max| low.newton_meters() <= max)
        };
        let in_range = (self.min.is_none() && self.max.is_none()) || torque.is_some_and(reaches);
        there && in_range
    }

    /// The least torque in newton-metres, with room for the rounding of a unit.
    #[must_use]
    pub fn least(&self) -> Option<f64> {
        self.min.map(|min| min.newton_meters() * (1.0 - SAME_TORQUE))
    }

    /// The most torque in newton-metres, with room for the rounding of a unit.
    #[must_use]
    pub fn most(&self) -> Option<f64> {
        self.max.map(|max| max.newton_meters() * (1.0 + SAME_TORQUE))
    }
}

/// The torque of the last stage that states one, from its lower to its higher end.
#[must_use]
pub fn final_torque(fastener: &Fastener) -> Option<(Torque, Torque)> {
    fastener.stages.iter().rev().find_map(Stage::torque).map(crate::record::Setting::ends)
}

/// A question made ready to look at many records: its words spread out over the words of the book.
#[derive(Debug)]
pub(super) struct Sieve<'q> {
    query: &'q Query,
    words: Vec<Vec<String>>,
}

/// What a record fails in: nothing, one field, or more than that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fails {
    Nothing,
    Only(Field),
    More,
}

impl<'q> Sieve<'q> {
    pub(super) fn new(query: &'q Query, vocabulary: &Vocabulary) -> Self {
        let words = query.words.iter().map(|word| expanded(word, vocabulary)).collect();
        Self { query, words }
    }

    /// What the record fails in.
    pub(super) fn fails(&self, record: &Record) -> Fails {
        let torque = record.as_fastener().and_then(final_torque);
        if !self.query.torque.admits(torque) || !self.has_words(record) {
            return Fails::More;
        }
        let mut fails = Fails::Nothing;
        for filter in &self.query.filters {
            if !filter.admits(&filter.field.values(record)) {
                if fails != Fails::Nothing {
                    return Fails::More;
                }
                fails = Fails::Only(filter.field);
            }
        }
        fails
    }

    fn has_words(&self, record: &Record) -> bool {
        if self.words.is_empty() {
            return true;
        }
        let words = words_of(record);
        self.words.iter().all(|one_of| one_of.iter().any(|word| words.contains(word)))
    }
}
