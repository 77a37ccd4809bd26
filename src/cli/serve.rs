//! `serve`: the HTTP API.

use super::book::{BookArguments, When};
use super::failure::Failure;
use super::output::Output;
use crate::api;
use std::net::SocketAddr;
use std::path::PathBuf;

/// Answer over HTTP until stopped.
///
/// Ctrl-C or a termination signal stops it. While it runs it holds the store.
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
    let catalog = book.open_catalog(arguments.sync)?;
    let announced = catalog.clone();
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
