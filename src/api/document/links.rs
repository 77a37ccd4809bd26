//! What can be done next with what an operation answered, so that chains of requests can be made from the document alone.

use serde_json::{Value, json};

/// Enters the links: from a write to reading, changing and withdrawing what was written, with the tag it answered; from an
/// intake to asking for it and applying it.
pub fn enter(document: &mut Value) {
    for kind in ["fastener", "joint"] {
        let tag = json!({ "path.id": "$request.path.id", "header.If-Match": "$response.header.ETag" });
        let links = json!({
            "read": { "operationId": format!("get_{kind}"), "parameters": { "path.id": "$request.path.id" },
                "description": format!("Reads the {kind} that was stored") },
            "withdraw": { "operationId": format!("withdraw_{kind}"), "parameters": tag,
                "description": format!("Withdraws the {kind} that was stored, with its tag") },
        });
        into(document, &format!("/v1/{kind}s/{{id}}"), "put", &["200", "201"], &links);
        let links = json!({ "withdraw": { "operationId": format!("withdraw_{kind}"), "parameters": tag,
            "description": format!("Withdraws the {kind} that was read, with its tag") } });
        into(document, &format!("/v1/{kind}s/{{id}}"), "get", &["200"], &links);
    }
    let id = json!({ "path.id": "$response.body#/id" });
    let read =
        json!({ "operationId": "get_intake", "parameters": id, "description": "Asks what became of the intake" });
    let apply = json!({ "operationId": "apply_intake", "parameters": id, "description": "Stores what was checked" });
    for path in ["/v1/intakes", "/v1/intakes.csv", "/v1/intakes.ndjson"] {
        into(document, path, "post", &["200"], &json!({ "read": read, "apply": apply }));
        into(document, path, "post", &["201", "202", "207"], &json!({ "read": read }));
    }
}

fn into(document: &mut Value, path: &str, method: &str, statuses: &[&str], links: &Value) {
    for status in statuses {
        if let Some(response) = document["paths"][path][method]["responses"].get_mut(status) {
            response["links"] = links.clone();
        }
    }
}
