//! Questions to the book: filters, order, pages, facets.
//!
//! [`Query::parse`] reads a question from `key=value` pairs, the same way for the command line and for HTTP,
//! and names all faults at once. [`evaluate()`] answers it by looking at every record: that is the meaning of a
//! query, and whatever answers faster (the indexes of the store) is tested against it.
//!
//! This module reads no store and judges no number.

mod cursor;
mod evaluate;
mod field;
mod filter;
mod moment;
mod order;
mod parameter;
mod parse;
mod stored;
mod words;

pub use cursor::{Cursor, NotACursor};
pub use evaluate::{Answer, Facet, FacetValue, evaluate};
pub use field::Field;
pub use filter::{Filter, TorqueFilter, final_torque};
pub use moment::Moment;
pub use order::{Sort, SortField, sort_key, torque_bytes};
pub use parameter::{PARAMETERS, Parameter};
pub use parse::{TEXT_LENGTH_MAX, members_named, members_of};
pub use stored::{Page, State, Stored};
pub use words::{Vocabulary, each_word_of, expanded, folded_words, words_of};

use crate::record::Id;
use std::collections::BTreeMap;
use std::sync::Arc;

/// How many records a page holds when the question does not say.
pub const TAKE_DEFAULT: usize = 50;
/// The most records of one page.
pub const TAKE_MAX: usize = 500;
/// The most ids in one question.
pub const IDS_MAX: usize = 100;

/// A question to the book. The default one asks for everything that is current, by id.
#[derive(Debug, Clone, PartialEq)]
pub struct Query {
    /// Just these records, in this order; missing ones are named in the answer.
    pub ids: Vec<Id>,
    /// Words, folded: every one must begin some word of the record.
    pub words: Vec<String>,
    /// What single fields must be; at most one entry for a field.
    pub filters: Vec<Filter>,
    /// What the final torque must be.
    pub torque: TorqueFilter,
    /// The moment whose state of the book is asked for; absent means now.
    pub as_of: Option<jiff::Timestamp>,
    /// The order, the id last of all.
    pub sort: Vec<Sort>,
    /// How many records the page may hold, 1 to [`TAKE_MAX`].
    pub take: usize,
    /// Where the page before this one ended.
    pub after: Option<Cursor>,
    /// The fields whose values are to be counted.
    pub facets: Vec<Field>,
    /// Whether all matches are to be counted.
    pub count: bool,
    /// The members of the records that are to be shown, besides those that always are; absent means all.
    pub members: Option<Arc<[String]>>,
    /// What was read in another form than it was written: the parameter, and how it was understood.
    pub read_as: BTreeMap<String, String>,
}

impl Default for Query {
    fn default() -> Self {
        Self {
            ids: Vec::new(),
            words: Vec::new(),
            filters: Vec::new(),
            torque: TorqueFilter::default(),
            as_of: None,
            sort: Vec::new(),
            take: TAKE_DEFAULT,
            after: None,
            facets: Vec::new(),
            count: false,
            members: None,
            read_as: BTreeMap::new(),
        }
    }
}

impl Query {
    /// The question with a field narrowed to one value in its canonical form, beside what was asked of it before.
    #[must_use]
    pub fn with(mut self, field: Field, value: impl Into<String>) -> Self {
        self.filter_mut(field).any.push(value.into());
        self
    }

    /// The filter of a field, made if there is none.
    pub fn filter_mut(&mut self, field: Field) -> &mut Filter {
        let at = self.filters.iter().position(|filter| filter.field == field).unwrap_or_else(|| {
            self.filters.push(Filter::new(field));
            self.filters.len() - 1
        });
        &mut self.filters[at]
    }

    /// The filter of a field, if it has one.
    #[must_use]
    pub fn filter(&self, field: Field) -> Option<&Filter> {
        self.filters.iter().find(|filter| filter.field == field)
    }

    /// A number that two questions share if they ask for the same records in the same order, whatever the page.
    #[must_use]
    pub fn fingerprint(&self) -> u64 {
        let mut told = Told(Vec::with_capacity(1024));
        told.texts(self.ids.iter().map(Id::as_str));
        told.texts(self.words.iter().map(String::as_str));
        let mut filters: Vec<&Filter> = self.filters.iter().collect();
        filters.sort_by_key(|filter| filter.field);
        told.number(filters.len() as u64);
        for Filter { field, any, not, has, starts } in filters {
            told.texts([field.name()]);
            [any, not].iter().for_each(|values| told.texts(values.iter().map(String::as_str)));
            told.texts(has.iter().map(|has| if *has { "true" } else { "false" }));
            told.texts(starts.iter().map(String::as_str));
        }
        let TorqueFilter { min, max, has } = self.torque;
        [min, max].iter().for_each(|end| told.numbers(end.iter().map(|torque| torque.newton_meters().to_bits())));
        told.numbers(has.iter().map(|has| u64::from(*has)));
        told.texts(self.as_of.map(|moment| moment.to_string()).as_deref());
        told.texts(self.sort.iter().flat_map(|sort| [sort.field.name(), if sort.descending { "-" } else { "" }]));
        told.texts(self.facets.iter().map(|field| field.name()));
        told.digest()
    }
}

/// What was told of a question: lists, each with its length before it, so that no two questions say the same.
struct Told(Vec<u8>);

impl Told {
    fn number(&mut self, number: u64) {
        self.0.extend_from_slice(&number.to_be_bytes());
    }

    fn numbers(&mut self, numbers: impl IntoIterator<Item = u64>) {
        let start = self.begin();
        let count = numbers.into_iter().map(|number| self.number(number)).count();
        self.end(start, count);
    }

    fn texts<'t>(&mut self, texts: impl IntoIterator<Item = &'t str>) {
        let start = self.begin();
        let mut count = 0;
        for text in texts {
            self.number(text.len() as u64);
            self.0.extend_from_slice(text.as_bytes());
            count += 1;
        }
        self.end(start, count);
    }

    /// Leaves room for the length of a list.
    fn begin(&mut self) -> usize {
        self.number(0);
        self.0.len()
    }

    fn end(&mut self, start: usize, count: usize) {
        self.0[start - 8..start].copy_from_slice(&(count as u64).to_be_bytes());
    }

    fn digest(&self) -> u64 {
        use sha2::{Digest, Sha256};
        let digest = Sha256::digest(&self.0);
        digest.iter().take(8).fold(0, |number, byte| number << 8 | u64::from(*byte))
    }
}

#[cfg(test)]
mod tests;
