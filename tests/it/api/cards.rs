//! Cards, drawings, ranges, kits and assemblies over HTTP.

use super::service::{on, shared};
use crate::cli::Book;
use clampbook::catalog::{Catalog, OpenOptions};
use serde_json::{Value, json};

const CARD: &str = "/v1/joints/skua.diesel.raw-water-pump.cover/card";
const COVER: &str = "skua.diesel.raw-water-pump.cover";

#[test]
fn a_card_comes_in_the_form_that_is_asked_for() {
    let service = shared();
    let card = |accept: &str| service.send("GET", CARD, &[("Accept", accept)], b"");
    let page = card("text/html,application/xhtml+xml;q=0.9,*/*;q=0.8").expect(200);
    assert_eq!(page.header("content-type"), Some("text/html; charset=utf-8"));
    assert!(page.text().starts_with("<!DOCTYPE html>") && page.text().contains("Raw-water pump cover"));
    // The file has its style inside, which the policy must let be.
    assert!(page.header("content-security-policy").unwrap().contains("style-src 'unsafe-inline'"));
    let text = card("text/plain").expect(200);
    assert_eq!(text.header("content-type"), Some("text/plain; charset=utf-8"));
    assert!(text.text().contains("5.5 N·m"));
    let data = card("*/*").expect(200);
    assert_eq!(data.header("content-type"), Some("application/json"));
    assert_eq!(data.json()["id"], COVER);
    card("application/pdf").problem(406, "not-acceptable");
    card("text/html;q=0, application/json;q=0, text/plain;q=0").problem(406, "not-acceptable");
    for answer in [&page, &text, &data] {
        assert_eq!(answer.header("vary"), Some("Accept"));
    }
    let tags: Vec<&str> = [&page, &text, &data].iter().map(|answer| answer.header("etag").unwrap()).collect();
    assert!(tags[0] != tags[1] && tags[1] != tags[2] && tags.iter().all(|tag| tag.starts_with("W/")), "{tags:?}");
    let known =
        |accept: &str, tag: &str| service.send("GET", CARD, &[("Accept", accept), ("If-None-Match", tag)], b"").status;
    assert_eq!((known("text/html", tags[0]), known("text/html", tags[1])), (304, 200));
}

#[test]
fn a_card_says_how_far_to_trust_it() {
    let card = shared().get(CARD).expect(200).json();
    let standing = &card["standing"];
    assert!(standing["is_checked"].is_boolean() && standing["errors"].is_u64(), "{standing}");
    assert!(card["first_of_all"].as_str().unwrap().contains("current instructions come first"));
    assert!(!card["sources"].as_array().unwrap().is_empty());
    shared().get("/v1/joints/skua.diesel.raw-water-pump.covr/card").problem(404, "not-found");
    shared().get("/v1/joints/skua.diesel.raw-water-pump.cover.hex/card").problem(404, "not-found");
    shared().get("/v1/joints/A..B/card").problem(400, "unreadable");
    shared().get(&format!("{CARD}?variant=")).problem(400, "unreadable");
    shared().get(&format!("{CARD}?varriant=x")).problem(400, "unreadable");
}

/// The command line answers first and lets the store go; then the service holds it.
#[test]
fn cards_and_kits_are_those_of_the_command_line_byte_for_byte() {
    let book = Book::of_the_yard();
    let joints = [COVER, "skua.anchor-windlass.base"];
    let card = book.command(&["card", COVER, "--as", "json"]).output().unwrap();
    let kit = book.command(&["kit", joints[0], joints[1], "--as", "json"]).output().unwrap();
    assert!(card.status.success() && kit.status.success(), "{card:?} {kit:?}");
    let service = on(Catalog::open(&book.store(), &OpenOptions::default()).unwrap());
    let sent = service.get(CARD).expect(200);
    let sent_kit = service.send_json("POST", "/v1/kits", &[], &json!({ "joints": joints })).expect(200);
    assert_eq!(sent_kit.text(), String::from_utf8(kit.stdout).unwrap());
    // The two were printed one after the other: the minute may have turned between them.
    let printed: Value = serde_json::from_slice(&card.stdout).unwrap();
    let at = |card: &Value| card["printed_at"].as_str().unwrap().to_owned();
    assert_eq!(sent.text().replace(&at(&sent.json()), &at(&printed)), String::from_utf8(card.stdout).unwrap());
}

#[test]
fn a_drawing_is_a_picture_with_words() {
    let service = shared();
    let path = format!("/v1/joints/{COVER}/drawing.svg");
    let whole = service.get(&path).expect(200);
    assert_eq!(whole.header("content-type"), Some("image/svg+xml"));
    assert!(whole.text().starts_with("<svg ") && whole.text().contains("<title") && whole.text().contains("<desc"));
    let first = service.get(&format!("{path}?pass=1")).expect(200);
    assert!(first.text().starts_with("<svg "));
    let tag = whole.header("etag").unwrap();
    service.send("GET", &path, &[("If-None-Match", tag)], b"").expect(304);
    let problem = service.get(&format!("{path}?pass=40")).problem(404, "not-found");
    assert!(problem["detail"].as_str().unwrap().contains("passes"), "{problem}");
    service.get(&format!("{path}?pass=0")).problem(400, "unreadable");
    service.get(&format!("{path}?pass=-1")).problem(400, "unreadable");
    service.send("GET", &path, &[("Accept", "text/html")], b"").problem(406, "not-acceptable");
    service.get("/v1/joints/skua.nothing.here/drawing.svg").problem(404, "not-found");
}

