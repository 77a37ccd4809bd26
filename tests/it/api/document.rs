//! The document of the API: as checked in, complete, and its examples are what the service says.

mod promise; // what was promised is not removed, renamed, retyped, narrowed or newly required

use super::service::{Answer, Service, encoded, fresh, shared};
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Rewrites the files instead of comparing them: run the tests once more afterwards.
fn is_rewriting() -> bool {
    std::env::var_os("CLAMPBOOK_REWRITE").is_some()
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("openapi").join(name)
}

#[test]
fn the_document_is_the_one_checked_in() {
    let built = clampbook::api::document_text();
    let path = file("clampbook.json");
    if is_rewriting() {
        std::fs::write(&path, &built).unwrap();
    }
    let checked_in = std::fs::read_to_string(&path).unwrap();
    let differs = built.lines().zip(checked_in.lines()).enumerate().find(|(_, (a, b))| a != b);
    assert!(
        built == checked_in,
        "the document has changed, first at {differs:?}.\nLook at it, then: cargo run -- openapi > openapi/clampbook.json"
    );
    assert_eq!(shared().get("/openapi.json").expect(200).text(), built);
}

/// An operation of the document.
pub struct Operation<'d> {
    pub id: &'d str,
    pub path: &'d str,
    pub method: &'d str,
    pub value: &'d Value,
}

/// Every operation of the document.
pub fn operations(document: &Value) -> Vec<Operation<'_>> {
    let mut operations = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, value) in item.as_object().unwrap() {
            let id = value["operationId"].as_str().unwrap();
            operations.push(Operation { id, path, method, value });
        }
    }
    operations
}

const VERBS: &[&str] = &[
    "get", "list", "put", "patch", "withdraw", "create", "compute", "apply", "audit", "export", "watch", "find", "make",
];

#[test]
fn every_operation_is_described() {
    let document = clampbook::api::document();
    let tags: Vec<&str> =
        document["tags"].as_array().unwrap().iter().map(|tag| tag["name"].as_str().unwrap()).collect();
    let mut ids = Vec::new();
    for Operation { id, path, method, value } in operations(&document) {
        let about = format!("{method} {path}");
        assert!(!ids.contains(&id), "{about}: {id} twice");
        ids.push(id);
        let verb = id.split('_').next().unwrap();
        assert!(VERBS.contains(&verb), "{about}: {id} begins with no verb of the list");
        let (summary, description) = (value["summary"].as_str().unwrap(), value["description"].as_str().unwrap_or(""));
        assert!(summary.len() > 5 && summary.len() < 80 && !summary.ends_with('.'), "{about}: {summary}");
        assert!(description.len() > 40, "{about}: {description}");
        assert!(value["tags"].as_array().unwrap().iter().all(|tag| tags.contains(&tag.as_str().unwrap())), "{about}");
        assert!(value["security"].is_array(), "{about} says nothing about tokens");
        for (status, response) in value["responses"].as_object().unwrap() {
            let is_described =
                response["$ref"].is_string() || response["description"].as_str().is_some_and(|d| d.len() > 5);
            assert!(is_described, "{about}: {status}");
        }
        for parameter in value["parameters"].as_array().into_iter().flatten() {
            let name = &parameter["name"];
            assert!(parameter["description"].as_str().is_some_and(|d| d.len() > 5), "{about}: {name}");
            assert!(parameter.get("example").is_some() || name == "after", "{about}: {name} has no example");
        }
    }
}

#[test]
fn every_link_leads_to_an_operation_and_its_parameters() {
    let document = clampbook::api::document();
    let all = operations(&document);
    let mut links = 0;
    for operation in &all {
        for (_, response) in operation.value["responses"].as_object().unwrap() {
            for (name, link) in response["links"].as_object().into_iter().flatten() {
                links += 1;
                let next = all.iter().find(|next| link["operationId"] == next.id).expect(name);
                for (parameter, value) in link["parameters"].as_object().unwrap() {
                    let (part, parameter) = parameter.split_once('.').unwrap();
                    let known = next.value["parameters"].as_array().unwrap();
                    assert!(known.iter().any(|known| known["in"] == part && known["name"] == parameter), "{parameter}");
                    let header = value.as_str().unwrap().strip_prefix("$response.header.");
                    assert!(header.is_none_or(|header| response["headers"].get(header).is_some()), "{value}");
                }
            }
        }
    }
    assert!(links >= 13, "only {links} links");
}

