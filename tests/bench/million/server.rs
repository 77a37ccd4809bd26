//! The service in a process of its own, and beside it, in the same process, two that answer with a static body: one
//! through everything that every request of the service goes through, one through nothing.

use crate::load::{Client, get};
use actix_web::dev::Server as Running;
use actix_web::web::{Bytes, Data, ServiceConfig};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer, web};
use clampbook::api::{self, Access, Shared, Tokens};
use clampbook::catalog::{Catalog, OpenOptions};
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, ExitCode, Stdio};

/// The word by which this program is told to serve.
pub const SERVE: &str = "serve-for-the-benchmark";
/// Where a static body is that goes through the same middleware: a path that the service knows, so that access, metrics and
/// whatever else looks at it does all that it does for others. Behind `?` stands its length.
pub const LED: &str = "/v1/rules";
/// Where a static body is that goes through no middleware.
pub const BARE: &str = "/";
/// The longest static body.
const STATIC_MAX: usize = 1 << 20;
/// Threads that answer, of each of the two: the load needs a core too.
const WORKERS: usize = 1;

/// Serves a store until told to stop; prints where the service answers and where the static bodies are.
pub fn serve(store: &Path) -> ExitCode {
    let catalog = Catalog::open(store, &OpenOptions::default()).expect("the store opens");
    let (sender, receiver) = std::sync::mpsc::channel();
    let access = Access { anonymous_read: true, anonymous_write: true, tokens: tokens(store) };
    let shared = Data::new(Shared::new(Catalog::in_memory().expect("a book"), access));
    std::thread::spawn(move || serve_static(shared, &sender));
    let [led, bare] = receiver.recv().expect("the static servers start");
    let local = SocketAddr::from(([127, 0, 0, 1], 0));
    let tokens = store.with_extension("tokens");
    let options = api::Options { workers: Some(WORKERS), open: true, ..api::Options::on(local, tokens) };
    // As the command line has it.
    let _first_audit = catalog.audit_in_background().expect("a thread");
    let served = api::run(catalog, &options, |address| println!("{address} {led} {bare}"));
    served.expect("the service ends well");
    ExitCode::SUCCESS
}

fn tokens(store: &Path) -> Tokens {
    Tokens::at(store.with_extension("tokens"))
}

async fn body(request: HttpRequest) -> HttpResponse {
    static BODY: [u8; STATIC_MAX] = [b'x'; STATIC_MAX];
    let size = request.query_string().parse().unwrap_or(0);
    let bytes = Bytes::from_static(&BODY[..STATIC_MAX.min(size)]);
    HttpResponse::Ok().content_type("application/json").body(bytes)
}

fn serve_static(shared: Data<Shared>, sender: &std::sync::mpsc::Sender<[SocketAddr; 2]>) {
    let route = |config: &mut ServiceConfig| {
        config.route(LED, web::get().to(body));
    };
    actix_web::rt::System::new().block_on(async move {
        let led = HttpServer::new(move || api::app_beside(shared.clone(), route)).workers(WORKERS).disable_signals();
        let led = led.bind(("127.0.0.1", 0)).expect("a port");
        let bare = HttpServer::new(move || App::new().route(BARE, web::get().to(body)));
        let bare = bare.workers(WORKERS).disable_signals().bind(("127.0.0.1", 0)).expect("a port");
        let at = |addresses: Vec<SocketAddr>| addresses.first().copied().expect("an address");
        let addresses = [at(led.addrs()), at(bare.addrs())];
        let running: [Running; 2] = [led.run(), bare.run()];
        sender.send(addresses).expect("somebody waits for the addresses");
        let [led, bare] = running.map(actix_web::rt::spawn);
        let _ = (led.await, bare.await);
    });
}

/// A service that runs.
pub struct Server {
    child: Child,
    /// Where the service answers.
    pub address: SocketAddr,
    /// Where static bodies are that go through the same middleware.
    pub led: SocketAddr,
    /// Where static bodies are that go through none.
    pub bare: SocketAddr,
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
        let mut next = || addresses.next().expect("three addresses");
        let server = Self { address: next(), led: next(), bare: next(), child };
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
