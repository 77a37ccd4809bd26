//! Records are read from their text some at a time, on all cores, while those before them are taken in, one after the other.

use super::super::CatalogError;
use super::fault::Blame;
use super::{Item, Sent};
use crate::record::Record;
use rayon::prelude::*;

/// A record that was cut out of the input.
pub struct Cut {
    /// The physical line on which it begins, from 1.
    pub line: u64,
    /// Its number, from 1.
    pub number: u64,
    /// Its text.
    pub bytes: Vec<u8>,
    /// Whether the text was too long, and is not all here.
    pub long: bool,
}

/// What was read from a cut.
type Read = Result<Record, Vec<Blame>>;

/// Reads what is cut and visits it in order.
pub struct Ahead<'r, V> {
    read: &'r (dyn Fn(&Cut) -> Read + Sync),
    visit: V,
    cut: Vec<Cut>,
    /// The bytes of what is cut.
    bytes: usize,
    ready: Vec<(Cut, Read)>,
}

/// So many are read at a time, or fewer if they have so many bytes.
const TOGETHER: usize = 512;
const BYTES: usize = 1 << 20;

impl<'r, V: FnMut(Item<'_>) -> Result<(), CatalogError>> Ahead<'r, V> {
    /// Reads with one function and visits with another.
    pub fn new(read: &'r (dyn Fn(&Cut) -> Read + Sync), visit: V) -> Self {
        Self { read, visit, cut: Vec::new(), bytes: 0, ready: Vec::new() }
    }

    /// Takes the next one.
    ///
    /// # Errors
    /// If a visit fails.
    pub fn take(&mut self, cut: Cut) -> Result<(), CatalogError> {
        self.bytes += cut.bytes.len();
        self.cut.push(cut);
        if self.cut.len() < TOGETHER && self.bytes < BYTES { Ok(()) } else { self.turn() }
    }

    /// Visits all that is left.
    ///
    /// # Errors
    /// If a visit fails.
    pub fn end(&mut self) -> Result<(), CatalogError> {
        self.turn()?;
        self.turn()
    }

    fn turn(&mut self) -> Result<(), CatalogError> {
        let (read, cut) = (self.read, std::mem::take(&mut self.cut));
        self.bytes = 0;
        let ready = std::mem::take(&mut self.ready);
        let all = || cut.into_par_iter().map(|cut| (read(&cut), cut)).map(|(record, cut)| (cut, record)).collect();
        let visit = || {
            ready.into_iter().try_for_each(|(Cut { line, number, bytes, .. }, record)| {
                (self.visit)(Item { line, number, record, sent: Sent::Text(bytes.trim_ascii()) })
            })
        };
        let (next, visited) = meanwhile(all, visit);
        self.ready = next;
        visited
    }
}

/// Does some work on other threads while something else is done on this one.
pub fn meanwhile<A: Send, B>(work: impl FnOnce() -> A + Send, here: impl FnOnce() -> B) -> (A, B) {
    let mut done = None;
    let here = rayon::in_place_scope(|scope| {
        scope.spawn(|_| done = Some(work()));
        here()
    });
    let done = done.unwrap_or_else(|| unreachable!("the scope waits for what it spawned, and panics if that did"));
    (done, here)
}
