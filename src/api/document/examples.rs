//! The examples of answers: what the service says about the demo yard, kept in a file that a test compares and rewrites.

use serde_json::Value;

const EXAMPLES: &str = include_str!("../../../openapi/examples.json");

/// Enters the examples: the answer of each operation to the examples of its parameters.
pub fn enter(document: &mut Value) {
    let examples: Value = serde_json::from_str(EXAMPLES).unwrap_or_default();
    for (_, item) in document["paths"].as_object_mut().into_iter().flatten() {
        for (_, operation) in item.as_object_mut().into_iter().flatten() {
            let id = operation["operationId"].as_str().unwrap_or_default();
            if let Some(example) = examples.get(id)
                && let Some(content) = first_good_content(operation)
            {
                content["example"] = example.clone();
            }
        }
    }
}

fn first_good_content(operation: &mut Value) -> Option<&mut Value> {
    let responses = operation["responses"].as_object_mut()?;
    let status = if responses.contains_key("201") { "201" } else { "200" };
    let response = responses.get_mut(status)?;
    response["content"].as_object_mut()?.iter_mut().next().map(|(_, content)| content)
}
