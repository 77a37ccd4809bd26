//! The same commands against a running server: the same words, the same bytes, the exit codes for what only servers do.

use super::{Book, COVER, Done, clampbook};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

/// A `serve` process on the store of a book. It is ended with this value.
struct Serving {
    child: Child,
    address: String,
}

impl Serving {
    fn on(book: &Book, options: &[&str]) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_clampbook"));
        command.arg("--store").arg(book.store()).args(["serve", "--listen", "127.0.0.1:0", "--workers", "1"]);
        let mut child = command.args(options).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().strip_prefix("listening on ").expect("the service is ready").to_owned();
        Self { child, address }
    }

    fn run(&self, arguments: &[&str]) -> Done {
        Done::of(&clampbook().args(["--store", &self.address]).args(arguments).output().unwrap())
    }

    /// What the API says to a request without any header.
    fn get(&self, path: &str) -> String {
        ureq::get(format!("{}{path}", self.address)).call().unwrap().body_mut().read_to_string().unwrap()
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Questions of every verb that reads, and the request of the API that answers with the same bytes as JSON.
const READING: &[(&[&str], Option<&str>)] = &[
    (
        &["find", "--thread", "m6", "--head", "hexagon", "--head", "countersunk"],
        Some("/v1/fasteners?head=hexagon,countersunk&thread=m6&take=50"),
    ),
    (&["find", "pump", "cover", "--kind", "joint"], Some("/v1/joints?q=pump%20cover&take=50")),
    (&["find", "--torque", "20..40 lbf.ft", "--sort", "-torque", "--take", "3"], None),
    (&["find", "nothing-of-the-kind"], Some("/v1/fasteners?q=nothing-of-the-kind&take=50")),
    (&["show", COVER], Some("/v1/joints/skua.diesel.raw-water-pump.cover")),
    (&["show", "skua.diesel.raw-water-pump.cover.hex"], Some("/v1/fasteners/skua.diesel.raw-water-pump.cover.hex")),
    (&["show", COVER, "--revision", "1"], Some("/v1/joints/skua.diesel.raw-water-pump.cover/revisions/1")),
    (&["show", COVER, "--revision", "9"], None),
    (&["show", COVER, "--as-of", "2100-01-01"], Some("/v1/joints/skua.diesel.raw-water-pump.cover?as_of=2100-01-01")),
    (&["show", COVER, "--as-of", "2001-02-03"], None),
    (&["at", COVER, "5", "--as-of", "2001-02-03"], None),
    (&["find", "--within", "skua.gearbox", "--as-of", "2100-01-01"], None),
    (&["find", "--within", "skua.gearbox", "--as-of", "2001-02-03"], None),
    (&["show", "skua.diesel.raw-water-pump.covr"], None),
    (&["at", COVER, "5"], Some("/v1/joints/skua.diesel.raw-water-pump.cover/positions/5")),
    (
        &["at", COVER, "5", "--head", "countersunk"],
        Some("/v1/joints/skua.diesel.raw-water-pump.cover/positions/5?head=countersunk"),
    ),
    (
        &["at", COVER, "5", "--as-of", "2100-01-01"],
        Some("/v1/joints/skua.diesel.raw-water-pump.cover/positions/5?as_of=2100-01-01"),
    ),
    (&["at", "skua.nothing.here", "1"], None),
    (&["audit", "--at-least", "note", "--accepted"], Some("/v1/findings")),
    (&["audit", "--within", "skua.gearbox", "--at-least", "note"], None),
    (&["audit", COVER, "skua.diesel.raw-water-pump.cover.hex", "--at-least", "note", "--accepted"], None),
    (&["log"], Some("/v1/changes?since=0&take=100")),
    (&["log", "--since", "260"], Some("/v1/changes?since=260")),
    (&["log", COVER], Some("/v1/joints/skua.diesel.raw-water-pump.cover/revisions")),
    (&["find", "--kind", "any", "--within", "skua.gearbox", "--sort", "-changed"], None),
    (&["find", "cover", "--kind", "any"], Some("/v1/records?q=cover&take=50")),
    (&["find", "--where", "fields=name,head", "--take", "3"], Some("/v1/fasteners?fields=name,head&take=3")),
    (&["kit", COVER], None),
    (&["kit", COVER, "skua.bow-thruster.tunnel-leg", "--way", "--wrench", "5-25 N·m", "--wrench", "20-100 N·m"], None),
    (&["kit", COVER, "skua.nothing.here"], None),
    (&["label", COVER, "--date", "2026-03-01", "--next-due", "2,000 h"], None),
    (&["label", COVER, "skua.nothing.here"], None),
    (&["card", "skua.nothing.here"], None),
    (&["way", "skua.nothing.here"], None),
];

/// Sheets that say when they were printed, which is another minute every time.
const PRINTED: &[&[&str]] = &[
    &["card", COVER],
    &["card", COVER, "--wrench", "2-10 N·m", "--wrench", "5-25 N·m", "--step", "22.5°", "--variant", "bronze-housing"],
    &["card", COVER, "--as-of", "2100-01-01T08:00:00Z"],
    &["way", COVER],
    &["way", COVER, "skua.bow-thruster.tunnel-leg", "--step", "60°"],
];

#[test]
fn every_verb_that_reads_says_the_same_of_a_server() {
    let book = Book::of_the_yard();
    let in_forms = |run: &dyn Fn(&[&str]) -> Done| -> Vec<Done> {
        let forms = ["json", "ndjson", "plain", "table", "csv"];
        let all = READING.iter().map(|(verb, _)| verb).chain(PRINTED).flat_map(|verb| forms.map(|form| (*verb, form)));
        all.map(|(verb, form)| without_minutes(run(&[verb, &["--as", form]].concat()))).collect()
    };
    let here = in_forms(&|arguments| book.run(arguments));
    let exports = EXPORTS.map(|export| book.run(export).fine());
    let serving = Serving::on(&book, &[]);
    for (there, held) in in_forms(&|arguments| serving.run(arguments)).iter().zip(&here) {
        assert_eq!((there.code, &there.out, &there.err), (held.code, &held.out, &held.err));
    }
    for (there, held) in in_forms(&|arguments| book.run(arguments)).iter().zip(&here) {
        assert_eq!((there.code, &there.out, &there.err), (held.code, &held.out, &held.err));
    }
    for (verb, path) in READING.iter().filter_map(|(verb, path)| Some((verb, (*path)?))) {
        let out = serving.run(&[*verb, &["--as", "json"][..]].concat()).out;
        assert_eq!(out, serving.get(path), "{verb:?}");
    }
    assert_eq!(EXPORTS.map(|export| serving.run(export).fine()), exports);
    let there = pages(&|arguments| serving.run(arguments));
    drop(serving);
    assert_eq!(there, pages(&|arguments| book.run(arguments)));
    assert!(there.iter().all(|page| page.starts_with("<!DOCTYPE html>") && page.len() > 500));
}

/// Verbs that write, each tried behind a server below.
const WRITING: &[&str] = &["put", "amend", "withdraw", "import"];
/// Verbs of a book that are tried behind a server by tests of their own.
const OTHERWISE: &[&str] = &["export", "backup"];
/// The care of files, which belongs to where they are: a server is told to be no place for it.
const WHERE_THE_STORE_IS: &[&[&str]] = &[&["verify"], &["compact"], &["restore", "kept"], &["store", "new-epoch"]];
/// Verbs that need no book, or are no question to one.
const WITHOUT: &[&str] = &[
    "explain",
    "thread",
    "class",
    "tighten",
    "convert",
    "tables",
    "serve",
    "token",
    "openapi",
    "demo",
    "completions",
    "man",
];

#[test]
fn no_verb_is_forgotten_behind_a_server() {
    let mut known: Vec<&str> = [WRITING, OTHERWISE, WITHOUT].concat();
    known.extend(READING.iter().map(|(verb, _)| verb[0]).chain(PRINTED.iter().map(|verb| verb[0])));
    known.extend(WHERE_THE_STORE_IS.iter().map(|verb| verb[0]));
    known.sort_unstable();
    known.dedup();
    let mut all = super::help::verbs();
    all.sort_unstable();
    assert_eq!(known, all);
}

#[test]
fn the_care_of_files_is_where_they_are() {
    let book = Book::of_the_yard();
    book.run(&["backup", "kept"]).fine();
    let serving = Serving::on(&book, &["--open"]);
    for verb in WHERE_THE_STORE_IS {
        let named = book.run(&[&["--store", &serving.address][..], verb].concat());
        assert_eq!((named.code, named.out.as_str()), (2, ""), "{verb:?}: {named:?}");
        assert!(named.err.contains("where the store is"), "{verb:?}: {named:?}");
        // A server that holds the store is not worked around.
        let held = book.run(verb);
        assert_eq!((held.code, held.out.as_str()), (3, ""), "{verb:?}: {held:?}");
    }
    assert_eq!(serving.run(&["show", COVER]).code, 0);
}

/// The book in every form and part that it is exported in.
const EXPORTS: [&[&str]; 5] = [
    &["export"],
    &["export", "--as", "csv"],
    &["export", "--kind", "joint", "--as", "csv"],
    &["export", "--kind", "fastener", "--as", "csv"],
    &["export", "--kind", "joint"],
];

/// What is said, without the minute in which it was printed.
fn without_minutes(mut done: Done) -> Done {
    let minute = regex::Regex::new("20[0-9]{2}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2} UTC").unwrap();
    done.out = minute.replace_all(&done.out, "NOW").into_owned();
    done
}

/// The pages that sheets are written to.
fn pages(run: &dyn Fn(&[&str]) -> Done) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let labels: &[&[&str]] = &[&["label", COVER, "--reading", "1,240 h"]];
    let page = |verb: &&[&str]| {
        let file = folder.path().join("page.html");
        run(&[verb, &["-o", file.to_str().unwrap()][..]].concat()).fine();
        let page = without_minutes(Done { code: 0, out: std::fs::read_to_string(&file).unwrap(), err: String::new() });
        std::fs::remove_file(file).unwrap();
        page.out
    };
    PRINTED.iter().chain(labels).map(page).collect()
}

