//! What tells several kinds of fastener apart.

use crate::record::Fastener;

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

type Look = (&'static str, &'static str, fn(&Fastener) -> Option<String>);

/// What is looked at, what is seen first coming first.
const LOOKS: &[Look] = &[
    ("head", "head", |fastener| fastener.head.map(|head| head.words())),
    ("drive", "drive", |fastener| fastener.drive.as_ref().map(ToString::to_string)),
    ("length", "length", |fastener| fastener.length.map(|length| length.to_string())),
    ("thread", "thread", |fastener| Some(fastener.thread.to_string())),
    ("property_class", "class", |fastener| fastener.property_class.as_ref().map(ToString::to_string)),
    ("hand", "hand", |fastener| Some(fastener.hand().to_string())),
    ("finish", "finish", |fastener| fastener.finish.as_ref().map(ToString::to_string)),
    ("part_no", "part number", |fastener| fastener.part_no.as_ref().map(ToString::to_string)),
    ("fits", "fits", |fastener| fastener.fits.as_ref().map(ToString::to_string)),
    ("positions", "positions", |fastener| fastener.positions.as_ref().map(ToString::to_string)),
];

/// What tells these fasteners apart; nothing for fewer than two.
#[must_use]
pub fn tell_apart(fasteners: &[&Fastener]) -> Option<Apart> {
    if fasteners.len() < 2 {
        return None;
    }
    let mut differences = Vec::new();
    for (field, words, look) in LOOKS {
        let values: Vec<Option<String>> = fasteners.iter().map(|fastener| look(fastener)).collect();
        if values.iter().any(|value| *value != values[0]) {
            differences.push(Difference { field, words, values });
        }
    }
    let caution = caution(fasteners.len(), differences.first());
    Some(Apart { differences, caution })
}

fn caution(count: usize, first: Option<&Difference>) -> String {
    let kinds = format!("{count} kinds of fastener answer");
    match first {
        None => format!("{kinds} and the book does not tell them apart. Do not go by this entry; look in its source."),
        Some(difference) => {
            let mut values: Vec<&str> =
                difference.values.iter().map(|value| value.as_deref().unwrap_or("not stated")).collect();
            values.dedup();
            let check = if difference.field == "head" { "Check the head" } else { "Check which one it is" };
            format!("{kinds}: {} {}. {check} before setting a value.", difference.words, values.join(" or "))
        }
    }
}
