//! Pages that were asked for twice, kept without their records, which are ready anyway.
//!
//! Several look at the same list, or one looks at it again: as long as the book has not changed, the answer is the same, and
//! neither has the question to be read nor anything to be searched for. With the next change of the book all of them are of the past.

use super::around::Around;
use super::{OfEpoch, Ready, Shown};
use crate::catalog::{Catalog, Mark};
use actix_web::http::header::HeaderValue;
use actix_web::web::Bytes;
use quick_cache::Weighter;
use std::hash::{BuildHasher, RandomState};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// About how many bytes are kept of a page.
pub const PAGE: u64 = 1300;
/// About how many bytes of memory a page costs besides.
const BESIDE: usize = 200;

/// A page as it is sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PageSent {
    /// Its bytes.
    pub bytes: Bytes,
    /// Where the next one is, for the header `Link`.
    pub link: Option<HeaderValue>,
    /// The change up to which the book had been audited, where that is not the last one.
    pub up_to: Option<u64>,
}

/// A page without its records.
#[derive(Debug)]
pub struct Leaf {
    pub around: Around,
    /// The slots of its records, each with the change that made the revision.
    pub records: Box<[(u32, u64)]>,
    pub link: Option<HeaderValue>,
    /// The state of the book that it is of, by its last change.
    pub known_at: u64,
}

#[derive(Clone)]
pub struct Weighed;

impl Weighter<Box<str>, Arc<Leaf>> for Weighed {
    fn weight(&self, address: &Box<str>, leaf: &Arc<Leaf>) -> u64 {
        let link = leaf.link.as_ref().map_or(0, HeaderValue::len);
        (address.len() + leaf.around.len() + size_of_val(&*leaf.records) + link + BESIDE) as u64
    }
}

/// How many addresses are remembered that were asked for once.
const ONCE: usize = 1 << 10;

/// Addresses that were asked for lately, each with the state of the book, as one number. A page is kept when it is asked for a
/// second time: to keep those costs something that nobody asks for again.
pub struct AskedOnce {
    numbers: Box<[AtomicU64]>,
    hasher: RandomState,
}

impl Default for AskedOnce {
    fn default() -> Self {
        Self { numbers: (0..ONCE).map(|_| AtomicU64::new(0)).collect(), hasher: RandomState::new() }
    }
}

impl AskedOnce {
    /// Whether this was asked for before, and is remembered.
    fn again(&self, address: &str, known_at: u64) -> bool {
        let number = self.hasher.hash_one((address, known_at));
        self.numbers[number as usize % ONCE].swap(number, Ordering::Relaxed) == number
    }
}

/// The link to the page that begins behind a cursor, from the address of the one before it.
pub fn link_to(address: &str, next: &str) -> Option<HeaderValue> {
    let (path, question) = address.split_once('?').unwrap_or((address, ""));
    let mut link = String::with_capacity(address.len() + next.len() + 24);
    link.extend(["<", path, "?"]);
    for pair in question.split('&').filter(|pair| !pair.is_empty() && !pair.starts_with("after=")) {
        link.extend([pair, "&"]);
    }
    link.extend(["after=", next, ">; rel=\"next\""]);
    HeaderValue::try_from(link).ok()
}

impl Ready {
    /// The page that this address had, if the book is still in that state, and all of its records are ready.
    #[must_use]
    pub fn page_again(&self, catalog: &Catalog, address: &str) -> Option<(PageSent, Mark)> {
        let mark = catalog.mark();
        let held = self.of(mark.epoch());
        let leaf = held.pages.get(address).filter(|leaf| leaf.known_at == mark.sequence())?;
        let known = |&(slot, change): &(u32, u64)| held.known(slot, change, &mark);
        let records: Vec<Arc<Shown>> = leaf.records.iter().map(known).collect::<Option<_>>()?;
        Some((PageSent { bytes: leaf.around.with(&records), link: leaf.link.clone(), up_to: None }, mark))
    }
}

impl OfEpoch {
    /// Keeps a page for those who ask for the same, from the second one on.
    pub fn keep_page(&self, address: &str, known_at: u64, leaf: impl FnOnce() -> Leaf) {
        if self.asked_once.again(address, known_at) {
            self.pages.insert(address.into(), leaf().into());
        }
    }
}
