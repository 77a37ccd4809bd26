//! Reading and writing records over HTTP: conditions, history, questions, pages.

use super::service::{Service, encoded, everywhere, fresh, shared};
use serde_json::{Value, json};
use std::collections::HashSet;

const HEX: &str = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";
const PLUG: &str = "/v1/fasteners/skua.diesel.raw-water-pump.drain.plug";

fn plug() -> Value {
    json!({ "joint": "skua.diesel.raw-water-pump.drain", "thread": "m10x1", "stages": ["12Nm"], "role": "plug" })
}

#[test]
fn a_record_is_made_read_changed_and_withdrawn() {
    everywhere(|service| {
        let made = service.send_json("PUT", PLUG, &[("If-None-Match", "*")], &plug()).expect(201);
        assert_eq!((made.header("etag"), made.header("location")), (Some("\"r1\""), Some(PLUG)));
        let read = service.get(PLUG).expect(200);
        let tag = read.header("etag").unwrap().to_owned();
        assert!(tag.starts_with("\"r1-"), "{tag}");
        let value = read.json();
        assert_eq!((&value["thread"], &value["stages"]), (&json!("M10×1"), &json!(["12 N·m"])));
        let torque = &value["book"]["torques"][0];
        assert_eq!(
            (&torque["stage"], &torque["stated"], &torque["min_nm"]),
            (&json!(0), &json!("12 N·m"), &json!(12.0))
        );
        assert_eq!((&torque["is_checked"], torque.get("source")), (&json!(false), None));
        assert_eq!((&value["book"]["is_checked"], &value["book"]["state"]), (&json!(false), &json!("current")));

        let mut changed = value.clone();
        changed["stages"] = json!(["14 N·m"]);
        let put = service.send_json("PUT", PLUG, &[("If-Match", &tag)], &changed).expect(200);
        assert_eq!((put.header("etag"), put.json()["changed"].as_bool()), (Some("\"r2\""), Some(true)));

        let gone =
            service.send("DELETE", &format!("{PLUG}?why=Not%20fitted"), &[("If-Match", "\"r2\"")], b"").expect(200);
        assert_eq!(gone.header("etag"), Some("\"r3\""));
        assert_eq!(service.get(PLUG).expect(200).json()["book"]["state"], "withdrawn");
        let revisions = service.get(&format!("{PLUG}/revisions")).expect(200).json();
        assert_eq!(revisions["items"].as_array().unwrap().len(), 3);
        assert_eq!(revisions["items"][2]["why"], "Not fitted");
        let first = service.get(&format!("{PLUG}/revisions/1")).expect(200).json();
        assert_eq!(first["stages"], json!(["12 N·m"]));
        service.get(&format!("{PLUG}/revisions/9")).problem(404, "not-found");
        service.get(&format!("{PLUG}/revisions/0")).problem(400, "unreadable");
    });
}

#[test]
fn a_joint_is_no_fastener_even_by_its_name() {
    let (joint, hex) = ("skua.diesel.raw-water-pump.cover", "skua.diesel.raw-water-pump.cover.hex");
    let page = shared().get(&format!("/v1/fasteners?id={joint},{hex}")).expect(200).json();
    assert_eq!((&page["items"][0]["id"], &page["page"]["missing"]), (&json!(hex), &json!([joint])));
    let page = shared().get(&format!("/v1/joints?id={joint},{hex}")).expect(200).json();
    assert_eq!((&page["items"][0]["id"], &page["page"]["missing"]), (&json!(joint), &json!([hex])));
}

#[test]
fn a_tag_changes_with_what_the_audit_says_and_still_serves_for_a_write() {
    everywhere(|service| {
        let bolt = |torque: &str, n: u32| {
            let body = json!({ "joint": "skua.test.joint", "thread": "M8", "property_class": "8.8", "part_no": "SY-99001",
            "positions": n.to_string(), "stages": [torque] });
            let path = format!("/v1/fasteners/skua.test.joint.n{n}");
            service.send_json("PUT", &path, &[("If-None-Match", "*")], &body).expect(201);
            path
        };
        let first = bolt("24 N·m", 1);
        let before = service.get(&first).expect(200);
        let tag = before.header("etag").unwrap().to_owned();
        service.send("GET", &first, &[("If-None-Match", &tag)], b"").expect(304);
        // The same part with another torque: a finding about both, while the first keeps its revision.
        bolt("12 N·m", 2);
        let after = service.send("GET", &first, &[("If-None-Match", &tag)], b"").expect(200);
        assert_eq!(after.json()["book"]["revision"], 1);
        assert_ne!(after.json()["book"]["audit"], before.json()["book"]["audit"]);
        assert_ne!(after.header("etag"), Some(tag.as_str()));
        service.send("DELETE", &first, &[("If-Match", &tag)], b"").expect(200);
    });
}