#[test]
fn every_text_list_and_number_has_limits() {
    fn check(value: &Value, place: &str, open: &mut Vec<String>) {
        match value {
            Value::Array(items) => items.iter().for_each(|item| check(item, place, open)),
            Value::Object(members) => {
                let is_closed = members.contains_key("enum") || members.contains_key("const");
                let limit = match members.get("type").and_then(Value::as_str) {
                    Some("string") if !is_closed => "maxLength",
                    Some("array") => "maxItems",
                    Some("integer" | "number") => "maximum",
                    _ => "",
                };
                if !limit.is_empty() && !members.contains_key(limit) {
                    open.push(format!("{place}: {limit}"));
                }
                for (name, member) in members.iter().filter(|(name, _)| !name.starts_with("example")) {
                    check(member, &format!("{place}/{name}"), open);
                }
            }
            _ => {}
        }
    }
    let mut open = Vec::new();
    check(&clampbook::api::document(), "", &mut open);
    assert!(open.is_empty(), "{open:#?}");
}

/// Parameters that need not be given, and are given in the request that the example of the answer is for.
const ALSO_ASKED: &[(&str, &str)] = &[
    ("put_fastener", "If-None-Match"),
    ("put_joint", "If-None-Match"),
    ("list_fasteners", "id"),
    ("list_fasteners", "count"),
    ("list_joints", "id"),
    ("list_findings", "within"),
    ("list_changes", "take"),
];

/// An example as it stands behind `?`.
pub fn words(example: &Value) -> String {
    match example {
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(words).collect::<Vec<_>>().join(","),
        other => other.to_string(),
    }
}

/// The path of an operation; where it is about intakes, there is one.
fn with_intake(service: Service, operation: &Operation<'_>) -> String {
    if operation.id != "list_intakes" && !operation.path.starts_with("/v1/intakes/{id}") {
        return operation.path.to_owned();
    }
    let stage = if operation.path.ends_with("/faults.csv") { "20" } else { "20 N·m" };
    let table = format!("id,joint,thread,stages\r\nskua.test-bench.frame.bolt,skua.test-bench.frame,M8,{stage}\r\n");
    let headers = [("Content-Type", "text/csv")];
    let sent = service.send("POST", "/v1/intakes.csv?mode=check&name=parts.csv", &headers, table.as_bytes());
    let id = if sent.status == 200 { sent.json()["id"].clone() } else { sent.json()["intake"]["id"].clone() };
    operation.path.replace("{id}", id.as_str().unwrap())
}

/// Sends what the examples of an operation say.
fn call(service: Service, operation: &Operation<'_>) -> Answer {
    let mut path = with_intake(service, operation);
    let mut query = Vec::new();
    let mut headers: Vec<(String, String)> = Vec::new();
    for parameter in operation.value["parameters"].as_array().into_iter().flatten() {
        let name = parameter["name"].as_str().unwrap();
        let is_wanted = parameter["required"] == true || ALSO_ASKED.contains(&(operation.id, name));
        let example = words(&parameter["example"]);
        match parameter["in"].as_str().unwrap() {
            "path" => path = path.replace(&format!("{{{name}}}"), &encoded(&example)),
            "query" if is_wanted => query.push(format!("{name}={}", encoded(&example))),
            "header" if is_wanted => headers.push((name.to_owned(), example)),
            _ => {}
        }
    }
    if !query.is_empty() {
        path = format!("{path}?{}", query.join("&"));
    }
    let content = operation.value["requestBody"]["content"].as_object().and_then(|content| content.iter().next());
    let mut body = Vec::new();
    if let Some((media_type, content)) = content {
        headers.push(("Content-Type".to_owned(), media_type.clone()));
        body = match &content["example"] {
            Value::String(text) => text.clone().into_bytes(),
            Value::Null => panic!("{} has a body without an example", operation.id),
            value => value.to_string().into_bytes(),
        };
    }
    let headers: Vec<(&str, &str)> = headers.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    service.send(&operation.method.to_uppercase(), &path, &headers, &body)
}

