//! What the API has promised is not broken by accident.
//!
//! `openapi/promised.json` is the document without its words. What clients rely on may not be removed, renamed, retyped,
//! narrowed or newly required; a new value in an answer is no break, since readers pass over what they do not know.
//! `CLAMPBOOK_REWRITE=1` enters what is new, and refuses what breaks; `CLAMPBOOK_REWRITE=break` enters that too.

use serde_json::{Map, Value, json};
use std::collections::HashSet;
use std::path::Path;

#[test]
fn nothing_that_was_promised_is_broken() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("openapi/promised.json");
    let built = without_words(&clampbook::api::document());
    let promised: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap_or_default()).unwrap_or_default();
    let broken = broken(&promised, &built);
    let asked = std::env::var("CLAMPBOOK_REWRITE").unwrap_or_default();
    assert!(broken.is_empty() || asked == "break", "clients would break:\n{}", broken.join("\n"));
    if !asked.is_empty() {
        std::fs::write(&path, format!("{built}\n")).unwrap();
    }
    let promised: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
    assert!(
        promised == built,
        "new things are not promised yet: CLAMPBOOK_REWRITE=1 cargo test --test it api::document"
    );
    assert!(built["paths"].as_object().unwrap().len() > 30);
}

/// The document without what only people read.
fn without_words(value: &Value) -> Value {
    match value {
        Value::Array(items) => items.iter().map(without_words).collect(),
        Value::Object(members) => {
            let is_word = |name: &str, value: &Value| {
                matches!(name, "summary" | "example" | "examples" | "info" | "tags" | "links")
                    || (name == "description" && value.is_string())
            };
            let kept = members.iter().filter(|(name, value)| !is_word(name, value));
            Value::Object(kept.map(|(name, value)| (name.clone(), without_words(value))).collect())
        }
        other => other.clone(),
    }
}

/// What of the old document the new one breaks.
fn broken(old: &Value, new: &Value) -> Vec<String> {
    let mut compared = Compared { old, new, broken: Vec::new(), seen: HashSet::new() };
    for (path, item) in members(&old["paths"]) {
        for (method, operation) in members(item) {
            let place = format!("{} {path}", method.to_uppercase());
            match new["paths"][path].get(method) {
                Some(now) => compared.operation(operation, now, &place),
                None => compared.broken.push(format!("{place}: removed")),
            }
        }
    }
    compared.broken
}

fn members(value: &Value) -> impl Iterator<Item = (&String, &Value)> {
    value.as_object().into_iter().flatten()
}

/// Who writes a value: what is sent may not be narrowed, what is answered may not be loosened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Way {
    Sent,
    Answered,
}

struct Compared<'d> {
    old: &'d Value,
    new: &'d Value,
    broken: Vec<String>,
    seen: HashSet<(String, String, Way)>,
}