#[test]
fn every_verb_that_writes_does_the_same_behind_a_server() {
    let (here, behind) = (Book::of_the_yard(), Book::of_the_yard());
    let serving = Serving::on(&behind, &["--open"]);
    let drain = r#"{ "kind": "fastener", "id": "skua.diesel.raw-water-pump.drain.plug",
        "joint": "skua.diesel.raw-water-pump.drain", "thread": "M10×1", "stages": ["12 N·m"] }"#;
    let id = "skua.diesel.raw-water-pump.drain.plug";
    let steps: &[&[&str]] = &[
        &["put", "-", "--revision", "0"],
        &["put", "-"],
        &["amend", id, "stages[0]=14 N·m", "name=Drain plug"],
        &["withdraw", id, "--why", "Replaced by a cock"],
        &["put", "-"],
        &["show", id, "--revision", "3", "--as", "ndjson"],
    ];
    for step in steps {
        let arguments = [*step, &["--as", "json"][..(2 * usize::from(!step.contains(&"--as")))]].concat();
        let mut at_home = here.run_with(drain, &arguments);
        // Every other step goes through the store that the server holds.
        let mut there = if step[0] == "put" {
            behind.run_with(drain, &arguments)
        } else {
            Done::of(&clampbook().args(["--store", &serving.address]).args(&arguments).output().unwrap())
        };
        for done in [&mut at_home, &mut there] {
            done.out = without_times(&done.out);
        }
        assert_eq!((there.code, there.out, there.err), (0, at_home.out, at_home.err), "{step:?}");
    }
    let log = serving.run(&["log", id, "--as", "json"]).json();
    assert_eq!(log["items"].as_array().unwrap().len(), 4);
    assert_eq!(log["items"][2]["why"], "Replaced by a cock");
}

