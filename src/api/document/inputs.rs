//! What is sent is read strictly, and the document says so: nothing but the members that it names.

use crate::api::patch::operation_schema;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// The schemas of records, which may be sent back with what the book added.
const RECORDS: &[&str] = &["Fastener", "Joint", "FastenerInput", "JointInput"];

/// The greatest whole number that a record takes.
const COUNT_MAX: u32 = 9999;

/// The names of the schemas that something sent is read with.
#[must_use]
pub fn names(document: &Value) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for (_, item) in document["paths"].as_object().into_iter().flatten() {
        for (_, operation) in item.as_object().into_iter().flatten() {
            collect(&operation["requestBody"], &document["components"]["schemas"], &mut names);
        }
    }
    names
}

/// Collects the names that a value refers to, and those that these refer to.
fn collect(value: &Value, schemas: &Value, names: &mut BTreeSet<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| collect(item, schemas, names)),
        Value::Object(members) => {
            for (key, member) in members {
                match member.as_str().and_then(|reference| reference.strip_prefix("#/components/schemas/")) {
                    Some(name) if key == "$ref" => {
                        if names.insert(name.to_owned()) {
                            collect(&schemas[name], schemas, names);
                        }
                    }
                    _ => collect(member, schemas, names),
                }
            }
        }
        _ => {}
    }
}

/// Closes the schemas that something sent is read with.
pub fn close(document: &mut Value) {
    let names = names(document);
    for (name, schema) in document["components"]["schemas"].as_object_mut().into_iter().flatten() {
        if !names.contains(name) {
            continue;
        }
        if RECORDS.contains(&name.as_str()) {
            let about =
                "What the book says about a record that was read; passed over, so that a record can be sent back";
            schema["properties"]["book"] = json!({ "description": about });
        }
        if schema.get("properties").is_some() && schema.get("additionalProperties").is_none() {
            schema["additionalProperties"] = false.into();
        }
        allow_null(schema);
        limit_numbers(schema);
    }
    let operation = &mut document["components"]["schemas"]["PatchOperation"];
    if !operation.is_null() {
        *operation = operation_schema();
    }
}

/// A member that may be left out may be null just as well; the derives know that of all but lists and maps.
fn allow_null(schema: &mut Value) {
    let required: Vec<String> = serde_json::from_value(schema["required"].clone()).unwrap_or_default();
    for (name, property) in schema.get_mut("properties").and_then(Value::as_object_mut).into_iter().flatten() {
        if let Some(kind @ ("array" | "object")) = property["type"].as_str().filter(|_| !required.contains(name)) {
            property["type"] = json!([kind, "null"]);
        }
    }
}

/// Whole numbers in a record count something or name a place, from 1; the derives know no limits inside of lists.
fn limit_numbers(schema: &mut Value) {
    match schema {
        Value::Array(items) => items.iter_mut().for_each(limit_numbers),
        Value::Object(members) => {
            if let Some(names) = members.get_mut("propertyNames") {
                *names = json!({ "type": "string", "pattern": "^[1-9][0-9]?$", "maxLength": 2 });
            }
            if members.get("format").and_then(Value::as_str) == Some("int32") && !members.contains_key("maximum") {
                members.insert("minimum".to_owned(), 1.into());
                members.insert("maximum".to_owned(), COUNT_MAX.into());
            }
            members.values_mut().for_each(limit_numbers);
        }
        _ => {}
    }
}
