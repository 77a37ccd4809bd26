//! A book in a folder beside a book in a database, in one run: import, look-up, filtered search, writes, mixed load over
//! one server and two, and how long a server takes to see what another has written.
//!
//! `tests/postgres.sh cargo bench --features postgres --bench shared_book [-- FASTENERS]` starts the database.
//! A server is a catalog of its own; HTTP is left out, since it costs the same on every engine.

#[path = "../support/generator.rs"]
#[allow(dead_code)]
mod generator;

use clampbook::catalog::{
    Author, Catalog, DatabaseUrl, Expected, ImportMode, ImportOptions, OnSame, OpenOptions, Place, Preparation,
};
use clampbook::query::Query;
use clampbook::record::{Id, Record};
use generator::{Dice, book};
use std::process::Command;
use std::time::{Duration, Instant};

/// How long each load is kept up.
const LOAD: Duration = Duration::from_secs(4);
/// How many do so at the same time.
const USERS: usize = 4;

fn main() {
    let size = std::env::args().filter_map(|argument| argument.parse().ok()).next().unwrap_or(100_000);
    let server = std::env::var("CLAMPBOOK_TEST_POSTGRES").expect("run it by tests/postgres.sh");
    let mut lines = String::new();
    book(size, 7, |line| {
        lines.push_str(line);
        lines.push('\n');
    });
    let ids: Vec<Id> = lines
        .lines()
        .filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok()?["id"].as_str()?.parse().ok())
        .collect();
    println!("{} records from {size} fasteners, {:.0} MB of JSON", ids.len(), lines.len() as f64 / 1e6);
    let folder = tempfile::tempdir().expect("a folder");
    let embedded = OpenOptions { create: true, ..OpenOptions::default() };
    let path = Place::Folder(folder.path().join("book"));
    let catalog = Catalog::open_at(&path, &embedded).expect("a book in a folder");
    import("folder", &catalog, &lines);
    of_one("folder", &catalog, &ids);
    mixed("folder, one server", std::slice::from_ref(&catalog), &ids);
    drop(catalog);
    reopen("folder", &path);

    let url: DatabaseUrl = format!("{server}/bench_{}", std::process::id()).parse().expect("an address");
    let name = format!("create database bench_{}", std::process::id());
    let made = Command::new("psql").args(["-q", "-d", &format!("{server}/postgres"), "-c", &name]).status();
    assert!(made.expect("psql").success());
    Catalog::prepare(&url, &Preparation::default()).expect("tables");
    let place = Place::Database(url);
    let before = resident();
    let one = Catalog::open_at(&place, &OpenOptions::default()).expect("a book in a database");
    import("database", &one, &lines);
    println!("database: {:.0} MB more resident with the mirror", resident() - before);
    of_one("database", &one, &ids);
    mixed("database, one server", std::slice::from_ref(&one), &ids);
    let two = reopen("database", &place);
    mixed("database, two servers", &[one.clone(), two.clone()], &ids);
    lag(&one, &two, &ids, false);
    lag(&one, &two, &ids, true);
}

fn import(name: &str, catalog: &Catalog, lines: &str) {
    let options = ImportOptions { mode: ImportMode::Whole, on_same: OnSame::Refuse, ..ImportOptions::default() };
    let began = Instant::now();
    let report = catalog.import(lines.as_bytes(), &options).expect("an import");
    let took = began.elapsed().as_secs_f64();
    assert!(report.is_clean());
    println!("{name}: import of {} records {took:.1} s, {:.0}/s", report.stored, report.stored as f64 / took);
}

fn reopen(name: &str, place: &Place) -> Catalog {
    let began = Instant::now();
    let catalog = Catalog::open_at(place, &OpenOptions::default()).expect("the book again");
    println!("{name}: opened in {:.2} s", began.elapsed().as_secs_f64());
    catalog
}

/// The middle and the 99th of a hundred of some times, in microseconds.
fn middle_and_worst(mut times: Vec<Duration>) -> (f64, f64) {
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e6;
    (at(0.5), at(0.99))
}

