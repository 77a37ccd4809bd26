//! What the catalog does in this process, without HTTP.

use crate::book::Book;
use crate::report::{Report, Wanted, at_share, time, times_faster};
use crate::sqlite::Sqlite;
use crate::{Scale, compare, facets, questions};
use clampbook::audit::{Audit, Book as Audited};
use clampbook::catalog::{Catalog, ImportOptions, OpenOptions};
use clampbook::record::Id;
use clampbook::store::{Opening, Store};
use std::collections::HashMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The middle one of the times that some work takes, once for each item.
fn middle<T>(items: &[T], mut work: impl FnMut(&T)) -> Duration {
    let timed = |item: &T| {
        let began = Instant::now();
        work(item);
        began.elapsed()
    };
    let mut times: Vec<Duration> = items.iter().map(timed).collect();
    at_share(&mut times, 0.5)
}

/// What a look-up and a search take in a book, and the look-up in a hash table of its ids.
pub struct Growth {
    look_up: Duration,
    in_table: Duration,
    search: Duration,
}

fn growth(catalog: &Catalog, ids: &[Id], fasteners: usize, scale: &Scale) -> Growth {
    let all = (0..catalog.sequence()).step_by(AT_A_TIME).flat_map(|from| {
        let changes = catalog.changes(from, AT_A_TIME).expect("changes");
        changes.into_iter().map(|change| (change.id.apart(), change.sequence))
    });
    let table: HashMap<Id, u64> = all.collect();
    let searches: Vec<_> = searches(fasteners, scale).iter().map(questions::Question::query).collect();
    Growth {
        look_up: again(ids, |id| assert!(catalog.get(id).expect("a read").is_some())),
        in_table: again(ids, |id| assert!(table.contains_key(std::hint::black_box(id)))),
        search: again(&searches, |query| drop(catalog.find(query).expect("an answer"))),
    }
}

/// The middle one of the times that some work takes for each item, when it was just done for all of them.
fn again<T>(items: &[T], mut work: impl FnMut(&T)) -> Duration {
    items.iter().for_each(&mut work);
    middle(items, work)
}

/// Changes that are read together.
const AT_A_TIME: usize = 10_000;

fn searches(fasteners: usize, scale: &Scale) -> Vec<questions::Question> {
    // About 2.5 fasteners a joint, 160 joints a ferry.
    questions::searches(11, scale.questions, (fasteners / 400).max(1))
}

/// What a small book takes.
pub fn growth_from(fasteners: usize, folder: &Path, scale: &Scale) -> Growth {
    let book = Book::make(fasteners, folder);
    let catalog = Catalog::create(&folder.join("small")).expect("a store");
    let lines = std::fs::File::open(&book.file).expect("the book");
    assert!(catalog.import(lines, &ImportOptions::default()).expect("an import").is_clean());
    catalog.keep_directory().expect("a directory");
    growth(&catalog, &some_ids(&catalog), fasteners, scale)
}

/// Ids from all over the book.
fn some_ids(catalog: &Catalog) -> Vec<Id> {
    let last = catalog.sequence();
    let step = (last / 2000).max(1);
    let at = |sequence| catalog.changes(sequence, 1).expect("a change").first().map(|change| change.id.clone());
    (0..last).step_by(usize::try_from(step).unwrap_or(1)).filter_map(at).collect()
}

/// Searches, facets and words beside SQLite, and growth from a small book.
pub fn measure(store: &Path, sqlite: &mut Sqlite, small: &Growth, scale: &Scale, report: &mut Report) {
    let catalog = Catalog::open(store, &OpenOptions::default()).expect("the store again");
    let began = Instant::now();
    // As one who serves the book does.
    catalog.keep_directory().expect("a directory");
    report.say(&format!("the directory was made in {}", time(began.elapsed())));
    let searches = searches(scale.fasteners, scale);
    let words = questions::words(12, scale.questions);
    for (what, questions, wanted) in
        [("search: three filters, an order, 20 of them", &searches, 3.0), ("words, 20 by id", &words, 2.0)]
    {
        // This warms both.
        compare::with_sqlite(&catalog, sqlite, questions);
        let queries: Vec<_> = questions.iter().map(questions::Question::query).collect();
        let ours = middle(&queries, |query| drop(catalog.find(query).expect("an answer")));
        let other = middle(questions, |question| drop(sqlite.ids(question)));
        report.row(
            &format!("{what}, against SQLite"),
            &time(ours),
            &time(other),
            times_faster(ours, other),
            Wanted::AtLeast(wanted),
        );
    }
    typing_errors(&catalog, report);
    for (what, asked) in [("all", vec![facets::of_all()]), ("two filters", facets::of_some(13, scale.questions / 4))] {
        for asked in &asked {
            assert_eq!(facets::ours(&catalog, asked), facets::other(sqlite, asked), "facets of {what}");
        }
        let often: Vec<_> = asked.iter().cycle().take(asked.len().max(5)).collect();
        let ours = middle(&often, |asked| drop(facets::ours(&catalog, asked)));
        let other = middle(&often, |asked| drop(facets::other(sqlite, asked)));
        report.row(
            &format!("five facets of {what}, against SQLite"),
            &time(ours),
            &time(other),
            times_faster(ours, other),
            Wanted::AtLeast(10.0),
        );
    }
    let large = growth(&catalog, &some_ids(&catalog), scale.fasteners, scale);
    let sizes = format!("{} fasteners against {}", scale.fasteners, crate::SMALL.min(scale.fasteners));
    let row = |what: &str, large: Duration, small: Duration, wanted| (what.to_owned(), large, small, wanted);
    let more = (scale.fasteners as f64 / crate::SMALL as f64).max(2.0).log2();
    for (what, large, small, wanted) in [
        row("look-up", large.look_up, small.look_up, Wanted::AtMost(1.5)),
        row("the same in a hash table of nothing but ids", large.in_table, small.in_table, Wanted::Nothing),
        row("search", large.search, small.search, Wanted::AtMost(more)),
    ] {
        report.row(&format!("{what}: {sizes}"), &time(large), &time(small), 1.0 / times_faster(large, small), wanted);
    }
    // Last, since it holds the whole book in memory.
    let few = (3_000_000 / scale.fasteners).clamp(3, scale.questions);
    compare::with_naive_scan(&catalog, &searches[..few]);
    compare::with_naive_scan(&catalog, &words[..few]);
    report.say(&format!("{} answers like SQLite's, {} like the naive scan's", searches.len() + words.len(), 2 * few));
}

