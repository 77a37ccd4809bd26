//! Changes written as what is different: merge patches (RFC 7396) and lists of operations (RFC 6902).

use super::problem::{Part, Problem};
use super::problem_kinds as kinds;
use crate::record::{Fault, Place, Record};
use serde_json::{Map, Value, json};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, Schema};
use utoipa::{PartialSchema, ToSchema};

/// How a change is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// As the members that are to be different; null takes one away.
    Merge,
    /// As a list of operations.
    Operations,
}

/// What is to be different: the members of a record with their new values, null for those that are to go.
#[derive(Debug)]
pub struct MergePatch;

impl PartialSchema for MergePatch {
    fn schema() -> RefOr<Schema> {
        let about = "The members of a record with their new values, null for those that are to go.";
        ObjectBuilder::new()
            .description(Some(about))
            .additional_properties(Some(AdditionalProperties::FreeForm(true)))
            .max_properties(Some(40))
            .build()
            .into()
    }
}

impl ToSchema for MergePatch {}

/// One operation of a change.
#[derive(Debug)]
pub struct PatchOperation;

impl PartialSchema for PatchOperation {
    /// The name of the schema; what it says is [`operation_schema`], since the builders cannot say "any value".
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new().build().into()
    }
}

impl ToSchema for PatchOperation {}

/// What an operation can do: with a value, with another place, with neither.
const VERBS: &[&[&str]] = &[&["add", "replace", "test"], &["move", "copy"], &["remove"]];

/// What the document says of an operation: each kind with the members that it needs.
#[must_use]
pub fn operation_schema() -> Value {
    let pointer = |about: &str| json!({ "type": "string", "maxLength": 400, "pattern": "^(/([^~/]|~0|~1)*)*$", "description": about });
    let kind = |about: &str, words: &[&str], third: Option<(&str, Value)>| {
        let mut schema = json!({
            "type": "object",
            "description": about,
            "required": ["op", "path"],
            "properties": {
                "op": { "type": "string", "enum": words, "description": "What is done" },
                "path": pointer("Where, as a JSON pointer"),
            },
            "additionalProperties": false,
        });
        if let Some((name, value)) = third {
            schema["properties"][name] = value;
            schema["required"] = json!(["op", "path", name]);
        }
        schema
    };
    json!({
        "description": "One operation of a change (RFC 6902).",
        "oneOf": [
            kind("With a value", VERBS[0], Some(("value", json!({ "description": "The value" })))),
            kind("With another place", VERBS[1], Some(("from", pointer("From where, as a JSON pointer")))),
            kind("Without a value", VERBS[2], None),
        ],
    })
}

/// The most operations in one change.
const OPERATIONS_MAX: usize = 200;

/// Applies a change to a value.
///
/// # Errors
/// 422 if it is no such change or does not fit; 409 if a `test` in it fails.
pub fn apply(form: Form, value: &mut Value, change: Value) -> Result<(), Problem> {
    match (form, change) {
        (Form::Merge, change @ Value::Object(_)) => {
            merge(value, change);
            Ok(())
        }
        (Form::Operations, Value::Array(operations)) if operations.len() <= OPERATIONS_MAX => {
            operations.iter().enumerate().try_for_each(|(i, operation)| operate(value, operation, i))
        }
        (form, _) => {
            let wanted = if form == Form::Merge { "an object" } else { "a list of at most 200 operations" };
            let fault = Fault::new("wrong-type", &Place::root(), format!("{wanted} belongs here")).allowed(wanted);
            Err(Problem::of_faults(&kinds::FAULTY, Part::Body, vec![fault]))
        }
    }
}

fn merge(value: &mut Value, change: Value) {
    let Value::Object(change) = change else {
        *value = change;
        return;
    };
    if !value.is_object() {
        *value = Value::Object(Map::new());
    }
    let Some(members) = value.as_object_mut() else { return };
    for (name, new) in change {
        if new.is_null() {
            members.shift_remove(&name);
        } else {
            merge(members.entry(name).or_insert(Value::Null), new);
        }
    }
}

fn operate(value: &mut Value, operation: &Value, index: usize) -> Result<(), Problem> {
    let place = Place::root().below(index);
    let text = |name: &str| {
        let missing = || refused(&place.below(name), &format!("\"{name}\" must be a text"));
        operation[name].as_str().ok_or_else(missing)
    };
    let wanted = || {
        let missing = || refused(&place.below("value"), "\"value\" must be given");
        operation.get("value").cloned().ok_or_else(missing)
    };
    let lost = |pointer: &str| refused(&place, &format!("there is nothing at \"{pointer}\""));
    let path = text("path")?;
    match text("op")? {
        "add" => insert(value, path, wanted()?).ok_or_else(|| lost(path)),
        "remove" => take(value, path).map(drop).ok_or_else(|| lost(path)),
        "replace" => {
            let new = wanted()?;
            value.pointer_mut(path).map(|old| *old = new).ok_or_else(|| lost(path))
        }
        "test" => {
            let wanted = wanted()?;
            if value.pointer(path) == Some(&wanted) {
                return Ok(());
            }
            Err(Problem::new(&kinds::CONFLICT, format!("the test at \"{path}\" failed: something else stands there")))
        }
        "move" => {
            let from = text("from")?;
            let moved = take(value, from).ok_or_else(|| lost(from))?;
            insert(value, path, moved).ok_or_else(|| lost(path))
        }
        "copy" => {
            let from = text("from")?;
            let copied = value.pointer(from).cloned().ok_or_else(|| lost(from))?;
            insert(value, path, copied).ok_or_else(|| lost(path))
        }
        other => {
            Err(refused(&place.below("op"), &format!("\"{other}\" is no operation: {}", VERBS.concat().join(", "))))
        }
    }
}

