//! Running the service: listening, and stopping.

use super::access::Access;
use super::app::{self, Shared};
use super::failing::in_background;
use super::metrics;
use super::options::{Limits, Options};
use super::ready::Ahead;
use super::stopping::Stopping;
use super::tls::{Certificate, TlsError};
use super::tokens::Tokens;
use crate::catalog::Catalog;
use actix_web::dev::{Server, ServerHandle};
use actix_web::web::Data;
use actix_web::{HttpServer, rt};
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::signal::unix::{Signal, SignalKind, signal};

/// What keeps the service from running.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The address is taken or is not one of this machine.
    #[error("cannot listen on {address}. Choose another with {option}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// The option that chooses it.
        option: &'static str,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// Anybody could write from elsewhere.
    #[error("--open lets anybody write, so it is for the loopback device only; {address} can be asked from elsewhere")]
    OpenToAll {
        /// The address.
        address: SocketAddr,
    },
    /// The certificate can't be used.
    #[error(transparent)]
    Tls(#[from] TlsError),
    /// The service broke off.
    #[error("the service broke off")]
    Run(#[from] std::io::Error),
}

/// How long a connection may idle between two requests.
const KEEP_ALIVE: Duration = Duration::from_secs(75);
/// How long the head of a request may take to arrive.
const HEAD_TIME: Duration = Duration::from_secs(10);
/// How often those are forgotten who have sent nothing lately.
const FORGET_EVERY: Duration = Duration::from_secs(60);
/// How often it is looked whether the files of the certificate have changed.
const LOOK_EVERY: Duration = Duration::from_secs(10);

/// How often it is looked whether records are to be made ready.
const MAKE_READY_EVERY: Duration = Duration::from_millis(500);
/// How often it is looked whether there is something to be audited.
const AUDIT_EVERY: Duration = Duration::from_millis(500);
/// The longest time that is left to others between two audits.
const AUDIT_PAUSE_MAX: Duration = Duration::from_secs(10);
/// After what is done ahead those who ask and write have so many times as long for themselves.
const OTHERS: u32 = 3;

/// Where the service answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Listening {
    /// The address of the API.
    pub address: SocketAddr,
    /// Whether connections to it are encrypted.
    pub is_encrypted: bool,
    /// The address of the metrics.
    pub metrics: Option<SocketAddr>,
}

impl Listening {
    /// The address as a URL.
    #[must_use]
    pub fn url(&self) -> String {
        let scheme = if self.is_encrypted { "https" } else { "http" };
        format!("{scheme}://{}", self.address)
    }
}

/// Everything that is there before the first request: listeners and keys.
#[derive(Debug)]
pub struct Ready {
    listener: TcpListener,
    metrics: Option<TcpListener>,
    certificate: Option<Arc<Certificate>>,
    listening: Listening,
}

impl Ready {
    /// Gets everything that the service needs besides the book.
    ///
    /// # Errors
    /// What keeps it from running.
    pub fn get(options: &Options) -> Result<Self, ServeError> {
        if options.open && !options.listen.ip().is_loopback() {
            return Err(ServeError::OpenToAll { address: options.listen });
        }
        let certificate = options.tls.as_ref().map(Certificate::of).transpose()?;
        let (listener, address) = listen(options.listen, "--listen")?;
        let metrics = options.metrics_listen.map(|address| listen(address, "--metrics-listen")).transpose()?;
        let (metrics, metrics_address) = metrics.unzip();
        let listening = Listening { address, is_encrypted: certificate.is_some(), metrics: metrics_address };
        Ok(Self { listener, metrics, certificate, listening })
    }
}

fn listen(address: SocketAddr, option: &'static str) -> Result<(TcpListener, SocketAddr), ServeError> {
    let refused = |source| ServeError::Listen { address, option, source };
    let listener = TcpListener::bind(address).map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    Ok((listener, address))
}

