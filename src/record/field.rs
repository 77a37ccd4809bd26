//! How fields are read from JSON and written to it, with all faults at once.
//!
//! `fields!` declares a struct once: its fields are the only list of what
//! a record may hold, and reading, writing and the names offered for a misspelt field all come from it.

use super::fault::{Fault, Place};
use serde_json::Value;
use std::collections::BTreeMap;

/// A value that can stand in a record.
pub trait Field: Sized {
    /// Reads it; what is wrong goes to `faults` and `None` comes back.
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self>;

    /// What an absent field means, `None` where it must be there.
    fn when_missing() -> Option<Self> {
        None
    }

    /// Whether it is left out when the record is written.
    fn is_absent(&self) -> bool {
        false
    }
}

/// The kind of a JSON value in words.
#[must_use]
pub fn kind_of(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

/// The fault that another kind of JSON value stands here.
#[must_use]
pub fn wrong_kind(value: &Value, place: &Place, wanted: &str) -> Fault {
    Fault::new("wrong-type", place, format!("{wanted} belongs here, not {}", kind_of(value)))
        .given(value)
        .allowed(wanted)
}

impl<T: Field> Field for Option<T> {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        if value.is_null() { Some(None) } else { T::read(value, place, faults).map(Some) }
    }
    fn when_missing() -> Option<Self> {
        Some(None)
    }
    fn is_absent(&self) -> bool {
        self.is_none()
    }
}

/// The most elements that a list in a record may have.
pub const LIST_MAX: usize = 400;

impl<T: Field> Field for Vec<T> {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        let Value::Array(items) = value else {
            faults.push(wrong_kind(value, place, "a list"));
            return None;
        };
        if items.len() > LIST_MAX {
            let detail = format!("a list holds at most {LIST_MAX} entries, this one has {}", items.len());
            faults.push(Fault::new("too-long", place, detail));
            return None;
        }
        let read: Vec<_> = items.iter().enumerate().map(|(i, item)| T::read(item, &place.below(i), faults)).collect();
        read.into_iter().collect()
    }
    fn when_missing() -> Option<Self> {
        Some(Self::new())
    }
    fn is_absent(&self) -> bool {
        self.is_empty()
    }
}

impl<T: Field> Field for BTreeMap<u32, T> {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        let Value::Object(members) = value else {
            faults.push(wrong_kind(value, place, "an object"));
            return None;
        };
        let mut map = Self::new();
        let before = faults.len();
        for (key, item) in members {
            let place = place.below(key);
            let Some(number) = key.parse().ok().filter(|n| (1..=99).contains(n)) else {
                faults.push(
                    Fault::new("unreadable", &place, "the key is the number of a pass, from 1")
                        .given(key)
                        .allowed("1 to 99"),
                );
                continue;
            };
            if let Some(item) = T::read(item, &place, faults) {
                map.insert(number, item);
            }
        }
        (faults.len() == before).then_some(map)
    }
    fn when_missing() -> Option<Self> {
        Some(Self::new())
    }
    fn is_absent(&self) -> bool {
        self.is_empty()
    }
}

/// A whole number, also where it is written with a point, as `4.0`: JSON knows one kind of number.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be whole and in range
fn whole(value: &Value) -> Option<u32> {
    let whole = value.as_f64().filter(|n| n.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(n));
    whole.map(|n| n as u32)
}

impl Field for u32 {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        let number = whole(value).filter(|n| (1..=9999).contains(n));
        if number.is_none() {
            let detail = "a whole number from 1 to 9999 belongs here";
            faults.push(Fault::new("wrong-type", place, detail).given(value).allowed("1 to 9999"));
        }
        number
    }
}

impl Field for bool {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        if !value.is_boolean() {
            faults.push(wrong_kind(value, place, "true or false"));
        }
        value.as_bool()
    }
}

/// The farthest that a drawn coordinate may lie from the origin, in millimetres.
const COORDINATE_MAX: f64 = 100_000.0;

impl Field for f64 {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        let number = value.as_f64().filter(|n| n.abs() <= COORDINATE_MAX);
        if number.is_none() {
            let allowed = format!("-{COORDINATE_MAX} to {COORDINATE_MAX}");
            let detail = format!("a number from {allowed} belongs here");
            faults.push(Fault::new("wrong-type", place, detail).given(value).allowed(allowed));
        }
        number
    }
}

