//! Running the service: listening, limits, stopping.

use super::access::Access;
use super::app::{self, Shared};
use super::tokens::Tokens;
use crate::catalog::Catalog;
use actix_web::HttpServer;
use actix_web::web::Data;
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::time::Duration;

/// How the service is run.
#[derive(Debug, Clone)]
pub struct Options {
    /// Where to listen; port 0 picks a free one.
    pub listen: SocketAddr,
    /// How many threads answer; absent means one for each core.
    pub workers: Option<usize>,
    /// Whether anybody may write without a token; only where nobody but this machine can ask.
    pub open: bool,
    /// The file of tokens.
    pub tokens: PathBuf,
}

/// What keeps the service from running.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The address is taken or is not one of this machine.
    #[error("cannot listen on {address}. Choose another with --listen")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// Anybody could write from elsewhere.
    #[error("--open lets anybody write, so it is for the loopback device only; {address} can be asked from elsewhere")]
    OpenToAll {
        /// The address.
        address: SocketAddr,
    },
    /// The service broke off.
    #[error("the service broke off")]
    Run(#[from] std::io::Error),
}

/// How long a connection may idle between two requests.
const KEEP_ALIVE: Duration = Duration::from_secs(75);
/// How long the head of a request may take to arrive.
const HEAD_TIME: Duration = Duration::from_secs(10);
/// How long requests that are being answered may take when the service stops.
const STOP_SECONDS: u64 = 20;
/// How many connections one thread holds at most.
const CONNECTIONS_MAX: usize = 4096;

/// Runs the service until it is told to stop (interrupt or terminate). `ready` is called once, with the address that
/// it listens on.
///
/// # Errors
/// If the address cannot be had, or the service breaks off.
pub fn run(catalog: Catalog, options: &Options, ready: impl FnOnce(SocketAddr)) -> Result<(), ServeError> {
    let is_loopback = options.listen.ip().is_loopback();
    if options.open && !is_loopback {
        return Err(ServeError::OpenToAll { address: options.listen });
    }
    let tokens = Tokens::at(&options.tokens);
    let access = Access { anonymous_read: is_loopback, anonymous_write: options.open, tokens };
    let refused = |source| ServeError::Listen { address: options.listen, source };
    let listener = TcpListener::bind(options.listen).map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let shared = Data::new(Shared::new(catalog, access));
    let workers = options.workers.unwrap_or_else(|| std::thread::available_parallelism().map_or(2, usize::from));
    actix_web::rt::System::new().block_on(async move {
        let server = HttpServer::new(move || app::app(shared.clone()))
            .workers(workers)
            .keep_alive(KEEP_ALIVE)
            .client_request_timeout(HEAD_TIME)
            .client_disconnect_timeout(Duration::from_secs(5))
            .max_connections(CONNECTIONS_MAX)
            .shutdown_timeout(STOP_SECONDS)
            .listen(listener)?
            .run();
        ready(address);
        server.await
    })?;
    Ok(())
}
