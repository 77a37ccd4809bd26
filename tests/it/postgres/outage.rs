//! The database goes away in the middle of things and comes back, here or elsewhere.

use super::cluster::Cluster;
use super::sql;
use super::two_servers::{counter, number_of, until};
use crate::api::service;
use clampbook::catalog::{
    Allowed, Author, Catalog, CatalogError, DatabaseUrl, Expected, OpenOptions, Place, Preparation, Sharing, StoreError,
};
use clampbook::record::Id;
use serde_json::json;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Makes a database with the tables of a book.
fn prepared(cluster: &Cluster) -> DatabaseUrl {
    sql(&cluster.url("postgres"), "create database book");
    Catalog::prepare(&cluster.url("book"), &Preparation::default()).unwrap();
    cluster.url("book")
}

fn open(url: &DatabaseUrl, options: OpenOptions) -> Catalog {
    Catalog::open_at(&Place::Database(url.clone()), &options).unwrap()
}

fn bolt(number: usize) -> Id {
    format!("skua.pump.cover.bolt-{number}").parse().unwrap()
}

/// What became of one writer's writes.
#[derive(Debug, Default)]
struct Tally {
    stored: u64,
    away: u64,
    untold: u64,
}

/// Counts up in a record of its own until told to stop. Each write expects the revision that the last one made: if one
/// that was said not to be stored had been stored after all, or one that was acknowledged was lost, the next would find
/// another revision than it expects.
fn count_up(catalog: &Catalog, id: &Id, stop: &AtomicBool) -> Tally {
    let mut tally = Tally::default();
    while !stop.load(Ordering::Relaxed) {
        let expected = if tally.stored == 0 { Expected::New } else { Expected::Revision(tally.stored) };
        match catalog.put(counter(id, tally.stored + 1), expected, &Author::unknown()) {
            Ok(put) => {
                tally.stored += 1;
                assert_eq!(put.revision, tally.stored);
            }
            Err(CatalogError::Store(StoreError::Away { .. } | StoreError::Crowded { .. })) => {
                tally.away += 1;
                std::thread::sleep(Duration::from_millis(20));
            }
            Err(CatalogError::Store(StoreError::Untold { .. })) => {
                tally.untold += 1;
                until("the database coming back", || catalog.standing().unwrap().behind < Duration::from_millis(900));
                tally.stored = catalog.get(id).unwrap().map_or(0, |stored| stored.revision);
            }
            Err(other) => panic!("{id} after {tally:?}: {other}"),
        }
    }
    tally
}

/// Lets four writers on two servers write while something happens, and gives what became of it.
fn while_writing(servers: &[Catalog; 2], happens: impl FnOnce()) -> Vec<Tally> {
    let stop = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let writers: Vec<_> = (0..4)
            .map(|writer| {
                let (server, stop) = (&servers[writer % 2], &stop);
                scope.spawn(move || count_up(server, &bolt(writer), stop))
            })
            .collect();
        std::thread::sleep(Duration::from_millis(300));
        happens();
        std::thread::sleep(Duration::from_millis(700));
        stop.store(true, Ordering::Relaxed);
        writers.into_iter().map(|writer| writer.join().unwrap()).collect()
    })
}

/// What is there must be what was acknowledged, each write once, and whole.
fn nothing_lost_nothing_twice(url: &DatabaseUrl, tallies: &[Tally]) {
    let fresh = open(url, OpenOptions::default());
    for (writer, tally) in tallies.iter().enumerate() {
        let there = fresh.get(&bolt(writer)).unwrap().unwrap();
        assert_eq!((there.revision, number_of(&there.record)), (tally.stored, tally.stored));
    }
    let all: u64 = tallies.iter().map(|tally| tally.stored).sum();
    assert!(fresh.changes(0, usize::MAX).unwrap().iter().map(|change| change.sequence).eq(1..=all));
    assert!(fresh.verify(&mut |_| {}).unwrap().is_whole());
    assert_eq!(sql(url, "select count(*) from clampbook.record"), all.to_string());
    assert!(tallies.iter().all(|tally| tally.stored > 10), "too few writes to tell anything: {tallies:?}");
}

