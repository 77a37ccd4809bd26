//! What was at a moment: records, positions, what closes a joint, cards and drawings.

use super::service::{Service, encoded, fresh};
use serde_json::{Value, json};

const COVER: &str = "/v1/joints/skua.diesel.raw-water-pump.cover";
const HEX: &str = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";

/// A service whose joint and one of whose fasteners have changed and whose other fastener was withdrawn, and the moment before.
fn changed() -> (Service, String) {
    let service = fresh();
    let before = service.get(HEX).expect(200).json()["book"]["changed_at"].as_str().unwrap().to_owned();
    let patch = |path: &str, body: Value| {
        let headers = [("Content-Type", "application/merge-patch+json"), ("If-Match", "*")];
        service.send("PATCH", path, &headers, body.to_string().as_bytes()).expect(200);
    };
    // A joint that has a drawing loses it.
    patch(COVER, json!({ "title": "Another cover", "positions": null }));
    patch(HEX, json!({ "stages": ["7 N\u{b7}m"], "positions": "1", "count": 1 }));
    for fastener in service.get(&format!("{COVER}/fasteners")).expect(200).json()["items"].as_array().unwrap() {
        let path = format!("/v1/fasteners/{}", fastener["id"].as_str().unwrap());
        if path != HEX {
            service.send("DELETE", &path, &[("If-Match", "*")], b"").expect(200);
        }
    }
    (service, before)
}

#[test]
fn what_was_then_is_answered_as_it_was_then() {
    let untouched = fresh();
    let (service, before) = changed();
    let then = |path: &str| {
        let and = if path.contains('?') { '&' } else { '?' };
        service.get(&format!("{path}{and}as_of={}", encoded(&before))).expect(200)
    };
    let ids = |list: &Value| -> Vec<String> {
        list["items"].as_array().unwrap().iter().map(|item| item["id"].as_str().unwrap().to_owned()).collect()
    };
    for path in [format!("{COVER}/fasteners"), format!("{COVER}/positions/5"), format!("{COVER}/positions/2")] {
        let (was, is, then) = (untouched.get(&path).json(), service.get(&path).json(), then(&path).json());
        assert_eq!((ids(&then), &then["title"]), (ids(&was), &was["title"]), "{path}");
        assert!(!ids(&then).is_empty());
        assert_ne!(ids(&then), ids(&is), "{path}");
        let stages =
            |list: &Value| list["items"].as_array().unwrap().iter().map(|item| item["stages"].clone()).collect();
        let (was, then): (Vec<Value>, Vec<Value>) = (stages(&was), stages(&then));
        assert_eq!(was, then, "{path}");
    }
    assert_eq!(service.get(&format!("{COVER}/fasteners")).json()["passes"][0]["steps"].as_array().unwrap().len(), 1);
    let drawing = format!("{COVER}/drawing.svg");
    assert_eq!(then(&drawing).body, untouched.get(&drawing).expect(200).body);
    service.get(&drawing).problem(404, "not-found");
    assert_eq!(then(HEX).json()["stages"], untouched.get(HEX).json()["stages"]);
}

#[test]
fn a_card_of_the_past_says_so_before_all_else() {
    let (service, before) = changed();
    let card = |path: &str| service.get(path).expect(200).json();
    let path = format!("{COVER}/card?as_of={}", encoded(&before));
    let (then, now) = (card(&path), card(&format!("{COVER}/card")));
    assert_eq!((&then["title"], &now["title"]), (&json!("Raw-water pump cover"), &json!("Another cover")));
    assert_eq!((&then["as_of"], now.get("as_of")), (&json!(before), None));
    assert!(then["cautions"][0]["text"].as_str().unwrap().contains(&before), "{}", then["cautions"]);
    assert!(then["fasteners"].as_array().unwrap().len() > now["fasteners"].as_array().unwrap().len());
    for accept in ["text/html", "text/plain"] {
        let page = service.send("GET", &path, &[("Accept", accept)], b"").expect(200);
        let words = page.text().split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("Look up what holds now"), "{accept}: {words}");
    }
}

#[test]
fn what_was_not_there_yet_is_said_and_a_moment_is_read_everywhere_alike() {
    let service = fresh();
    for path in [HEX.to_owned(), COVER.to_owned(), format!("{COVER}/card"), format!("{COVER}/fasteners")] {
        let problem = service.get(&format!("{path}?as_of=2001-02-03")).problem(404, "not-found");
        let detail = problem["detail"].as_str().unwrap();
        assert!(detail.contains("was not in the book yet at 2001-02-03T00:00:00Z"), "{detail}");
        service.get(&format!("{path}?as_of=2100-01-01")).expect(200);
        let problem = service.get(&format!("{path}?as_of=yesterday")).problem(400, "unreadable");
        assert_eq!(problem["errors"][0]["pointer"], "/as_of");
    }
    service.get(&format!("{COVER}/positions/1?as_of=2001-02-03")).problem(404, "not-found");
}

/// What is made for work to be done now, and what is said of the whole book, is of now: who asks for a moment is told that it
/// would not be looked at, instead of being given today's answer under another date.
#[test]
fn what_is_of_now_only_refuses_a_moment() {
    let service = fresh();
    let joints = json!({ "joints": ["skua.diesel.raw-water-pump.cover"] });
    for path in ["/v1/kits", "/v1/kits.csv", "/v1/ways", "/v1/labels"] {
        let mut body = joints.clone();
        body["as_of"] = json!("2100-01-01");
        let problem = service.send_json("POST", path, &[], &body).problem(422, "faulty");
        assert_eq!(
            (&problem["errors"][0]["code"], &problem["errors"][0]["pointer"]),
            (&json!("unknown-field"), &json!("/as_of"))
        );
        let problem = service.send_json("POST", &format!("{path}?as_of=2100-01-01"), &[], &joints);
        assert_eq!(problem.problem(400, "unreadable")["errors"][0]["code"], "unknown-parameter");
    }
    let lists = ["/v1/assemblies", "/v1/assemblies/skua", "/v1/findings", "/v1/changes", "/v1/exports/records.ndjson"];
    for path in lists {
        let problem = service.get(&format!("{path}?as_of=2100-01-01")).problem(400, "unreadable");
        let fault = &problem["errors"][0];
        assert_eq!((&fault["code"], &fault["pointer"]), (&json!("unknown-parameter"), &json!("/as_of")), "{path}");
    }
}
