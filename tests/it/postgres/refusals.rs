//! What stands in the way, each with its message, and roles that may do just what they need.

use super::two_servers::counter;
use super::{Database, Scratch, sql, url_of};
use clampbook::catalog::{
    Author, Catalog, CatalogError, DatabaseUrl, Expected, OpenOptions, Place, Preparation, Prepared, Sharing,
    StoreError,
};
use std::time::Duration;

fn open(url: &DatabaseUrl) -> Result<Catalog, CatalogError> {
    Catalog::open_at(&Place::Database(url.clone()), &OpenOptions::default())
}

#[track_caller]
fn refused(url: &DatabaseUrl, wanted: &[&str]) {
    let error = open(url).map(|_| ()).unwrap_err().to_string();
    for wanted in wanted {
        assert!(error.contains(wanted), "\"{wanted}\" is not said: {error}");
    }
    for secret in ["wr0ng", "s3cret"] {
        assert!(!error.contains(secret), "a password is shown: {error}");
    }
}

/// The address with another user.
fn as_user(url: &DatabaseUrl, user: &str) -> DatabaseUrl {
    url.secret().replace("://owner@", &format!("://{user}@")).parse().unwrap()
}

/// A role that lives as long as the server; the script lets `locked` in by password only.
fn role(name: &str) {
    sql(
        &url_of("postgres"),
        &format!(
            "do $$ begin create role \"{name}\" login password 's3cret'; exception when duplicate_object or unique_violation then null; end $$"
        ),
    );
}

#[test]
fn who_does_not_get_in_is_told_why() {
    let database = Database::take();
    role("locked");
    let url = database.url();
    refused(&as_user(&url, "locked:wr0ng"), &["does not let \"locked\" in", "PGPASSWORD"]);
    refused(&as_user(&url, "locked"), &["wants a password and none is known", "PGPASSWORD"]);
    refused(&as_user(&url, "nobody-here"), &["does not let \"nobody-here\" in"]);
    refused(&url_of("no_such_book"), &["there is no database \"no_such_book\"", "createdb"]);
    let error = open(&"postgres://owner@127.0.0.1:1/book".parse().unwrap()).unwrap_err();
    assert!(matches!(error, CatalogError::Store(StoreError::Away { .. })), "{error:?}");
}

#[test]
fn tables_that_are_missing_older_or_newer_are_refused() {
    let scratch = Scratch::new("tables");
    let url = scratch.url();
    refused(&url, &["holds no book", "clampbook store prepare"]);
    let first = Preparation { format: Some(1), ..Preparation::default() };
    assert_eq!(Catalog::prepare(&url, &first).unwrap(), Prepared { before: 0, now: 1 });
    refused(&url, &["have format 1, this clampbook needs 3", "clampbook store prepare"]);
    assert_eq!(Catalog::prepare(&url, &Preparation::default()).unwrap(), Prepared { before: 1, now: 3 });
    assert_eq!(Catalog::prepare(&url, &Preparation::default()).unwrap(), Prepared { before: 3, now: 3 });
    let running = open(&url).unwrap();
    sql(&url, "update clampbook.book set format = 4");
    refused(&url, &["have format 4, prepared by a newer clampbook", "Use the newer one"]);
    let error = Catalog::prepare(&url, &Preparation::default()).unwrap_err().to_string();
    assert!(error.contains("prepared by a newer clampbook"), "{error}");
    // One that was open before the tables were changed does not write into them any more.
    let id = "skua.pump.cover.bolt".parse().unwrap();
    let error = running.put(counter(&id, 1), Expected::New, &Author::unknown()).unwrap_err().to_string();
    assert!(error.contains("prepared by a newer clampbook"), "{error}");
}

