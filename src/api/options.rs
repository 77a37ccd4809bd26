//! How the service is run: what the operator may choose.

use std::net::SocketAddr;
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::time::Duration;
use tracing_appender::non_blocking::ErrorCounter;

/// How the service is run.
#[derive(Debug, Clone)]
pub struct Options {
    /// Where to listen; port 0 picks a free one.
    pub listen: SocketAddr,
    /// How many threads answer; absent means one for each core.
    pub workers: Option<usize>,
    /// Whether anybody may write without a token; only where nobody but this machine can ask.
    pub open: bool,
    /// Whether anybody may read without a token; absent means only where nobody but this machine can ask.
    pub anonymous_read: Option<bool>,
    /// The file of tokens.
    pub tokens: PathBuf,
    /// Where intakes are written down; absent means in the folder of the book, and nowhere if it lies in none.
    pub intakes: Option<PathBuf>,
    /// Where to listen for those who collect metrics; nowhere if not given.
    pub metrics_listen: Option<SocketAddr>,
    /// What connections are encrypted with; they are not if not given.
    pub tls: Option<TlsFiles>,
    /// Origins whose pages may read answers in a browser.
    pub origins: Vec<String>,
    /// What is too much and too long.
    pub limits: Limits,
    /// The address of the server that writes are for, if this one only follows it.
    pub leader: Option<String>,
    /// How many lines of the log were lost, if there is a log that can lose some.
    pub lost_lines: Option<ErrorCounter>,
}

impl Options {
    /// The usual way to run it here, with tokens in this file.
    #[must_use]
    pub fn on(listen: SocketAddr, tokens: impl Into<PathBuf>) -> Self {
        Self {
            listen,
            workers: None,
            open: false,
            anonymous_read: None,
            tokens: tokens.into(),
            intakes: None,
            metrics_listen: None,
            tls: None,
            origins: Vec::new(),
            limits: Limits::default(),
            leader: None,
            lost_lines: None,
        }
    }

    /// Whether anybody may read without a token.
    #[must_use]
    pub fn is_read_by_anybody(&self) -> bool {
        self.anonymous_read.unwrap_or_else(|| self.listen.ip().is_loopback())
    }
}

/// The files of a certificate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsFiles {
    /// The certificate and those that lead to the authority, PEM.
    pub certificate: PathBuf,
    /// Its key, PEM.
    pub key: PathBuf,
}

/// What is too much and too long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// How many requests a minute a token, or an address without one, may send; any number if not given.
    pub rate: Option<NonZeroU32>,
    /// How long the answer to a request may take to begin.
    pub answer_time: Duration,
    /// How many connections there are at most.
    pub connections: usize,
    /// How long the service goes on answering, but is not ready any more, after it was told to stop.
    pub linger: Duration,
    /// How long requests that are being answered may take when the service stops.
    pub stop_time: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            rate: None,
            answer_time: Duration::from_secs(60),
            connections: 8192,
            linger: Duration::ZERO,
            stop_time: Duration::from_secs(20),
        }
    }
}
