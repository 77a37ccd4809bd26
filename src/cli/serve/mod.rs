//! `serve`: the HTTP API.

mod check;
pub mod follow;
mod logging;

use super::book::{BookArguments, When};
use super::failure::Failure;
use super::output::Output;
use crate::api::{self, Limits, TlsFiles};
use crate::catalog::{Allowed, Catalog, DatabaseUrl, OpenOptions, Sharing};
use follow::{BookCopy, Ended};
use std::net::SocketAddr;
use std::num::NonZeroU32;
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
    /// Whether anybody may read without a token: on or off. On for the loopback device and off beyond it if not given.
    #[arg(long, value_name = "SWITCH", hide_possible_values = true)]
    anonymous_read: Option<Switch>,
    /// When a write counts as stored: always (it survives a loss of power) or batch (within half a second).
    #[arg(long, value_name = "WHEN", default_value = "always", hide_possible_values = true)]
    sync: When,
    /// The file of tokens; beside the store if not given.
    #[arg(long, value_name = "FILE")]
    tokens: Option<PathBuf>,
    /// The folder that intakes are kept in for a day; one in the store if not given. A book in a database has none.
    #[arg(long, value_name = "FOLDER")]
    intakes: Option<PathBuf>,
    /// Follow the server at this address: keep a copy of its book in --store, and take no writes. Where the leader has another
    /// history the copy begins anew, and the last old one is kept beside it.
    #[arg(long, value_name = "URL", conflicts_with_all = ["open", "read_from"], value_parser = leader)]
    follow: Option<String>,
    /// Look at everything that a start would, say what it would come to, and change nothing.
    #[arg(long)]
    check_config: bool,
    #[command(flatten)]
    edge: EdgeArguments,
    #[command(flatten)]
    log: logging::LogArguments,
    #[command(flatten)]
    sharing: SharingArguments,
}

/// What is on or off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Switch {
    /// It is.
    On,
    /// It is not.
    Off,
}

/// What the service lets in and how.
#[derive(Debug, clap::Args)]
struct EdgeArguments {
    /// Where to listen for those who collect metrics (OpenMetrics at /metrics); nowhere if not given.
    #[arg(long, value_name = "ADDRESS")]
    metrics_listen: Option<SocketAddr>,
    /// Encrypt connections with this certificate (PEM, with those that lead to the authority). It is read anew when its files
    /// change, and at SIGHUP.
    #[arg(long, value_name = "FILE", requires = "tls_key")]
    tls_cert: Option<PathBuf>,
    /// The key of the certificate (PEM).
    #[arg(long, value_name = "FILE", requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// Let pages of this origin (https://… with the host) read answers in a browser; give it once for each.
    #[arg(long = "allow-origin", value_name = "ORIGIN", value_parser = origin)]
    origins: Vec<String>,
    /// How many requests a minute each token, or each address without one, may send; 0 for any number. 6000 beyond the
    /// loopback device if not given.
    #[arg(long, value_name = "N")]
    rate: Option<u32>,
    /// How long the answer to a request may take to begin.
    #[arg(long, value_name = "TIME", default_value = "60s", value_parser = duration)]
    answer_time: Duration,
    /// How many connections there may be at a time.
    #[arg(long, value_name = "N", default_value_t = 8192, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    max_connections: u32,
    /// How long to go on answering after a signal to stop, not ready any more, until balancers have noticed.
    #[arg(long, value_name = "TIME", default_value = "0s", value_parser = duration)]
    linger: Duration,
    /// How long what is being answered may take after that.
    #[arg(long, value_name = "TIME", default_value = "20s", value_parser = duration)]
    stop_time: Duration,
}

/// How many requests a minute everybody may send who is not on this machine, if the operator does not say.
const RATE_BEYOND_LOOPBACK: u32 = 6000;

impl EdgeArguments {
    fn limits(&self, is_loopback: bool) -> Limits {
        let rate = self.rate.unwrap_or(if is_loopback { 0 } else { RATE_BEYOND_LOOPBACK });
        Limits {
            rate: NonZeroU32::new(rate),
            answer_time: self.answer_time,
            connections: self.max_connections as usize,
            linger: self.linger,
            stop_time: self.stop_time,
        }
    }

    fn tls(&self) -> Option<TlsFiles> {
        let (certificate, key) = (self.tls_cert.clone()?, self.tls_key.clone()?);
        Some(TlsFiles { certificate, key })
    }
}