fn refused(place: &Place, detail: &str) -> Problem {
    Problem::of_faults(&kinds::FAULTY, Part::Body, vec![Fault::new("unreadable", place, detail)])
}

/// The pointer of the parent, and the last segment with its escapes undone.
fn parted(path: &str) -> Option<(&str, String)> {
    let (parent, last) = path.rsplit_once('/')?;
    Some((parent, last.replace("~1", "/").replace("~0", "~")))
}

fn insert(value: &mut Value, path: &str, new: Value) -> Option<()> {
    if path.is_empty() {
        *value = new;
        return Some(());
    }
    let (parent, last) = parted(path)?;
    match value.pointer_mut(parent)? {
        Value::Object(members) => {
            members.insert(last, new);
        }
        Value::Array(items) if last == "-" => items.push(new),
        Value::Array(items) => {
            let at: usize = last.parse().ok().filter(|at| *at <= items.len())?;
            items.insert(at, new);
        }
        _ => return None,
    }
    Some(())
}

fn take(value: &mut Value, path: &str) -> Option<Value> {
    let (parent, last) = parted(path)?;
    match value.pointer_mut(parent)? {
        Value::Object(members) => members.shift_remove(&last),
        Value::Array(items) => {
            let at: usize = last.parse().ok().filter(|at| *at < items.len())?;
            Some(items.remove(at))
        }
        _ => None,
    }
}

/// The places where two records differ, as JSON pointers.
#[must_use]
pub fn differences(before: &Record, after: &Record) -> Vec<String> {
    let mut places = Vec::new();
    if let (Ok(before), Ok(after)) = (serde_json::to_value(before), serde_json::to_value(after)) {
        compare(&before, &after, &Place::root(), &mut places);
    }
    places
}

fn compare(before: &Value, after: &Value, place: &Place, places: &mut Vec<String>) {
    match (before, after) {
        (Value::Object(before), Value::Object(after)) => {
            let new = after.keys().filter(|name| !before.contains_key(*name));
            for name in before.keys().chain(new) {
                let (old, new) = (before.get(name).unwrap_or(&Value::Null), after.get(name).unwrap_or(&Value::Null));
                compare(old, new, &place.below(name), places);
            }
        }
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
            for (i, (old, new)) in old.iter().zip(new).enumerate() {
                compare(old, new, &place.below(i), places);
            }
        }
        (before, after) if before == after => {}
        _ => places.push(place.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn merges_as_the_standard_shows() {
        // RFC 7396, appendix A, with the cases whose patch is an object.
        let cases = [
            (json!({"a":"b"}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"b"}), json!({"b":"c"}), json!({"a":"b","b":"c"})),
            (json!({"a":"b"}), json!({"a":null}), json!({})),
            (json!({"a":"b","b":"c"}), json!({"a":null}), json!({"b":"c"})),
            (json!({"a":["b"]}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"c"}), json!({"a":["b"]}), json!({"a":["b"]})),
            (json!({"a":{"b":"c"}}), json!({"a":{"b":"d","c":null}}), json!({"a":{"b":"d"}})),
            (json!({"a":[{"b":"c"}]}), json!({"a":[1]}), json!({"a":[1]})),
            (json!({"e":null}), json!({"a":1}), json!({"e":null,"a":1})),
            (json!([1, 2]), json!({"a":"b","c":null}), json!({"a":"b"})),
            (json!({}), json!({"a":{"bb":{"ccc":null}}}), json!({"a":{"bb":{}}})),
        ];
        for (mut value, change, expected) in cases {
            apply(Form::Merge, &mut value, change).unwrap();
            assert_eq!(value, expected);
        }
    }

    #[track_caller]
    fn operated(mut value: Value, operations: Value) -> Result<Value, u16> {
        apply(Form::Operations, &mut value, operations).map_err(|problem| problem.kind().status.as_u16())?;
        Ok(value)
    }

    #[test]
    fn operates_as_the_standard_shows() {
        // RFC 6902, appendix A.
        let foo = || json!({ "foo": ["bar", "baz"] });
        assert_eq!(operated(foo(), json!([{"op":"add","path":"/foo/1","value":"qux"}])).unwrap()["foo"][1], "qux");
        assert_eq!(operated(foo(), json!([{"op":"remove","path":"/foo/1"}])).unwrap(), json!({ "foo": ["bar"] }));
        assert_eq!(operated(foo(), json!([{"op":"add","path":"/foo/-","value":["a"]}])).unwrap()["foo"][2][0], "a");
        assert_eq!(operated(foo(), json!([{"op":"move","from":"/foo/1","path":"/foo/0"}])).unwrap()["foo"][0], "baz");
        assert_eq!(operated(foo(), json!([{"op":"copy","from":"/foo/1","path":"/b"}])).unwrap()["b"], "baz");
        assert_eq!(operated(foo(), json!([{"op":"test","path":"/foo/0","value":"bar"}])), Ok(foo()));
        assert_eq!(operated(foo(), json!([{"op":"test","path":"/foo/0","value":"x"}])), Err(409));
        assert_eq!(operated(foo(), json!([{"op":"add","path":"/x/y","value":1}])), Err(422));
        assert_eq!(operated(foo(), json!([{"op":"replace","path":"/foo/7","value":1}])), Err(422));
        assert_eq!(operated(foo(), json!([{"op":"fly","path":"/foo"}])), Err(422));
        assert_eq!(operated(json!({"~1":1}), json!([{"op":"remove","path":"/~01"}])), Ok(json!({})));
    }
}
