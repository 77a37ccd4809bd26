//! Several processes, one book. Each of them is a catalog of its own: they share nothing but the database.

use super::{Database, sql};
use crate::generator::book;
use clampbook::catalog::{Author, Catalog, CatalogError, Expected, OpenOptions, Place, Sharing, StoreError, Write};
use clampbook::record::{Id, Record};
use std::time::{Duration, Instant};

pub fn server(database: &Database, sharing: Sharing) -> Catalog {
    let options = OpenOptions { sharing, ..OpenOptions::default() };
    Catalog::open_at(&Place::Database(database.url()), &options).unwrap()
}

/// A fastener whose note is a number.
pub fn counter(id: &Id, number: u64) -> Record {
    let joint = id.as_str().rsplit_once('.').unwrap().0;
    Record::from_json(&serde_json::json!({
        "kind": "fastener", "id": id, "joint": joint, "thread": "M8", "stages": ["20 N·m"], "note": number.to_string()
    }))
    .unwrap()
}

pub fn number_of(record: &Record) -> u64 {
    record.as_fastener().unwrap().note.as_ref().unwrap().as_str().parse().unwrap()
}

/// Waits until something holds.
#[track_caller]
pub fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let began = Instant::now();
    while !holds() {
        assert!(began.elapsed() < Duration::from_secs(30), "{what} does not come about");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Adds one to the number in a record, as somebody does who reads, changes and writes on condition that nobody else has.
fn add_one(catalog: &Catalog, id: &Id) {
    loop {
        let there = catalog.get(id).unwrap().unwrap();
        let next = counter(id, number_of(&there.record) + 1);
        match catalog.put(next, Expected::Revision(there.revision), &Author::unknown()) {
            Ok(_) => return,
            Err(CatalogError::Store(StoreError::Changed { .. } | StoreError::Crowded { .. })) => {}
            Err(other) => panic!("{other}"),
        }
    }
}

#[test]
fn eight_writers_on_two_servers_lose_no_update() {
    const EACH: u64 = 15;
    let database = Database::take();
    let servers = [server(&database, Sharing::default()), server(&database, Sharing::default())];
    let ids: Vec<Id> = (0..3).map(|n| format!("skua.pump.cover.bolt-{n}").parse().unwrap()).collect();
    let begin = ids.iter().map(|id| Write::put(counter(id, 0))).collect();
    servers[0].apply(begin, &Author::unknown()).unwrap();
    until("the second server seeing the records", || servers[1].sequence() == 3);
    std::thread::scope(|scope| {
        for writer in 0..8 {
            let (server, ids) = (&servers[writer % 2], &ids);
            scope.spawn(move || (0..EACH).for_each(|n| add_one(server, &ids[(n as usize + writer) % 3])));
        }
    });
    let last = 3 + 8 * EACH;
    for server in &servers {
        until("both servers seeing everything", || server.sequence() == last);
        let sum: u64 = ids.iter().map(|id| number_of(&server.get(id).unwrap().unwrap().record)).sum();
        assert_eq!(sum, 8 * EACH);
        let changes = server.changes(0, usize::MAX).unwrap();
        assert!(changes.iter().map(|change| change.sequence).eq(1..=last), "the feed has a gap");
        assert!(server.verify(&mut |_| {}).unwrap().is_whole());
    }
    assert_eq!(servers[0].changes(0, 1000).unwrap(), servers[1].changes(0, 1000).unwrap());
    let rows = sql(&database.url(), "select count(*), max(sequence), max(revision) from clampbook.record");
    assert_eq!(rows.split('|').take(2).collect::<Vec<_>>(), [last.to_string(), last.to_string()]);
}

#[test]
fn what_one_server_writes_another_finds_by_every_way() {
    let database = Database::take();
    let (writer, reader) = (server(&database, Sharing::default()), server(&database, Sharing::default()));
    let mut records = Vec::new();
    book(60, 5, |line| records.push(Record::from_json_text(line.as_bytes()).unwrap()));
    for some in records.chunks(7) {
        writer.apply(some.iter().cloned().map(Write::put).collect(), &Author::unknown()).unwrap();
    }
    let began = Instant::now();
    until("the reader seeing everything", || reader.sequence() == writer.sequence());
    assert!(began.elapsed() < Duration::from_secs(2));
    let question =
        clampbook::query::Query::parse([("kind", "fastener"), ("count", "exact"), ("facets", "thread")]).unwrap();
    assert_eq!(reader.find(&question).unwrap(), reader.find_by_looking_at_all(&question).unwrap());
    assert_eq!(reader.find(&question).unwrap().count, writer.find(&question).unwrap().count);
    assert!(reader.standing().unwrap().behind < Duration::from_secs(5));
}

#[test]
fn a_lost_notification_loses_nothing() {
    let database = Database::take();
    let deaf = Sharing { listens: false, looks_every: Duration::from_millis(200), ..Sharing::default() };
    let (writer, reader) = (server(&database, Sharing::default()), server(&database, deaf));
    for n in 0..20 {
        writer.put(counter(&"skua.pump.cover.bolt".parse().unwrap(), n), Expected::Any, &Author::unknown()).unwrap();
    }
    until("the deaf reader seeing everything", || reader.sequence() == 20);
    // A listener whose connection is cut misses what is notified until it is back.
    sql(
        &database.url(),
        "select pg_terminate_backend(pid) from pg_stat_activity where query like 'listen%' or query like 'select version%'",
    );
    reader.put(counter(&"skua.pump.cover.bolt".parse().unwrap(), 99), Expected::Any, &Author::unknown()).unwrap();
    until("the cut off listener seeing it too", || writer.sequence() == 21);
    assert_eq!(writer.changes(0, 100).unwrap(), reader.changes(0, 100).unwrap());
}

#[test]
fn a_write_that_was_decided_on_old_reading_is_decided_again() {
    let database = Database::take();
    let asleep = Sharing { listens: false, looks_every: Duration::from_secs(3600), ..Sharing::default() };
    let (awake, asleep) = (server(&database, Sharing::default()), server(&database, asleep));
    // Each looks once when it has connected; the one that sleeps does not look again.
    let looked = "select count(*) from pg_stat_activity
        where datname = current_database() and state = 'idle' and query like 'select version%'";
    until("both having looked once", || sql(&database.url(), looked).trim() == "2");
    let id: Id = "skua.pump.cover.bolt".parse().unwrap();
    awake.put(counter(&id, 1), Expected::New, &Author::unknown()).unwrap();
    awake.put(counter(&id, 2), Expected::Revision(1), &Author::unknown()).unwrap();
    assert_eq!(asleep.sequence(), 0);
    // It expects a revision that only the others know of yet, and gets it.
    let put = asleep.put(counter(&id, 3), Expected::Revision(2), &Author::unknown()).unwrap();
    assert_eq!((put.revision, put.sequence, asleep.sequence()), (3, 3, 3));
    until("the awake one seeing it", || awake.sequence() == 3);
    awake.put(counter(&id, 4), Expected::Revision(3), &Author::unknown()).unwrap();
    // What equals the revision that it knows is not what stands there any more, so it is a new one.
    let put = asleep.put(counter(&id, 3), Expected::Any, &Author::unknown()).unwrap();
    assert_eq!((put.revision, put.changed), (5, true));
    let late = asleep.put(counter(&id, 9), Expected::Revision(4), &Author::unknown()).unwrap_err();
    assert!(
        matches!(&late, CatalogError::Store(StoreError::Changed { found: Some(found), .. }) if found.revision == 5)
    );
}

#[test]
fn two_that_begin_a_book_at_the_same_time_begin_one() {
    let database = Database::take();
    let catalogs: Vec<Catalog> = std::thread::scope(|scope| {
        let begun: Vec<_> = (0..4).map(|_| scope.spawn(|| server(&database, Sharing::default()))).collect();
        begun.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    assert!(catalogs.iter().all(|catalog| catalog.epoch() == catalogs[0].epoch()));
}