/// Runs the service until it is told to stop (interrupt or terminate). `ready` is called once, with where it listens.
///
/// # Errors
/// If an address cannot be had, a certificate not be used, or the service breaks off.
pub fn run(catalog: Catalog, options: &Options, ready: impl FnOnce(SocketAddr)) -> Result<(), ServeError> {
    let there = Ready::get(options)?;
    run_on(there, catalog, options, |listening, _| ready(listening.address))
}

/// Runs the service with what is there for it. `ready` is given what tells it to stop, too.
///
/// # Errors
/// If the service breaks off.
pub fn run_on(
    there: Ready,
    catalog: Catalog,
    options: &Options,
    ready: impl FnOnce(Listening, Stopping),
) -> Result<(), ServeError> {
    // Dropped at the end, when the book is let go of.
    let _directory = catalog
        .directory_in_background()
        .inspect_err(|error| tracing::warn!(%error, "the directory of the book is not made"));
    let book = catalog.clone();
    let tokens = Tokens::at(&options.tokens);
    let access = Access { anonymous_read: options.is_read_by_anybody(), anonymous_write: options.open, tokens };
    let shared = Data::new(Shared::new(catalog, access).run_with(options));
    let listening = there.listening;
    rt::System::new().block_on(async move {
        let stopping = shared.stopping.clone();
        let signals = Signals::heard()?;
        let collected = there.metrics.map(|listener| metrics::server(listener, shared.clone())).transpose()?;
        let collected = collected.map(|server| (server.handle(), rt::spawn(server)));
        let tls =
            there.certificate.as_ref().map(Certificate::server_config).transpose().map_err(std::io::Error::other)?;
        let server = server(there.listener, tls, &shared, options)?;
        if let Some(certificate) = there.certificate {
            rt::spawn(renew(certificate, signal(SignalKind::hangup())?, stopping.clone()));
        }
        let handle = server.handle();
        let kept = shared.clone();
        rt::spawn(make_ready(shared.clone()));
        rt::spawn(keep_audited(shared.clone()));
        rt::spawn(look_after(shared));
        ready(listening, stopping.clone());
        tracing::info!(address = listening.url(), metrics = listening.metrics.map(|at| at.to_string()), "listening");
        let outcome = until_stopped(server, handle, signals, &stopping, options.limits).await;
        if let Some((handle, _)) = collected {
            handle.stop(false).await;
        }
        keep_last_use(&kept);
        outcome
    })?;
    if let Err(error) = book.leave_audit() {
        tracing::warn!(%error, "what the audit came to is not kept for the next start");
    }
    Ok(())
}

fn server(
    listener: TcpListener,
    tls: Option<rustls::ServerConfig>,
    shared: &Data<Shared>,
    options: &Options,
) -> std::io::Result<Server> {
    let workers = options.workers.unwrap_or_else(|| std::thread::available_parallelism().map_or(2, usize::from));
    let shared = shared.clone();
    let server = HttpServer::new(move || app::app(shared.clone()))
        .workers(workers)
        .keep_alive(KEEP_ALIVE)
        .client_request_timeout(HEAD_TIME)
        .tls_handshake_timeout(HEAD_TIME)
        .client_disconnect_timeout(Duration::from_secs(5))
        .max_connections(options.limits.connections.div_ceil(workers))
        .shutdown_timeout(options.limits.stop_time.as_secs())
        .disable_signals();
    Ok(match tls {
        Some(config) => server.listen_rustls_0_23(listener, config)?,
        None => server.listen(listener)?,
    }
    .run())
}

/// What tells the service to stop.
struct Signals {
    terminate: Signal,
    interrupt: Signal,
}

impl Signals {
    fn heard() -> std::io::Result<Self> {
        Ok(Self { terminate: signal(SignalKind::terminate())?, interrupt: signal(SignalKind::interrupt())? })
    }

    /// The next of them, by name.
    async fn next(&mut self) -> &'static str {
        tokio::select! {
            _ = self.terminate.recv() => "terminate",
            _ = self.interrupt.recv() => "interrupt",
        }
    }
}

