//! What texts look like that have a grammar: a pattern and a length for each kind of text in the document.
//!
//! A pattern says what is surely read. More is read than it says, since people write one thing in many ways; what has no
//! pattern here has a grammar that no pattern can say.

use serde_json::Value;

/// A kind of text.
struct Kind {
    /// The name of its schema.
    name: &'static str,
    pattern: Option<&'static str>,
    length_max: u32,
}

/// Characters that end lines or steer machines are no text.
pub const LINE: &str =
    "^[^\\u0000-\\u001f\\u007f-\\u009f]*[^\\s\\u0000-\\u001f\\u007f-\\u009f][^\\u0000-\\u001f\\u007f-\\u009f]*$";
/// The name of a record.
pub const ID: &str = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$";

const KINDS: &[Kind] = &[
    Kind { name: "Text", pattern: Some(LINE), length_max: 500 },
    Kind { name: "Id", pattern: Some(ID), length_max: 160 },
    Kind { name: "Thread", pattern: None, length_max: 60 },
    Kind { name: "ThreadClass", pattern: None, length_max: 20 },
];

/// Enters the patterns.
pub fn enter(document: &mut Value) {
    for Kind { name, pattern, length_max } in KINDS {
        let schema = &mut document["components"]["schemas"][*name];
        if schema.is_null() {
            continue;
        }
        schema["maxLength"] = (*length_max).into();
        schema["minLength"] = 1.into();
        if let Some(pattern) = pattern {
            schema["pattern"] = (*pattern).into();
        }
    }
}
