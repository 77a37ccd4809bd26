//! A load on a server: some connections that each send one request after the other.

use crate::generator::Dice;
use crate::server::{BARE, LED, Server};
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::{Duration, Instant};

/// How many connections ask at the same time.
pub const CONNECTIONS: usize = 8;

/// A connection.
pub struct Client {
    stream: TcpStream,
    buffer: Vec<u8>,
    /// Where in it the head of the last answer ends.
    head: usize,
}

impl Client {
    /// Connects.
    pub fn to(address: SocketAddr) -> Self {
        let stream = TcpStream::connect(address).expect("a connection");
        stream.set_nodelay(true).expect("an option of the socket");
        Self { stream, buffer: vec![0; 1 << 16], head: 0 }
    }

    /// Sends a request and reads its answer: the status, and how many bytes the body has.
    pub fn send(&mut self, request: &[u8]) -> (u16, usize) {
        self.stream.write_all(request).expect("the server takes a request");
        let (mut held, mut head) = (0, None);
        loop {
            let read = self.stream.read(&mut self.buffer[held..]).expect("the server answers");
            assert!(read > 0, "the server hung up");
            held += read;
            if head.is_none() {
                head = read_head(&self.buffer[..held]);
            }
            if let Some((status, length, end)) = head {
                if self.buffer.len() < end + length {
                    self.buffer.resize(end + length, 0);
                }
                if held >= end + length {
                    self.head = end;
                    return (status, length);
                }
            }
        }
    }

    /// The head of the last answer.
    pub fn head(&self) -> &str {
        std::str::from_utf8(&self.buffer[..self.head]).expect("a head in ASCII")
    }
}

/// The status, the length of the body, and where that begins.
fn read_head(bytes: &[u8]) -> Option<(u16, usize, usize)> {
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n")? + 4;
    let head = std::str::from_utf8(&bytes[..end]).expect("a head in ASCII");
    let status = head.get(9..12).and_then(|status| status.parse().ok()).expect("a status");
    let length =
        head.lines().find_map(|line| line.strip_prefix("content-length: ").or(line.strip_prefix("Content-Length: ")));
    Some((status, length.map_or(0, |length| length.trim().parse().expect("a length")), end))
}

/// The bytes of a request for a path.
pub fn get(path: &str) -> Vec<u8> {
    format!("GET {path} HTTP/1.1\r\nHost: localhost\r\n\r\n").into_bytes()
}

/// What a load came to.
#[derive(Debug, Default)]
pub struct Load {
    /// How long each request took.
    pub times: Vec<Duration>,
    /// Requests in a second, in each round.
    pub rates: Vec<f64>,
    /// The bytes of all bodies.
    pub bytes: usize,
}

impl Load {
    /// Requests in a second: the middle one of the rounds.
    pub fn rate(&self) -> f64 {
        let mut rates = self.rates.clone();
        rates.sort_by(f64::total_cmp);
        rates.get(rates.len() / 2).copied().unwrap_or(0.0)
    }

    /// Adds another one to it.
    pub fn add(&mut self, other: Self) {
        self.times.extend(other.times);
        self.rates.extend(other.rates);
        self.bytes += other.bytes;
    }

    /// The mean length of a body.
    pub fn body(&self) -> usize {
        self.bytes / self.times.len().max(1)
    }
}

/// One round: all connections ask for what they pick, for so long; every answer has to be a yes.
pub fn round(address: SocketAddr, requests: &[Vec<u8>], long: Duration) -> Load {
    let began = Instant::now();
    all_ask(address, |seed| {
        let mut dice = Dice::new(seed as u64);
        move || (began.elapsed() < long).then(|| dice.one_of(requests))
    })
}

/// Everything is asked for once, by all connections together.
pub fn once(address: SocketAddr, requests: &[Vec<u8>]) -> Load {
    all_ask(address, |seed| {
        let mut own = requests.iter().skip(seed).step_by(CONNECTIONS);
        move || own.next()
    })
}

/// All connections ask for what they are given, one request after the other.
fn all_ask<'r, N: FnMut() -> Option<&'r Vec<u8>>>(address: SocketAddr, asks: impl Fn(usize) -> N + Sync) -> Load {
    let began = Instant::now();
    let each = |seed: usize| {
        let (mut client, mut next) = (Client::to(address), asks(seed));
        let mut load = Load::default();
        while let Some(request) = next() {
            let start = Instant::now();
            let (status, length) = client.send(request);
            load.times.push(start.elapsed());
            assert_eq!(status, 200, "{}", String::from_utf8_lossy(request));
            load.bytes += length;
        }
        load
    };
    let mut whole = Load::default();
    std::thread::scope(|scope| {
        let asking: Vec<_> = (0..CONNECTIONS).map(|seed| scope.spawn(move || each(seed))).collect();
        asking.into_iter().for_each(|one| whole.add(one.join().expect("a load")));
    });
    whole.rates = vec![whole.times.len() as f64 / began.elapsed().as_secs_f64()];
    whole
}

/// Ours, then static bodies of the same mean size: through the same middleware, then through none; all in turns.
pub fn beside_static(server: &Server, requests: &[Vec<u8>], long: Duration, rounds: usize) -> [Load; 3] {
    let size = round(server.address, requests, long / 4).body();
    let [led, bare] = [LED, BARE].map(|path| [get(&format!("{path}?{size}"))]);
    let [mut ours, mut beside, mut alone] = [Load::default(), Load::default(), Load::default()];
    for _ in 0..rounds {
        ours.add(round(server.address, requests, long));
        beside.add(round(server.led, &led, long));
        alone.add(round(server.bare, &bare, long));
    }
    [ours, beside, alone]
}
