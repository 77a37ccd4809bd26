//! Answers whose bytes are made while they are sent.
//!
//! The maker waits while the reader's connection is full, so that no answer piles up in memory. An answer that fails on its
//! way is cut off: its last chunk never comes, and whoever reads it knows that it is not whole.

use super::problem::Problem;
use actix_web::body::{BodySize, MessageBody};
use actix_web::web::Bytes;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::runtime::Handle;
use tokio::sync::mpsc::{Receiver, Sender, channel};

/// How many pieces may wait to be sent.
const WAITING: usize = 4;
/// How large a piece is.
const PIECE: usize = 32 << 10;
/// How long a connection may take nothing before its answer is given up.
const STALLED: Duration = Duration::from_secs(60);

/// A part of an answer.
#[derive(Debug)]
enum Part {
    Bytes(Bytes),
    Failed(io::Error),
    /// There is no more, and nothing is missing.
    Whole,
}

/// A body that is made elsewhere while it is sent.
#[derive(Debug)]
pub struct Streamed {
    parts: Receiver<Part>,
    first: Option<Part>,
}

impl Streamed {
    /// The body once its first bytes are there, so that what fails at once can still be said in words.
    ///
    /// # Errors
    /// What made it fail.
    pub async fn begun(mut self) -> io::Result<Self> {
        match self.parts.recv().await {
            Some(Part::Failed(error)) => Err(error),
            None => Err(broken_off()),
            first => Ok(Self { first, ..self }),
        }
    }
}

fn broken_off() -> io::Error {
    io::Error::new(io::ErrorKind::UnexpectedEof, "the answer broke off")
}

impl MessageBody for Streamed {
    type Error = io::Error;

    fn size(&self) -> BodySize {
        BodySize::Stream
    }

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<io::Result<Bytes>>> {
        let part = match self.first.take() {
            Some(part) => Some(part),
            None => ready!(self.parts.poll_recv(context)),
        };
        Poll::Ready(match part {
            Some(Part::Bytes(bytes)) => Some(Ok(bytes)),
            Some(Part::Whole) => None,
            Some(Part::Failed(error)) => Some(Err(error)),
            None => Some(Err(broken_off())),
        })
    }
}

/// A body, and what makes it.
#[must_use]
pub fn streamed() -> (Maker, Streamed) {
    let (sender, parts) = channel(WAITING);
    (Maker(sender), Streamed { parts, first: None })
}

/// What makes a body, on the threads that answer.
#[derive(Debug)]
pub struct Maker(Sender<Part>);

impl Maker {
    /// Sends some bytes, as soon as there is room for them.
    ///
    /// # Errors
    /// If nobody reads the answer any more.
    pub async fn send(&self, bytes: impl Into<Bytes>) -> io::Result<()> {
        self.part(Part::Bytes(bytes.into())).await
    }

    async fn part(&self, part: Part) -> io::Result<()> {
        match tokio::time::timeout(STALLED, self.0.send(part)).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(_)) => Err(io::Error::new(io::ErrorKind::BrokenPipe, "nobody reads the answer any more")),
            Err(_) => Err(io::Error::new(io::ErrorKind::TimedOut, "the answer was not read for a minute")),
        }
    }

    /// Ends the body as whole.
    pub async fn finish(&self) {
        // Where nobody reads any more there is nobody to tell.
        let _ = self.part(Part::Whole).await;
    }

    /// Waits until nobody reads the answer any more.
    pub async fn left(&self) {
        self.0.closed().await;
    }
}

/// A body that is written on a thread that may wait, once its first bytes are there.
///
/// # Errors
/// What made it fail before that.
pub async fn piped(make: impl FnOnce(&mut Pipe) -> io::Result<()> + Send + 'static) -> Result<Streamed, Problem> {
    let (maker, body) = streamed();
    let runtime = Handle::current();
    actix_web::rt::task::spawn_blocking(move || {
        let mut pipe = Pipe::new(maker, runtime);
        let outcome = make(&mut pipe);
        pipe.finish(outcome);
    });
    body.begun().await.map_err(|error| Problem::internal(&error))
}

/// Writes into a body on a thread that may wait. Without [`Pipe::finish`] the body is cut off.
#[derive(Debug)]
pub struct Pipe {
    maker: Maker,
    runtime: Handle,
    piece: Vec<u8>,
}

impl Pipe {
    /// A pipe into a body. `runtime` is that of a thread that answers.
    #[must_use]
    pub fn new(maker: Maker, runtime: Handle) -> Self {
        Self { maker, runtime, piece: Vec::with_capacity(PIECE) }
    }

    /// Ends the body as whole, or as cut off by an error.
    pub fn finish(mut self, outcome: io::Result<()>) {
        let last = match outcome.and_then(|()| self.send()) {
            Ok(()) => Part::Whole,
            Err(error) => Part::Failed(error),
        };
        // Where nobody reads any more there is nobody to tell.
        let _ = self.runtime.block_on(self.maker.part(last));
    }

    fn send(&mut self) -> io::Result<()> {
        if self.piece.is_empty() {
            return Ok(());
        }
        let piece = std::mem::replace(&mut self.piece, Vec::with_capacity(PIECE));
        self.runtime.block_on(self.maker.send(piece))
    }
}

impl io::Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.piece.extend_from_slice(bytes);
        if self.piece.len() >= PIECE {
            self.send()?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::future::poll_fn;
    use std::io::Write;

    async fn all(mut body: Streamed) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        while let Some(piece) = poll_fn(|context| Pin::new(&mut body).poll_next(context)).await {
            bytes.extend_from_slice(&piece?);
        }
        Ok(bytes)
    }

    #[actix_web::test]
    async fn what_is_written_arrives_whole() {
        let (maker, body) = streamed();
        let mut pipe = Pipe::new(maker, Handle::current());
        let writing = std::thread::spawn(move || {
            let outcome = (0..200_000_u32).try_for_each(|n| pipe.write_all(&n.to_be_bytes()));
            pipe.finish(outcome);
        });
        let bytes = all(body.begun().await.unwrap()).await.unwrap();
        writing.join().unwrap();
        assert_eq!(bytes.len(), 800_000);
        assert!(bytes.chunks(4).zip(0_u32..).all(|(chunk, n)| chunk == n.to_be_bytes()));
    }

    #[actix_web::test]
    async fn what_fails_is_cut_off() {
        for is_told in [true, false] {
            let (maker, body) = streamed();
            let mut pipe = Pipe::new(maker, Handle::current());
            let writing = std::thread::spawn(move || {
                pipe.write_all(&[7; 100_000]).unwrap();
                if is_told {
                    pipe.finish(Err(io::Error::other("the disk is gone")));
                }
            });
            let failed = all(body.begun().await.unwrap()).await;
            writing.join().unwrap();
            assert!(failed.is_err(), "a body that is not whole ends like a whole one");
        }
        let (maker, body) = streamed();
        let pipe = Pipe::new(maker, Handle::current());
        std::thread::spawn(move || pipe.finish(Err(io::Error::other("nothing is there"))));
        assert_eq!(body.begun().await.unwrap_err().to_string(), "nothing is there");
    }
}
