//! What holds for every operation: who may call it, the problems that any of them can answer with, the request id.

use super::BEARER;
use crate::api::access;
use crate::api::problem::{PROBLEM_JSON, ProblemDocument};
use crate::api::problem_kinds::{self as kinds, PROBLEM_KINDS, ProblemKind};
use crate::api::says::NOT_MODIFIED;
use crate::api::tokens::Scope;
use serde_json::{Map, Value, json};
use utoipa::{PartialSchema, ToSchema};

/// The scope that a token needs: `security` has no place for it that every reader of documents knows.
const SCOPE: &str = "x-scope";

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
    document["components"]["headers"] = headers().into();
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
        if let Some(scope) = scope {
            operation[SCOPE] = scope.word().into();
        }
        if let (Some(scope), Some(about)) = (scope, operation["description"].as_str()) {
            operation["description"] = format!("{about}\n\nA token needs the scope `{}`.", scope.word()).into();
        }
    }
    let mut kinds: Vec<&'static ProblemKind> = vec![&kinds::NOT_ACCEPTABLE, &kinds::INTERNAL];
    kinds.extend([&kinds::ADDRESS_TOO_LONG, &kinds::HEADERS_TOO_LARGE]);
    if path.starts_with("/v1/") {
        kinds.extend([&kinds::UNREADABLE, &kinds::TOKEN_WANTED, &kinds::NOT_ALLOWED]);
        kinds.extend([&kinds::TOO_MANY_REQUESTS, &kinds::NOT_READY]);
        if access::needed(&method.to_uppercase().parse().unwrap_or_default(), path) == Some(Scope::Write) {
            kinds.push(&kinds::FOLLOWS);
        }
        kinds.push(&kinds::GONE);
        add_parameter(operation, book_seen());
    }
    if let Some(body) = operation.get_mut("requestBody") {
        body["required"] = true.into();
        kinds.extend([&kinds::TOO_SLOW, &kinds::BODY_TOO_LARGE, &kinds::WRONG_MEDIA_TYPE]);
    }
    let parameters = operation["parameters"].as_array();
    let is_list = parameters.is_some_and(|all| all.iter().any(|parameter| parameter["name"] == "after"));
    let Some(responses) = operation["responses"].as_object_mut() else { return };
    for kind in kinds {
        let status = kind.status.as_str();
        if !responses.contains_key(status) {
            responses.insert(status.to_owned(), json!({ "$ref": format!("#/components/responses/{}", kind.name) }));
        }
    }
    for (status, response) in responses.iter_mut() {
        give_problem_its_name(response, used);
        if response.get("$ref").is_none() {
            let is_written = status.starts_with('2') && matches!(method, "put" | "patch" | "delete" | "post");
            add_headers(response, path.starts_with("/v1/"), is_written);
            if status.starts_with('2') {
                add_headers_of(path, is_written, is_list, response);
            }
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

/// A header of an answer, as the document says it.
fn header(about: &str, schema: Value) -> Value {
    json!({ "description": about, "schema": schema })
}

fn text(most: u32) -> Value {
    json!({ "type": "string", "minLength": 1, "maxLength": most })
}

/// A header that is always there.
fn always(mut header: Value) -> Value {
    header["required"] = true.into();
    header
}

/// The headers that many answers have, by name: the document has them once.
fn headers() -> Map<String, Value> {
    let id = json!({ "type": "string", "minLength": 1, "maxLength": 64, "pattern": "^[A-Za-z0-9._-]+$" });
    let change = json!({ "type": "string", "pattern": "^[0-9a-f]+[.][0-9]+$", "minLength": 3, "maxLength": 60 });
    let seconds = |most: u32| json!({ "type": "integer", "minimum": 0, "maximum": most });
    let constant = |value: &str| json!({ "type": "string", "const": value });
    let headers = [
        ("Request-Id", always(header("The id of the request, its own where it brought a plain one", id))),
        ("X-Content-Type-Options", always(header("The media type is as it is said", constant("nosniff")))),
        ("Referrer-Policy", always(header("No other place is told of this one", text(40)))),
        ("Content-Security-Policy", always(header("What a browser may load for it", text(400)))),
        (
            "Strict-Transport-Security",
            header("Where connections are encrypted: browsers are to ask encrypted only", text(100)),
        ),
        (
            "Book-Change",
            header(
                "The last change that the answer knows of: on answers to writes, and where several servers share the book",
                change.clone(),
            ),
        ),
        (
            "Book-Audited",
            header(
                "The last change that had surely been audited, as an epoch and a number (0 before the first audit), where the book \
                 has had more since",
                change,
            ),
        ),
        (
            "Book-Behind",
            header(
                "What was written longer ago than these seconds is in the answer, where several servers share the book",
                json!({ "type": "number", "minimum": 0, "maximum": 1e9 }),
            ),
        ),
        ("Age", header("The same as Book-Behind, where it is more than the operator wants", seconds(1_000_000_000))),
        ("RateLimit-Policy", header("How many requests are taken in which time, where they are counted", text(200))),
        ("RateLimit", header("How many requests are left, where they are counted", text(200))),
        ("Retry-After", header("After how many seconds it is worth trying again", seconds(86_400))),
        ("WWW-Authenticate", header("What a token is to be good for (RFC 6750), where one could help", text(200))),
    ];
    headers.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

/// What every answer may say in its head, of whatever kind it is.
const EVERYWHERE: &[&str] = &[
    "Request-Id",
    "X-Content-Type-Options",
    "Referrer-Policy",
    "Content-Security-Policy",
    "Strict-Transport-Security",
];
/// What answers about the book may say besides.
const OF_BOOK: &[&str] = &["Book-Change", "Book-Audited", "Book-Behind", "Age", "RateLimit-Policy", "RateLimit"];

/// References to some of the headers that many answers have.
fn referred<'n>(names: impl IntoIterator<Item = &'n &'n str>) -> Map<String, Value> {
    let reference = |name: &&str| ((*name).to_owned(), json!({ "$ref": format!("#/components/headers/{name}") }));
    names.into_iter().map(reference).collect()
}

/// Enters what an answer says in its head.
fn add_headers(response: &mut Value, is_of_book: bool, is_written: bool) {
    let mut headers = referred(EVERYWHERE);
    if is_of_book {
        headers.extend(referred(OF_BOOK));
    }
    let own = response["headers"].as_object().cloned().unwrap_or_default();
    if own.contains_key("ETag") && !is_written {
        headers.insert("Cache-Control".to_owned(), header("It is asked for again with its tag", text(60)));
    }
    headers.extend(own);
    response["headers"] = headers.into();
}

/// Enters what the answers at some paths say in their heads.
fn add_headers_of(path: &str, is_written: bool, is_list: bool, response: &mut Value) {
    let mut add = |name: &str, about: &str, most: u32| {
        if response["headers"].get(name).is_none() {
            response["headers"][name] = header(about, text(most));
        }
    };
    let is_intake = path.starts_with("/v1/intakes");
    if is_intake || path == "/v1/changes" {
        add("Cache-Control", "A copy does not serve again", 60);
    }
    if is_intake && is_written {
        add("Location", "Where the intake is", 100);
    }
    if path == "/v1/changes" {
        add("Vary", "Accept", 60);
    }
    if path.ends_with(".csv") && !(is_intake && is_written) {
        add("Content-Disposition", "A name for the file", 200);
    }
    if is_list {
        add("Link", "The next page, where there is one", 9000);
    }
}

/// The header that asks for an answer which knows of a change.
fn book_seen() -> Value {
    json!({
        "name": "Book-Seen",
        "in": "header",
        "required": false,
        "description": "The change that the answer must know of, as `Book-Change` of another answer gave it, and that must have \
            been audited where the audit has a word in it; of use where several servers share a book, and after much was written",
        "schema": { "type": "string", "pattern": "^[0-9a-f]{1,32}[.][0-9]{1,15}$", "minLength": 3, "maxLength": 48 },
        "example": "5f1d0c3a9b2e4477.17",
    })
}

fn add_parameter(operation: &mut Value, parameter: Value) {
    match operation.get_mut("parameters").and_then(Value::as_array_mut) {
        Some(parameters) => parameters.push(parameter),
        None => operation["parameters"] = json!([parameter]),
    }
}

fn response_of(kind: &ProblemKind) -> Value {
    let schema = json!({ "$ref": format!("#/components/schemas/{}", ProblemDocument::name()) });
    let of_kind: &[&str] = match kind.status.as_u16() {
        401 | 403 => &["WWW-Authenticate"],
        429 | 503 => &["Retry-After"],
        _ => &[],
    };
    let mut headers = referred(EVERYWHERE.iter().chain(OF_BOOK).chain(of_kind));
    let no_store = json!({ "type": "string", "const": "no-store" });
    headers.insert("Cache-Control".to_owned(), always(header("A problem is kept by nobody", no_store)));
    json!({ "description": kind.title, "headers": headers, "content": { PROBLEM_JSON: { "schema": schema } } })
}

fn not_modified() -> Value {
    let mut response = json!({
        "description": "The sender has the present state: the tag in If-None-Match is that of what would be answered",
        "headers": { "ETag": header("The tag", text(200)) },
    });
    add_headers(&mut response, true, false);
    response["headers"]["Vary"] = header("Accept, where there are several forms", text(60));
    response
}
