//! Tokens: every operation asks for the one it needs, and nobody checks their own entry.

use super::document::{Operation, operations};
use super::service::{Answer, Service, fresh, run, yard};
use clampbook::api::{Options, Scope, ServeError, Tokens};
use serde_json::json;
use tempfile::TempDir;

const HEX: &str = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";

struct Guarded {
    service: Service,
    tokens: Tokens,
    _folder: TempDir,
}

fn guarded() -> Guarded {
    guarded_with(None)
}

/// A service that anybody may read, or may not; as usual if that is not said.
fn guarded_with(anonymous_read: Option<bool>) -> Guarded {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tokens.json");
    let options = Options { workers: Some(1), anonymous_read, ..Options::on("127.0.0.1:0".parse().unwrap(), &path) };
    Guarded { service: run(yard(), options), tokens: Tokens::at(path), _folder: folder }
}

/// A service that nobody may read without a token, and no token is there.
pub fn closed() -> Service {
    let options = Options {
        workers: Some(1),
        anonymous_read: Some(false),
        ..Options::on("127.0.0.1:0".parse().unwrap(), "/nonexistent/tokens.json")
    };
    run(yard(), options)
}

impl Guarded {
    fn bearer(&self, name: &str, scopes: &[Scope]) -> String {
        let (_, text) = self.tokens.make(&name.parse().unwrap(), scopes, None).unwrap();
        format!("Bearer {text}")
    }
}

/// What one operation is asked for, with something in every place of its path.
pub fn address(operation: &Operation<'_>) -> String {
    let path = operation.path.replace("{id}", "skua.diesel.raw-water-pump.cover");
    regex::Regex::new("[{][a-z_]+[}]").unwrap().replace_all(&path, "1").into_owned()
}

#[test]
fn every_operation_takes_the_tokens_that_the_document_says_and_no_other() {
    try_every_operation(&guarded(), true);
}

#[test]
fn where_nobody_reads_without_a_token_every_operation_asks_for_one() {
    let guarded = guarded_with(Some(false));
    try_every_operation(&guarded, false);
    // The pages lead to where a token is told, and what says nothing of the book is for everybody.
    let page = guarded.service.get("/bench/").expect(303);
    assert_eq!(page.header("location"), Some("/bench/sign-in?to=%2Fbench%2F"));
    for path in ["/health/live", "/health/ready", "/openapi.json", "/docs/", "/problems/not-found"] {
        guarded.service.get(path).expect(200);
    }
}

/// Asks for every operation of the document without a token, with forged ones, and with one of each scope.
fn try_every_operation(guarded: &Guarded, anybody_reads: bool) {
    let scopes = [Scope::Read, Scope::Write, Scope::Check, Scope::Admin];
    let tokens = scopes.map(|scope| (scope, guarded.bearer(scope.word(), &[scope])));
    let document = clampbook::api::document();
    let (mut free, mut reading, mut writing) = (0, 0, 0);
    for operation in operations(&document) {
        let security = operation.value["security"].as_array().unwrap();
        let path = address(&operation);
        let send = |token: Option<&str>| {
            let mut headers = vec![("Content-Type", "application/json"), ("If-Match", "*")];
            headers.extend(token.map(|token| ("Authorization", token)));
            guarded.service.send(&operation.method.to_uppercase(), &path, &headers, b"{}")
        };
        let is_let_in = |answer: Answer| !matches!(answer.status, 401 | 403);
        let Some(scope_needed) = operation.value["x-scope"].as_str() else {
            free += 1;
            assert!(security.is_empty(), "{}", operation.id);
            assert!(!operation.path.starts_with("/v1/"), "{} is for everybody", operation.id);
            assert!(is_let_in(send(Some("Bearer cb_00"))), "{}", operation.id);
            continue;
        };
        let is_open = security[0] == json!({});
        *if scope_needed == "read" { &mut reading } else { &mut writing } += 1;
        assert!(security.contains(&json!({ "bearer": [] })), "{}", operation.id);
        assert_eq!(is_open, scope_needed == "read", "{}", operation.id);
        let answer = send(None);
        if is_open && anybody_reads {
            assert!(is_let_in(answer), "{}", operation.id);
        } else {
            assert_eq!(answer.header("www-authenticate"), Some("Bearer realm=\"clampbook\""), "{}", operation.id);
            answer.problem(401, "token-wanted");
        }
        for forged in ["Bearer cb_00", "Bearer ", "Basic bW86bW8=", "Bearer", "\u{e9}"] {
            send(Some(forged)).problem(401, "token-wanted");
        }
        for (scope, token) in &tokens {
            let answer = send(Some(token));
            if scope.word() == scope_needed || *scope == Scope::Admin {
                assert!(is_let_in(answer), "{} refuses a token with {}", operation.id, scope.word());
            } else {
                let challenge = answer.header("www-authenticate").unwrap_or_default().to_owned();
                assert!(challenge.contains(&format!("scope=\"{scope_needed}\"")), "{}: {challenge}", operation.id);
                answer.problem(403, "not-allowed");
            }
        }
    }
    assert!(free >= 3 && reading > 30 && writing > 10, "{free} {reading} {writing}");
}