#[test]
fn a_file_is_imported_behind_a_server_with_the_same_report() {
    let (here, behind) = (Book::none(), Book::none());
    let good = r#"{"kind":"joint","id":"a.b"}
{"kind":"fastener","id":"a.b.c","joint":"a.b","thread":"M8","stages":["20 N·m"]}
"#;
    let table = "kind,id,joint,thread,torque\nfastener,a.b.d,a.b,M8,20 N·m\nfastener,a.b.e,a.b,M8,95\n";
    let other = r#"[{"kind":"fastener","id":"a.b.c","joint":"a.b","thread":"M8","stages":["22 N·m"]}]"#;
    behind.run_with(good, &["import", "-"]).fine();
    here.run_with(good, &["import", "-"]).fine();
    let serving = Serving::on(&behind, &["--open"]);
    let steps: &[(&str, &[&str], i32)] = &[
        (good, &["import", "-"], 0),
        (table, &["import", "-"], 1),
        (table, &["import", "-", "--check"], 1),
        (table, &["import", "-", "--partial"], 1),
        (other, &["import", "-"], 1),
        (other, &["import", "-", "--on-same", "replace"], 0),
    ];
    for (input, arguments, code) in steps {
        let arguments = [*arguments, &["--as", "json"][..]].concat();
        let (at_home, there) = (here.run_with(input, &arguments), behind.run_with(input, &arguments));
        assert_eq!((at_home.code, there.code), (*code, *code), "{arguments:?}: {there:?}");
        assert_eq!((there.out, there.err), (at_home.out, at_home.err), "{arguments:?}");
    }
    assert_eq!(serving.run(&["log", "a.b.c", "--as", "json"]).json()["items"].as_array().unwrap().len(), 2);
}