#[test]
fn a_range_says_why_there_is_none() {
    let service = super::service::fresh();
    let range = |id: &str| service.get(&format!("/v1/fasteners/{id}/range.svg"));
    let bar = range("skua.diesel.raw-water-pump.cover.hex").expect(200);
    assert!(bar.text().contains("Tightening range of M6×1"));
    assert_eq!(bar.header("etag"), Some("\"r1\""));
    range(COVER).problem(404, "not-found");
    let put = |id: &str, body: Value| {
        service.send_json("PUT", &format!("/v1/fasteners/{id}"), &[("If-None-Match", "*")], &body).expect(201);
        range(id).problem(404, "not-found")["detail"].as_str().unwrap().to_owned()
    };
    let joint = "skua.diesel.raw-water-pump.drain";
    let plug = put(
        "skua.diesel.raw-water-pump.drain.plug",
        json!({ "joint": joint, "thread": "M10x1", "stages": ["12 N·m"], "role": "plug" }),
    );
    assert!(plug.contains("not limited by the bolt"), "{plug}");
    let bare =
        put("skua.diesel.raw-water-pump.drain.bare", json!({ "joint": joint, "thread": "M10", "stages": ["12 N·m"] }));
    assert!(bare.contains("class is not stated"), "{bare}");
    let odd = put(
        "skua.diesel.raw-water-pump.drain.odd",
        json!({ "joint": joint, "thread": "M10", "property_class": "7.7", "stages": ["12 N·m"] }),
    );
    assert!(odd.len() > "skua.diesel.raw-water-pump.drain.odd has no tightening range: ".len(), "{odd}");
}

#[test]
fn a_kit_names_every_joint_that_is_none() {
    let service = shared();
    let kit = |body: Value| service.send_json("POST", "/v1/kits", &[], &body);
    let problem = kit(json!({ "joints": [COVER, "skua.diesel.raw-water-pump.covr", "skua.none.here"] }));
    let problem = problem.problem(422, "faulty");
    let errors = problem["errors"].as_array().unwrap();
    assert_eq!((errors[0]["pointer"].as_str(), errors[1]["pointer"].as_str()), (Some("/joints/1"), Some("/joints/2")));
    assert!(errors[0]["hint"].as_str().unwrap().contains(COVER), "{errors:?}");
    let bad = kit(json!({ "joints": ["x"], "variants": "a", "wrenches": ["60 N·m", "9"] })).problem(422, "faulty");
    assert_eq!(bad["errors"].as_array().unwrap().len(), 3, "{bad}");
    kit(json!({ "joints": [], "wrenches": ["60 N·m"] })).problem(422, "faulty");
    kit(json!({})).problem(422, "faulty");
    kit(json!([COVER])).problem(422, "faulty");
    let wrenches = kit(json!({ "joints": [COVER], "wrenches": ["5-25 N·m"] })).expect(200).json();
    assert_eq!(wrenches["wrenches"][0]["range"], "5-25 N·m");
}

#[test]
fn the_tree_of_assemblies_adds_up() {
    let service = shared();
    let tree = service.get("/v1/assemblies").expect(200).json();
    let items = tree["items"].as_array().unwrap();
    let count = |value: &Value, name: &str| value[name].as_u64().unwrap();
    for part in items.iter().filter(|part| part["is_joint"] == false) {
        let path = part["path"].as_str().unwrap();
        let one = service.get(&format!("/v1/assemblies/{path}")).expect(200).json();
        assert_eq!(
            (count(&one, "joints"), count(&one, "fasteners")),
            (count(part, "joints"), count(part, "fasteners"))
        );
        let parts = one["items"].as_array().unwrap();
        assert_eq!(parts.iter().map(|part| count(part, "joints")).sum::<u64>(), count(part, "joints"), "{path}");
        let below: Vec<&Value> = items
            .iter()
            .filter(|part| part["path"].as_str().unwrap().rsplit_once('.').is_some_and(|(parent, _)| parent == path))
            .collect();
        assert_eq!(parts.iter().collect::<Vec<_>>(), below, "{path}");
        assert!(one["audit"]["count"].is_u64());
    }
    let machines = service.get("/v1/assemblies?depth=1").expect(200).json();
    let joints: u64 = machines["items"].as_array().unwrap().iter().map(|part| count(part, "joints")).sum();
    assert_eq!(joints, service.get("/v1/joints?count=exact&take=1").json()["page"]["count"].as_u64().unwrap());
    let cover = service.get(&format!("/v1/assemblies/{COVER}")).expect(200).json();
    assert_eq!((&cover["is_joint"], cover["items"].as_array().unwrap().len()), (&json!(true), 0));
    service.get("/v1/assemblies/skua.diesel.raw-water-pump.cover.hex").problem(404, "not-found");
    service.get("/v1/assemblies/skua.nothing").problem(404, "not-found");
    for strange in ["Skua", "skua..diesel", "%00", "..%2F..", "a.b.c.d.e.f.g.h.i"] {
        service.get(&format!("/v1/assemblies/{strange}")).problem(400, "unreadable");
    }
    for strange in ["0", "9", "x", ""] {
        service.get(&format!("/v1/assemblies?depth={strange}")).problem(400, "unreadable");
    }
}

