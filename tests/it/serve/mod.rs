//! The service as a process of its own, as an operator runs it.

mod check_config; // what a start would come to
mod cors; // pages of other origins, and when tokens were used
mod encrypted; // the operator's certificate, and clients that believe it
mod following; // a leader and its copy, through every kind of trouble
mod intakes; // bulk intake through an end of the process
mod limits; // too much, too often, too slow, too long
mod logs; // one line a request, in JSON and as text
mod metrics; // the second listener
mod stopping; // what a signal does to what is being answered

use crate::cli::Book;
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// A running `clampbook serve` on the store of a book. It is killed with this value.
pub struct Process {
    child: Child,
    /// Its address, with the scheme.
    pub url: String,
    log: PathBuf,
}

impl Process {
    /// Starts it on a free port, with these options besides.
    #[track_caller]
    pub fn on(book: &Book, options: &[&str]) -> Self {
        Self::of(book, &[&["--listen", "127.0.0.1:0", "--workers", "2"], options].concat())
    }

    /// Starts it with these options.
    #[track_caller]
    pub fn of(book: &Book, options: &[&str]) -> Self {
        Self::at(book, book.store().to_str().unwrap(), options)
    }

    /// Starts it with these options on a book that is kept elsewhere, and its log beside this one.
    #[track_caller]
    pub fn at(book: &Book, place: &str, options: &[&str]) -> Self {
        let log = book.store().with_extension(format!("log{}", options.len()));
        let stderr = std::fs::File::options().create(true).append(true).open(&log).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_clampbook"));
        for name in ["CLAMPBOOK_LOG", "CLAMPBOOK_LOG_LEVEL", "CLAMPBOOK_TOKEN", "CLAMPBOOK_CA"] {
            command.env_remove(name);
        }
        command.args(["--store", place, "serve"]).args(options);
        let mut child = command.stdout(Stdio::piped()).stderr(stderr).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let url = line.trim().strip_prefix("listening on ").map(str::to_owned);
        let Some(url) = url else {
            let _ = child.wait();
            panic!("it does not start: {}", std::fs::read_to_string(&log).unwrap());
        };
        Self { child, url, log }
    }

    /// The address without the scheme.
    pub fn address(&self) -> SocketAddr {
        self.url.split_once("://").unwrap().1.parse().unwrap()
    }

    /// A connection to it.
    pub fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(self.address()).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        stream
    }

    /// Sends bytes and reads until the connection is closed.
    pub fn send_raw(&self, bytes: &[u8]) -> String {
        let mut stream = self.connect();
        let _ = stream.write_all(bytes);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// Reads a path with these headers besides.
    pub fn get(&self, path: &str, headers: &[&str]) -> String {
        let headers: String = headers.iter().map(|header| format!("{header}\r\n")).collect();
        self.send_raw(
            format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n{headers}\r\n").as_bytes(),
        )
    }

    /// Sends a signal, `TERM` or `INT`.
    pub fn signal(&self, name: &str) {
        let done = Command::new("kill").args(["-s", name, &self.child.id().to_string()]).status().unwrap();
        assert!(done.success());
    }

    /// Waits for its end.
    #[track_caller]
    pub fn ended(&mut self, within: Duration) -> ExitStatus {
        let start = Instant::now();
        while start.elapsed() < within {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("it did not end within {within:?}; its log:\n{}", self.log());
    }

    /// What it has written to standard error so far.
    pub fn log(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap()
    }

    /// The lines of its log as JSON, once there are some with this member.
    #[track_caller]
    pub fn log_with(&self, member: &str, count: usize) -> Vec<Value> {
        let start = Instant::now();
        loop {
            let log = self.log();
            let lines = log.lines().filter_map(|line| serde_json::from_str::<Value>(line).ok());
            let found: Vec<Value> = lines.filter(|line| line.get(member).is_some()).collect();
            if found.len() >= count {
                return found;
            }
            assert!(start.elapsed() < Duration::from_secs(10), "{} of {count} lines in\n{log}", found.len());
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The status of an answer.
#[track_caller]
pub fn status(answer: &str) -> u16 {
    let status = answer.split(' ').nth(1).and_then(|status| status.parse().ok());
    status.unwrap_or_else(|| panic!("no answer: {answer:?}"))
}

/// The value of a header of an answer.
pub fn header<'a>(answer: &'a str, name: &str) -> Option<&'a str> {
    let head = answer.split("\r\n\r\n").next()?;
    head.lines()
        .find_map(|line| line.split_once(": ").filter(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, v)| v))
}

/// The body of an answer that has a length.
pub fn body(answer: &str) -> &str {
    answer.split_once("\r\n\r\n").map_or("", |(_, body)| body)
}

/// A token of the book with these scopes, for somebody of this name.
pub fn token(book: &Book, name: &str, scopes: &str) -> String {
    let made = book.run(&["token", "new", name, "--scopes", scopes, "--as", "json"]).json();
    made["items"][0]["token"].as_str().unwrap().to_owned()
}