/// What others write is audited while one is answered with what was found before, and told so.
#[test]
fn nobody_waits_for_the_audit_of_what_others_write() {
    let service = fresh();
    let cover = "/v1/joints/skua.diesel.raw-water-pump.cover/positions/2";
    let paths = [HEX, cover, "/v1/fasteners?within=skua.diesel.raw-water-pump"];
    paths.iter().for_each(|path| drop(service.get(path).expect(200)));
    let mut numbers = 0..;
    let mut elsewhere = || {
        let path = format!("/v1/fasteners/skua.gangway.here.f{}", numbers.next().unwrap());
        let body = json!({ "joint": "skua.gangway.here", "thread": "M8", "stages": ["20 N·m"] });
        let written = service.send_json("PUT", &path, &[("If-None-Match", "*")], &body).expect(201);
        written.header("book-change").unwrap().to_owned()
    };
    for path in paths {
        // The service audits by itself, and may be faster; and positions wait until the directory of the book is made.
        let mut told = || {
            let change = elsewhere();
            let answer = service.get(path).expect(200);
            Some((answer.header("book-audited")?.to_owned(), answer, change))
        };
        let (audited, answer, change) = (0..200).find_map(|_| told()).expect("it always waits");
        let number = |change: &str| change.rsplit('.').next().unwrap().parse::<u64>().unwrap();
        assert!(number(&audited) < number(&change), "{audited} {change}");
        // The tag of a record is that of its bytes; those of the others say which audit they are of.
        let tag = answer.header("etag").unwrap();
        assert!(path == HEX || tag.contains(&format!("audited-{}", number(&audited))), "{tag}");
        let seen = service.send("GET", path, &[("Book-Seen", &change)], b"").expect(200);
        assert_eq!(seen.header("book-audited"), None, "{path}");
    }
    // Nobody has asked for the audit, and it is made.
    elsewhere();
    let is_audited = || {
        std::thread::sleep(std::time::Duration::from_millis(100));
        service.get(HEX).expect(200).header("book-audited").is_none()
    };
    assert!((0..300).any(|_| is_audited()), "nobody audits what was written");
}

#[test]
fn an_answer_knows_of_what_its_sender_has_seen() {
    let service = fresh();
    let written = service.send("DELETE", HEX, &[("If-Match", "*")], b"").expect(200);
    let change = written.header("book-change").unwrap().to_owned();
    service.send("GET", HEX, &[("Book-Seen", &change)], b"").expect(200);
    let (epoch, number) = change.split_once('.').unwrap();
    service.send("GET", HEX, &[("Book-Seen", &format!("00{epoch}.{number}"))], b"").problem(410, "gone");
    service.send("GET", HEX, &[("Book-Seen", number)], b"").problem(400, "unreadable");
}

#[test]
fn a_token_ends_when_it_is_revoked() {
    let guarded = guarded();
    let token = guarded.bearer("mo", &[Scope::Write]);
    let read = guarded.service.get(HEX).expect(200).json();
    let put = |length: &str, tag: &str| {
        let mut body = read.clone();
        body["length"] = json!(length);
        guarded.service.send_json("PUT", HEX, &[("If-Match", tag), ("Authorization", &token)], &body)
    };
    put("40 mm", "\"r1\"").expect(200);
    assert_eq!(guarded.service.get(HEX).json()["book"]["changed_by"], "mo");
    // A token that is sent is judged, even where none is needed.
    guarded.service.send("GET", HEX, &[("Authorization", &token)], b"").problem(403, "not-allowed");
    guarded.tokens.revoke(1).unwrap();
    put("45 mm", "\"r2\"").problem(401, "token-wanted");
}

#[test]
fn nobody_checks_their_own_entry() {
    let guarded = guarded();
    let mo = guarded.bearer("mo", &[Scope::Write, Scope::Check]);
    let writer = guarded.bearer("writer", &[Scope::Write]);
    let ines = guarded.bearer("ines", &[Scope::Write, Scope::Check]);
    let patch = |token: &str, tag: &str, body: serde_json::Value| {
        let kind = "application/merge-patch+json";
        let headers = [("Content-Type", kind), ("If-Match", tag), ("Authorization", token)];
        guarded.service.send("PATCH", HEX, &headers, body.to_string().as_bytes())
    };
    let check = || json!({ "source": { "entered_by": "mo", "checked_by": "somebody" } });
    patch(&mo, "\"r1\"", json!({ "length": "40 mm" })).expect(200);
    patch(&mo, "\"r2\"", check()).problem(403, "not-allowed");
    patch(&writer, "\"r2\"", check()).problem(403, "not-allowed");
    patch(&ines, "\"r2\"", check()).expect(200);
    assert_eq!(guarded.service.get(HEX).json()["book"]["is_checked"], true);
}

#[test]
fn writing_without_a_token_is_for_this_machine_only() {
    let options = Options { open: true, ..Options::on("0.0.0.0:0".parse().unwrap(), "x") };
    let refused = clampbook::api::run(yard(), &options, |_| panic!("it listens"));
    assert!(matches!(refused, Err(ServeError::OpenToAll { .. })));
}
