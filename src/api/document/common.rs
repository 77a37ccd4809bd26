//! What holds for every operation: who may call it, the problems that any of them can answer with, the request id.

use super::BEARER;
use crate::api::access;
use crate::api::problem::{PROBLEM_JSON, ProblemDocument};
use crate::api::problem_kinds::{self as kinds, PROBLEM_KINDS, ProblemKind};
use crate::api::says::NOT_MODIFIED;
use crate::api::tokens::Scope;
use serde_json::{Map, Value, json};
use utoipa::{PartialSchema, ToSchema};

/// The methods that an operation can have in the document.
const METHODS: &[&str] = &["get", "put", "post", "patch", "delete"];

/// Enters what holds for every operation.
pub fn complete(document: &mut Value) {
    document["components"]["securitySchemes"] = json!({ BEARER: {
        "type": "http",
        "scheme": "bearer",
        "description": "A token made with `clampbook token new`, with one of the scopes read, write, check, admin",
    } });
    let mut schemas = vec![(ProblemDocument::name().into_owned(), ProblemDocument::schema())];
    ProblemDocument::schemas(&mut schemas);
    for (name, schema) in schemas {
        document["components"]["schemas"][name] = serde_json::to_value(schema).unwrap_or_default();
    }
    let mut used = Vec::new();
    for (path, item) in document["paths"].as_object_mut().into_iter().flatten() {
        for method in METHODS {
            if let Some(operation) = item.get_mut(*method) {
                complete_operation(path, method, operation, &mut used);
            }
        }
    }
    let responses = PROBLEM_KINDS.iter().filter(|kind| used.contains(&kind.name));
    let mut responses: Map<String, Value> = responses.map(|kind| (kind.name.to_owned(), response_of(kind))).collect();
    responses.insert(NOT_MODIFIED.to_owned(), not_modified());
    document["components"]["responses"] = responses.into();
}

fn complete_operation(path: &str, method: &str, operation: &mut Value, used: &mut Vec<&'static str>) {
    if operation.get("security").is_none() {
        let scope = access::needed(&method.to_uppercase().parse().unwrap_or_default(), path);
        operation["security"] = match scope {
            Some(Scope::Read) => json!([{}, { BEARER: [] }]),
            Some(_) => json!([{ BEARER: [] }]),
            None => json!([]),
        };
        if let (Some(scope), Some(about)) = (scope, operation["description"].as_str()) {
            operation["description"] = format!("{about}\n\nA token needs the scope `{}`.", scope.word()).into();
        }
    }
    let mut kinds: Vec<&'static ProblemKind> = vec![&kinds::NOT_ACCEPTABLE, &kinds::INTERNAL];
    if path.starts_with("/v1/") {
        kinds.extend([&kinds::UNREADABLE, &kinds::ADDRESS_TOO_LONG, &kinds::TOKEN_WANTED, &kinds::NOT_ALLOWED]);
        kinds.extend([&kinds::HEADERS_TOO_LARGE, &kinds::TOO_MANY_REQUESTS, &kinds::NOT_READY]);
        if access::needed(&method.to_uppercase().parse().unwrap_or_default(), path) == Some(Scope::Write) {
            kinds.push(&kinds::FOLLOWS);
        }
    }
    if let Some(body) = operation.get_mut("requestBody") {
        body["required"] = true.into();
        kinds.extend([&kinds::TOO_SLOW, &kinds::BODY_TOO_LARGE, &kinds::WRONG_MEDIA_TYPE]);
    }
    let Some(responses) = operation["responses"].as_object_mut() else { return };
    for kind in kinds {
        let status = kind.status.as_str();
        if !responses.contains_key(status) {
            responses.insert(status.to_owned(), json!({ "$ref": format!("#/components/responses/{}", kind.name) }));
        }
    }
    for response in responses.values_mut() {
        give_problem_its_name(response, used);
        if response.get("$ref").is_none() {
            response["headers"]["Request-Id"] = request_id();
        }
    }
    let mut sorted: Vec<_> = std::mem::take(responses).into_iter().collect();
    sorted.sort_by(|a, b| a.0.cmp(&b.0));
    responses.extend(sorted);
}

/// A response that says nothing but the name of a problem refers to the common one.
fn give_problem_its_name(response: &mut Value, used: &mut Vec<&'static str>) {
    let name = response["$ref"].as_str().and_then(|reference| reference.rsplit('/').next());
    if let Some(kind) = PROBLEM_KINDS.iter().find(|kind| Some(kind.name) == name) {
        used.push(kind.name);
    }
}

fn response_of(kind: &ProblemKind) -> Value {
    let schema = json!({ "$ref": format!("#/components/schemas/{}", ProblemDocument::name()) });
    json!({
        "description": kind.title,
        "headers": { "Request-Id": request_id() },
        "content": { PROBLEM_JSON: { "schema": schema } },
    })
}

fn not_modified() -> Value {
    json!({
        "description": "The sender has the present state: the tag in If-None-Match is that of what would be answered",
        "headers": { "Request-Id": request_id(), "ETag": { "description": "The tag", "schema": { "type": "string" } } },
    })
}

fn request_id() -> Value {
    json!({
        "description": "The id of the request, its own where it brought a plain one",
        "schema": { "type": "string", "minLength": 1, "maxLength": 64, "pattern": "^[A-Za-z0-9._-]+$" },
    })
}
