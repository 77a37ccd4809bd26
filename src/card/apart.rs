//! What tells several kinds of fastener apart.

use crate::record::{Fastener, Head};

/// What tells several kinds of fastener apart, what is seen first coming first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Apart<T = String> {
    /// The fields in which they differ.
    pub differences: Vec<Difference<T>>,
    /// What to look at before a value is set.
    pub caution: String,
}

/// A field in which fasteners differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference<T = String> {
    /// The field of the record.
    pub field: &'static str,
    /// What it is called.
    pub words: &'static str,
    /// The value of each fastener, in their order; none where it is not stated.
    pub values: Vec<Option<T>>,
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
    Apart::of(fasteners.len(), SIGHTS, |sight, at| (SIGHTS[sight].seen)(fasteners[at]))
}

impl<T: PartialEq + AsRef<str>> Apart<T> {
    /// What tells so many fasteners apart by these sights; nothing for fewer than two. `seen` says what shows in one of the
    /// sights of one of them, by their numbers.
    #[must_use]
    pub fn of<'s>(
        count: usize,
        sights: impl IntoIterator<Item = &'s Sight>,
        seen: impl Fn(usize, usize) -> Option<T>,
    ) -> Option<Self> {
        if count < 2 {
            return None;
        }
        let differences = differences(count, sights, seen);
        let caution = caution(count, differences.first());
        Some(Self { differences, caution })
    }

    /// What tells the first one, which alone sits where it was asked, from the others of its joint, which have other heads;
    /// nothing if there are none. The heads are theirs, in their order.
    #[must_use]
    pub fn of_first<'s>(
        heads: &[Option<Head>],
        sights: impl IntoIterator<Item = &'s Sight>,
        seen: impl Fn(usize, usize) -> Option<T>,
    ) -> Option<Self> {
        let (first, others) = heads.split_first().filter(|(_, others)| !others.is_empty())?;
        let differences = differences(heads.len(), sights, seen);
        Some(Self { differences, caution: caution_of_heads(*first, others) })
    }
}

fn differences<'s, T: PartialEq>(
    count: usize,
    sights: impl IntoIterator<Item = &'s Sight>,
    seen: impl Fn(usize, usize) -> Option<T>,
) -> Vec<Difference<T>> {
    let difference = |(number, sight): (usize, &Sight)| {
        let values: Vec<Option<T>> = (0..count).map(|at| seen(number, at)).collect();
        let differ = values.iter().any(|value| *value != values[0]);
        differ.then_some(Difference { field: sight.field, words: sight.words, values })
    };
    sights.into_iter().enumerate().filter_map(difference).collect()
}

fn caution<T: AsRef<str>>(count: usize, first: Option<&Difference<T>>) -> String {
    let kinds = format!("{count} kinds of fastener answer");
    match first {
        None => format!("{kinds} and the book does not tell them apart. Do not go by this entry; look in its source."),
        Some(difference) => {
            let mut values: Vec<&str> =
                difference.values.iter().map(|value| value.as_ref().map_or("not stated", AsRef::as_ref)).collect();
            values.dedup();
            let check = if difference.field == "head" { "Check the head" } else { "Check which one it is" };
            format!("{kinds}: {} {}. {check} before setting a value.", difference.words, values.join(" or "))
        }
    }
}

fn caution_of_heads(here: Option<Head>, others: &[Option<Head>]) -> String {
    let words = |head: Option<Head>| head.map_or("not stated".to_owned(), Head::words);
    let mut heads: Vec<String> = others.iter().copied().map(words).collect();
    heads.sort();
    heads.dedup();
    format!(
        "This joint has other heads too ({}). Check that the head here is {} before setting a value.",
        heads.join(", "),
        words(here)
    )
}
