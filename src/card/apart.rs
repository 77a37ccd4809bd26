//! What tells several kinds of fastener apart.

use crate::record::{Fastener, Head};

/// What tells several kinds of fastener apart, what is seen first coming first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Apart {
    /// The fields in which they differ.
    pub differences: Vec<Difference>,
    /// What to look at before a value is set.
    pub caution: String,
}

/// A field in which fasteners differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// The field of the record.
    pub field: &'static str,
    /// What it is called.
    pub words: &'static str,
    /// The value of each fastener, in their order; none where it is not stated.
    pub values: Vec<Option<String>>,
}

/// Something that is looked at.
#[derive(Debug)]
pub struct Sight {
    /// The field of the record.
    pub field: &'static str,
    /// What it is called.
    pub words: &'static str,
    /// What a fastener shows there, if it is stated.
    pub seen: fn(&Fastener) -> Option<String>,
}

macro_rules! sights {
    ($( $field:literal, $words:literal, $seen:expr; )*) => {
        /// What is looked at, what is seen first coming first.
        pub const SIGHTS: &[Sight] = &[$( Sight { field: $field, words: $words, seen: $seen } ),*];
    };
}

sights! {
    "head", "head", |fastener| fastener.head.map(|head| head.words());
    "drive", "drive", |fastener| fastener.drive.as_ref().map(ToString::to_string);
    "length", "length", |fastener| fastener.length.map(|length| length.to_string());
    "thread", "thread", |fastener| Some(fastener.thread.to_string());
    "property_class", "class", |fastener| fastener.property_class.as_ref().map(ToString::to_string);
    "hand", "hand", |fastener| Some(fastener.hand().to_string());
    "finish", "finish", |fastener| fastener.finish.as_ref().map(ToString::to_string);
    "part_no", "part number", |fastener| fastener.part_no.as_ref().map(ToString::to_string);
    "fits", "fits", |fastener| fastener.fits.as_ref().map(ToString::to_string);
    "positions", "positions", |fastener| fastener.positions.as_ref().map(ToString::to_string);
}

/// What tells these fasteners apart; nothing for fewer than two.
#[must_use]
pub fn tell_apart(fasteners: &[&Fastener]) -> Option<Apart> {
    if fasteners.len() < 2 {
        return None;
    }
    let differences = differences(fasteners);
    let shown = |Difference { field, words, values }: &Difference| {
        caution_between(fasteners.len(), field, words, values.iter().map(Option::as_deref))
    };
    let caution = differences.first().map_or_else(|| caution_of_none(fasteners.len()), shown);
    Some(Apart { differences, caution })
}

/// What tells the first of these, which alone sits where it was asked, from the others of its joint, which have other heads;
/// nothing if there are none.
#[must_use]
pub fn tell_first_apart(fasteners: &[&Fastener]) -> Option<Apart> {
    let (first, others) = fasteners.split_first().filter(|(_, others)| !others.is_empty())?;
    let caution = caution_of_heads(first.head, others.iter().map(|other| other.head));
    Some(Apart { differences: differences(fasteners), caution })
}

fn differences(fasteners: &[&Fastener]) -> Vec<Difference> {
    let difference = |Sight { field, words, seen }: &Sight| {
        let values: Vec<Option<String>> = fasteners.iter().map(|fastener| seen(fastener)).collect();
        let differ = values.iter().any(|value| *value != values[0]);
        differ.then_some(Difference { field, words, values })
    };
    SIGHTS.iter().filter_map(difference).collect()
}

/// What to look at where several answer that differ in no sight.
#[must_use]
pub fn caution_of_none(count: usize) -> String {
    format!(
        "{count} kinds of fastener answer and the book does not tell them apart. Do not go by this entry; look in its source."
    )
}

/// What to look at where several answer, by the first sight in which they differ, and what each shows there.
#[must_use]
pub fn caution_between<'v>(
    count: usize,
    field: &str,
    words: &str,
    values: impl Iterator<Item = Option<&'v str>>,
) -> String {
    let mut values: Vec<&str> = values.map(|value| value.unwrap_or("not stated")).collect();
    values.dedup();
    let check = if field == "head" { "Check the head" } else { "Check which one it is" };
    format!("{count} kinds of fastener answer: {words} {}. {check} before setting a value.", values.join(" or "))
}

/// What to look at where one answers, and others of its joint have these other heads.
#[must_use]
pub fn caution_of_heads(here: Option<Head>, others: impl Iterator<Item = Option<Head>>) -> String {
    let word = |head: Option<Head>| head.map_or("not stated", Head::word);
    let mut heads: Vec<&str> = others.map(word).collect();
    heads.sort_unstable();
    heads.dedup();
    let (heads, here) = (heads.join(", "), word(here));
    let caution =
        format!("This joint has other heads too ({heads}). Check that the head here is {here} before setting a value.");
    // The words of records have hyphens where people write none; there is no other in it.
    caution.replace('-', " ")
}