#[test]
fn a_card_is_made_for_the_tools_at_hand() {
    let service = shared();
    let usual = service.get(CARD).expect(200).json();
    let own = service.get(&format!("{CARD}?wrench=1-8%20N%C2%B7m,5-50%20N%C2%B7m&step=30%C2%B0")).expect(200).json();
    let apart =
        service.get(&format!("{CARD}?wrench=1-8%20N%C2%B7m&step=30%C2%B0&wrench=5-50%20N%C2%B7m")).expect(200).json();
    assert_eq!(own["wrenches"], apart["wrenches"]);
    assert!(own["wrenches"] != usual["wrenches"] && own["wrenches"][0]["range"] == "1-8 N·m", "{}", own["wrenches"]);
    let wrong = service
        .get(&format!("{CARD}?wrench=60-10%20N%C2%B7m,10%20N%C2%B7m&step=0%C2%B0&stepp=1"))
        .problem(400, "unreadable");
    let pointers: Vec<&Value> = wrong["errors"].as_array().unwrap().iter().map(|error| &error["pointer"]).collect();
    assert_eq!(pointers, ["/wrench", "/step", "/stepp"]);
}

#[test]
fn ways_labels_and_kits_come_in_the_form_that_is_asked_for() {
    let service = shared();
    let deep = "skua.bow-thruster.tunnel-leg";
    let post = |path: &str, accept: &str, body: &Value| service.send_json("POST", path, &[("Accept", accept)], body);
    let way = post("/v1/ways", "*/*", &json!({ "joints": [deep] })).expect(200).json();
    let (open, close) = (way["way"]["open"].as_array().unwrap(), way["way"]["close"].as_array().unwrap());
    assert!(open.len() > 1 && open.last().unwrap() == deep, "{open:?}");
    assert!(open.iter().rev().eq(close));
    assert_eq!(way["cards"].as_array().unwrap().len(), open.len());
    for (path, body) in
        [("/v1/ways", json!({ "joints": [deep] })), ("/v1/labels", json!({ "joints": [deep], "reading": "900 h" }))]
    {
        let page = post(path, "text/html", &body).expect(200);
        assert_eq!(page.header("content-type"), Some("text/html; charset=utf-8"));
        assert!(page.header("content-security-policy").unwrap().contains("style-src 'unsafe-inline'"));
        let text = post(path, "text/plain", &body).expect(200);
        assert_eq!(
            (text.header("content-type"), text.header("vary")),
            (Some("text/plain; charset=utf-8"), Some("Accept"))
        );
        post(path, "image/png", &body).problem(406, "not-acceptable");
        let unknown = post(path, "*/*", &json!({ "joints": [deep, "skua.bow-thruster.moter"] })).problem(422, "faulty");
        assert_eq!(
            (&unknown["errors"][0]["pointer"], &unknown["errors"][0]["code"]),
            (&json!("/joints/1"), &json!("unknown"))
        );
        post(path, "*/*", &json!({ "joints": [] })).problem(422, "faulty");
        let two = post(path, "*/*", &json!({ "joint": [deep], "joints": ["A"] })).problem(422, "faulty");
        assert_eq!(two["errors"].as_array().unwrap().len(), 2);
    }
    assert_eq!(post("/v1/labels", "*/*", &json!({ "joints": [deep], "reading": "900 h" })).json()["reading"], "900 h");
    post("/v1/ways", "*/*", &json!({ "joints": [deep], "step": "0.5°" })).problem(422, "faulty");
    let near = post("/v1/kits", "*/*", &json!({ "joints": [deep] })).expect(200).json();
    let whole = post("/v1/kits", "*/*", &json!({ "joints": [deep], "way": true })).expect(200).json();
    assert_eq!((near["joints"].as_array().unwrap().len(), whole["joints"].as_array().unwrap().len()), (1, open.len()));
    assert!(post("/v1/kits", "text/plain", &json!({ "joints": [deep] })).expect(200).text().starts_with("KIT\n"));
    let table = post("/v1/kits.csv", "*/*", &json!({ "joints": [deep], "way": true })).expect(200);
    assert!(table.text().starts_with("section,item,size,part_no,count,note,for\r\n"));
    post("/v1/kits.csv", "application/json", &json!({ "joints": [deep] })).expect(200);
}