fn without_times(out: &str) -> String {
    let after = |part: &str| part.split_once('"').map(|(_, rest)| rest.to_owned()).unwrap_or_default();
    let mut parts = out.split("\"changed_at\":\"");
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |all, part| all + &after(part))
}

#[test]
fn several_records_are_put_behind_a_server_all_or_none() {
    let (here, behind) = (Book::of_the_yard(), Book::of_the_yard());
    let serving = Serving::on(&behind, &["--open"]);
    let both = r#"[{ "kind": "joint", "id": "skua.diesel.raw-water-pump.drain", "title": "Drain" },
        { "kind": "fastener", "id": "skua.diesel.raw-water-pump.drain.plug", "joint": "skua.diesel.raw-water-pump.drain",
          "thread": "M10×1", "stages": ["12 N·m"] }]"#;
    let changed = both.replace("\"Drain\"", "\"Drain of the pump\"").replace("12 N·m", "14 N·m");
    let steps = [(both, "0", 0), (both, "0", 5), (&changed, "0", 5), (&changed, "1", 0), (&changed, "", 0)];
    for (records, revision, code) in steps {
        let revision = if revision.is_empty() { vec![] } else { vec!["--revision", revision] };
        let arguments = [&["put", "-", "--as", "json"][..], &revision].concat();
        let (at_home, there) = (here.run_with(records, &arguments), behind.run_with(records, &arguments));
        if records == both && code == 5 {
            // A server knows its own answer again: what stands there already is stored, and a retry is safe.
            assert_eq!((at_home.code, there.code), (5, 0));
            assert!(there.json()["items"].as_array().unwrap().iter().all(|item| item["changed"] == false));
            continue;
        }
        assert_eq!((there.code, at_home.code), (code, code), "{arguments:?} {there:?}");
        assert_eq!(there.out, at_home.out, "{arguments:?}");
    }
    let log = serving.run(&["log", "skua.diesel.raw-water-pump.drain.plug", "--as", "json"]).json();
    assert_eq!(log["items"].as_array().unwrap().len(), 2);
}