#[test]
fn a_primary_killed_in_the_middle_of_writes_loses_nothing_acknowledged() {
    let cluster = Cluster::primary("killed");
    let url = prepared(&cluster);
    let servers = [open(&url, OpenOptions::default()), open(&url, OpenOptions::default())];
    let tallies = while_writing(&servers, || {
        for pause in [100, 300, 20] {
            cluster.kill();
            std::thread::sleep(Duration::from_millis(pause));
            cluster.start();
            std::thread::sleep(Duration::from_millis(400));
        }
    });
    assert!(tallies.iter().any(|tally| tally.away > 0), "nobody noticed the outage: {tallies:?}");
    nothing_lost_nothing_twice(&url, &tallies);
}

#[test]
fn a_standby_that_takes_over_has_everything_acknowledged() {
    let primary = Cluster::primary("first");
    let url = prepared(&primary);
    let standby = Cluster::standby_of(&primary, "second");
    sql(&primary.url("postgres"), "alter system set synchronous_standby_names = '*'");
    sql(&primary.url("postgres"), "select pg_reload_conf()");
    until("the standby being waited for", || {
        sql(&url, "select count(*) from pg_stat_replication where sync_state = 'sync'") == "1"
    });
    let either: DatabaseUrl =
        format!("postgres://owner@127.0.0.1:{},127.0.0.1:{}/book", primary.port, standby.port).parse().unwrap();
    let servers = [open(&either, OpenOptions::default()), open(&either, OpenOptions::default())];
    let tallies = while_writing(&servers, || {
        primary.kill();
        standby.promote();
        std::thread::sleep(Duration::from_secs(1));
    });
    nothing_lost_nothing_twice(&standby.url("book"), &tallies);
}

#[test]
fn without_the_database_reads_go_on_marked_and_writes_are_put_off() {
    let cluster = Cluster::primary("away");
    let url = prepared(&cluster);
    let allowed = Allowed { behind_at_most: Duration::from_millis(1500), served_at_most: Duration::from_millis(4000) };
    let catalog = open(&url, OpenOptions { allowed, ..OpenOptions::default() });
    catalog.put(counter(&bolt(1), 1), Expected::New, &Author::unknown()).unwrap();
    let service = service::on(catalog.clone());
    let path = "/v1/fasteners/skua.pump.cover.bolt-1";
    let body = serde_json::to_value(counter(&bolt(2), 1)).unwrap();
    let put = || service.send_json("PUT", "/v1/fasteners/skua.pump.cover.bolt-2", &[("If-None-Match", "*")], &body);
    let answer = service.get(path);
    assert_eq!((answer.status, answer.header("age")), (200, None));
    assert!(answer.header("book-behind").unwrap().parse::<f64>().unwrap() < 1.5);
    cluster.kill();
    let refused = put();
    assert_eq!((refused.status, refused.header("retry-after")), (503, Some("5")));
    assert!(!String::from_utf8_lossy(&refused.body).contains("owner"), "the place of the database is told");
    until("the server not being ready", || service.get("/health/ready").status == 503);
    let answer = service.get(path);
    assert_eq!(answer.status, 200);
    assert!(answer.header("age").unwrap().parse::<u64>().unwrap() >= 1);
    until("what is held being too old", || service.get(path).status == 503);
    assert_eq!(service.get(path).header("retry-after"), Some("5"));
    assert_eq!(service.get("/health/live").status, 200);
    cluster.start();
    until("the server being ready again", || service.get("/health/ready").status == 200);
    assert_eq!(service.get(path).status, 200);
    assert_eq!(put().status, 201);
    assert_eq!(put().status, 200, "it stands there as it was sent");
    assert_eq!(catalog.sequence(), 2);
}