impl Compared<'_> {
    fn say(&mut self, place: &str, what: &str) {
        self.broken.push(format!("{place}: {what}"));
    }

    fn operation(&mut self, old: &Value, new: &Value, place: &str) {
        if old["operationId"] != new["operationId"] {
            self.say(place, &format!("renamed from {} to {}", old["operationId"], new["operationId"]));
        }
        let is_free = |operation: &Value| {
            let security = operation["security"].as_array();
            security.is_none_or(|list| list.is_empty() || list.contains(&json!({})))
        };
        if is_free(old) && !is_free(new) {
            self.say(place, "a token is newly required");
        }
        self.parameters(old, new, place);
        self.body(&old["requestBody"], &new["requestBody"], place);
        for (status, response) in members(&old["responses"]) {
            let there = new["responses"].get(status);
            match there {
                None if status.starts_with('2') => self.say(place, &format!("the answer {status} is removed")),
                None => {}
                Some(now) => {
                    self.contents(&response["content"], &now["content"], &format!("{place} {status}"), Way::Answered)
                }
            }
        }
    }

    fn parameters(&mut self, old: &Value, new: &Value, place: &str) {
        let list = |operation: &Value| operation["parameters"].as_array().cloned().unwrap_or_default();
        let same = |a: &Value, b: &Value| a["name"] == b["name"] && a["in"] == b["in"];
        for parameter in list(old) {
            let at = format!("{place} {}", parameter["name"].as_str().unwrap_or_default());
            match list(new).iter().find(|now| same(now, &parameter)) {
                None => self.say(&at, "the parameter is removed"),
                Some(now) => {
                    if parameter["required"] != true && now["required"] == true {
                        self.say(&at, "the parameter is newly required");
                    }
                    self.schema(&parameter["schema"], &now["schema"], &at, Way::Sent);
                }
            }
        }
        for now in list(new).iter().filter(|now| now["required"] == true) {
            if !list(old).iter().any(|before| same(before, now)) {
                self.say(
                    &format!("{place} {}", now["name"].as_str().unwrap_or_default()),
                    "a new parameter is required",
                );
            }
        }
    }

    fn body(&mut self, old: &Value, new: &Value, place: &str) {
        if old["required"] != true && new["required"] == true {
            self.say(place, "a body is newly required");
        }
        self.contents(&old["content"], &new["content"], &format!("{place} body"), Way::Sent);
    }

    fn contents(&mut self, old: &Value, new: &Value, place: &str, way: Way) {
        for (media_type, content) in members(old) {
            match new.get(media_type) {
                Some(now) => self.schema(&content["schema"], &now["schema"], place, way),
                None => self.say(place, &format!("{media_type} is removed")),
            }
        }
    }

    fn schema(&mut self, old: &Value, new: &Value, place: &str, way: Way) {
        let (before, now) = (resolved(self.old, old), resolved(self.new, new));
        if let (Some(a), Some(b)) = (old["$ref"].as_str(), new["$ref"].as_str())
            && !self.seen.insert((a.to_owned(), b.to_owned(), way))
        {
            return;
        }
        let (before, now) = (before.clone(), now.clone());
        let kinds = |schema: &Value| match &schema["type"] {
            Value::String(one) => vec![one.clone()],
            Value::Array(many) => many.iter().filter_map(Value::as_str).map(str::to_owned).collect(),
            _ => Vec::new(),
        };
        let (old_kinds, new_kinds) = (kinds(&before), kinds(&now));
        let (from, to) = if way == Way::Sent { (&old_kinds, &new_kinds) } else { (&new_kinds, &old_kinds) };
        if !to.is_empty() && (from.is_empty() || from.iter().any(|kind| !to.contains(kind))) {
            self.say(place, &format!("retyped from {old_kinds:?} to {new_kinds:?}"));
            return;
        }
        if way == Way::Sent {
            self.limits(&before, &now, place);
        }
        self.properties(&before, &now, place, way);
        if before["items"].is_object() && now["items"].is_object() {
            self.schema(&before["items"], &now["items"], &format!("{place}[]"), way);
        }
        for word in ["oneOf", "anyOf"] {
            let choices = |schema: &Value| schema[word].as_array().cloned().unwrap_or_default();
            let (old_choices, new_choices) = (choices(&before), choices(&now));
            if way == Way::Sent && old_choices.len() > new_choices.len() {
                self.say(place, "a choice is removed");
            }
            for (a, b) in old_choices.iter().zip(&new_choices) {
                self.schema(a, b, place, way);
            }
        }
    }

    /// What is sent may not be held to closer limits.
    fn limits(&mut self, old: &Value, new: &Value, place: &str) {
        for (name, closer) in [
            ("maxLength", -1.0),
            ("maximum", -1.0),
            ("maxItems", -1.0),
            ("minLength", 1.0),
            ("minimum", 1.0),
            ("minItems", 1.0),
        ] {
            let is_closer = match (old[name].as_f64(), new[name].as_f64()) {
                (Some(a), Some(b)) => (b - a) * closer > 0.0,
                (None, Some(_)) => true,
                _ => false,
            };
            if is_closer {
                self.say(place, &format!("narrowed: {name} from {} to {}", old[name], new[name]));
            }
        }
        if new["pattern"].is_string() && old["pattern"] != new["pattern"] {
            self.say(place, "narrowed: another pattern");
        }
        let words = |schema: &Value| schema["enum"].as_array().cloned();
        if let Some(now) = words(new) {
            match words(old) {
                None => self.say(place, "narrowed: only some words are taken"),
                Some(before) => {
                    for gone in before.iter().filter(|word| !now.contains(word)) {
                        self.say(place, &format!("narrowed: {gone} is not taken any more"));
                    }
                }
            }
        }
    }

    fn properties(&mut self, old: &Value, new: &Value, place: &str, way: Way) {
        let none = Map::new();
        let now = new["properties"].as_object().unwrap_or(&none);
        let required = |schema: &Value, name: &str| {
            schema["required"].as_array().is_some_and(|list| list.iter().any(|one| one == name))
        };
        for (name, property) in members(&old["properties"]) {
            let at = format!("{place}.{name}");
            match now.get(name) {
                None => self.say(&at, "removed"),
                Some(there) => {
                    if way == Way::Answered && required(old, name) && !required(new, name) {
                        self.say(&at, "may be absent now");
                    }
                    self.schema(property, there, &at, way);
                }
            }
        }
        if way == Way::Sent {
            for name in now.keys().filter(|name| required(new, name) && !required(old, name)) {
                self.say(&format!("{place}.{name}"), "newly required");
            }
        }
    }
}

/// The schema that a reference leads to.
fn resolved<'d>(document: &'d Value, mut schema: &'d Value) -> &'d Value {
    while let Some(reference) = schema["$ref"].as_str() {
        schema = document.pointer(reference.trim_start_matches('#')).unwrap_or(&Value::Null);
    }
    schema
}

