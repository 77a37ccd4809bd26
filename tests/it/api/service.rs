//! A service on a free port of the loopback device, and a client that sends what it is told to.

use clampbook::api;
use clampbook::catalog::{self, Author, Catalog};
use serde_json::Value;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::{OnceLock, mpsc};
use std::time::Duration;

/// A running service. It ends with the process.
#[derive(Debug, Clone, Copy)]
pub struct Service {
    address: SocketAddr,
}

/// An answer as it came.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

/// The service that all tests that only read share.
pub fn shared() -> Service {
    static SERVICE: OnceLock<Service> = OnceLock::new();
    *SERVICE.get_or_init(fresh)
}

/// A service with a book of its own.
pub fn fresh() -> Service {
    on(yard())
}

/// Does a test once for each kind of engine, on a service whose book holds the yard.
#[track_caller]
pub fn everywhere(test: impl Fn(Service)) {
    for kind in crate::engines::all() {
        let bed = kind.bed();
        let book = bed.catalog();
        fill(&book);
        println!("on {kind:?}");
        test(on(book));
        bed.abandon();
    }
}

/// A service on this book, where anybody may write.
pub fn on(book: Catalog) -> Service {
    let local = "127.0.0.1:0".parse().unwrap();
    run(book, api::Options { workers: Some(1), open: true, ..api::Options::on(local, "/nonexistent/tokens.json") })
}

/// A service on this book, run like this.
pub fn run(book: Catalog, options: api::Options) -> Service {
    let (sender, receiver) = mpsc::channel();
    std::thread::spawn(move || {
        api::run(book, &options, |address| sender.send(address).unwrap()).unwrap();
    });
    let address = receiver.recv_timeout(Duration::from_secs(30)).expect("the service does not start");
    Service { address }
}

/// The demo yard in memory.
pub fn yard() -> Catalog {
    let book = Catalog::in_memory().unwrap();
    fill(&book);
    book
}

/// Puts the demo yard into a book.
pub fn fill(book: &Catalog) {
    let writes = crate::seed::yard().into_iter().map(catalog::Write::put).collect();
    book.apply(writes, &Author::named("yard".parse().unwrap())).unwrap();
}

impl Service {
    /// Reads a path.
    #[track_caller]
    pub fn get(self, path: &str) -> Answer {
        self.send("GET", path, &[], b"")
    }

    /// Sends JSON.
    #[track_caller]
    pub fn send_json(self, method: &str, path: &str, headers: &[(&str, &str)], body: &Value) -> Answer {
        let mut all = vec![("Content-Type", "application/json")];
        all.extend(headers);
        self.send(method, path, &all, body.to_string().as_bytes())
    }

    /// Sends a request and reads the answer.
    #[track_caller]
    pub fn send(self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut request = format!("{method} {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n", self.address);
        for (name, value) in headers {
            request.push_str(&format!("{name}: {value}\r\n"));
        }
        if !body.is_empty() || matches!(method, "POST" | "PUT" | "PATCH") {
            request.push_str(&format!("Content-Length: {}\r\n", body.len()));
        }
        request.push_str("\r\n");
        self.send_raw(&[request.as_bytes(), body].concat())
    }

    /// A connection over which this request was sent, to read its answer as it comes.
    #[track_caller]
    pub fn open(self, head: &str) -> TcpStream {
        let mut stream = TcpStream::connect(self.address).expect("the service is not there");
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        stream.write_all(format!("{head}\r\nHost: {}\r\n\r\n", self.address).as_bytes()).unwrap();
        stream
    }

    /// Sends bytes as they are and reads what comes back until the service closes.
    #[track_caller]
    pub fn send_raw(self, bytes: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(self.address).expect("the service is not there");
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        // A service that has refused already may have closed its side.
        let _ = stream.write_all(bytes);
        let mut answer = Vec::new();
        let mut piece = [0; 1 << 14];
        while !is_whole(&answer) {
            match stream.read(&mut piece) {
                Ok(0) | Err(_) => break,
                Ok(length) => answer.extend_from_slice(&piece[..length]),
            }
        }
        Answer::of(&answer)
    }
}

impl Answer {
    #[track_caller]
    fn of(bytes: &[u8]) -> Self {
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").expect("an answer has a head");
        let head = std::str::from_utf8(&bytes[..end]).unwrap();
        let mut lines = head.split("\r\n");
        let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
        let headers: Vec<(String, String)> = lines
            .map(|line| line.split_once(": ").unwrap())
            .map(|(name, value)| (name.to_lowercase(), value.to_owned()))
            .collect();
        let body = &bytes[end + 4..];
        let is_chunked = headers.iter().any(|(name, value)| name == "transfer-encoding" && value == "chunked");
        let body = if is_chunked { without_chunks(body) } else { body.to_vec() };
        Self { status, headers, body }
    }

    /// The value of a header.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(known, _)| *known == name.to_lowercase()).map(|(_, value)| value.as_str())
    }

    /// The body as text.
    #[track_caller]
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.body).unwrap()
    }

    /// The body as JSON.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    /// The answer, after a look at its status.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}", String::from_utf8_lossy(&self.body));
        self
    }

    /// The problem that the answer is.
    #[track_caller]
    pub fn problem(self, status: u16, name: &str) -> Value {
        assert_eq!(self.status, status, "{}", String::from_utf8_lossy(&self.body));
        assert_eq!(self.header("content-type"), Some("application/problem+json"));
        let problem = self.json();
        assert_eq!(problem["type"], format!("/problems/{name}"));
        assert_eq!(problem["status"], status);
        problem
    }
}

/// Whether an answer that says how long it is has arrived. A connection may stay open after it.
fn is_whole(answer: &[u8]) -> bool {
    let Some(end) = answer.windows(4).position(|four| four == b"\r\n\r\n") else { return false };
    let head = String::from_utf8_lossy(&answer[..end]).to_lowercase();
    let length = head.lines().find_map(|line| line.strip_prefix("content-length: ")?.parse::<usize>().ok());
    length.is_some_and(|length| answer.len() >= end + 4 + length)
}

fn without_chunks(mut bytes: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    while let Some(end) = bytes.windows(2).position(|two| two == b"\r\n") {
        let size = usize::from_str_radix(std::str::from_utf8(&bytes[..end]).unwrap(), 16).unwrap();
        if size == 0 || bytes.len() < end + 2 + size {
            break;
        }
        body.extend_from_slice(&bytes[end + 2..end + 2 + size]);
        bytes = &bytes[end + 4 + size..];
    }
    body
}

/// A text as it stands in a path or behind `?`.
pub fn encoded(text: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~".contains(&byte);
    text.bytes().map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}
