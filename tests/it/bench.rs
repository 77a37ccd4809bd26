//! The bench page over loopback: every page without script, steps with undo, entry, history.

use crate::api::service::{self, Answer, Service, encoded, shared};
use clampbook::record::Record;
use std::collections::{BTreeSet, VecDeque};

const COVER: &str = "/bench/joints/skua.diesel.raw-water-pump.cover";

/// The values of an attribute in a page, entities read.
fn attributes(page: &str, name: &str) -> Vec<String> {
    let pattern = regex::Regex::new(&format!(r#"[\s]{name}="([^"]*)""#)).unwrap();
    let found = pattern.captures_iter(page).map(|found| found[1].to_owned());
    found.map(|text| text.replace("&#38;", "&").replace("&amp;", "&").replace("&#39;", "'")).collect()
}

/// The text between two marks.
#[track_caller]
fn between<'p>(page: &'p str, start: &str, end: &str) -> &'p str {
    let from = page.find(start).unwrap_or_else(|| panic!("no {start} in {page}")) + start.len();
    &page[from..from + page[from..].find(end).unwrap_or_else(|| panic!("no {end} after {start}"))]
}

/// The text of a page without its marks.
fn words(html: &str) -> String {
    let marks = regex::Regex::new("<[^>]*>").unwrap();
    let text = marks.replace_all(html, " ").replace("&#38;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The address of the link with this id.
#[track_caller]
fn link(page: &str, id: &str) -> String {
    let element = between(page, &format!("id=\"{id}\""), ">");
    attributes(&format!(" {element}"), "href").remove(0)
}

/// Follows redirections.
#[track_caller]
fn open(service: Service, path: &str) -> Answer {
    let answer = service.get(path);
    match answer.header("location") {
        Some(to) => service.get(to),
        None => answer,
    }
}

#[test]
fn every_page_stands_alone() {
    let service = shared();
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut waiting = VecDeque::from(["/bench/".to_owned(), format!("{COVER}/start?variant=bronze-housing")]);
    let mut kinds: BTreeSet<String> = BTreeSet::new();
    while let Some(path) = waiting.pop_front() {
        // Every kind of page is reached within this many; steps and ways would go on for long.
        if seen.len() >= 250 {
            break;
        }
        if !seen.insert(path.clone()) {
            continue;
        }
        let answer = open(service, &path);
        assert_eq!(answer.status, 200, "{path}");
        kinds.insert(path.split(['?', '/']).nth(2).unwrap_or_default().to_owned());
        if answer.header("content-type").unwrap().starts_with("text/html") {
            let page = answer.text();
            check_page(&path, page, answer.header("content-security-policy").unwrap());
            waiting.extend(attributes(page, "href").into_iter().filter(|link| link.starts_with("/bench")));
        }
    }
    for kind in ["joints", "kit", "way", "label", "fasteners", "history", "audit", "entry", "rules", "assets"] {
        assert!(kinds.iter().any(|known| known == kind), "no page of {kind} was reached: {kinds:?}");
    }
}

fn check_page(path: &str, page: &str, policy: &str) {
    assert!(policy.starts_with("default-src 'none'"), "{path}");
    for needed in ["<!DOCTYPE html>", "<html lang=\"en\">", "<title>", "<h1", "<main"] {
        assert!(page.contains(needed), "{path} has no {needed}");
    }
    let elsewhere = page.replace("http://www.w3.org/2000/svg", "");
    for outside in ["http:", "https:", "//cdn", "@import", " style=", "javascript:", " onclick", " onload"] {
        assert!(!elsewhere.contains(outside), "{path} has {outside}");
    }
    let scripts = elsewhere.matches("<script").count();
    let own = elsewhere.matches("<script src=\"/bench/assets/").count();
    assert_eq!(scripts, own + elsewhere.matches("<script type=\"application/json\"").count(), "{path}");
    let ids = attributes(page, "id");
    let distinct: BTreeSet<&String> = ids.iter().collect();
    assert_eq!(distinct.len(), ids.len(), "{path} has an id twice: {ids:?}");
    for label in attributes(page, "for") {
        assert!(ids.contains(&label), "{path} has a label for nothing: {label}");
    }
}

#[test]
fn steps_go_on_without_script_to_the_end_and_back() {
    let service = shared();
    let start = service.get(&format!("{COVER}/start?variant=bronze-housing")).expect(200);
    assert!(words(start.text()).contains("may be used again anti-seize"), "{}", words(start.text()));
    let mut path = format!("{COVER}/steps/1?variant=bronze-housing");
    let (mut positions, mut asked, mut values) = (Vec::new(), 0, Vec::new());
    let last = loop {
        let answer = service.get(&path).expect(200);
        let page = answer.text();
        if page.contains("All passes done") {
            break page.to_owned();
        }
        if page.contains("class=\"step asks\"") {
            asked += 1;
            assert!(words(page).contains("Is this the head?"));
            path = link(page, "next");
            continue;
        }
        positions.push(words(between(page, "id=\"position\">", "</span>")).replace("Position ", ""));
        values.push(words(between(page, "<div class=\"value\" id=\"value\">", "</div>")));
        path = link(page, "next");
        assert!(positions.len() < 60, "the steps do not end");
    };
    assert_eq!(positions.join(" "), ["1 3 2 4 5 6"; 3].join(" "));
    assert_eq!(values[0], "by hand");
    assert_eq!(values[17], "5.5 N·m ≈ 48.7 lbf·in converted");
    // The screw at 5 has another head than its neighbours: looked at before it, and again after it; and at the first.
    assert_eq!(asked, 1 + 3 * 2);
    assert!(words(&last).contains("18 steps in 3 passes"));
    let page = service.get(&format!("{COVER}/steps/2?variant=bronze-housing")).expect(200).text().to_owned();
    let back = service.get(&link(&page, "undo")).expect(200).text().to_owned();
    assert_eq!(words(between(&back, "id=\"position\">", "</span>")), "Position 1");
    assert!(!back.contains("class=\"step asks\""), "what is taken back was seen already");
}

#[test]
fn the_machine_is_asked_for_before_a_value_is_shown() {
    let service = shared();
    let answer = service.get(&format!("{COVER}/steps/1")).expect(303);
    let start = service.get(answer.header("location").unwrap()).expect(200);
    let said = words(start.text());
    assert!(said.contains("Which machine is it?") && said.contains("alloy-housing"), "{said}");
    assert!(!start.text().contains("N·m"), "no value before the machine is told");
    let bronze = service.get(&format!("{COVER}/start?variant=bronze-housing")).expect(200);
    assert!(words(bronze.text()).contains("Begin pass 1"));
}

#[test]
fn the_step_carries_everything_the_script_needs() {
    let page = shared().get(&format!("{COVER}/steps/1?variant=bronze-housing")).expect(200).text().to_owned();
    let data: serde_json::Value =
        serde_json::from_str(between(&page, "<script type=\"application/json\" id=\"steps\">", "</script>")).unwrap();
    assert_eq!(data["steps"].as_array().unwrap().len(), 18);
    assert_eq!(data["steps"][12]["actions"][0], serde_json::json!(["5.5 N·m", "≈ 48.7 lbf·in converted"]));
    assert!(data["kinds"]["A"]["picture"].as_str().unwrap().starts_with("<svg"));
    assert_eq!(data["question"], "?variant=bronze-housing");
    let drawings = data["drawings"].as_array().unwrap();
    assert_eq!(drawings.len(), 1, "passes in the same order share a drawing");
    assert_eq!(data["drawing_of"], serde_json::json!({ "1": 0, "2": 0, "3": 0 }));
    assert_eq!(drawings[0].as_str().unwrap().matches("data-n=").count(), 6);
}

#[test]
fn finds_and_explains_what_it_cannot_read() {
    let service = shared();
    assert!(service.get("/bench/?q=pump+cover").expect(200).text().contains(COVER));
    assert!(words(service.get("/bench/?head=octagon").expect(200).text()).contains("is not a kind of head"));
    assert!(words(service.get("/bench/?q=zzzz").expect(200).text()).contains("Nothing found"));
    let below = service.get("/bench/?within=skua.diesel").expect(200);
    assert!(words(below.text()).contains("Raw-water pump"));
    let missing = service.get("/bench/joints/skua.diesel.raw-water-pump.covr").expect(404);
    assert!(missing.text().contains(COVER), "a near name is offered");
}

#[test]
fn the_first_view_is_small() {
    let service = shared();
    let page = service.get("/bench/").expect(200);
    let assets = attributes(page.text(), "href").into_iter().chain(attributes(page.text(), "src"));
    let own: Vec<String> = assets.filter(|link| link.starts_with("/bench/assets")).collect();
    assert_eq!(own.len(), 2, "style and script");
    let size: usize = own.iter().map(|path| service.get(path).expect(200).body.len()).sum();
    assert!(page.body.len() + size < 50 << 10, "{} bytes before any compression", page.body.len() + size);
}

fn form(pairs: &[(&str, &str)]) -> Vec<u8> {
    let pairs: Vec<String> = pairs.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
    pairs.join("&").into_bytes()
}

const FORM: (&str, &str) = ("Content-Type", "application/x-www-form-urlencoded");

#[test]
fn an_entry_is_read_judged_and_not_stored() {
    let book = service::yard();
    let service = service::on(book.clone());
    let before = book.sequence();
    let entered = [
        ("joint", "skua.diesel.raw-water-pump.cover"),
        ("id", "skua.diesel.raw-water-pump.cover.new"),
        ("thread", "M6"),
        ("property_class", "8.8"),
        ("head", "hexagon-flange"),
        ("positions", "1-6"),
        ("stages", "hand\n95"),
    ];
    let faulty = service.send("POST", "/bench/entry", &[FORM], &form(&entered)).expect(200);
    assert!(faulty.text().contains("aria-describedby=\"e-stages\""));
    assert!(words(faulty.text()).contains("expected a unit of torque"));
    let mut entered = entered;
    entered[6].1 = "hand\n95 N·m";
    let judged = service.send("POST", "/bench/entry", &[FORM], &form(&entered)).expect(200);
    let said = words(judged.text());
    assert!(said.contains("ERROR") || said.to_lowercase().contains("error"), "{said}");
    assert!(judged.text().contains("Tightening range of M6×1, 8.8"), "the range is drawn with the torque on it");
    assert_eq!(book.sequence(), before, "nothing was stored");
}

#[test]
fn history_tells_what_changed() {
    let book = service::yard();
    let id = "skua.diesel.raw-water-pump.cover.flange".parse().unwrap();
    let mut value = serde_json::to_value(&*book.get(&id).unwrap().unwrap().record).unwrap();
    value["stages"][2] = serde_json::json!("6 N·m");
    let record = Record::from_json(&value).unwrap();
    let author = clampbook::catalog::Author::named("mo".parse().unwrap());
    book.put(record, clampbook::catalog::Expected::Any, &author).unwrap();
    let page = service::on(book).get(&format!("/bench/history/{id}")).expect(200);
    let said = words(page.text());
    assert!(said.contains("Revision 2") && said.contains("by mo"), "{said}");
    assert!(said.contains("stage 3 5.5 N·m → 6 N·m"), "{said}");
}