#[test]
fn a_database_that_has_gone_back_is_noticed() {
    let cluster = Cluster::primary("back");
    let url = prepared(&cluster);
    let catalog = open(&url, OpenOptions::default());
    let write = |n| catalog.put(counter(&bolt(1), n), Expected::Any, &Author::unknown()).unwrap();
    write(1);
    write(2);
    let version = sql(&url, "create table kept as select * from clampbook.entry; select version from clampbook.book");
    write(3);
    sql(
        &url,
        &format!(
            "truncate clampbook.entry; insert into clampbook.entry select * from kept; \
                delete from clampbook.batch where version > {version}; delete from clampbook.record where sequence > 2; \
                update clampbook.book set version = {version}"
        ),
    );
    until("the server noticing", || catalog.standing().unwrap().parted.is_some());
    let refused = catalog.put(counter(&bolt(1), 4), Expected::Any, &Author::unknown()).unwrap_err().to_string();
    assert!(refused.contains("has gone back"), "{refused}");
    assert_eq!(number_of(&catalog.get(&bolt(1)).unwrap().unwrap().record), 3);
    assert!(catalog.freshness().unwrap().is_late);
    // Started again it writes on, under another epoch once somebody has said so.
    let seen = format!("{}.3", catalog.epoch());
    drop(catalog);
    let catalog = open(&url, OpenOptions::default());
    assert_eq!(catalog.sequence(), 2);
    catalog.begin_epoch().unwrap();
    catalog.put(counter(&bolt(1), 5), Expected::Revision(2), &Author::unknown()).unwrap();
    let answer = service::on(catalog).send("GET", "/v1/fasteners", &[("Book-Seen", &seen)], b"");
    assert_eq!(answer.status, 410, "change 3 is another one now");
}

#[test]
fn a_server_reads_from_a_standby_and_knows_how_far_behind_that_is() {
    let primary = Cluster::primary("written");
    let url = prepared(&primary);
    let standby = Cluster::standby_of(&primary, "read");
    let sharing =
        Sharing { read_from: Some(standby.url("book")), looks_every: Duration::from_millis(100), ..Sharing::default() };
    let allowed = Allowed { behind_at_most: Duration::from_secs(4), served_at_most: Duration::from_secs(600) };
    let other = open(&url, OpenOptions::default());
    other.put(counter(&bolt(1), 1), Expected::New, &Author::unknown()).unwrap();
    until("the standby having it", || {
        sql(&standby.url("book"), "select count(*) from clampbook.batch")
            == sql(&url, "select count(*) from clampbook.batch")
    });
    let catalog = open(&url, OpenOptions { sharing, allowed, ..OpenOptions::default() });
    assert_eq!(catalog.sequence(), 1);
    // One's own writes are there at once, those of others after a while, and both in one order.
    let put = catalog.put(counter(&bolt(2), 1), Expected::New, &Author::unknown()).unwrap();
    assert_eq!((put.sequence, catalog.sequence()), (2, 2));
    until("the other one seeing it", || other.sequence() == 2);
    other.put(counter(&bolt(1), 2), Expected::Revision(1), &Author::unknown()).unwrap();
    until("the reader of the standby seeing it", || catalog.sequence() == 3);
    until("the standby being close", || !catalog.freshness().unwrap().is_late);
    // The standby answers but does not go on.
    sql(&standby.url("postgres"), "select pg_wal_replay_pause()");
    other.put(counter(&bolt(1), 3), Expected::Revision(2), &Author::unknown()).unwrap();
    until("the standby being too far behind", || catalog.freshness().unwrap().is_late);
    assert_eq!(catalog.sequence(), 3);
    // A write that was decided on what the standby shows is decided again.
    let put = catalog.put(counter(&bolt(1), 4), Expected::Revision(3), &Author::unknown()).unwrap();
    assert_eq!((put.revision, catalog.sequence()), (4, 5));
    // Who has seen more than the standby shows waits for it, or is told to come again.
    let service = service::on(catalog.clone());
    other.put(counter(&bolt(3), 1), Expected::New, &Author::unknown()).unwrap();
    let seen = format!("{}.{}", other.epoch(), other.sequence());
    let ask = || service.send("GET", "/v1/fasteners/skua.pump.cover.bolt-3", &[("Book-Seen", &seen)], b"");
    let answer = ask();
    assert_eq!((answer.status, answer.header("retry-after")), (503, Some("1")));
    sql(&standby.url("postgres"), "select pg_wal_replay_resume()");
    let began = Instant::now();
    let answer = ask();
    assert_eq!((answer.status, answer.header("book-change")), (200, Some(seen.as_str())));
    assert!(began.elapsed() < Duration::from_secs(5));
    let elsewhere = service.send("GET", "/v1/fasteners", &[("Book-Seen", "0011223344556677.1")], b"");
    assert_eq!(elsewhere.status, 410, "{:?}", json!(String::from_utf8_lossy(&elsewhere.body)));
}
