//! The two kinds of record, and the word that each begins with.

use super::fault::{Fault, Place};
use super::field::{Field, read_text};
use std::fmt;
use std::str::FromStr;

/// The two kinds of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A joint.
    Joint,
    /// A fastener.
    Fastener,
}

impl Kind {
    /// The word that stands in a record's `kind`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Joint => "joint",
            Self::Fastener => "fastener",
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for Kind {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "joint" => Ok(Self::Joint),
            "fastener" => Ok(Self::Fastener),
            other => Err(format!("\"{other}\" is not a kind of record; write joint or fastener")),
        }
    }
}

macro_rules! kind_marker {
    ($(#[$doc:meta])* $name:ident, $kind:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub struct $name;

        impl Field for $name {
            fn read(value: &serde_json::Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
                let kind: Kind = read_text(value, place, faults)?;
                if kind == $kind {
                    return Some(Self);
                }
                let detail = format!("a {} belongs here, this is a {kind}", $kind);
                faults.push(Fault::new("contradiction", place, detail).given(kind).allowed($kind.word()));
                None
            }
            fn when_missing() -> Option<Self> {
                Some(Self)
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str($kind.word())
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some([$kind.word()]))
                    .build()
                    .into()
            }
        }
        impl utoipa::ToSchema for $name {}
    };
}

kind_marker!(
    /// The word `joint`.
    JointKind, Kind::Joint
);
kind_marker!(
    /// The word `fastener`.
    FastenerKind, Kind::Fastener
);