/// What has one wrong letter finds what was meant.
fn typing_errors(catalog: &Catalog, report: &mut Report) {
    let ask = |words: &str| {
        let pairs = [("q", words), ("kind", "fastener"), ("take", "20")];
        let query = clampbook::query::Query::parse(pairs).unwrap_or_else(|refused| panic!("{refused:?}"));
        compare::ids(&catalog.find(&query).expect("an answer"))
    };
    for (wrong, meant) in questions::TYPING_ERRORS {
        assert_eq!(ask(wrong), ask(meant), "\"{wrong}\" finds what \"{meant}\" does");
    }
    let took = middle(questions::TYPING_ERRORS, |(wrong, _)| drop(ask(wrong)));
    report
        .say(&format!("words with one wrong letter, 20 by id: {}, found all the same; FTS5 finds nothing", time(took)));
}

/// The audit of the whole book beside a plain decode of it.
pub fn audit(store: &Path, report: &mut Report) {
    let store = Store::open(store, &Opening::default()).expect("the store again");
    let (mut decode, mut audit) = (Duration::MAX, Duration::MAX);
    for _ in 0..2 {
        let began = Instant::now();
        let mut records = Vec::new();
        let visit = |stored: clampbook::query::Stored| {
            records.push(stored.record);
            Ok(true)
        };
        store.walk(None, u64::MAX, visit).expect("the store can be read");
        decode = decode.min(began.elapsed());
        let began = Instant::now();
        let book = Audited::new(records.iter().map(|record| &**record));
        let findings = Audit::of(&book).findings();
        audit = audit.min(began.elapsed());
        assert!(!findings.is_empty(), "the generator leaves things to find");
    }
    let ratio = 1.0 / times_faster(audit, decode);
    report.row("audit, time against a plain decode", &time(audit), &time(decode), ratio, Wanted::AtMost(3.0));
}

/// Opening, and the first answer.
pub fn opening(store: &Path, report: &mut Report) {
    let query = questions::searches(14, 1, 1).remove(0).query();
    let began = Instant::now();
    let catalog = Catalog::open(store, &OpenOptions::default()).expect("the store again");
    let opened = began.elapsed();
    catalog.find(&query).expect("an answer");
    let answered = began.elapsed();
    let ours = format!("{} to open, {} to the first answer", time(opened), time(answered));
    report.row("opening and the first answer, in seconds", &ours, "1 s", answered.as_secs_f64(), Wanted::AtMost(1.0));
}

/// `find` from the command line, wall time.
pub fn command_line(store: &Path, scale: &Scale, report: &mut Report) {
    let run = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_clampbook"));
        command.arg("--store").arg(store).args(arguments).stdout(Stdio::null()).stderr(Stdio::null());
        let began = Instant::now();
        assert!(command.status().expect("clampbook runs").success(), "{arguments:?}");
        began.elapsed()
    };
    let find = || run(&["find", "--thread", "M8", "--class", "8.8", "--torque", "15..30"]);
    let first = find();
    let wall = middle(&[0; 7][..if scale.rounds > 1 { 7 } else { 1 }], |_| {
        find();
    });
    let folder = tempfile::tempdir().expect("a folder");
    let change = folder.path().join("change.ndjson");
    let line = r#"{"kind":"fastener","id":"bench.change.here.c1","joint":"bench.change.here","thread":"M8","stages":["20 N·m"]}"#;
    std::fs::write(&change, line).expect("a file");
    run(&["import", change.to_str().expect("a path in UTF-8")]);
    let after = find();
    let ours = format!(
        "{} (the first one after a change {}; of a book that nobody has audited {})",
        time(wall),
        time(after),
        time(first)
    );
    report.row(
        "find from the command line, against 50 ms",
        &ours,
        "50 ms",
        wall.as_secs_f64() / 0.05,
        Wanted::AtMost(1.0),
    );
}