/// The first media type of the first good answer, and its example.
fn documented<'d>(operation: &Operation<'d>) -> (u16, &'d str, &'d Value) {
    let responses = operation.value["responses"].as_object().unwrap();
    let status = if responses.contains_key("201") { "201" } else { "200" };
    let response = &responses[status];
    let content = response["content"].as_object().and_then(|content| content.iter().next());
    let (media_type, example) =
        content.map_or(("", &Value::Null), |(name, content)| (name.as_str(), &content["example"]));
    (status.parse().unwrap(), media_type, example)
}

/// The document and the page of it say nothing new by an example of themselves.
const WITHOUT_EXAMPLE: &[&str] = &["get_openapi"];

#[test]
fn the_examples_are_what_the_service_says() {
    let document = clampbook::api::document();
    let mut told = Map::new();
    let mut wrong = Vec::new();
    let mut unsaid = Vec::new();
    // Nobody else sends it anything: what was taken in is listed.
    let only_read = fresh();
    for operation in operations(&document) {
        let service = if operation.method == "get" { only_read } else { fresh() };
        let answer = call(service, &operation);
        let (status, media_type, example) = documented(&operation);
        unsaid.extend(unsaid_headers(&document, &operation, &answer));
        assert_eq!(answer.status, status, "{}: {}", operation.id, String::from_utf8_lossy(&answer.body));
        if media_type.is_empty() || WITHOUT_EXAMPLE.contains(&operation.id) {
            continue;
        }
        let sent = answer.header("content-type").unwrap_or_default();
        assert_eq!(sent.split(';').next(), Some(media_type), "{}", operation.id);
        let is_json = media_type.ends_with("/json") || media_type.ends_with("+json");
        let said = if is_json { answer.json() } else { answer.text().into() };
        let said = if media_type.ends_with("csv") || media_type.ends_with("ndjson") {
            let lines: Vec<&str> = answer.text().split_inclusive('\n').take(EXAMPLE_ITEMS).collect();
            lines.concat().into()
        } else {
            settled(said)
        };
        if said != *example {
            wrong.push(operation.id.to_owned());
        }
        told.insert(operation.id.to_owned(), said);
    }
    assert!(unsaid.is_empty(), "headers that are sent and not in the document: {unsaid:#?}");
    if is_rewriting() {
        std::fs::write(file("examples.json"), format!("{:#}\n", Value::Object(told))).unwrap();
    } else {
        assert!(
            wrong.is_empty(),
            "the examples of {wrong:?} are not what is said.\nCLAMPBOOK_REWRITE=1 cargo test --test it api::document, twice"
        );
    }
}

/// What every HTTP answer has, whatever it is about.
const OF_HTTP: &[&str] = &["content-type", "content-length", "transfer-encoding", "connection", "date"];

/// What a reference of the document leads to, or the thing itself.
fn resolved<'d>(document: &'d Value, thing: &'d Value) -> &'d Value {
    match thing["$ref"].as_str() {
        Some(reference) => document.pointer(&reference[1..]).unwrap_or_else(|| panic!("{reference} is not there")),
        None => thing,
    }
}

