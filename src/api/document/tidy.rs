//! Passes over the finished document that make it say just what is true.
//!
//! The derives know types; they do not know that an absent value is left out and never null, that a flattened part that is
//! absent takes its members with it, and that a text has an end.

use super::texts;
use serde_json::{Map, Value, json};
use std::collections::HashSet;

/// The greatest whole number that every JSON reader keeps exactly.
const INTEGER_MAX: u64 = (1 << 53) - 1;
/// No computed number comes near this.
const NUMBER_MAX: f64 = 1e15;
/// No text that is answered is longer, pages of rules included.
const TEXT_MAX: u32 = 20_000;
/// No list that is answered has more entries, whole tables included.
const LIST_MAX: u32 = 10_000;

/// Runs every pass.
pub fn tidy(document: &mut Value) {
    let schemas = document["components"]["schemas"].clone();
    for (_, schema) in document["components"]["schemas"].as_object_mut().into_iter().flatten() {
        merge_flattened(schema, &schemas);
    }
    drop_unused(document);
    walk(document, &mut join_lines);
    walk(document, &mut close_choices);
    texts::enter(document);
    // What is sent may say null for absent; what is answered never does.
    let sent = super::inputs::names(document);
    for (name, schema) in document["components"]["schemas"].as_object_mut().into_iter().flatten() {
        if !sent.contains(name) {
            walk(schema, &mut drop_null);
        }
    }
    open_texts(document);
    walk(document, &mut parameter_without_null);
    walk(document, &mut set_limits);
}

fn is_json(media_type: &str) -> bool {
    media_type.ends_with("/json") || media_type.ends_with("+json")
}

/// What is no JSON, such as a page, a picture or an export, is as long as it is.
fn open_texts(document: &mut Value) {
    for (_, item) in document["paths"].as_object_mut().into_iter().flatten() {
        for (_, operation) in item.as_object_mut().into_iter().flatten() {
            for (_, response) in operation["responses"].as_object_mut().into_iter().flatten() {
                let contents = response.get_mut("content").and_then(Value::as_object_mut).into_iter().flatten();
                for (_, content) in contents.filter(|(media_type, _)| !is_json(media_type)) {
                    content["schema"]["maxLength"] = INTEGER_MAX.into();
                }
            }
        }
    }
}

/// A parameter that may be left out has no value that means so.
fn parameter_without_null(value: &mut Value) {
    if value.get("in").is_some_and(Value::is_string)
        && let Some(schema) = value.get_mut("schema")
    {
        without_null(schema);
        if schema["pattern"] == ONLY_STAR {
            *schema = json!({ "type": "string", "enum": ["*"] });
        }
    }
}

/// A pattern that lets one text through; a list of one text says the same to more readers.
const ONLY_STAR: &str = "^[*]$";

/// Calls `visit` for every object inside a value, the inner ones first. An `enum` that is an object is a member of that name.
fn walk(value: &mut Value, visit: &mut impl FnMut(&mut Value)) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(|item| walk(item, visit)),
        Value::Object(members) => {
            for (name, member) in members.iter_mut() {
                if name != "example"
                    && name != "examples"
                    && name != "default"
                    && (name != "enum" || member.is_object())
                {
                    walk(member, visit);
                }
            }
            visit(value);
        }
        _ => {}
    }
}

/// A paragraph is one line: line breaks inside a sentence come from the width of source files.
fn join_lines(value: &mut Value) {
    for name in ["description", "summary"] {
        if let Some(Value::String(text)) = value.get_mut(name) {
            let paragraphs: Vec<String> = text.split("\n\n").map(|paragraph| paragraph.replace('\n', " ")).collect();
            *text = paragraphs.join("\n\n");
        }
    }
}

/// Where one of several objects is answered, each has its own members only: else the first could be any of them.
fn close_choices(value: &mut Value) {
    for choice in value.get_mut("oneOf").and_then(Value::as_array_mut).into_iter().flatten() {
        if choice.get("properties").is_some() && choice.get("additionalProperties").is_none() {
            choice["additionalProperties"] = false.into();
        }
    }
}

/// An optional member is left out when it is absent; it is never null.
fn drop_null(value: &mut Value) {
    let required: Vec<String> = serde_json::from_value(value["required"].clone()).unwrap_or_default();
    let Some(Value::Object(properties)) = value.get_mut("properties") else { return };
    for (name, property) in properties {
        if required.contains(name) {
            continue;
        }
        without_null(property);
    }
}

fn without_null(schema: &mut Value) {
    if let Some(Value::Array(types)) = schema.get_mut("type") {
        types.retain(|name| name != "null");
        if let [one] = types.as_slice() {
            schema["type"] = one.clone();
        }
    }
    for word in ["oneOf", "anyOf"] {
        let Some(Value::Array(choices)) = schema.get_mut(word) else { continue };
        choices.retain(|choice| choice["type"] != "null");
        if let [one] = choices.as_slice() {
            let one = one.clone();
            let (Value::Object(inner), Some(outer)) = (one, schema.as_object_mut()) else { continue };
            outer.remove(word);
            for (name, member) in inner {
                outer.entry(name).or_insert(member);
            }
        }
    }
}

