//! How far a long command is: on standard error, only on a terminal, only after half a second.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

/// How long a command runs in silence.
const SILENCE: Duration = Duration::from_millis(500);
/// How often the line is written anew.
const PAUSE: Duration = Duration::from_millis(100);

/// A line that says how far a command is.
#[derive(Debug)]
pub struct Progress {
    what: String,
    began: Instant,
    written: Option<Instant>,
    is_seen: bool,
}

impl Progress {
    /// A line about something that begins now.
    #[must_use]
    pub fn new(what: String) -> Self {
        let is_seen = std::io::stderr().is_terminal() && !super::terminal::is_dumb();
        Self { what, began: Instant::now(), written: None, is_seen }
    }

    /// Says how far it is, if it is time to.
    pub fn show(&mut self, count: u64, of: &str) {
        if !self.is_seen || self.began.elapsed() < SILENCE {
            return;
        }
        if self.written.is_some_and(|written| written.elapsed() < PAUSE) {
            return;
        }
        self.written = Some(Instant::now());
        self.write(&format!("{}: {count} {of} …", self.what));
    }

    /// Takes the line away.
    pub fn clear(&mut self) {
        if self.written.take().is_some() {
            self.write("");
        }
    }

    fn write(&self, text: &str) {
        let mut out = std::io::stderr().lock();
        // Progress is a courtesy: a terminal that does not take it is no reason to stop.
        let _ = write!(out, "\r\x1b[K{text}").and_then(|()| out.flush());
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.clear();
    }
}
