//! The service in a process of its own, and beside it, in the same process, one that answers with a static body.

use crate::load::{Client, get};
use actix_web::web::{Bytes, Path as InPath};
use actix_web::{App, HttpResponse, HttpServer, web};
use clampbook::api;
use clampbook::catalog::{Catalog, OpenOptions};
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, ExitCode, Stdio};

/// The word by which this program is told to serve.
pub const SERVE: &str = "serve-for-the-benchmark";
/// The longest static body.
const STATIC_MAX: usize = 1 << 20;
/// Threads that answer, of each of the two: the load needs a core too.
const WORKERS: usize = 1;

/// Serves a store until told to stop; prints where the service answers and where the static bodies are.
pub fn serve(store: &Path) -> ExitCode {
    let catalog = Catalog::open(store, &OpenOptions::default()).expect("the store opens");
    let (sender, receiver) = std::sync::mpsc::channel();
    std::thread::spawn(move || serve_static(&sender));
    let fixed = receiver.recv().expect("the static server starts");
    let local = SocketAddr::from(([127, 0, 0, 1], 0));
    let tokens = store.with_extension("tokens");
    let options = api::Options { workers: Some(WORKERS), open: true, ..api::Options::on(local, tokens) };
    let served = api::run(catalog, &options, |address| println!("{address} {fixed}"));
    served.expect("the service ends well");
    ExitCode::SUCCESS
}

fn serve_static(sender: &std::sync::mpsc::Sender<SocketAddr>) {
    static BODY: [u8; STATIC_MAX] = [b'x'; STATIC_MAX];
    let body = |size: InPath<usize>| async move {
        HttpResponse::Ok().content_type("application/json").body(Bytes::from_static(&BODY[..(*size).min(STATIC_MAX)]))
    };
    actix_web::rt::System::new().block_on(async move {
        let server = HttpServer::new(move || App::new().route("/{size}", web::get().to(body)));
        let server = server.workers(WORKERS).disable_signals().bind(("127.0.0.1", 0)).expect("a port");
        let address = server.addrs().first().copied().expect("an address");
        let running = server.run();
        sender.send(address).expect("somebody waits for the address");
        let _ = running.await;
    });
}

/// A service that runs.
pub struct Server {
    child: Child,
    /// Where the service answers.
    pub address: SocketAddr,
    /// Where the static bodies are.
    pub fixed: SocketAddr,
}

impl Server {
    /// Starts the service on a store.
    pub fn start(store: &Path) -> Self {
        let program = std::env::current_exe().expect("this program");
        let mut command = Command::new(program);
        let mut child = command.arg(SERVE).arg(store).stdout(Stdio::piped()).spawn().expect("the service starts");
        let mut line = String::new();
        let out = child.stdout.take().expect("its output");
        BufReader::new(out).read_line(&mut line).expect("a line from the service");
        let mut addresses = line.split_whitespace().map(|address| address.parse().expect("an address"));
        let mut next = || addresses.next().expect("two addresses");
        let server = Self { address: next(), fixed: next(), child };
        assert_eq!(Client::to(server.address).send(&get("/health/live")).0, 200);
        server
    }

    /// The number of its process.
    pub fn process(&self) -> u32 {
        self.child.id()
    }

    /// Tells it to stop, and waits until it has closed its store.
    pub fn stop(mut self) {
        let told = Command::new("kill").arg(self.child.id().to_string()).status().expect("kill");
        assert!(told.success());
        assert!(self.child.wait().expect("the service ends").success(), "the service did not end well");
    }
}

/// A run that broke off leaves no service behind.
impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
    }
}
