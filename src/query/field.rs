//! The fields that a question can be about, and the values a record has in each.
//!
//! A value is text in its canonical form: what filters compare, what facets count and what the indexes of the
//! store hold are the same texts.

use crate::record::{DriveType, Fastener, Head, Id, Kind, Locking, Record, ReuseRule, Role, Text};
use crate::standards::PropertyClass;
use crate::thread::{Designation, Hand};
use std::fmt;

macro_rules! fields {
    ($( $(#[$doc:meta])* $variant:ident = $name:literal, )*) => {
        /// A field that a question can be about.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Field { $( $(#[$doc])* $variant, )* }

        impl Field {
            /// Every field.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The name of the field in a question.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }
        }
    };
}

fields! {
    /// Joint or fastener.
    Kind = "kind",
    /// What the head looks like.
    Head = "head",
    /// What the tool goes on.
    Drive = "drive",
    /// The thread.
    Thread = "thread",
    /// The strength class.
    PropertyClass = "property_class",
    /// What kind of fastening it is.
    Role = "role",
    /// The reuse rule.
    Reuse = "reuse",
    /// How it is kept from coming loose.
    Locking = "locking",
    /// Which way it is screwed in.
    Hand = "hand",
    /// The path of the record and every path above it.
    Within = "within",
    /// The joint that a fastener closes; of a joint, itself.
    Joint = "joint",
    /// A position where the fastener sits.
    Position = "position",
    /// A variant of the machine that the record is for.
    Variant = "variant",
    /// Whether somebody else compared it with its source.
    Checked = "checked",
    /// The part number.
    PartNo = "part_no",
    /// Whether a stage turns by an angle.
    Angle = "angle",
    /// The document it was read from.
    Document = "document",
}

impl fmt::Display for Field {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl Field {
    /// The closed list of the field's values, where there is one.
    #[must_use]
    pub fn words(self) -> Option<&'static [&'static str]> {
        match self {
            Self::Kind => Some(&["joint", "fastener"]),
            Self::Head => Some(Head::WORDS),
            Self::Drive => Some(DriveType::WORDS),
            Self::Role => Some(Role::WORDS),
            Self::Reuse => Some(ReuseRule::WORDS),
            Self::Locking => Some(Locking::WORDS),
            Self::Hand => Some(&["right", "left"]),
            Self::Checked | Self::Angle => Some(&["true", "false"]),
            _ => None,
        }
    }

    /// Reads a value leniently and gives its canonical form.
    ///
    /// # Errors
    /// What was expected and what was found.
    pub fn read(self, text: &str) -> Result<String, String> {
        fn canonical<T: std::str::FromStr<Err: fmt::Display> + fmt::Display>(text: &str) -> Result<String, String> {
            text.parse::<T>().map(|value| value.to_string()).map_err(|error| error.to_string())
        }
        match self {
            Self::Kind => canonical::<Kind>(text),
            Self::Head => canonical::<Head>(text),
            Self::Drive => canonical::<DriveType>(text),
            Self::Thread => {
                text.parse::<Designation>().map(|d| d.thread.to_string()).map_err(|error| error.to_string())
            }
            Self::PropertyClass => canonical::<PropertyClass>(text),
            Self::Role => canonical::<Role>(text),
            Self::Reuse => canonical::<ReuseRule>(text),
            Self::Locking => canonical::<Locking>(text),
            Self::Hand => canonical::<Hand>(text),
            Self::Within => read_path(text),
            Self::Joint => canonical::<Id>(text),
            Self::Position => read_position(text),
            Self::Variant | Self::PartNo | Self::Document => canonical::<Text>(text).map(|text| text.to_lowercase()),
            Self::Checked | Self::Angle => read_truth(text).map(|truth| truth.to_string()),
        }
    }

    /// The values that a record has in the field, in canonical form. None where the record does not say.
    #[must_use]
    pub fn values(self, record: &Record) -> Vec<String> {
        match self {
            Self::Kind => vec![record.kind().to_string()],
            Self::Within => paths_of(record.id()),
            Self::Variant => variants_of(record),
            Self::Document => record
                .source()
                .and_then(|source| source.document.as_ref())
                .map(|document| document.to_lowercase())
                .into_iter()
                .collect(),
            Self::Joint => match record {
                Record::Joint(joint) => vec![joint.id.to_string()],
                Record::Fastener(fastener) => vec![fastener.joint.to_string()],
            },
            Self::Checked => {
                vec![record.source().is_some_and(crate::record::Source::is_checked).to_string()]
            }
            Self::PartNo => part_numbers_of(record),
            _ => record.as_fastener().map(|fastener| self.values_of_fastener(fastener)).unwrap_or_default(),
        }
    }

    fn values_of_fastener(self, fastener: &Fastener) -> Vec<String> {
        fn one<T: fmt::Display>(value: Option<T>) -> Vec<String> {
            value.map(|value| value.to_string()).into_iter().collect()
        }
        match self {
            Self::Head => one(fastener.head),
            Self::Drive => one(fastener.drive.as_ref().map(|drive| drive.kind)),
            Self::Thread => one(Some(&fastener.thread)),
            Self::PropertyClass => one(fastener.property_class.as_ref()),
            Self::Role => one(Some(fastener.role())),
            Self::Reuse => one(fastener.reuse_rule()),
            Self::Locking => one(fastener.locking),
            Self::Hand => one(Some(fastener.hand())),
            Self::Position => {
                let mut positions: Vec<u32> =
                    fastener.positions.iter().flat_map(crate::record::Positions::iter).collect();
                positions.sort_unstable();
                positions.dedup();
                positions.iter().map(u32::to_string).collect()
            }
            Self::Angle => one(fastener.stages.iter().any(|stage| !stage.turns().is_empty()).then_some(true)),
            _ => Vec::new(),
        }
    }

    /// Whether a record without a value in the field answers every value asked for: a record that names no
    /// variant is for all of them.
    #[must_use]
    pub fn none_means_all(self) -> bool {
        self == Self::Variant
    }
}

fn paths_of(id: &Id) -> Vec<String> {
    let text = id.as_str();
    let ends = text.match_indices('.').map(|(end, _)| end).chain([text.len()]);
    ends.map(|end| text[..end].to_owned()).collect()
}

fn variants_of(record: &Record) -> Vec<String> {
    let fits = match record {
        Record::Joint(joint) => joint.fits.as_ref(),
        Record::Fastener(fastener) => fastener.fits.as_ref(),
    };
    fits.map(|fits| fits.variants.iter().map(|variant| variant.to_lowercase()).collect()).unwrap_or_default()
}

fn part_numbers_of(record: &Record) -> Vec<String> {
    match record {
        Record::Fastener(fastener) => fastener.part_no.iter().map(|part_no| part_no.to_lowercase()).collect(),
        Record::Joint(joint) => {
            joint.renew.iter().filter_map(|item| item.part_no.as_ref()).map(|part_no| part_no.to_lowercase()).collect()
        }
    }
}

fn read_path(text: &str) -> Result<String, String> {
    let text = text.trim().trim_end_matches('.');
    let good = |segment: &str| {
        !segment.is_empty() && segment.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
    };
    if text.len() <= crate::record::ID_MAX && text.split('.').all(good) {
        Ok(text.to_owned())
    } else {
        Err(format!("expected a dotted path such as skua.diesel, found \"{text}\""))
    }
}

fn read_position(text: &str) -> Result<String, String> {
    let number = text.trim().parse().ok().filter(|n| (1..=crate::record::POSITION_MAX).contains(n));
    number.map(|n: u32| n.to_string()).ok_or_else(|| {
        format!("expected the number of a position, 1 to {}, found \"{text}\"", crate::record::POSITION_MAX)
    })
}

pub(super) fn read_truth(text: &str) -> Result<bool, String> {
    match text.trim().to_lowercase().as_str() {
        "true" | "yes" => Ok(true),
        "false" | "no" => Ok(false),
        _ => Err(format!("expected true or false, found \"{text}\"")),
    }
}