/// Leaves out the schemas that nothing refers to: parts that were flattened into others.
fn drop_unused(document: &mut Value) {
    let schemas = document["components"]["schemas"].take();
    let (mut used, mut to_look_at) = (HashSet::new(), vec![&*document]);
    while let Some(value) = to_look_at.pop() {
        match value {
            Value::Array(items) => to_look_at.extend(items),
            Value::Object(members) => to_look_at.extend(members.values()),
            Value::String(text) => {
                if let Some(name) = text.strip_prefix("#/components/schemas/")
                    && used.insert(name)
                {
                    to_look_at.extend(schemas.get(name));
                }
            }
            _ => {}
        }
    }
    let named = schemas.as_object().into_iter().flatten();
    let kept: Map<_, _> = named
        .filter(|(name, _)| used.contains(name.as_str()))
        .map(|(name, schema)| (name.clone(), schema.clone()))
        .collect();
    document["components"]["schemas"] = kept.into();
}

/// Gives every text, list and number that has no limit of its own the one that holds for all.
fn set_limits(schema: &mut Value) {
    let Some(kind) = schema.get("type").and_then(Value::as_str).map(str::to_owned) else { return };
    let is_closed = schema.get("enum").is_some() || schema.get("const").is_some();
    let mut limit = |name: &str, value: Value| {
        if schema.get(name).is_none() {
            schema[name] = value;
        }
    };
    match kind.as_str() {
        "string" if !is_closed => limit("maxLength", TEXT_MAX.into()),
        "array" => limit("maxItems", LIST_MAX.into()),
        "integer" if !is_closed => {
            limit("minimum", 0.into());
            limit("maximum", INTEGER_MAX.into());
        }
        "number" if !is_closed => {
            limit("minimum", (-NUMBER_MAX).into());
            limit("maximum", NUMBER_MAX.into());
        }
        _ => {}
    }
}

/// Where a part is flattened into a schema, its members become members; none is required where the part may be absent.
fn merge_flattened(schema: &mut Value, schemas: &Value) {
    let Some(Value::Array(parts)) = schema.get("allOf").cloned() else { return };
    let mut merged = json!({ "type": "object", "required": [], "properties": {} });
    for part in &parts {
        let choices = part["oneOf"].as_array();
        let is_optional = choices.is_some_and(|choices| choices.iter().any(|choice| choice["type"] == "null"));
        let inner = choices.and_then(|choices| choices.first()).unwrap_or(part);
        let reference = inner["$ref"].as_str().and_then(|reference| reference.rsplit('/').next());
        let inner = reference.map_or(inner, |name| &schemas[name]);
        let Some(properties) = inner["properties"].as_object() else { return };
        for (name, property) in properties {
            merged["properties"][name] = property.clone();
        }
        if let (false, Some(required), Some(all)) =
            (is_optional, inner["required"].as_array(), merged["required"].as_array_mut())
        {
            all.extend(required.iter().cloned());
        }
    }
    if let Some(description) = schema.get("description") {
        merged["description"] = description.clone();
    }
    *schema = merged;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_optional_part_that_is_flattened_requires_nothing() {
        let mut document = json!({ "components": { "schemas": {
            "Sheet": { "allOf": [
                { "oneOf": [{ "$ref": "#/components/schemas/Sizes" }, { "type": "null" }] },
                { "type": "object", "required": ["name"], "properties": { "name": { "type": "string", "maxLength": 3 } } },
            ] },
            "List": { "type": "array", "items": { "$ref": "#/components/schemas/Sheet" } },
            "Sizes": { "type": "object", "required": ["d"], "properties": { "d": { "type": "number", "minimum": 0 } } },
        } } });
        let schemas = document["components"]["schemas"].clone();
        merge_flattened(&mut document["components"]["schemas"]["Sheet"], &schemas);
        let sheet = &document["components"]["schemas"]["Sheet"];
        assert_eq!(sheet["required"], json!(["name"]));
        assert_eq!(sheet["properties"]["d"]["minimum"], 0);
        assert_eq!(sheet["properties"]["name"], json!({ "type": "string", "maxLength": 3 }));
    }

    #[test]
    fn an_absent_member_is_never_null() {
        let mut schema = json!({ "type": "object", "required": ["a"], "properties": {
            "a": { "type": ["string", "null"] },
            "b": { "type": ["string", "null"] },
            "c": { "oneOf": [{ "type": "null" }, { "$ref": "#/x" }], "description": "c" },
        } });
        drop_null(&mut schema);
        assert_eq!(schema["properties"]["a"]["type"], json!(["string", "null"]));
        assert_eq!(schema["properties"]["b"]["type"], "string");
        assert_eq!(schema["properties"]["c"], json!({ "$ref": "#/x", "description": "c" }));
    }
}