#[test]
fn a_migration_takes_everything_along() {
    let scratch = Scratch::new("migrated");
    let url = scratch.url();
    Catalog::prepare(&url, &Preparation::default()).unwrap();
    let catalog = open(&url).unwrap();
    let id = "skua.pump.cover.bolt".parse().unwrap();
    for n in 1..=5 {
        catalog.put(counter(&id, n), Expected::Any, &Author::unknown()).unwrap();
    }
    catalog.withdraw(&id, Expected::Any, Some("worn out".parse().unwrap()), &Author::unknown()).unwrap();
    drop(catalog);
    let rows = "select id, revision, kind, state, sequence, changed_at, why, body, joint, thread from clampbook.record order by 2";
    let written = sql(&url, rows);
    assert_eq!(written.lines().count(), 6);
    assert!(written.lines().last().unwrap().contains("withdrawn|6|"), "{written}");
    // Back to what format 1 was, then forward as a migration does it.
    sql(&url, "drop view clampbook.current_record; drop table clampbook.record; update clampbook.book set format = 1");
    assert_eq!(Catalog::prepare(&url, &Preparation::default()).unwrap(), Prepared { before: 1, now: 3 });
    assert_eq!(sql(&url, rows), written);
    assert_eq!(sql(&url, "select count(*) from clampbook.current_record"), "0", "the last revision is a withdrawal");
    assert_eq!(open(&url).unwrap().sequence(), 6);
}

#[test]
fn a_row_for_reports_that_is_no_record_is_not_let_in() {
    let database = Database::take();
    let rows = [
        ("a.b", "joint", "'{\"id\": \"a.c\", \"kind\": \"joint\"}'"),
        ("a.b", "joint", "'[]'"),
        ("a.b", "fastener", "'{\"id\": \"a.b\", \"kind\": \"fastener\", \"joint\": \"a\"}'"),
    ];
    for (id, kind, body) in rows {
        let insert = format!(
            "do $$ begin insert into clampbook.record (id, revision, kind, state, sequence, changed_at, body) \
                values ('{id}', 1, '{kind}', 'current', 1, now(), {body}); \
                raise exception 'it was let in'; exception when check_violation then null; end $$"
        );
        sql(&database.url(), &insert);
    }
}

#[test]
fn roles_may_do_what_they_were_let_and_no_more() {
    let scratch = Scratch::new("roles");
    let url = scratch.url();
    for name in ["desk", "shop", "stranger"] {
        role(name);
    }
    let preparation =
        Preparation { readers: vec!["desk".to_owned()], writers: vec!["shop".to_owned()], ..Preparation::default() };
    Catalog::prepare(&url, &preparation).unwrap();
    let id = "skua.pump.cover.bolt".parse().unwrap();
    let empty = open(&as_user(&url, "desk")).unwrap_err().to_string();
    assert!(empty.contains("\"desk\" may not do this") && empty.contains("--writer desk"), "{empty}");
    let shop = open(&as_user(&url, "shop")).unwrap();
    shop.put(counter(&id, 1), Expected::New, &Author::unknown()).unwrap();
    let desk = open(&as_user(&url, "desk")).unwrap();
    assert_eq!(desk.get(&id).unwrap(), shop.get(&id).unwrap());
    let error = desk.put(counter(&id, 2), Expected::Any, &Author::unknown()).unwrap_err();
    assert!(matches!(error, CatalogError::Store(StoreError::Refused { .. })), "{error:?}");
    shop.put(counter(&id, 2), Expected::Revision(1), &Author::unknown()).unwrap();
    super::two_servers::until("the reader following", || desk.sequence() == 2);
    refused(&as_user(&url, "stranger"), &["\"stranger\" may not do this", "clampbook store prepare --reader stranger"]);
    // A writer writes what the program writes, and cannot rewrite history or tables.
    let forbidden = |user: &str, text: &str| {
        let asked = format!(
            "do $$ begin {text}; raise exception 'it was let'; exception when insufficient_privilege then null; end $$"
        );
        sql(&as_user(&url, user), &asked);
    };
    for text in [
        "delete from clampbook.entry",
        "delete from clampbook.batch",
        "update clampbook.record set state = 'current'",
        "update clampbook.book set format = 9",
        "truncate clampbook.record",
        "create table clampbook.mine (n int)",
        "drop table clampbook.batch",
    ] {
        forbidden("shop", text);
        forbidden("desk", text);
    }
    forbidden("desk", "insert into clampbook.batch values (99, 'x')");
    forbidden("desk", "perform clampbook.forget_batches()");
    assert_eq!(sql(&as_user(&url, "shop"), "select clampbook.forget_batches()"), "0", "what is young stays");
    let error =
        Catalog::prepare(&as_user(&url_of("postgres"), "shop"), &Preparation::default()).unwrap_err().to_string();
    assert!(error.contains("\"shop\" may not do this"), "{error}");
    let unknown = Preparation { readers: vec!["no-such-role".to_owned()], ..Preparation::default() };
    let error = Catalog::prepare(&url, &unknown).unwrap_err().to_string();
    assert!(error.contains("role \"no-such-role\" does not exist"), "{error}");
}

