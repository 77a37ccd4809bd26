//! Reading JSON text strictly: no member twice, no depth without end.

use super::fault::{Fault, Place, Refused};
use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::map::Entry;
use serde_json::{Map, Value};
use std::fmt;

/// The deepest nesting that is read.
pub const DEPTH_MAX: usize = 32;

/// Reads one JSON value.
///
/// # Errors
/// One fault with line and column if it is not JSON, holds a member twice, or is nested too deeply.
pub fn read_json(bytes: &[u8]) -> Result<Value, Refused> {
    let mut deserializer = serde_json::Deserializer::from_slice(bytes);
    let value = Strict { depth: 0 }.deserialize(&mut deserializer).and_then(|value| {
        deserializer.end()?;
        Ok(value)
    });
    value.map_err(|error| {
        let fault = Fault::new("unreadable", &Place::root(), format!("this is not readable JSON: {error}"));
        Refused(vec![fault.hint("Check quotes, commas and brackets near there")])
    })
}

/// Reads a value at a depth.
#[derive(Clone, Copy)]
struct Strict {
    depth: usize,
}

impl Strict {
    fn deeper<E: Error>(self) -> Result<Self, E> {
        if self.depth >= DEPTH_MAX {
            return Err(E::custom(format!("nested deeper than {DEPTH_MAX}")));
        }
        Ok(Self { depth: self.depth + 1 })
    }
}

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }
    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        serde_json::Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("a number out of range"))
    }
    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }
    fn visit_string<E: Error>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let inner = self.deeper()?;
        let mut list = Vec::new();
        while let Some(item) = items.next_element_seed(inner)? {
            list.push(item);
        }
        Ok(Value::Array(list))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let inner = self.deeper()?;
        let mut map = Map::new();
        while let Some(key) = members.next_key::<String>()? {
            match map.entry(key) {
                Entry::Vacant(place) => drop(place.insert(members.next_value_seed(inner)?)),
                Entry::Occupied(there) => {
                    return Err(A::Error::custom(format!("the member \"{}\" stands twice", there.key())));
                }
            }
        }
        Ok(Value::Object(map))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_a_member_that_stands_twice() {
        let Refused(faults) = read_json(br#"{"a": {"b": 1, "b": 2}}"#).unwrap_err();
        let fault = &faults[0];
        assert!(fault.detail.contains("\"b\" stands twice"), "{}", fault.detail);
    }

    #[test]
    fn refuses_depth_without_end() {
        let deep = "[".repeat(100_000);
        assert!(read_json(deep.as_bytes()).unwrap_err().0[0].detail.contains("deeper"));
    }
}
