//! Bulk intake: modes, faults of every line, what was checked and nothing else, limits, export and back.

use super::service::{Answer, Service, fresh, on, run, yard};
use clampbook::api::{Options, Scope, Tokens};
use clampbook::catalog::Catalog;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

const GOOD: &str = "id,joint,thread,stages\na.b.c1,a.b,M8,20 N·m\na.b.c2,a.b,M8,22 N·m\n";
const BAD: &str = "id,joint,thread,stages,head,note\n\
    a.b.c1,a.b,M8,20 N·m,hexagon,\n\
    a.b.c2,a.b,M8,95,hexagonal,\"two\nlines\"\n\
    a.b.c3,a.b,M8,20 N·m,,=1+1\n\
    a.b.c3,a.b,M8,20 N·m,,again\n\
    a.b.c4,a.b\n";

fn empty() -> Service {
    on(Catalog::in_memory().unwrap())
}

fn table(service: Service, asked: &str, text: &str) -> Answer {
    service.send("POST", &format!("/v1/intakes.csv{asked}"), &[("Content-Type", "text/csv")], text.as_bytes())
}

fn last_change(service: Service) -> u64 {
    service.get("/v1/changes").json()["last"].as_u64().unwrap()
}

#[test]
fn a_whole_intake_is_stored_or_it_is_not() {
    let service = empty();
    let refused = table(service, "?name=parts.csv", BAD).problem(422, "faulty");
    assert_eq!(last_change(service), 0);
    let intake = &refused["intake"];
    assert_eq!(
        (&intake["state"], &intake["mode"], &intake["records"]),
        (&json!("refused"), &json!("whole"), &json!(5))
    );
    let told: Vec<(u64, u64, &str)> = refused["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| {
            (fault["line"].as_u64().unwrap(), fault["record"].as_u64().unwrap(), fault["code"].as_str().unwrap())
        })
        .collect();
    assert_eq!(told, [(3, 2, "no-unit"), (6, 4, "given-twice"), (7, 5, "wrong-count")]);
    let stored = table(service, "", GOOD).expect(201);
    let path = stored.header("location").unwrap().to_owned();
    assert_eq!((&stored.json()["state"], &stored.json()["stored"]), (&json!("stored"), &json!(2)));
    assert_eq!(service.get(&path).expect(200).json(), stored.json());
    // Whoever did not hear the answer sends it again, and nothing happens.
    let again = table(service, "", GOOD).expect(200).json();
    assert_eq!((&again["stored"], &again["unchanged"]), (&json!(0), &json!(2)));
    assert_eq!(last_change(service), 2);
    let list = service.get("/v1/intakes").expect(200).json();
    assert_eq!(list["items"].as_array().unwrap().len(), 3);
    assert_eq!(list["items"][2]["faults"], json!([]));
}

#[test]
fn a_partial_intake_stores_what_is_good_and_gives_the_rest_back() {
    let service = empty();
    let some = table(service, "?mode=partial", BAD).expect(207).json();
    assert_eq!(
        (&some["state"], &some["stored"], &some["faulty_records"]),
        (&json!("partly-stored"), &json!(2), &json!(3))
    );
    let faults = format!("/v1/intakes/{}/faults.csv", some["id"].as_str().unwrap());
    let answer = service.get(&faults).expect(200);
    let mut reader = csv::Reader::from_reader(answer.body.as_slice());
    let heading: Vec<&str> = BAD.lines().next().unwrap().split(',').collect();
    assert!(reader.headers().unwrap().iter().zip(&heading).all(|(a, b)| a == *b));
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.iter().map(|row| row[0].to_owned()).collect::<Vec<_>>(), ["a.b.c2", "a.b.c3", "a.b.c4"]);
    assert_eq!((&rows[0][5], &rows[0][6], &rows[0][7]), ("two\nlines", "3", "2"));
    assert!(rows[0][11].contains("Write 95 N·m"), "{:?}", rows[0]);
    // Corrected and sent back as it is, remarks and all.
    let corrected = answer.text().replace("M8,95,hexagonal", "M8,25 N·m,hexagon").replace("a.b.c3", "a.b.c5");
    let corrected = corrected.replace("two\nlines", "two lines").replace("a.b.c4,a.b,,,,", "a.b.c4,a.b,M8,20 N·m,,");
    let stored = table(service, "", &corrected).expect(201).json();
    assert_eq!(stored["stored"], 3, "{stored}");
    assert_eq!(service.get("/v1/fasteners/a.b.c3").json()["note"], "=1+1");
    table(service, "?mode=partial", "id,joint,thread,stages\nx,y,M8,20 N·m\n").problem(422, "faulty");
}