/// The headers of an answer that the document does not tell of, and those that it promises and that are not there.
fn unsaid_headers(document: &Value, operation: &Operation<'_>, answer: &Answer) -> Vec<String> {
    let response = resolved(document, &operation.value["responses"][answer.status.to_string()]);
    let headers = response["headers"].as_object().cloned().unwrap_or_default();
    let is_said = |name: &str| headers.keys().any(|known| known.eq_ignore_ascii_case(name));
    let sent = answer.headers.iter().map(|(name, _)| name.as_str());
    let unsaid = sent.filter(|name| !OF_HTTP.contains(name) && !is_said(name)).map(str::to_owned);
    let promised = headers.iter().filter(|(_, header)| resolved(document, header)["required"] == true);
    let missing = promised.filter(|(name, _)| answer.header(name).is_none()).map(|(name, _)| format!("no {name}"));
    unsaid.chain(missing).map(|what| format!("{} {}: {what}", operation.id, answer.status)).collect()
}

#[test]
fn a_no_has_the_headers_that_the_document_says() {
    let document = clampbook::api::document();
    let (open, closed) = (shared(), super::access::closed());
    let (mut wrong, mut statuses) = (Vec::new(), BTreeSet::new());
    let parameter = regex::Regex::new("[{][a-z_]+[}]").unwrap();
    for operation in operations(&document) {
        let method = operation.method.to_uppercase();
        let path = parameter.replace_all(operation.path, "1").into_owned();
        let known = super::access::address(&operation);
        let long = format!("{path}?x={}", "x".repeat(9000));
        let json: (&str, &str) = ("Content-Type", "application/json");
        let answers = [
            open.send(&method, &path, &[json], b"{"),
            open.send(&method, &format!("{known}?no-such-parameter=1"), &[json], b"{}"),
            open.send(&method, &known, &[("Content-Type", "image/png"), ("If-Match", "\"r999\"")], b"{}"),
            open.send(&method, &known, &[json, ("Accept", "image/png"), ("If-Match", "\"r999\"")], b"{}"),
            open.send(&method, &known, &[json, ("Book-Seen", "0a.1")], b"{}"),
            open.send(&method, &long, &[json], b"{}"),
            closed.send(&method, &known, &[json], b"{}"),
        ];
        for answer in answers.iter().filter(|answer| answer.status >= 400) {
            statuses.insert(answer.status);
            if operation.value["responses"].get(answer.status.to_string()).is_some() {
                wrong.extend(unsaid_headers(&document, &operation, answer));
            } else {
                wrong.push(format!("{} {}: the status is not in the document", operation.id, answer.status));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!([400, 401, 404, 406, 410, 412, 414, 415].iter().all(|status| statuses.contains(status)), "{statuses:?}");
}

/// An answer without what is another one in every book: times, cursors, the name of its history.
fn settled(mut value: Value) -> Value {
    fn settle(name: &str, value: &mut Value) {
        match value {
            Value::Array(items) => items.iter_mut().for_each(|item| settle("", item)),
            Value::Object(members) => members.iter_mut().for_each(|(name, member)| settle(name, member)),
            Value::String(text) => match name {
                "printed_at" => "2026-03-01 08:00 UTC".clone_into(text),
                "changed_at" | "at" => "2026-03-01T08:00:00Z".clone_into(text),
                "expires_at" => "2026-03-02T08:00:00Z".clone_into(text),
                "id" if text.len() == 32 && !text.contains('.') => "0f1e2d3c4b5a69788796a5b4c3d2e1f0".clone_into(text),
                "epoch" => "5f1d0c3a9b2e4477".clone_into(text),
                "next" if text.contains('.') => {
                    *text = format!("5f1d0c3a9b2e4477.{}", text.rsplit('.').next().unwrap())
                }
                "next" => "3b1fc2".clone_into(text),
                _ => {}
            },
            _ => {}
        }
    }
    settle("", &mut value);
    for list in ["items", "rows"] {
        if let Some(Value::Array(items)) = value.get_mut(list) {
            items.truncate(EXAMPLE_ITEMS);
        }
    }
    value
}

/// How many things of a list an example shows: the first ones.
const EXAMPLE_ITEMS: usize = 3;
