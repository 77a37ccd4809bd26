//! How a book of a million answers, beside what it could be measured against, in one run.
//!
//! `cargo bench --bench million [-- FASTENERS]` makes a book of so many fasteners (100,000 if nothing is said), the same
//! one every time, and prints one table: the service beside a static body of the same size, the index beside SQLite in
//! memory with the best indexes one would write for just these questions, the import beside SQLite's, the audit beside a
//! plain decode, memory beside the bytes of the records. The answers are compared too: with the naive scan, and with
//! SQLite's rows. A difference ends the run with an error. What the figures were on which machine is in
//! `tests/bench/README.md`. `-- FASTENERS http` measures only what goes over HTTP,
//! `-- FASTENERS inside` only what the catalog does in this process beside SQLite, `-- FASTENERS import` only the import.
//!
//! `cargo test` runs the same program on a tiny book, for the comparisons and to see that it still runs.

mod book;
mod compare;
mod facets;
mod inside;
mod load;
mod memory;
mod over_http;
mod questions;
mod report;
mod server;
mod sqlite;
mod taking_in;

#[path = "../../support/generator.rs"]
#[allow(dead_code, reason = "the generator serves tests too")]
mod generator;

use report::Report;
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

/// How much is measured.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    /// Fasteners of the book.
    pub fasteners: usize,
    /// How long each load is kept up, in each round.
    pub load: Duration,
    /// Rounds of each load, ours and the other in turns.
    pub rounds: usize,
    /// Questions of each kind.
    pub questions: usize,
}

impl Scale {
    fn full(fasteners: usize) -> Self {
        Self { fasteners, load: Duration::from_secs(1), rounds: 7, questions: 60 }
    }

    fn tiny() -> Self {
        Self { fasteners: 400, load: Duration::from_millis(60), rounds: 1, questions: 8 }
    }
}

/// The word that narrows a run to what goes over HTTP.
const OVER_HTTP: &str = "http";
/// The word that measures only what the catalog does in this process.
const INSIDE: &str = "inside";
/// The word that measures only the import beside SQLite's.
const IMPORT: &str = "import";

/// Fasteners of the small book that growth is measured from.
const SMALL: usize = 1000;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if let [word, store] = words.as_slice()
        && word == server::SERVE
    {
        return server::serve(Path::new(store));
    }
    let is_bench = words.iter().any(|word| word == "--bench");
    let is_part = |word: &String| [OVER_HTTP, INSIDE, IMPORT].contains(&word.as_str());
    let (parts, said): (Vec<&String>, Vec<&String>) =
        words.iter().filter(|word| !word.starts_with("--")).partition(|word| is_part(word));
    let size = std::env::var("CLAMPBOOK_BENCH_SIZE").ok();
    let scale = match (is_bench, said.first().copied().or(size.as_ref())) {
        // The tests were narrowed to others.
        (false, Some(filter)) if !"million".contains(filter.as_str()) => return ExitCode::SUCCESS,
        (false, _) => Scale::tiny(),
        (true, None) => Scale::full(100_000),
        (true, Some(size)) => match size.replace([',', '_'], "").parse() {
            Ok(fasteners) if fasteners >= 400 => Scale::full(fasteners),
            _ => {
                eprintln!(
                    "write how many fasteners the book is to have, from 400: cargo bench --bench million -- 100000"
                );
                return ExitCode::from(2);
            }
        },
    };
    run(&scale, |part| parts.is_empty() || parts.iter().any(|named| *named == part));
    ExitCode::SUCCESS
}

fn run(scale: &Scale, is_wanted: impl Fn(&str) -> bool) {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut report = Report::new(&format!("{} fasteners, {cores} cores", scale.fasteners));
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("book");
    let book = book::Book::make(scale.fasteners, folder.path());
    report.say(&format!("{} records, {:.1} MB of JSON", book.records, book.bytes as f64 / 1e6));

    if is_wanted(INSIDE) || is_wanted(IMPORT) {
        let other = taking_in::side_by_side(&book, &store, folder.path(), &mut report);
        if is_wanted(INSIDE) {
            let mut other = other.into_memory();
            let small = inside::growth_from(SMALL.min(scale.fasteners), folder.path(), scale);
            inside::measure(&store, &mut other, &small, scale, &mut report);
        }
    } else {
        taking_in::alone(&book, &store);
    }
    if is_wanted(INSIDE) && is_wanted(OVER_HTTP) {
        inside::audit(&store, &mut report);
        inside::opening(&store, &mut report);
        inside::command_line(&store, scale, &mut report);
    }
    if is_wanted(OVER_HTTP) {
        over_http::measure(&store, &book, scale, &mut report);
    }
    report.end();
}