#[test]
fn what_was_checked_is_stored_and_nothing_else() {
    let service = empty();
    let checked = table(service, "?mode=check", GOOD).expect(200).json();
    assert_eq!((&checked["state"], &checked["new"], &checked["stored"]), (&json!("checked"), &json!(2), &json!(0)));
    assert_eq!(last_change(service), 0);
    let apply = format!("/v1/intakes/{}/apply", checked["id"].as_str().unwrap());
    let applied = service.send("POST", &apply, &[], b"").expect(201).json();
    assert_eq!((&applied["state"], &applied["stored"]), (&json!("stored"), &json!(2)));
    let again = service.send("POST", &apply, &[], b"").expect(201).json();
    assert_eq!((&again, last_change(service)), (&applied, 2), "sent again it says the same and stores nothing");

    let more = GOOD.replace("20 N·m", "21 N·m");
    let checked = table(service, "?mode=check&on_same=replace", &more).expect(200).json();
    assert_eq!((&checked["replaced"], &checked["unchanged"]), (&json!(1), &json!(1)));
    // Somebody else is quicker.
    let other = json!({ "joint": "a.b", "thread": "M8", "stages": ["19 N·m"] });
    service.send_json("PUT", "/v1/fasteners/a.b.c1", &[("If-Match", "*")], &other).expect(200);
    let apply = format!("/v1/intakes/{}/apply", checked["id"].as_str().unwrap());
    let problem = service.send("POST", &apply, &[], b"").problem(412, "changed-since");
    assert!(problem["detail"].as_str().unwrap().contains("a.b.c1"), "{problem}");
    assert_eq!(service.get("/v1/fasteners/a.b.c1").json()["stages"], json!(["19 N·m"]));
    service.send("POST", &apply, &[], b"").problem(412, "changed-since");

    let faulty = table(service, "?mode=check", BAD).problem(422, "faulty");
    let apply = |id: &Value| service.send("POST", &format!("/v1/intakes/{}/apply", id.as_str().unwrap()), &[], b"");
    apply(&faulty["intake"]["id"]).problem(409, "conflict");
    apply(&table(service, "?on_same=skip", GOOD).json()["id"]).problem(409, "conflict");
    apply(&json!("0".repeat(32))).problem(404, "not-found");
    apply(&json!("%00")).problem(400, "unreadable");
}

#[test]
fn a_book_goes_out_and_comes_in_as_the_same_book() {
    let (from, to) = (on(yard()), empty());
    for kind in ["joints", "fasteners"] {
        let path = format!("/v1/exports/{kind}.ndjson");
        let lines = from.get(&path).expect(200);
        let headers = [("Content-Type", "application/x-ndjson")];
        to.send("POST", "/v1/intakes.ndjson", &headers, &lines.body).expect(201);
        assert!(to.get(&path).expect(200).body == lines.body, "{kind}");
    }
    let csv = from.get("/v1/exports/fasteners.csv").expect(200);
    assert!(to.get("/v1/exports/fasteners.csv").expect(200).body == csv.body);
    let third = empty();
    table(third, "", csv.text()).expect(201);
    assert!(third.get("/v1/exports/fasteners.csv").expect(200).body == csv.body);
    let ndjson = "/v1/exports/fasteners.ndjson";
    assert!(third.get(ndjson).expect(200).body == from.get(ndjson).expect(200).body);
    let lines = from.get(ndjson).expect(200);
    let list = format!("[{}]", lines.text().trim_end().replace('\n', ",\n"));
    let fourth = empty();
    fourth.send("POST", "/v1/intakes", &[("Content-Type", "application/json")], list.as_bytes()).expect(201);
    assert!(fourth.get(ndjson).expect(200).body == lines.body);
}

#[test]
fn what_can_not_be_taken_in_is_a_problem_with_its_reason() {
    let service = empty();
    let problem =
        table(service, "?mode=all&on_same=x&delimiter=;&decimal=dot&lines=3", GOOD).problem(400, "unreadable");
    assert_eq!(problem["errors"].as_array().unwrap().len(), 5);
    let send = |path: &str, kind: &str, body: &[u8]| service.send("POST", path, &[("Content-Type", kind)], body);
    send("/v1/intakes", "text/csv", b"[]").problem(415, "wrong-media-type");
    send("/v1/intakes.csv", "application/json", b"").problem(415, "wrong-media-type");
    send("/v1/intakes.csv?delimiter=comma", "text/csv; charset=latin1", b"").problem(415, "wrong-media-type");
    let lines = "/v1/intakes.ndjson";
    let ndjson = "application/x-ndjson";
    for (body, code) in [
        ("{\"id\":", "unreadable"),
        ("[1]", "wrong-type"),
        ("{\"id\":\"a.b\",\"id\":\"a.b\"}", "unreadable"),
        (&format!("{{\"note\":{}", "[".repeat(100_000)), "unreadable"),
        (&"x".repeat(2 << 20), "too-long"),
        (
            "{\"kind\":\"fastener\",\"id\":\"a.b.c\",\"joint\":\"a.b\",\"thread\":\"M8\",\"stages\":[],\"torqe\":1}",
            "unknown-field",
        ),
    ] {
        let problem = send(lines, ndjson, body.as_bytes()).problem(422, "faulty");
        assert_eq!(problem["errors"][0]["code"], code, "{problem}");
    }
    let latin =
        send("/v1/intakes.csv", "text/csv", b"id,joint,thread,stages\na.b.c,a.b,M8,20 N\xb7m\n").problem(422, "faulty");
    assert_eq!(latin["errors"][0]["line"], 2);
    let unknown = table(service, "", "id,joint,thred,stages\na.b.c,a.b,M8,20 N·m\n").problem(422, "faulty");
    assert_eq!(unknown["errors"][0]["hint"], "Did you mean thread or thread_class");
    let head = "POST /v1/intakes.csv HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: 999999999999\r\n\r\n";
    service.send_raw(head.as_bytes()).problem(413, "body-too-large");
    assert_eq!(last_change(service), 0);
    // Nothing at all is no fault.
    assert_eq!(table(service, "", "").expect(200).json()["records"], 0);
}

