//! What is sent is read strictly, and the document says so: nothing but the members that it names.

use serde_json::{Value, json};
use std::collections::BTreeSet;

/// The schemas of records, which may be sent back with what the book added.
const RECORDS: &[&str] = &["Fastener", "Joint", "FastenerInput", "JointInput"];

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
    }
    // Any value at all: the builders of the document cannot say that.
    if let Some(operation) = document.pointer_mut("/components/schemas/PatchOperation/properties") {
        operation["value"] = json!({ "description": "The new value, for add, replace and test" });
    }
}