/// Reads a value that is written as text, through its own grammar.
pub fn read_text<T: std::str::FromStr<Err: std::fmt::Display>>(
    value: &Value,
    place: &Place,
    faults: &mut Vec<Fault>,
) -> Option<T> {
    let Value::String(text) = value else {
        faults.push(wrong_kind(value, place, "text"));
        return None;
    };
    match text.parse() {
        Ok(read) => Some(read),
        Err(error) => {
            faults.push(Fault::new("unreadable", place, error.to_string()).given(text));
            None
        }
    }
}

/// Makes types that have a grammar of their own ([`std::str::FromStr`]) usable as fields.
macro_rules! text_fields {
    ($($type:ty),* $(,)?) => { $(
        impl $crate::record::field::Field for $type {
            fn read(
                value: &serde_json::Value,
                place: &$crate::record::Place,
                faults: &mut Vec<$crate::record::Fault>,
            ) -> Option<Self> {
                $crate::record::field::read_text(value, place, faults)
            }
        }
    )* };
}
pub(crate) use text_fields;

/// Declares a struct of a record: one list of fields for reading, writing and documentation.
macro_rules! fields {
    (
        $(#[$doc:meta])*
        pub struct $name:ident { $( $(#[$field_doc:meta])* pub $field:ident $(($json:literal))? : $type:ty, )* }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, utoipa::ToSchema)]
        pub struct $name { $(
            $(#[$field_doc])*
            $(#[schema(rename = $json)])?
            pub $field: $type,
        )* }

        impl $name {
            /// The names of the fields in the order they are written.
            pub const FIELDS: &'static [&'static str] = &[$( $crate::record::field::json_name!($field $($json)?) ),*];

            /// Writes the fields that are there into a map.
            pub(crate) fn write_members<M: serde::ser::SerializeMap>(&self, map: &mut M) -> Result<(), M::Error> {
                $( if !$crate::record::field::Field::is_absent(&self.$field) {
                    map.serialize_entry($crate::record::field::json_name!($field $($json)?), &self.$field)?;
                } )*
                Ok(())
            }
        }

        impl $crate::record::field::Field for $name {
            fn read(
                value: &serde_json::Value,
                place: &$crate::record::Place,
                faults: &mut Vec<$crate::record::Fault>,
            ) -> Option<Self> {
                let members = $crate::record::field::members(value, place, Self::FIELDS, faults)?;
                $( let $field = $crate::record::field::member::<$type>(
                    members, $crate::record::field::json_name!($field $($json)?), place, faults,
                ); )*
                Some(Self { $( $field: $field?, )* })
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                use serde::ser::SerializeMap;
                let mut map = serializer.serialize_map(None)?;
                self.write_members(&mut map)?;
                map.end()
            }
        }
    };
}
pub(crate) use fields;

macro_rules! json_name {
    ($field:ident $json:literal) => {
        $json
    };
    ($field:ident) => {
        stringify!($field)
    };
}
pub(crate) use json_name;

/// The members of an object, after every unknown one has been named as a fault.
pub fn members<'v>(
    value: &'v Value,
    place: &Place,
    known: &[&str],
    faults: &mut Vec<Fault>,
) -> Option<&'v serde_json::Map<String, Value>> {
    let Value::Object(members) = value else {
        faults.push(wrong_kind(value, place, "an object"));
        return None;
    };
    for key in members.keys().filter(|key| !known.contains(&key.as_str())) {
        let mut fault = Fault::new("unknown-field", &place.below(key), format!("there is no field \"{key}\" here"))
            .given(key)
            .allowed(known.join(", "));
        fault.hint = super::fault::did_you_mean(key, known);
        faults.push(fault);
    }
    Some(members)
}

/// Reads one member, or takes what its absence means.
pub fn member<T: Field>(
    members: &serde_json::Map<String, Value>,
    key: &str,
    place: &Place,
    faults: &mut Vec<Fault>,
) -> Option<T> {
    let absent = members.get(key).filter(|value| !value.is_null() || T::when_missing().is_none());
    match absent {
        Some(value) => T::read(value, &place.below(key), faults),
        None => T::when_missing().or_else(|| {
            faults.push(Fault::new("missing", &place.below(key), format!("the field \"{key}\" must be given")));
            None
        }),
    }
}