#[test]
fn a_write_says_which_revision_it_means() {
    everywhere(|service| {
        let current = service.get(HEX).json();
        service.send_json("PUT", HEX, &[], &current).problem(428, "if-match-wanted");
        service.send_json("PUT", HEX, &[("If-Match", "r1")], &current).problem(400, "unreadable");
        service.send("DELETE", HEX, &[], b"").problem(428, "if-match-wanted");
        let mut other = current.clone();
        other["length"] = json!("40 mm");
        service.send_json("PUT", HEX, &[("If-None-Match", "*")], &other).problem(412, "changed-since");
        service.send_json("PUT", HEX, &[("If-Match", "\"r7\"")], &other).problem(412, "changed-since");
        service.send_json("PUT", HEX, &[("If-Match", "W/\"r1\"")], &other).problem(412, "changed-since");
        service.send_json("PUT", PLUG, &[("If-Match", "*")], &plug()).problem(412, "changed-since");
        service.send_json("PUT", HEX, &[("If-Match", "\"r1\"")], &other).expect(200);

        let mut third = current.clone();
        third["length"] = json!("45 mm");
        third["name"] = json!("Another");
        let problem = service.send_json("PUT", HEX, &[("If-Match", "\"r1\"")], &third).problem(412, "changed-since");
        assert_eq!((&problem["current"]["revision"], &problem["pointers"]), (&json!(2), &json!(["/length"])));
        // Whoever did not hear the answer sends the same again and is none the worse for it.
        let again = service.send_json("PUT", HEX, &[("If-Match", "\"r1\"")], &other).expect(200);
        assert_eq!((again.header("etag"), again.json()["changed"].as_bool()), (Some("\"r2\""), Some(false)));
        service.send_json("PUT", PLUG, &[("If-None-Match", "*")], &plug()).expect(201);
        service.send_json("PUT", PLUG, &[("If-None-Match", "*")], &plug()).expect(200);
    });
}

#[test]
fn a_change_is_a_merge_or_a_list_of_operations() {
    everywhere(|service| {
        let patch = |kind: &str, tag: &str, body: Value| {
            let headers = [("Content-Type", kind), ("If-Match", tag)];
            service.send("PATCH", HEX, &headers, body.to_string().as_bytes())
        };
        let merge = "application/merge-patch+json";
        let operations = "application/json-patch+json";
        patch(merge, "\"r1\"", json!({ "length": "40 mm", "name": null })).expect(200);
        let value = service.get(HEX).json();
        assert_eq!((&value["length"], value.get("name")), (&json!("40 mm"), None));
        let list = json!([{ "op": "test", "path": "/length", "value": "40 mm" }, { "op": "replace", "path": "/length", "value": "45 mm" }]);
        patch(operations, "\"r2\"", list.clone()).expect(200);
        patch(operations, "\"r3\"", list).problem(409, "conflict");
        patch(merge, "\"r1\"", json!({ "length": "50 mm" })).problem(412, "changed-since");
        let again = patch(merge, "\"r1\"", json!({ "length": "45 mm" })).expect(200);
        assert_eq!(again.json()["changed"], false);
        let problem = patch(merge, "\"r3\"", json!({ "lenght": "50 mm", "head": "round-ish" })).problem(422, "faulty");
        assert_eq!(problem["errors"].as_array().unwrap().len(), 2);
        patch(merge, "\"r3\"", json!({ "id": "skua.other.joint.hex" })).problem(422, "faulty");
        patch(operations, "\"r3\"", json!({ "op": "add" })).problem(422, "faulty");
        patch("application/json", "\"r3\"", json!({})).problem(415, "wrong-media-type");
    });
}

