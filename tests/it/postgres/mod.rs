//! Books in PostgreSQL. `tests/postgres.sh` starts a server and runs these tests.

mod cluster; // servers that a test starts, breaks and ends
mod laws; // the laws of a shared engine
mod outage; // killed, away, taken over, gone back, read from a standby
mod refusals; // what stands in the way, roles, encryption
mod services; // `serve` as an operator runs it: checked before a start, several processes, one of them killed
mod two_servers; // eight writers, notifications that get lost, decisions on old reading

use clampbook::catalog::{Catalog, DatabaseUrl, Preparation};
use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, Ordering};

/// Where the server is: an address to which the name of a database is added, of a user who owns everything.
pub const URL: &str = "CLAMPBOOK_TEST_POSTGRES";

/// The address of a database of the server.
pub fn url_of(database: &str) -> DatabaseUrl {
    let base = std::env::var(URL).unwrap_or_else(|_| panic!("{URL} is not set. Run tests/postgres.sh"));
    format!("{base}/{database}").parse().unwrap()
}

/// Runs SQL as the owner and gives what it prints, a line a row, values separated by `|`.
pub fn sql(url: &DatabaseUrl, text: &str) -> String {
    let arguments = ["-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-d", url.secret(), "-c", text];
    let output = Command::new("psql").args(arguments).output().unwrap();
    assert!(output.status.success(), "{text}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap().trim_end().to_owned()
}

/// An empty, prepared database, used by one test at a time.
#[derive(Debug)]
pub struct Database(String);

static FREE: Mutex<Vec<String>> = Mutex::new(Vec::new());

impl Database {
    /// One that nobody else uses.
    pub fn take() -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        if let Some(name) = { FREE.lock().unwrap().pop() } {
            let database = Self(name);
            sql(
                &database.url(),
                "truncate clampbook.entry, clampbook.batch, clampbook.record; update clampbook.book set version = 0",
            );
            return database;
        }
        let name = format!("book_{}_{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        sql(&url_of("postgres"), &format!("create database {name}"));
        let database = Self(name);
        Catalog::prepare(&database.url(), &Preparation::default()).unwrap();
        database
    }

    pub fn url(&self) -> DatabaseUrl {
        url_of(&self.0)
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            FREE.lock().unwrap().push(self.0.clone());
        }
    }
}

/// A database with nothing in it, which goes away with the test.
#[derive(Debug)]
pub struct Scratch(String);

impl Scratch {
    pub fn new(name: &str) -> Self {
        let name = format!("{name}_{}", std::process::id());
        sql(&url_of("postgres"), &format!("create database {name}"));
        Self(name)
    }

    pub fn url(&self) -> DatabaseUrl {
        url_of(&self.0)
    }
}