/// A document with one operation, changed in one place.
#[track_caller]
fn changed(pointer: &str, value: Value) -> Vec<String> {
    let old = json!({
        "paths": { "/v1/things": { "post": {
            "operationId": "put_thing", "security": [{}, { "bearer": [] }],
            "parameters": [{ "name": "take", "in": "query", "schema": { "type": "integer", "minimum": 1, "maximum": 9 } }],
            "requestBody": { "content": { "application/json": { "schema": { "$ref": "#/components/schemas/Thing" } } } },
            "responses": { "200": { "content": { "application/json": { "schema": { "$ref": "#/components/schemas/Answer" } } } } },
        } } },
        "components": { "schemas": {
            "Thing": { "type": "object", "required": ["a"], "properties": {
                "a": { "type": "string", "maxLength": 9 }, "b": { "type": "string", "enum": ["x", "y"] } } },
            "Answer": { "type": "object", "required": ["n"], "properties": {
                "n": { "type": "integer" }, "m": { "type": ["string", "null"] } } },
        } },
    });
    assert!(broken(&old, &old).is_empty());
    let mut new = old.clone();
    let (parent, name) = pointer.rsplit_once('/').unwrap();
    let name = name.replace("~1", "/");
    match new.pointer_mut(parent).unwrap() {
        Value::Object(members) if value.is_null() => drop(members.remove(&name)),
        Value::Object(members) => drop(members.insert(name, value)),
        Value::Array(items) => items.push(value),
        _ => panic!("nothing is below {parent}"),
    }
    assert_ne!(old, new);
    broken(&old, &new)
}

const POST: &str = "/paths/~1v1~1things/post";

#[track_caller]
fn breaks(pointer: &str, value: Value, told: &str) {
    let broken = changed(pointer, value);
    assert!(broken.len() == 1 && broken[0].contains(told), "{broken:?}");
}

#[test]
fn what_is_removed_or_renamed_breaks() {
    breaks("/paths/~1v1~1things", Value::Null, "POST /v1/things: removed");
    breaks(POST, Value::Null, "POST /v1/things: removed");
    breaks(&format!("{POST}/operationId"), json!("store_thing"), "renamed");
    breaks(&format!("{POST}/parameters"), json!([]), "take: the parameter is removed");
    breaks(&format!("{POST}/responses/200"), Value::Null, "the answer 200 is removed");
    breaks(&format!("{POST}/responses/200/content/application~1json"), Value::Null, "application/json is removed");
    breaks("/components/schemas/Thing/properties/b", Value::Null, ".b: removed");
    breaks("/components/schemas/Answer/properties/m", Value::Null, ".m: removed");
}

#[test]
fn what_is_retyped_breaks() {
    breaks("/components/schemas/Thing/properties/a/type", json!("integer"), "retyped");
    breaks("/components/schemas/Answer/properties/n/type", json!("string"), "retyped");
    breaks("/components/schemas/Answer/properties/n/type", json!(["integer", "null"]), "retyped");
    assert!(changed("/components/schemas/Thing/properties/a/type", json!(["string", "null"])).is_empty());
}

#[test]
fn what_is_narrowed_breaks() {
    breaks("/components/schemas/Thing/properties/a/maxLength", json!(8), "narrowed: maxLength");
    breaks("/components/schemas/Thing/properties/a/pattern", json!("^x"), "narrowed: another pattern");
    breaks("/components/schemas/Thing/properties/b/enum", json!(["x"]), "\"y\" is not taken any more");
    breaks(&format!("{POST}/parameters/0/schema/minimum"), json!(2), "narrowed: minimum");
    breaks("/components/schemas/Answer/required", json!([]), "may be absent now");
    assert!(changed("/components/schemas/Thing/properties/a/maxLength", json!(10)).is_empty());
    assert!(changed("/components/schemas/Thing/properties/b/enum", json!(["x", "y", "z"])).is_empty());
}

#[test]
fn what_is_newly_required_breaks() {
    breaks("/components/schemas/Thing/required", json!(["a", "b"]), ".b: newly required");
    breaks(&format!("{POST}/parameters/0/required"), json!(true), "newly required");
    breaks(&format!("{POST}/requestBody/required"), json!(true), "a body is newly required");
    breaks(&format!("{POST}/security"), json!([{ "bearer": [] }]), "a token is newly required");
    let more = json!({ "name": "why", "in": "query", "required": true, "schema": { "type": "string" } });
    breaks(&format!("{POST}/parameters/-"), more, "why: a new parameter is required");
    assert!(changed("/components/schemas/Answer/properties/k", json!({ "type": "string" })).is_empty());
    assert!(changed("/paths/~1v1~1others", json!({ "get": { "operationId": "list_others" } })).is_empty());
}