/// Runs the server until it has stopped. The first signal lets it finish what it is at; the second does not.
async fn until_stopped(
    server: Server,
    handle: ServerHandle,
    mut signals: Signals,
    stopping: &Stopping,
    limits: Limits,
) -> std::io::Result<()> {
    let told = async {
        let why = tokio::select! {
            signal = signals.next() => signal,
            () = stopping.begun() => "asked to",
        };
        tracing::info!(why, "stopping");
        stopping.leave();
        tokio::select! {
            () = rt::time::sleep(limits.linger) => {}
            _ = signals.next() => {}
        }
        stopping.close();
        // Not waited for here: it is over when the server is.
        rt::spawn(handle.stop(true));
        signals.next().await;
        tracing::warn!("told to stop at once: what was being answered is cut off");
    };
    let outcome = tokio::select! {
        outcome = server => outcome,
        () = told => Ok(()),
    };
    tracing::info!("stopped");
    outcome
}

/// Reads the certificate anew when its files change, and whenever a signal to hang up says so.
async fn renew(certificate: Arc<Certificate>, mut hangup: Signal, stopping: Stopping) {
    while !stopping.has_begun() {
        tokio::select! {
            Some(()) = hangup.recv() => certificate.renew(),
            () = rt::time::sleep(LOOK_EVERY) => certificate.renew_if_changed(),
            () = stopping.begun() => {}
        }
    }
}

/// Writes down when tokens were used last.
fn keep_last_use(shared: &Shared) {
    if let Err(error) = shared.access.tokens.keep_last_use() {
        tracing::warn!(%error, "it cannot be written down when tokens were used last");
    }
}

/// Makes fasteners ready, as many as there is room for, whenever there is a book of which none are yet.
async fn make_ready(shared: Data<Shared>) {
    let mut ahead = Ahead::default();
    while !shared.stopping.has_begun() {
        let (began, mut pause) = (Instant::now(), MAKE_READY_EVERY);
        if ahead.has_more(&shared.catalog) {
            let (ready, catalog) = (shared.ready.clone(), shared.catalog.clone());
            ahead = match in_background(move || Ok(ready.go_ahead(&catalog, ahead)?)).await {
                Ok(ahead) => ahead,
                // Whoever asks for a record meets the same fault and can be told.
                Err(problem) => return tracing::warn!(%problem, "no records are made ready ahead"),
            };
            pause = began.elapsed() * OTHERS;
        }
        tokio::select! {
            () = rt::time::sleep(pause) => {}
            () = shared.stopping.begun() => {}
        }
    }
}

/// Audits what was written, so that nobody waits for it who has not asked for just that.
async fn keep_audited(shared: Data<Shared>) {
    let (mut pause, mut fails) = (AUDIT_EVERY, false);
    while !shared.stopping.has_begun() {
        // Where it fails, whoever asks for a record meets the same fault and can be told.
        if !fails {
            shared.catalog.promise_audit(Instant::now() + pause + AUDIT_EVERY);
        }
        tokio::select! {
            () = rt::time::sleep(pause) => {}
            () = shared.stopping.begun() => {}
        }
        let began = Instant::now();
        if shared.catalog.is_audit_behind() {
            let catalog = shared.catalog.clone();
            let outcome = in_background(move || Ok(catalog.keep_audit_promise()?)).await;
            if let (Err(problem), false) = (&outcome, fails) {
                tracing::warn!(%problem, "what was written is not audited ahead");
            }
            fails = outcome.is_err();
        }
        pause = match fails {
            true => AUDIT_PAUSE_MAX,
            false => (began.elapsed() * OTHERS).clamp(AUDIT_EVERY, AUDIT_PAUSE_MAX),
        };
    }
}

/// What has to be done now and then as long as the service runs.
async fn look_after(shared: Data<Shared>) {
    while !shared.stopping.has_begun() {
        tokio::select! {
            () = rt::time::sleep(FORGET_EVERY) => {}
            () = shared.stopping.begun() => {}
        }
        if let Some(rates) = &shared.rates {
            rates.forget();
        }
        shared.intakes.forget_expired();
        keep_last_use(&shared);
    }
}
