//! Pairs in bundles: fewer pairs for an engine that takes as long for a small one as for a large one.
//!
//! To sled a pair is some ten microseconds and a sixteenth of a page, whatever is in it, and most of ours are small. So
//! neighbours are kept together, as `bundle.rs` describes. A pair by itself is a bundle of one, which is what format 1 has:
//! its files are read as they are, and become bundles where they are written to.
//!
//! The bundle of a key is the one under the first key that is not before it. This holds in every state that a batch leaves,
//! and a bundle never reaches over keys with different first bytes. Since a batch may move a pair to a bundle under a key
//! that a reader has passed already, readers take one bundle at a time, each from the newest state, unless they see that
//! no batch came between. Then nothing is missed or met twice: what was told up to a key is all that is up to it.

use super::bundle::{self, Member, Opened};
use super::engine::{Batch, Engine, EngineError, Pair};
use super::folder::Sync as Durability;
use super::sled_engine::SledEngine;
use arc_swap::ArcSwapOption;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::Bound;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// What stood under the keys of a batch before it.
type Before = BTreeMap<Vec<u8>, Option<Vec<u8>>>;

/// An engine that keeps its pairs in bundles in another one, to which nobody else writes.
#[derive(Debug)]
pub struct Bundles<E> {
    engine: E,
    /// Held while a batch is made and applied.
    writing: Mutex<()>,
    /// Counts the beginnings and ends of batches: odd while one is being applied, and for ever after one that failed.
    moments: AtomicU64,
    /// What the batch that is being applied changes, as readers go on seeing it; for ever after a batch that failed, of
    /// which nobody can tell how much the engine holds.
    before: ArcSwapOption<Before>,
}

/// The key that comes after all those that may be in one bundle with this one; nothing for those that are never in one.
fn end_of_kind(key: &[u8]) -> Option<Vec<u8>> {
    key.first().and_then(|first| first.checked_add(1)).map(|next| vec![next])
}

/// The key next to this one.
fn after(key: &[u8]) -> Vec<u8> {
    [key, &[0]].concat()
}

impl Bundles<SledEngine> {
    /// Opens or makes the engine's files in a folder of its own.
    ///
    /// # Errors
    /// If the files can't be opened or are damaged.
    pub fn in_files(path: &Path, durability: Durability) -> Result<Self, EngineError> {
        SledEngine::open(path, durability).map(Self::of)
    }
}

impl<E: Engine> Bundles<E> {
    /// Keeps pairs in bundles in this engine.
    pub fn of(engine: E) -> Self {
        Self { engine, writing: Mutex::default(), moments: AtomicU64::new(0), before: ArcSwapOption::empty() }
    }

    /// The first bundle of a range as it was before the batch that is being applied, if one is.
    fn first(&self, from: &[u8], end: &[u8]) -> Result<Option<Pair>, EngineError> {
        loop {
            let mut next = self.engine.scan(from, end, 1)?.pop();
            // Asked after the engine: whatever that has told of a batch is undone here.
            let Some(before) = self.before.load_full() else { return Ok(next) };
            while let Some((key, value)) = &mut next {
                match before.get(key) {
                    Some(Some(was)) => value.clone_from(was),
                    Some(None) => {
                        next = self.engine.scan(&after(key), end, 1)?.pop();
                        continue;
                    }
                    None => {}
                }
                break;
            }
            let was_there = |(key, value): (&Vec<u8>, &Option<Vec<u8>>)| Some((key.clone(), value.clone()?));
            let was = before.range::<[u8], _>((Bound::Included(from), Bound::Excluded(end)));
            let first = next.into_iter().chain(was.map(was_there).find_map(|pair| pair)).min();
            if self.before.load().as_ref().is_some_and(|still| Arc::ptr_eq(still, &before)) {
                return Ok(first);
            }
        }
    }

    /// The first bundles of a range, and whether those are all of it.
    fn some(&self, from: &[u8], end: &[u8], count: usize) -> Result<(Vec<Pair>, bool), EngineError> {
        let moment = self.moments.load(Ordering::SeqCst);
        if moment.is_multiple_of(2) {
            let bundles = self.engine.scan(from, end, count)?;
            if self.moments.load(Ordering::SeqCst) == moment {
                let is_all = bundles.len() < count;
                return Ok((bundles, is_all));
            }
        }
        let first = self.first(from, end)?;
        let is_all = first.is_none();
        Ok((first.into_iter().collect(), is_all))
    }