#[test]
fn hostile_cells_stay_what_they_are() {
    let service = empty();
    let cells = ["=cmd|' /C calc'!A0", "+1", "-1", "@x", "'=1", "a\",\"b", "; | \\", "<script>", "\u{202e}x"];
    let mut text = "id,joint,thread,stages,note\n".to_owned();
    for (i, cell) in cells.iter().enumerate() {
        text += &format!("a.b.c{i},a.b,M8,20 N·m,\"{}\"\n", cell.replace('"', "\"\""));
    }
    let answer = table(service, "?mode=partial", &text);
    assert!(matches!(answer.status, 201 | 207), "{}", answer.status);
    let csv = service.get("/v1/exports/fasteners.csv").expect(200);
    let mut reader = csv::Reader::from_reader(csv.body.as_slice());
    assert!(reader.records().all(|row| !row.unwrap().iter().any(|cell| cell.starts_with(['=', '+', '-', '@']))));
    let back = empty();
    table(back, "", csv.text()).expect(201);
    assert!(back.get("/v1/exports/fasteners.ndjson").body == service.get("/v1/exports/fasteners.ndjson").body);
}

#[test]
fn nobody_brings_in_that_their_own_entry_was_checked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tokens.json");
    let options = Options { workers: Some(1), ..Options::on("127.0.0.1:0".parse().unwrap(), &path) };
    let service = run(Catalog::in_memory().unwrap(), options);
    let tokens = Tokens::at(path);
    let bearer = |name: &str, scopes: &[Scope]| {
        format!("Bearer {}", tokens.make(&name.parse().unwrap(), scopes, None).unwrap().1)
    };
    let (mo, ines) = (bearer("mo", &[Scope::Write, Scope::Check]), bearer("ines", &[Scope::Write, Scope::Check]));
    let (writer, admin) = (bearer("writer", &[Scope::Write]), bearer("admin", &[Scope::Admin]));
    let send = |token: &str, asked: &str, text: &str| {
        let headers = [("Content-Type", "text/csv"), ("Authorization", token)];
        service.send("POST", &format!("/v1/intakes.csv{asked}"), &headers, text.as_bytes())
    };
    let checked = "id,joint,thread,stages,source.entered_by,source.checked_by\na.b.c1,a.b,M8,20 N·m,mo,ines\n";
    let open = checked.replace(",ines", ",");
    for token in [&mo, &writer] {
        let problem = send(token, "", checked).problem(422, "faulty");
        assert_eq!(problem["errors"][0]["code"], "not-allowed");
    }
    send(&mo, "", &open).expect(201);
    send(&mo, "?on_same=replace", checked).problem(422, "faulty");
    send(&writer, "?on_same=replace", checked).problem(422, "faulty");
    send(&ines, "?on_same=replace", checked).expect(201);
    assert_eq!(send(&admin, "", &checked.replace("c1", "c2")).expect(201).json()["by"], "admin");
    // A check by one who may is not applied by one who may not.
    let id = send(&admin, "?mode=check", &checked.replace("c1", "c3")).expect(200).json()["id"].clone();
    let apply = format!("/v1/intakes/{}/apply", id.as_str().unwrap());
    service.send("POST", &apply, &[("Authorization", &writer)], b"").problem(403, "not-allowed");
    service.send("POST", &apply, &[("Authorization", &admin)], b"").expect(201);
}

#[test]
fn a_long_intake_goes_on_behind_its_answer() {
    let service = fresh();
    let mut text = "id,joint,thread,stages\n".to_owned();
    for i in 0..12_000 {
        text += &format!("a.m{}.j{}.c{i},a.m{}.j{},M8,20 N·m\n", i % 7, i % 600, i % 7, i % 600);
    }
    let answer = table(service, "", &text);
    assert!(matches!(answer.status, 201 | 202), "{}", answer.status);
    let path = answer.header("location").unwrap().to_owned();
    let start = Instant::now();
    let done = loop {
        let shown = service.get(&path).expect(200).json();
        if shown["state"] != "running" {
            break shown;
        }
        assert!(start.elapsed() < Duration::from_secs(300), "{shown}");
        std::thread::sleep(Duration::from_millis(200));
    };
    assert_eq!((&done["state"], &done["stored"]), (&json!("stored"), &json!(12_000)));
    assert!(service.get("/v1/fasteners?within=a&count=exact&take=1").json()["page"]["count"] == 12_000);
}