/// An origin as browsers send it: scheme, host, and a port other than the usual one.
fn origin(text: &str) -> Result<String, String> {
    let rest = text.strip_prefix("https://").or_else(|| text.strip_prefix("http://"));
    let is_origin = rest.is_some_and(|rest| {
        !rest.is_empty()
            && rest.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || b".-:[]".contains(&byte))
    });
    if is_origin {
        Ok(text.to_owned())
    } else {
        Err("an origin is written https://HOST or https://HOST:PORT, in lower case and without a path".to_owned())
    }
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

/// The address of a leader.
fn leader(text: &str) -> Result<String, String> {
    let is_address = ["http://", "https://"].iter().any(|scheme| text.len() > scheme.len() && text.starts_with(scheme));
    if is_address {
        Ok(text.trim_end_matches('/').to_owned())
    } else {
        Err("an address is written http://HOST:PORT or https://HOST:PORT".to_owned())
    }
}

/// Runs the service. One line on standard output says where it listens, when it is ready.
///
/// # Errors
/// If it cannot listen there, or breaks off.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let edge = &arguments.edge;
    let mut options = api::Options {
        workers: arguments.workers.map(usize::from),
        open: arguments.open,
        anonymous_read: arguments.anonymous_read.map(|switch| switch == Switch::On),
        intakes: arguments.intakes.clone(),
        metrics_listen: edge.metrics_listen,
        tls: edge.tls(),
        origins: edge.origins.clone(),
        limits: edge.limits(arguments.listen.ip().is_loopback()),
        leader: arguments.follow.clone(),
        ..api::Options::on(arguments.listen, super::token::file(arguments.tokens.as_ref(), book)?)
    };
    if arguments.check_config {
        return check::run(arguments, &options, book, output);
    }
    let log = arguments.log.begin();
    options.lost_lines = Some(log.lost_lines());
    match &arguments.follow {
        Some(leader) => run_following(leader, arguments, &mut options, book, output),
        None => {
            let there = get(&options)?;
            let catalog = book.open_to_serve(arguments.sync, arguments.sharing.options())?;
            let announced = catalog.clone();
            let _first_audit = catalog.audit_in_background()?;
            let mut told = Ok(());
            let ready = |listening: api::Listening, _| told = tell(&announced, listening, Some(output));
            api::run_on(there, catalog, &options, ready).map_err(|error| Failure::undone(api::chain(&error)))?;
            told
        }
    }
}

fn get(options: &api::Options) -> Result<api::Ready, Failure> {
    api::Ready::get(options).map_err(|error| Failure::undone(api::chain(&error)))
}

/// Says where the service listens: in the lock of the store, and on standard output.
fn tell(catalog: &Catalog, listening: api::Listening, output: Option<&Output>) -> Result<(), Failure> {
    let url = listening.url();
    catalog.announce(&url)?;
    output.map_or(Ok(()), |output| output.write(format!("listening on {url}\n").as_bytes()))
}

/// Runs a service that follows another one; it begins anew whenever the leader has another history.
fn run_following(
    leader: &str,
    arguments: &Arguments,
    options: &mut api::Options,
    book: &BookArguments,
    output: &Output,
) -> Result<(), Failure> {
    let server = book.server(leader, follow::PATIENCE)?;
    let copy = BookCopy::at(follow::folder(&book.path()?)?, leader);
    let sharing = arguments.sharing.options();
    let opening = OpenOptions { sync: arguments.sync.into(), ..sharing };
    let mut is_first = true;
    loop {
        let there = get(options)?;
        let catalog = copy.open(&opening, opening.allowed)?;
        let (announced, mut told, mut following) = (catalog.clone(), Ok(()), None);
        let ready = |listening: api::Listening, stopping: api::Stopping| {
            // Another start answers where this one did.
            told = tell(&announced, listening, is_first.then_some(output));
            let (copy, book, server) = (copy.clone(), announced.clone(), server.clone());
            following = Some((
                listening.address,
                std::thread::spawn(move || {
                    let ended = copy.follow(&book, &server, &stopping);
                    stopping.leave();
                    ended
                }),
            ));
        };
        api::run_on(there, catalog, options, ready).map_err(|error| Failure::undone(api::chain(&error)))?;
        told?;
        let Some((address, following)) = following else { return Ok(()) };
        let ended = following.join().map_err(|_| Failure::undone("following the leader broke off"))?;
        if ended == Ended::Stopped {
            return Ok(());
        }
        let epoch = announced.epoch();
        drop(announced);
        copy.put_aside(&epoch)?;
        (options.listen, is_first) = (address, false);
    }
}
