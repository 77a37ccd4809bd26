//! `serve`: the HTTP API.

use super::book::{BookArguments, When};
use super::failure::Failure;
use super::output::Output;
use crate::api;
use crate::catalog::{Allowed, DatabaseUrl, OpenOptions, Sharing};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

/// Answer over HTTP until stopped.
///
/// Ctrl-C or a termination signal stops it. While it runs it holds the store; a database is shared with other servers.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Where to listen; port 0 picks a free one.
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1:8470")]
    listen: SocketAddr,
    /// How many threads answer; one for each core if not given.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    workers: Option<u16>,
    /// Let anybody on this machine write without a token.
    #[arg(long)]
    open: bool,
    /// When a write counts as stored: always (it survives a loss of power) or batch (within half a second).
    #[arg(long, value_name = "WHEN", default_value = "always", hide_possible_values = true)]
    sync: When,
    /// The file of tokens; beside the store if not given.
    #[arg(long, value_name = "FILE")]
    tokens: Option<PathBuf>,
    #[command(flatten)]
    sharing: SharingArguments,
}

/// How a book in a database is shared with other servers.
#[derive(Debug, clap::Args)]
struct SharingArguments {
    /// Read what others write from this standby; what is written goes to --store.
    #[arg(long, value_name = "URL", help_heading = SHARED)]
    read_from: Option<DatabaseUrl>,
    /// The most connections to the database at a time, besides the one that follows.
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u16).range(1..=100), help_heading = SHARED)]
    connections: u16,
    /// Beyond this, answers are marked with their age and the server is not ready.
    #[arg(long, value_name = "TIME", default_value = "5s", value_parser = duration, help_heading = SHARED)]
    behind_at_most: Duration,
    /// How long to answer from what is held while the database is away.
    #[arg(long, value_name = "TIME", default_value = "10m", value_parser = duration, help_heading = SHARED)]
    serve_stale: Duration,
    /// Hear of others' writes by looking every second only, for poolers through which nothing is notified.
    #[arg(long, help_heading = SHARED)]
    no_listen: bool,
}

/// The heading of options for shared books.
const SHARED: &str = "Options for a book in a database";

/// A length of time such as `10m` or `1h 30m`.
fn duration(text: &str) -> Result<Duration, String> {
    let read = text.parse::<jiff::SignedDuration>().map_err(|error| error.to_string())?;
    Duration::try_from(read).map_err(|_| "a length of time is not negative".to_owned())
}

impl SharingArguments {
    fn options(&self) -> OpenOptions {
        let sharing = Sharing {
            read_from: self.read_from.clone(),
            connections: usize::from(self.connections),
            listens: !self.no_listen,
            // Nothing is notified on a standby.
            looks_every: Duration::from_millis(if self.read_from.is_some() { 200 } else { 1000 }),
            ..Sharing::default()
        };
        let allowed = Allowed { behind_at_most: self.behind_at_most, served_at_most: self.serve_stale };
        OpenOptions { sharing, allowed, ..OpenOptions::default() }
    }
}

/// Runs the service. One line on standard output says where it listens, when it is ready.
///
/// # Errors
/// If it cannot listen there, or breaks off.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let options = api::Options {
        listen: arguments.listen,
        workers: arguments.workers.map(usize::from),
        open: arguments.open,
        tokens: super::token::file(arguments.tokens.as_ref(), book)?,
    };
    let catalog = book.open_to_serve(arguments.sync, arguments.sharing.options())?;
    let announced = catalog.clone();
    let _first_audit = catalog.audit_in_background()?;
    let mut told = Ok(());
    let ready = |address| {
        let url = format!("http://{address}");
        told = announced.announce(&url).map_err(Failure::from);
        if told.is_ok() {
            told = output.write(format!("listening on {url}\n").as_bytes());
        }
    };
    api::run(catalog, &options, ready).map_err(|error| Failure::undone(chain(&error)))?;
    told
}

/// An error with what caused it.
fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(error) = source {
        text = format!("{text}: {error}");
        source = error.source();
    }
    text
}