    /// What a batch means for the bundles, and what they are before it.
    fn plan(&self, batch: &Batch) -> Result<(Batch, Before), EngineError> {
        let (mut planned, mut before) = (Batch::default(), Before::new());
        let mut changes = batch.changes().peekable();
        while let Some((key, value)) = changes.peek().copied() {
            let Some(end) = end_of_kind(key) else {
                changes.next();
                before.insert(key.to_vec(), self.engine.get(key)?);
                match value {
                    Some(value) => planned.put(key.to_vec(), value.to_vec()),
                    None => planned.remove(key.to_vec()),
                }
                continue;
            };
            let there = self.engine.scan(key, &end, 1)?.pop();
            let opened = there.as_ref().map(|(last, bytes)| Opened::of(last, bytes)).transpose()?;
            let mut old = opened.iter().flat_map(Opened::members).peekable();
            let belongs = |key: &[u8]| there.as_ref().map_or(key < &end[..], |(last, _)| key <= &last[..]);
            let mut members: Vec<Member<'_>> = Vec::new();
            while let Some((key, value)) = changes.next_if(|(key, _)| belongs(key)) {
                members.extend(std::iter::from_fn(|| old.next_if(|(name, _)| *name < key)));
                old.next_if(|(name, _)| *name == key);
                members.extend(value.map(|value| (key, value)));
            }
            members.extend(old);
            let bundles = bundle::pack(&members)?;
            if let Some((last, _)) = &there
                && bundles.iter().all(|(key, _)| key != last)
            {
                planned.remove(last.clone());
            }
            for (key, value) in bundles {
                match &there {
                    Some((last, bytes)) if *last == key && *bytes == value => continue,
                    Some((last, _)) if *last == key => {}
                    _ => drop(before.insert(key.clone(), None)),
                }
                planned.put(key, value);
            }
            before.extend(there.map(|(last, bytes)| (last, Some(bytes))));
        }
        Ok((planned, before))
    }
}

impl<E: Engine> Bundles<E> {
    /// Applies a batch, which is let go of as soon as it is planned.
    fn apply_as(&self, batch: Cow<'_, Batch>) -> Result<(), EngineError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        if self.before.load().is_some() {
            let why = "a batch before this one has failed; open the store again";
            return Err(EngineError::Io(std::io::Error::other(why)));
        }
        if let Some(required) = batch.requirement()
            && self.get(&required.key)? != required.value
        {
            return Err(EngineError::Overtaken);
        }
        let (planned, before) = self.plan(&batch)?;
        drop(batch);
        self.moments.fetch_add(1, Ordering::SeqCst);
        self.before.store(Some(Arc::new(before)));
        self.engine.apply_whole(planned)?;
        self.before.store(None);
        self.moments.fetch_add(1, Ordering::SeqCst);
        Ok(())
    }
}

impl<E: Engine> Engine for Bundles<E> {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        let end = end_of_kind(key).unwrap_or_else(|| after(key));
        let Some((last, bytes)) = self.first(key, &end)? else { return Ok(None) };
        let mut found = None;
        let mut look = |member: &[u8], value: &[u8]| {
            if member == key {
                found = Some(value.to_vec());
            }
            member < key
        };
        if end_of_kind(&last).is_some() {
            bundle::each(&last, &bytes, look)?;
        } else {
            look(&last, &bytes);
        }
        Ok(found)
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        /// About how many pairs a bundle is expected to have, and the most bundles that are read at a time.
        const PAIRS: usize = 8;
        const AT_A_TIME: usize = 64;
        let mut found = Vec::new();
        if from >= below || limit == 0 {
            return Ok(found);
        }
        // The last pair before `below` may be in a bundle under a key behind it.
        let end = if below.len() == 1 { below.to_vec() } else { end_of_kind(below).unwrap_or_else(|| below.to_vec()) };
        let mut at = from.to_vec();
        loop {
            let count = ((limit - found.len()) / PAIRS).clamp(1, AT_A_TIME);
            let (bundles, is_all) = self.some(&at, &end, count)?;
            for (last, bytes) in &bundles {
                let mut take = |key: &[u8], value: &[u8]| {
                    if key >= below {
                        return false;
                    }
                    if key >= &at[..] {
                        found.push((key.to_vec(), value.to_vec()));
                    }
                    found.len() < limit
                };
                let goes_on =
                    if end_of_kind(last).is_some() { bundle::each(last, bytes, take)? } else { take(last, bytes) };
                if !goes_on {
                    return Ok(found);
                }
                at = after(last);
            }
            if is_all {
                return Ok(found);
            }
        }
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        self.apply_as(Cow::Borrowed(batch))
    }

    fn apply_whole(&self, batch: Batch) -> Result<(), EngineError> {
        self.apply_as(Cow::Owned(batch))
    }

    fn sync(&self) -> Result<(), EngineError> {
        self.engine.sync()
    }
}