#[test]
fn connections_that_are_all_busy_are_told() {
    let database = Database::take();
    let sharing = Sharing { connections: 1, patience: Duration::from_millis(400), ..Sharing::default() };
    let options = OpenOptions { sharing, ..OpenOptions::default() };
    let catalog = Catalog::open_at(&Place::Database(database.url()), &options).unwrap();
    let id = "skua.pump.cover.bolt".parse().unwrap();
    let holder = std::thread::spawn({
        let url = database.url();
        move || sql(&url, "begin; select version from clampbook.book for update; select pg_sleep(2.5); commit")
    });
    super::two_servers::until("the row being locked", || {
        sql(
            &database.url(),
            "select count(*) from pg_stat_activity where query like 'begin; select version%' and wait_event = 'PgSleep'",
        ) == "1"
    });
    // The first write waits for the lock with the only connection; asking for news waits for the connection.
    std::thread::scope(|scope| {
        let write =
            scope.spawn(|| catalog.put(counter(&id, 1), Expected::New, &Author::unknown()).unwrap_err().to_string());
        std::thread::sleep(Duration::from_millis(50));
        let error = catalog.look_for_news().unwrap_err().to_string();
        assert!(error.contains("all 1 connections of this process are busy"), "{error}");
        let error = write.join().unwrap();
        assert!(error.contains("lock timeout"), "{error}");
    });
    holder.join().unwrap();
    assert_eq!(catalog.put(counter(&id, 1), Expected::New, &Author::unknown()).unwrap().revision, 1);
}

#[test]
fn a_server_that_has_no_connection_left_is_told() {
    let database = Database::take();
    role("single");
    Catalog::prepare(&database.url(), &Preparation { writers: vec!["single".to_owned()], ..Preparation::default() })
        .unwrap();
    sql(&url_of("postgres"), "alter role single connection limit 0");
    let error = open(&as_user(&database.url(), "single")).unwrap_err();
    assert!(matches!(error, CatalogError::Store(StoreError::Away { .. })), "{error:?}");
    assert!(error.to_string().contains("too many connections for role"), "{error}");
}

#[test]
fn connections_are_encrypted_and_the_certificate_is_checked() {
    let database = Database::take();
    let roots = std::env::var("CLAMPBOOK_TEST_POSTGRES_ROOTS").expect("run tests/postgres.sh");
    let with =
        |parameters: &str| -> DatabaseUrl { format!("{}?{parameters}", database.url().secret()).parse().unwrap() };
    let encrypted = with(&format!("sslmode=verify-full&sslrootcert={roots}"));
    let catalog = open(&encrypted).unwrap();
    let plain = "select count(*) from pg_stat_ssl join pg_stat_activity using (pid) \
        where application_name = 'clampbook' and datname = current_database() and not ssl";
    assert_eq!(sql(&database.url(), plain), "0");
    assert_ne!(sql(&database.url(), &plain.replace("and not ssl", "and ssl")), "0");
    drop(catalog);
    refused(&with("sslmode=require"), &["no encrypted connection", "sslrootcert=FILE"]);
    refused(&with("sslmode=require&sslrootcert=%2Fno%2Fsuch.pem"), &["sslrootcert=/no/such.pem"]);
}