#[test]
fn a_body_that_contradicts_its_path_is_refused() {
    let service = fresh();
    let new = [("If-None-Match", "*")];
    let mut body = plug();
    body["id"] = json!("skua.diesel.raw-water-pump.drain.other");
    let problem = service.send_json("PUT", PLUG, &new, &body).problem(422, "faulty");
    assert_eq!(problem["errors"][0]["pointer"], "/id");
    let joint = json!({ "kind": "joint", "id": "skua.diesel.raw-water-pump.drain.plug" });
    service.send_json("PUT", PLUG, &new, &joint).problem(422, "faulty");
    service.send_json("PUT", "/v1/fasteners/Skua..X", &new, &plug()).problem(400, "unreadable");
    let cover = "/v1/fasteners/skua.diesel.raw-water-pump.cover";
    let body = json!({ "joint": "skua.diesel.raw-water-pump", "thread": "M8", "stages": [] });
    service.send_json("PUT", cover, &[("If-Match", "\"r1\"")], &body).problem(409, "conflict");
    let problem = service.get(cover).problem(404, "not-found");
    assert!(problem["detail"].as_str().unwrap().contains("/v1/joints/"), "{problem}");
    let problem = service.get("/v1/fasteners/skua.diesel.raw-water-pump.cover.hexx").problem(404, "not-found");
    assert!(problem["detail"].as_str().unwrap().contains("cover.hex"), "{problem}");
}

#[test]
fn what_is_known_is_not_sent_again() {
    everywhere(|service| {
        for path in [HEX, "/v1/fasteners?take=2", "/v1/findings?within=skua.gangway"] {
            let tag = service.get(path).expect(200).header("etag").unwrap().to_owned();
            let again = service.send("GET", path, &[("If-None-Match", &tag)], b"").expect(304);
            assert_eq!((again.body.len(), again.header("etag")), (0, Some(tag.as_str())));
            service.send("GET", path, &[("If-None-Match", "\"r99\"")], b"").expect(200);
        }
        let tag = service.get("/v1/fasteners?take=2").header("etag").unwrap().to_owned();
        service.send_json("PUT", PLUG, &[("If-None-Match", "*")], &plug()).expect(201);
        service.send("GET", "/v1/fasteners?take=2", &[("If-None-Match", &tag)], b"").expect(200);
    });
}