#[test]
fn what_only_a_server_can_refuse_has_its_exit_code() {
    let book = Book::of_the_yard();
    let serving = Serving::on(&book, &[]);
    let amend = ["amend", "skua.diesel.raw-water-pump.cover.hex", "name=Cover bolt"];
    let refused = serving.run(&amend);
    assert_eq!(refused.code, 4, "{refused:?}");
    assert!(refused.err.contains("this needs a token") && refused.err.contains("CLAMPBOOK_TOKEN"), "{refused:?}");
    let made = book.run(&["token", "new", "mo", "--scopes", "read", "--as", "json"]).json();
    let token = made["items"][0]["token"].as_str().unwrap();
    let file = book.file("token", &format!("{token}\n"));
    let narrow = serving.run(&[&amend[..], &["--token", file.to_str().unwrap()]].concat());
    narrow.says(4, "clampbook: this needs the scope write, which the token does not have\n");
    let made = book.run(&["token", "new", "mo", "--scopes", "read,write", "--as", "json"]).json();
    let good = |arguments: &[&str]| {
        let token = made["items"][0]["token"].as_str().unwrap();
        let mut command = clampbook();
        command.env("CLAMPBOOK_TOKEN", token).args(["--store", &serving.address]).args(arguments);
        Done::of(&command.output().unwrap())
    };
    let written = good(&[&amend[..], &["--as", "json"]].concat());
    assert_eq!((written.code, &written.json()["items"][0]["revision"]), (0, &2.into()));
    let stale = good(&["amend", amend[1], "name=Bolt", "--revision", "1"]);
    assert_eq!(stale.code, 5, "{stale:?}");
    assert!(stale.err.contains("was at revision 1 and is at 2 now"), "{stale:?}");
    let log = good(&["log", amend[1], "--as", "json"]).json();
    assert_eq!(log["items"][1]["changed_by"], "mo");
    let address = serving.address.clone();
    drop(serving);
    let gone = Done::of(&clampbook().args(["--store", &address, "find"]).output().unwrap());
    assert_eq!(gone.code, 3, "{gone:?}");
    assert!(gone.err.contains("can't be reached") && gone.err.contains("clampbook serve"), "{gone:?}");
    let misplaced = Done::of(&clampbook().args(["--store", &address, "verify"]).output().unwrap());
    assert_eq!(misplaced.code, 2, "{misplaced:?}");
    assert!(misplaced.err.contains("where the store is"), "{misplaced:?}");
}

/// Whether the server is named or only holds the store: what is restored is its book, history and all.
#[test]
fn a_book_is_backed_up_while_a_server_holds_it() {
    let book = Book::of_the_yard();
    let id = "skua.diesel.raw-water-pump.cover.hex";
    assert_eq!(book.run(&["amend", id, "name=Cover bolt"]).code, 0);
    assert_eq!(book.run(&["withdraw", id, "--why", "Replaced by a cap screw"]).code, 0);
    let log = book.run(&["log", "--as", "json"]).json();
    let at_home = book.run(&["backup", "at-home", "--as", "json"]).json();
    let serving = Serving::on(&book, &["--open"]);
    let held = book.run(&["backup", "held", "--as", "json"]).json();
    let named = book.run(&["--store", &serving.address, "backup", "named", "--as", "json"]).json();
    for backup in [&held, &named] {
        for what in ["changes", "epoch", "digest", "bytes"] {
            assert_eq!(backup[what], at_home[what], "{what}");
        }
    }
    drop(serving);
    book.run(&["--store", "copy", "restore", "named"]).fine();
    assert_eq!(book.run(&["--store", "copy", "log", "--as", "json"]).json()["items"], log["items"]);
}