fn timed(name: &str, what: &str, times: usize, mut work: impl FnMut(usize)) {
    let taken = (0..times).map(|n| {
        let began = Instant::now();
        work(n);
        began.elapsed()
    });
    let (middle, worst) = middle_and_worst(taken.collect());
    println!("{name}: {what} p50 {middle:.1} µs, p99 {worst:.1} µs");
}

/// What one user alone sees.
fn of_one(name: &str, catalog: &Catalog, ids: &[Id]) {
    let mut dice = Dice::new(3);
    timed(name, "look-up", 20_000, |_| {
        assert!(catalog.get(dice.one_of(ids)).expect("a read").is_some());
    });
    let question = [
        ("thread", "M8"),
        ("property_class", "8.8"),
        ("torque.min", "15"),
        ("torque.max", "30"),
        ("count", "exact"),
        ("take", "50"),
    ];
    let query = Query::parse(question).unwrap_or_else(|error| panic!("{error:?}"));
    timed(name, "filtered search, 50 of all", 60, |_| {
        catalog.find(&query).expect("an answer");
    });
    timed(name, "single write", 300, |n| write(catalog, &ids[n * 7 % ids.len()], n));
}

/// Changes the note of a record.
fn write(catalog: &Catalog, id: &Id, n: usize) {
    let stored = catalog.get(id).expect("a read").expect("a record");
    let mut json = serde_json::to_value(&*stored.record).expect("JSON");
    let member = if stored.record.as_joint().is_some() { "title" } else { "note" };
    json[member] = format!("changed {n} of revision {}", stored.revision).into();
    let record = Record::from_json(&json).unwrap_or_else(|error| panic!("{error}"));
    catalog.put(record, Expected::Any, &Author::unknown()).expect("a write");
}

/// What several users do at the same time: nineteen look-ups, then one write.
fn mixed(name: &str, servers: &[Catalog], ids: &[Id]) {
    let counts: Vec<(u64, u64)> = std::thread::scope(|scope| {
        let users: Vec<_> = (0..USERS)
            .map(|user| {
                let catalog = servers[user % servers.len()].clone();
                scope.spawn(move || {
                    let (mut dice, mut reads, mut writes) = (Dice::new(user as u64 + 1), 0, 0);
                    let until = Instant::now() + LOAD;
                    while Instant::now() < until {
                        for _ in 0..19 {
                            catalog.get(dice.one_of(ids)).expect("a read");
                            reads += 1;
                        }
                        write(&catalog, dice.one_of(ids), user);
                        writes += 1;
                    }
                    (reads, writes)
                })
            })
            .collect();
        users.into_iter().map(|user| user.join().expect("a user")).collect()
    });
    let (reads, writes) = counts.iter().fold((0, 0), |(reads, writes), (r, w)| (reads + r, writes + w));
    let seconds = LOAD.as_secs_f64();
    println!(
        "{name}: {USERS} users, {:.0} look-ups/s with {:.0} writes/s",
        reads as f64 / seconds,
        writes as f64 / seconds
    );
}

/// How long after a write has returned the other server knows of it, alone or beside users of both who write.
fn lag(one: &Catalog, two: &Catalog, ids: &[Id], under_load: bool) {
    let (done, stop) = (std::sync::atomic::AtomicBool::new(false), std::sync::atomic::Ordering::Relaxed);
    let times = std::thread::scope(|scope| {
        if under_load {
            for user in 0..USERS - 1 {
                let (catalog, done) = (if user % 2 == 0 { one } else { two }, &done);
                scope.spawn(move || {
                    let mut dice = Dice::new(user as u64 + 50);
                    while !done.load(stop) {
                        write(catalog, dice.one_of(ids), user);
                    }
                });
            }
        }
        let times = (0..200).map(|n| {
            write(one, &ids[n], n);
            let (began, goal) = (Instant::now(), one.sequence());
            while two.sequence() < goal {
                std::thread::yield_now();
            }
            began.elapsed()
        });
        let times = times.collect();
        done.store(true, stop);
        times
    });
    let (middle, worst) = middle_and_worst(times);
    let load = if under_load { "under writes by three users" } else { "alone" };
    println!("database: the other server knows after p50 {:.2} ms, p99 {:.2} ms, {load}", middle / 1e3, worst / 1e3);
}

/// Megabytes of this process in memory.
fn resident() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<f64>().ok()).unwrap_or(0.0) / 1e3
}