/// The ids of a page of records.
fn ids(page: &Value) -> Vec<String> {
    page["items"].as_array().unwrap().iter().map(|item| item["id"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_question_is_read_leniently_and_says_so() {
    let page = shared()
        .get("/v1/fasteners?thread=m8x1,25&within=skua.diesel.raw-water-pump&count=exact&facets=head")
        .expect(200);
    let page = page.json();
    assert_eq!(page["page"]["read_as"]["thread"], "M8×1.25");
    assert!(page["page"]["count"].as_u64().unwrap() >= 2);
    assert!(page["items"].as_array().unwrap().iter().all(|item| item["thread"] == "M8×1.25"));
    assert!(!page["facets"]["head"].as_array().unwrap().is_empty());
    let problem = shared().get("/v1/fasteners?hed=hexagon&head=hexagn&torque.min=x&take=0").problem(400, "unreadable");
    let errors = problem["errors"].as_array().unwrap();
    assert_eq!(errors.len(), 4, "{problem}");
    assert!(errors[0]["hint"].as_str().unwrap().starts_with("Did you mean head"));
    let problem = shared().get("/v1/joints?head=hexagon").problem(400, "unreadable");
    assert_eq!(problem["errors"][0]["code"], "unknown-parameter");
}

#[test]
fn all_pages_together_are_the_whole() {
    let service = shared();
    for sort in ["id", "thread,-torque", "-name", "property_class", "changed"] {
        let whole = ids(&service.get(&format!("/v1/fasteners?take=500&sort={sort}")).expect(200).json());
        assert!(whole.len() >= 160);
        let mut path = format!("/v1/fasteners?take=47&sort={sort}");
        let mut parts = Vec::new();
        loop {
            let answer = service.get(&path).expect(200);
            parts.extend(ids(&answer.json()));
            let Some(link) = answer.header("link") else { break };
            let (next, rel) = link.strip_prefix('<').unwrap().split_once('>').unwrap();
            assert_eq!(rel, "; rel=\"next\"");
            path = next.to_owned();
        }
        assert_eq!(parts, whole, "{sort}");
    }
}

#[test]
fn the_same_list_is_answered_alike_each_time_and_each_sender_as_it_wants() {
    let path = "/v1/fasteners?take=7&sort=-torque";
    let lenient = [("Prefer", "handling=lenient")];
    let first = shared().get(path).expect(200);
    for _ in 0..20 {
        let again = shared().get(path).expect(200);
        assert_eq!(again.body, first.body);
        for name in ["etag", "link", "cache-control", "content-type"] {
            assert_eq!((again.header(name), name), (first.header(name), name));
        }
        shared().send("GET", &format!("{path}&colour=red"), &lenient, b"").expect(200);
    }
    let problem = shared().get(&format!("{path}&colour=red")).problem(400, "unreadable");
    assert_eq!(problem["errors"][0]["code"], "unknown-parameter");
    let known = [("If-None-Match", first.header("etag").unwrap())];
    shared().send("GET", path, &known, b"").expect(304);
    let unwanted = [("Accept", "text/csv")];
    shared().send("GET", path, &unwanted, b"").problem(406, "not-acceptable");
}

#[test]
fn a_cursor_that_was_made_elsewhere_is_refused() {
    let service = shared();
    let cursor = service.get("/v1/fasteners?take=2").json()["page"]["next"].as_str().unwrap().to_owned();
    let other = service.get(&format!("/v1/fasteners?take=2&sort=thread&after={cursor}"));
    other.problem(400, "cursor-mismatch");
    let mut forged = cursor.clone().into_bytes();
    let last = forged.last_mut().unwrap();
    *last = if *last == b'0' { b'1' } else { b'0' };
    let forged = String::from_utf8(forged).unwrap();
    service.get(&format!("/v1/fasteners?take=2&after={forged}")).problem(400, "cursor-mismatch");
    service.get("/v1/fasteners?after=zz").problem(400, "cursor-mismatch");
}

#[test]
fn two_heads_at_one_joint_are_both_shown_with_a_caution() {
    let closing = shared().get("/v1/joints/skua.diesel.raw-water-pump.cover/fasteners").expect(200).json();
    assert!(closing["items"].as_array().unwrap().len() >= 2);
    assert!(closing["caution"].as_str().unwrap().contains("Check the head"));
    assert_eq!(closing["differences"][0]["field"], "head");
    assert!(!closing["passes"].as_array().unwrap().is_empty());
    let place = |rest: &str| shared().get(&format!("/v1/joints/skua.diesel.raw-water-pump.cover/positions/{rest}"));
    let here = place("1").expect(200).json();
    assert!(!here["items"].as_array().unwrap().is_empty() && here["caution"].is_string());
    let nothing = place("1?head=slotless").problem(400, "unreadable");
    assert_eq!(nothing["errors"][0]["pointer"], "/head");
    let other = place("1?head=flange-nut").expect(200).json();
    assert_eq!(other["items"], json!([]));
    assert!(other["nearest"][0]["reason"].as_str().unwrap().contains("flange nut"), "{other}");
    place("0").problem(400, "unreadable");
    place("x").problem(400, "unreadable");
    shared().get("/v1/joints/skua.nowhere.joint/positions/1").problem(404, "not-found");
}

#[test]
fn records_are_audited_without_being_stored() {
    let service = fresh();
    let record = json!({ "kind": "fastener", "id": "x.joint.bolt", "joint": "x.joint", "head": "hexagon", "thread": "M8",
        "property_class": "8.8", "stages": ["95 N·m"] });
    let list = service.send_json("POST", "/v1/audits", &[], &json!([record])).expect(200).json();
    assert!(list["errors"].as_u64().unwrap() >= 1, "{list}");
    service.get("/v1/fasteners/x.joint.bolt").problem(404, "not-found");
    let faulty = json!([record, { "kind": "fastener", "thread": "M8", "stages": ["95"] }, { "kind": "nut" }]);
    let problem = service.send_json("POST", "/v1/audits", &[], &faulty).problem(422, "faulty");
    let pointers: Vec<&str> =
        problem["errors"].as_array().unwrap().iter().map(|error| error["pointer"].as_str().unwrap()).collect();
    assert_eq!(pointers, ["/1/id", "/1/joint", "/1/stages/0", "/2/kind"]);
    service.send_json("POST", "/v1/audits", &[], &json!({})).problem(422, "faulty");
    service.send_json("POST", "/v1/audits", &[], &json!([])).problem(422, "faulty");
}

#[test]
fn every_parameter_of_a_question_is_taken_as_its_example_says() {
    let document = clampbook::api::document();
    for path in ["/v1/fasteners", "/v1/joints", "/v1/records"] {
        let parameters = document["paths"][path]["get"]["parameters"].as_array().unwrap();
        assert!(parameters.len() > 15);
        for parameter in parameters.iter().filter(|known| known["in"] == "query" && known["name"] != "after") {
            let name = parameter["name"].as_str().unwrap();
            let example = super::document::words(&parameter["example"]);
            let more = if name == "torque.unit" { "&torque.min=1" } else { "" };
            let answer = shared().get(&format!("{path}?{name}={}{more}", encoded(&example)));
            assert_eq!(answer.status, 200, "{name}: {}", answer.text());
        }
    }
}

/// What the same question is answered with over HTTP and on the command line.
fn compare(service: Service, store: &std::path::Path, path: &str, arguments: &[&str]) {
    let output = assert_cmd::Command::cargo_bin("clampbook")
        .unwrap()
        .args(arguments)
        .args(["--as", "json"])
        .env("CLAMPBOOK_STORE", store)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(service.get(path).text(), said, "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn the_command_line_says_the_same_byte_for_byte() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("book");
    {
        let book = clampbook::catalog::Catalog::create(&store).unwrap();
        super::service::fill(&book);
    }
    // The service holds its store; the command line asks a copy of it, so that nothing is asked of the service.
    let copy = folder.path().join("copy");
    copy_folder(&store, &copy);
    let service = super::service::on(clampbook::catalog::Catalog::create(&copy).unwrap());
    let cover = "skua.diesel.raw-water-pump.cover";
    compare(service, &store, "/v1/fasteners?thread=M8&take=50", &["find", "--thread", "M8"]);
    compare(
        service,
        &store,
        "/v1/joints?within=skua.gearbox&take=50",
        &["find", "--kind", "joint", "--within", "skua.gearbox"],
    );
    compare(service, &store, &format!("/v1/joints/{cover}"), &["show", cover]);
    compare(service, &store, &format!("/v1/fasteners/{cover}.hex/revisions"), &["log", &format!("{cover}.hex")]);
    compare(service, &store, &format!("/v1/joints/{cover}/positions/2"), &["at", cover, "2"]);
    compare(service, &store, "/v1/findings?at_least=warning", &["audit"]);
    compare(service, &store, "/v1/standards/threads?designation=M10x1.25", &["thread", "M10x1.25"]);
    compare(service, &store, "/v1/standards/classes/10.9?thread=M10", &["class", "10.9", "--thread", "M10"]);
    compare(service, &store, "/v1/conversions?value=20%20Nm&to=lbf.ft", &["convert", "20 Nm", "lbf.ft"]);
    compare(service, &store, "/v1/standards/tables", &["tables"]);
    compare(service, &store, "/v1/standards/tables/iso-898-1", &["tables", "iso-898-1"]);
    compare(service, &store, "/v1/rules", &["explain", "rules"]);
    compare(service, &store, "/v1/rules/unknown-thread", &["explain", "unknown-thread"]);
}

fn copy_folder(from: &std::path::Path, to: &std::path::Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let place = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &place);
        } else {
            std::fs::copy(entry.path(), place).unwrap();
        }
    }
}

#[test]
fn the_values_of_a_list_stand_together_or_apart() {
    let ids = |query: &str| {
        let page = shared().get(&format!("/v1/fasteners?{query}")).expect(200).json();
        page["items"].as_array().unwrap().iter().map(|item| item["id"].clone()).collect::<Vec<_>>()
    };
    let together = ids("head=countersunk,socket-cap&take=500");
    assert!(together.len() > 5);
    assert_eq!(ids("head=countersunk&take=500&head=socket-cap"), together);
    let twice = shared().get("/v1/fasteners?take=1&take=2").expect(400).json();
    assert_eq!(twice["errors"][0]["code"], "given-twice");
}

/// Every torque in an answer, and the record that it stands in.
fn torques_of(entry: &Value) -> Vec<(&Value, &Value)> {
    entry["book"]["torques"].as_array().into_iter().flatten().map(|torque| (torque, entry)).collect()
}

#[test]
fn every_torque_says_how_far_to_trust_it() {
    let service = shared();
    let page = service.get("/v1/fasteners?torque.has=true&take=500").expect(200).json();
    let cover = "/v1/joints/skua.diesel.raw-water-pump.cover";
    let position = service.get(&format!("{cover}/positions/5")).expect(200).json();
    let near = service.get(&format!("{cover}/positions/5?head=pan")).expect(200).json();
    let closing = service.get(&format!("{cover}/fasteners")).expect(200).json();
    let revision = service.get("/v1/fasteners/skua.diesel.raw-water-pump.cover.hex/revisions/1").expect(200).json();
    let lists = [&page, &position, &closing].map(|answer| answer["items"].as_array().unwrap().iter());
    let near = near["nearest"].as_array().unwrap().iter().map(|near| &near["fastener"]);
    let entries: Vec<&Value> = lists.into_iter().flatten().chain(near).chain([&revision]).collect();
    let torques: Vec<_> = entries.iter().flat_map(|entry| torques_of(entry)).collect();
    assert!(torques.len() > 100, "{}", torques.len());
    for (torque, entry) in &torques {
        let stage = entry["stages"][torque["stage"].as_u64().unwrap() as usize].as_str().unwrap();
        assert!(stage.contains(torque["stated"].as_str().unwrap()), "{torque} is not of {stage}");
        assert!(torque["min_nm"].as_f64().unwrap() > 0.0 && torque["max_nm"].is_number());
        assert_eq!(torque["is_checked"], entry["book"]["is_checked"]);
        assert_eq!(torque["audit"], entry["book"]["audit"]);
        assert_eq!(torque["source"], entry["source"]);
        if *entry == &revision {
            let path = format!("/v1/fasteners/{}/findings", entry["id"].as_str().unwrap());
            let open = service.get(&path).expect(200).json()["items"].as_array().unwrap().len() as u64;
            let audit = &torque["audit"];
            assert_eq!(audit["count"].as_u64().unwrap() + audit["accepted"].as_u64().unwrap(), open);
        }
    }
    let differing = |name: &str| torques.iter().map(|(torque, _)| torque[name].to_string()).collect::<HashSet<_>>();
    let differing = ["audit", "source"].map(|name| differing(name).len());
    assert!(differing[0] > 2 && differing[1] > 10, "{differing:?}");
    // A step of a pass has the torque of its stage, as its record has it.
    let mut steps = 0;
    for step in closing["passes"].as_array().unwrap().iter().flat_map(|pass| pass["steps"].as_array().unwrap()) {
        let Some(torque) = step.get("torque") else { continue };
        let entry = closing["items"].as_array().unwrap().iter().find(|entry| entry["id"] == step["fastener"]).unwrap();
        assert!(entry["book"]["torques"].as_array().unwrap().contains(torque));
        assert!(step["stage"].as_str().unwrap().contains(torque["stated"].as_str().unwrap()));
        steps += 1;
    }
    assert!(steps > 4, "{steps}");
    // What was shown can be put back as it is.
    let service = fresh();
    let path = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";
    let shown = service.get(path).expect(200);
    let tag = shown.header("etag").unwrap();
    let put = service.send_json("PUT", path, &[("If-Match", tag)], &shown.json()).expect(200).json();
    assert_eq!((&put["changed"], &put["revision"]), (&json!(false), &json!(1)));
}

#[test]
fn a_part_of_a_record_is_shown_with_what_is_never_left_out() {
    let service = shared();
    let path = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";
    let names = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    let whole = service.get(path).expect(200);
    let part = service.get(&format!("{path}?fields=head,length")).expect(200);
    assert_eq!(names(&part.json()), ["kind", "id", "joint", "head", "thread", "length", "stages", "book"]);
    let (tag, other) = (part.header("etag").unwrap(), whole.header("etag").unwrap());
    assert!(tag != other && tag.starts_with("\"r1-"), "{tag} {other}");
    service.send("GET", &format!("{path}?fields=head,length"), &[("If-None-Match", tag)], b"").expect(304);
    service.send("GET", path, &[("If-None-Match", tag)], b"").expect(200);
    let revision = service.get(&format!("{path}/revisions/1?fields=head&fields=length")).expect(200);
    assert_eq!(revision.json(), part.json());
    let page = service.get("/v1/joints?fields=title&take=2").expect(200).json();
    assert_eq!(names(&page["items"][0]), ["kind", "id", "title", "book"]);
    let wrong = service.get("/v1/joints?fields=titel,head&take=0").problem(400, "unreadable");
    assert_eq!(wrong["errors"].as_array().unwrap().len(), 2);
    assert_eq!(wrong["errors"][0]["hint"], "Did you mean title");
    service.get("/v1/joints?fields=head").problem(400, "unreadable");
    service.get(&format!("{path}?fields=title")).problem(400, "unreadable");
    // The tag of a part serves for a write, which is held to the revision.
    let mut body = whole.json();
    body["length"] = json!("41 mm");
    fresh().send_json("PUT", path, &[("If-Match", tag)], &body).expect(200);
}

#[test]
fn an_unchanged_book_is_not_sent_again() {
    let service = fresh();
    let cover = "/v1/joints/skua.diesel.raw-water-pump.cover";
    let paths = ["", "/fasteners", "/positions/5", "/findings", "/revisions", "/revisions/1", "/card", "/drawing.svg"];
    let tags = paths.map(|path| {
        let answer = service.get(&format!("{cover}{path}")).expect(200);
        assert_eq!(answer.header("cache-control"), Some("no-cache"), "{path}");
        answer.header("etag").unwrap_or_else(|| panic!("{path} has no tag")).to_owned()
    });
    let status = |(path, tag): (&str, &String)| {
        service.send("GET", &format!("{cover}{path}"), &[("If-None-Match", tag)], b"").status
    };
    assert_eq!(paths.into_iter().zip(&tags).map(status).collect::<Vec<_>>(), [304; 8]);
    let change = json!({ "stages": ["9 N·m"] });
    let headers = [("Content-Type", "application/merge-patch+json"), ("If-Match", "*")];
    let hex = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";
    service.send("PATCH", hex, &headers, change.to_string().as_bytes()).expect(200);
    assert_eq!(status((paths[1], &tags[1])), 200);
    assert_eq!(status((paths[2], &tags[2])), 200);
    // A tag of what is not there is no reason to say that it is unchanged.
    let nowhere = "/v1/joints/skua.nowhere.at-all";
    let tag = service.get(&format!("{cover}/fasteners")).header("etag").unwrap().to_owned();
    for path in ["/fasteners", "/positions/1", "/findings", "/revisions"] {
        service.send("GET", &format!("{nowhere}{path}"), &[("If-None-Match", &tag)], b"").problem(404, "not-found");
    }
}

/// The record in it never changes, and may not be kept for ever all the same: what the audit says of it is that of today's
/// book, and a book that is restored from a backup may come to another revision of the same number.
#[test]
fn a_revision_is_asked_for_again_since_what_is_said_of_it_changes() {
    let service = fresh();
    let bolt = |torque: &str, n: u32| {
        let body = json!({ "joint": "skua.test.joint", "thread": "M8", "property_class": "8.8", "part_no": "SY-99001",
            "positions": n.to_string(), "stages": [torque] });
        let path = format!("/v1/fasteners/skua.test.joint.n{n}");
        service.send_json("PUT", &path, &[("If-None-Match", "*")], &body).expect(201);
        format!("{path}/revisions/1")
    };
    let path = bolt("24 N·m", 1);
    let before = service.get(&path).expect(200);
    let tag = before.header("etag").unwrap().to_owned();
    assert_eq!(before.header("cache-control"), Some("no-cache"));
    let unchanged = service.send("GET", &path, &[("If-None-Match", &tag)], b"").expect(304);
    assert_eq!((unchanged.header("cache-control"), unchanged.body.len()), (Some("no-cache"), 0));
    // The same part with another torque: a finding about both.
    bolt("12 N·m", 2);
    let after = service.send("GET", &path, &[("If-None-Match", &tag)], b"").expect(200);
    let (mut was, mut is) = (before.json(), after.json());
    assert_ne!(was["book"]["audit"], is["book"]["audit"]);
    for shown in [&mut was, &mut is] {
        shown.as_object_mut().unwrap().remove("book");
    }
    assert_eq!(was, is, "the record is what it was");
}

#[test]
fn lists_about_the_whole_book_are_not_sent_again_while_it_stands() {
    let service = fresh();
    let paths = [
        "/v1/fasteners",
        "/v1/joints",
        "/v1/records",
        "/v1/findings",
        "/v1/exports/findings.ndjson",
        "/v1/assemblies",
        "/v1/assemblies/skua.diesel",
    ];
    let tags = paths.map(|path| {
        let answer = service.get(path).expect(200);
        assert_eq!(answer.header("cache-control"), Some("no-cache"), "{path}");
        let tag = answer.header("etag").unwrap_or_else(|| panic!("{path} has no tag")).to_owned();
        assert!(tag.starts_with("W/"), "{path}: {tag}");
        let again = service.send("GET", path, &[("If-None-Match", &tag)], b"").expect(304);
        assert_eq!((again.header("etag"), again.header("cache-control")), (Some(tag.as_str()), Some("no-cache")));
        tag
    });
    let nothing = service.send("GET", "/v1/assemblies/skua.nowhere", &[("If-None-Match", &tags[0])], b"");
    nothing.problem(404, "not-found");
    service.send("DELETE", HEX, &[("If-Match", "*")], b"").expect(200);
    for (path, tag) in paths.iter().zip(&tags) {
        service.send("GET", path, &[("If-None-Match", tag)], b"").expect(200);
    }
}

#[test]
fn a_batch_is_stored_whole_or_not_at_all() {
    let service = fresh();
    let joint = json!({ "kind": "joint", "id": "skua.diesel.raw-water-pump.drain", "title": "Drain" });
    let mut bolt = plug();
    (bolt["kind"], bolt["id"]) = (json!("fastener"), json!("skua.diesel.raw-water-pump.drain.plug"));
    let send = |writes: Value| service.send_json("POST", "/v1/batches", &[], &json!({ "writes": writes }));
    let last = || service.get("/v1/changes").json()["last"].clone();
    let before = last();
    let hex = "skua.diesel.raw-water-pump.cover.hex";
    let both = json!([{ "expected": "new", "record": joint }, { "expected": "new", "record": bolt },
        { "expected": "r1", "withdraw": hex, "why": "Replaced" }]);
    // One of them finds something else: nothing is stored.
    let mut stale = both.clone();
    stale[2]["expected"] = json!("r7");
    let problem = send(stale).problem(412, "changed-since");
    assert!(problem["detail"].as_str().unwrap().contains(hex), "{problem}");
    assert_eq!(last(), before);
    let stored = send(both.clone()).expect(200).json();
    let revisions: Vec<&Value> = stored["items"].as_array().unwrap().iter().map(|item| &item["revision"]).collect();
    assert_eq!(revisions, [1, 1, 2]);
    assert_eq!(service.get(HEX).json()["book"]["state"], "withdrawn");
    let after = last();
    // The answer was lost: what stands there as it was sent is no change.
    let again = send(json!([both[0], both[1]])).expect(200).json();
    assert!(again["items"].as_array().unwrap().iter().all(|item| item["changed"] == false), "{again}");
    assert_eq!(last(), after);
    let wrong = send(json!([
        { "record": { "kind": "fastener", "id": "a.b.c", "joint": "a.b", "thread": "M8", "stages": ["20"] } },
        { "expected": "r0", "withdraw": "A" },
        { "expected": "any" },
        { "expected": "any", "record": joint, "why": "no reason" },
        { "expected": "new", "record": bolt }, { "expected": "any", "withdraw": bolt["id"] },
    ]));
    let wrong = wrong.problem(422, "faulty");
    let pointers: Vec<&Value> = wrong["errors"].as_array().unwrap().iter().map(|error| &error["pointer"]).collect();
    let places = [
        "/writes/0/expected",
        "/writes/0/record/stages/0",
        "/writes/1/expected",
        "/writes/1/withdraw",
        "/writes/2",
        "/writes/3",
        "/writes/5",
    ];
    assert_eq!(pointers, places);
    for body in
        [json!({}), json!([]), json!({ "writes": [] }), json!({ "writes": {} }), json!({ "writes": [1], "x": 1 })]
    {
        service.send_json("POST", "/v1/batches", &[], &body).problem(422, "faulty");
    }
    assert_eq!(last(), after);
}

#[test]
fn both_kinds_are_looked_up_together() {
    let service = shared();
    let count = |path: &str| service.get(path).expect(200).json()["page"]["count"].as_u64().unwrap();
    let [both, joints, fasteners] = ["records", "joints", "fasteners"]
        .map(|what| count(&format!("/v1/{what}?within=skua.gearbox&count=exact&take=1")));
    assert_eq!(both, joints + fasteners);
    let page = service.get("/v1/records?within=skua.gearbox&facets=kind&kind=joint&take=2&sort=-name").expect(200);
    let facets = page.json()["facets"]["kind"].clone();
    assert_eq!(facets.as_array().unwrap().len(), 2, "a facet leaves its own filter out: {facets}");
    assert!(page.json()["items"].as_array().unwrap().iter().all(|item| item["kind"] == "joint"));
    service.get("/v1/fasteners?kind=joint").problem(400, "unreadable");
}
