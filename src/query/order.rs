//! The order of an answer, as byte strings that compare like the records.

use super::filter::final_torque;
use super::stored::Stored;
use crate::record::Record;
use crate::thread::Thread;
use std::fmt;

/// A field to order by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SortField {
    /// The id.
    Id,
    /// The name of a fastener, the title of a joint.
    Name,
    /// The head, by its word.
    Head,
    /// The thread, by physical size.
    Thread,
    /// The property class, by the numbers in it.
    PropertyClass,
    /// The final torque.
    Torque,
    /// When it was last changed.
    Changed,
}

impl SortField {
    /// Every field to order by.
    pub const ALL: &'static [Self] =
        &[Self::Id, Self::Name, Self::Head, Self::Thread, Self::PropertyClass, Self::Torque, Self::Changed];

    /// The name of the field in a question.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Id => "id",
            Self::Name => "name",
            Self::Head => "head",
            Self::Thread => "thread",
            Self::PropertyClass => "property_class",
            Self::Torque => "torque",
            Self::Changed => "changed",
        }
    }
}

/// One key of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sort {
    /// The field.
    pub field: SortField,
    /// Whether the greatest comes first. What is missing comes last either way.
    pub descending: bool,
}

impl fmt::Display for Sort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", if self.descending { "-" } else { "" }, self.field.name())
    }
}

/// The place of a record in the order, the id last of all: records compare like these byte strings.
#[must_use]
pub fn sort_key(sort: &[Sort], stored: &Stored) -> Vec<u8> {
    let mut key = Vec::with_capacity(64);
    for sort in sort {
        key.extend(sort.part_of_key(value(sort.field, stored).as_deref()));
    }
    key.extend_from_slice(stored.record.id().as_str().as_bytes());
    key
}

impl Sort {
    /// The part of a key that a value makes, or its absence.
    #[must_use]
    pub fn part_of_key(self, value: Option<&[u8]>) -> Vec<u8> {
        let Some(value) = value else { return vec![1] };
        let turn = |byte: u8| if self.descending { !byte } else { byte };
        let turned = value.iter().chain(&[0, 0]).map(|byte| turn(*byte));
        std::iter::once(0).chain(turned).collect()
    }
}

impl SortField {
    /// The bytes to order by that a value of the field makes, where it can be told from the canonical text of the value.
    #[must_use]
    pub fn bytes_of(self, text: &str) -> Option<Vec<u8>> {
        match self {
            Self::Head => Some(text.as_bytes().to_vec()),
            Self::PropertyClass => Some(natural(text)),
            Self::Thread => text.parse().ok().map(|thread| thread_bytes(&thread)),
            Self::Id | Self::Name | Self::Torque | Self::Changed => None,
        }
    }
}

fn thread_bytes(thread: &Thread) -> Vec<u8> {
    let (diameter, pitch) = thread.size_key();
    [&diameter.to_be_bytes()[..], &pitch.to_be_bytes()[..], thread.to_string().as_bytes()].concat()
}

/// The value to order by, in bytes without two zeros in a row where values differ in length.
fn value(field: SortField, stored: &Stored) -> Option<Vec<u8>> {
    let fastener = stored.record.as_fastener();
    match field {
        SortField::Id => Some(stored.record.id().as_str().as_bytes().to_vec()),
        SortField::Changed => Some(stored.sequence.to_be_bytes().to_vec()),
        SortField::Name => match &*stored.record {
            Record::Joint(joint) => joint.title.as_ref(),
            Record::Fastener(fastener) => fastener.name.as_ref(),
        }
        .map(|name| natural(name)),
        SortField::Head => fastener?.head.map(|head| head.word().as_bytes().to_vec()),
        SortField::Thread => fastener.map(|fastener| thread_bytes(&fastener.thread)),
        SortField::PropertyClass => fastener?.property_class.as_ref().map(|class| natural(class.as_str())),
        SortField::Torque => fastener
            .and_then(final_torque)
            .map(|(low, high)| [torque_bytes(low.newton_meters()), torque_bytes(high.newton_meters())].concat()),
    }
}

/// A number that is not negative, in bytes that compare like it.
#[must_use]
pub fn torque_bytes(value: f64) -> [u8; 8] {
    value.max(0.0).to_bits().to_be_bytes()
}

/// A text in lower case in which a longer run of digits comes after a shorter one: `8.8` before `10.9`.
fn natural(text: &str) -> Vec<u8> {
    let folded = text.to_lowercase();
    let mut bytes = Vec::with_capacity(folded.len() + 4);
    let mut rest = folded.as_str();
    while let Some(first) = rest.chars().next() {
        if first.is_ascii_digit() {
            let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            let digits = rest[..end].trim_start_matches('0');
            bytes.extend([b'0', u8::try_from(digits.len()).unwrap_or(u8::MAX).max(1)]);
            bytes.extend_from_slice(digits.as_bytes());
            rest = &rest[end..];
        } else {
            bytes.extend_from_slice(first.encode_utf8(&mut [0; 4]).as_bytes());
            rest = &rest[first.len_utf8()..];
        }
    }
    bytes
}
