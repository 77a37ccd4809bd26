//! What an engine has to meet beyond [`Engine`] if several processes write to it.

use super::engine::{Batch, Engine, EngineError};
use std::sync::{Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// An engine that other processes write to as well.
///
/// # Laws
/// 1. `get` and `scan` answer from what this process holds: its own batches from the moment `apply` returns, those of
///    others once they were taken in, and never half of one.
/// 2. `apply` checks its requirement against what everybody has written. If it answers [`EngineError::Overtaken`],
///    `news` from [`Source::Writable`] gives at least the batch that was faster.
/// 3. `news` gives everything that was written after what is held, up to the end of some batch, and changes nothing.
///    Nothing comes back if there is nothing.
/// 4. `take_in` makes news visible. News that are older than what is held change nothing.
/// 5. The bell rings when there may be news. It may ring for nothing and rings at least once for every batch of others
///    as long as they can be reached, whether or not a notification got lost.
/// 6. What is held is never older than `standing` says.
pub trait Shared: Engine {
    /// What others have written and is not taken in.
    ///
    /// # Errors
    /// If they can't be asked.
    fn news(&self, source: Source) -> Result<Option<News>, EngineError>;

    /// Takes in what others have written.
    fn take_in(&self, news: &News);

    /// How old what is held may be.
    fn standing(&self) -> Standing;

    /// Rings when there may be news.
    fn bell(&self) -> std::sync::Arc<Bell>;

    /// Asks for news now rather than at the next look.
    fn hurry(&self);
}

/// Where news are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Where writes go.
    Writable,
    /// Where this process was told to read.
    Reading,
}

/// What others have written, up to the end of one of their batches.
#[derive(Debug, Clone)]
pub struct News {
    /// The changes, all batches in one.
    pub batch: Batch,
    /// The number of the last batch in it.
    pub version: u64,
    /// What tells that batch from another one of the same number.
    pub token: Vec<u8>,
    /// Everything written before this is in it; nothing if that can't be told.
    pub as_of: Option<Instant>,
}

/// How old what a process holds may be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// What is held misses nothing that was written longer ago than this.
    pub behind: Duration,
    /// Why the others can't be reached, if so.
    pub away: Option<String>,
    /// Why what is held and what the others hold are not of one history any more, if so.
    pub parted: Option<String>,
}

/// How a store shares its engine with others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sharing {
    /// Where the others' writes are read, if not where one's own go.
    pub read_from: Option<super::place::DatabaseUrl>,
    /// The most connections at a time, besides the one that follows.
    pub connections: usize,
    /// How long one step may take: a connection, a lock, a statement.
    pub patience: Duration,
    /// How long it is tried to find out whether a batch was stored when the connection died over it.
    pub settling: Duration,
    /// Whether notifications are waited for; without them others' writes are seen at the next look.
    pub listens: bool,
    /// How often it is looked whether there are news, whatever notifications say.
    pub looks_every: Duration,
}

impl Default for Sharing {
    fn default() -> Self {
        Self {
            read_from: None,
            connections: 4,
            patience: Duration::from_secs(5),
            settling: Duration::from_secs(15),
            listens: true,
            looks_every: Duration::from_secs(1),
        }
    }
}

/// Something to wait for.
#[derive(Debug, Default)]
pub struct Bell {
    state: Mutex<(bool, bool)>,
    changed: Condvar,
}

impl Bell {
    /// Wakes whoever waits, or the next one who does.
    pub fn ring(&self) {
        self.state.lock().unwrap_or_else(PoisonError::into_inner).0 = true;
        self.changed.notify_all();
    }

    /// Nobody will ring any more.
    pub fn close(&self) {
        self.state.lock().unwrap_or_else(PoisonError::into_inner).1 = true;
        self.changed.notify_all();
    }

    /// Waits until somebody rings; false if nobody will any more.
    #[must_use]
    pub fn wait(&self) -> bool {
        let state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let silent = |state: &mut (bool, bool)| !state.0 && !state.1;
        let mut state = self.changed.wait_while(state, silent).unwrap_or_else(PoisonError::into_inner);
        state.0 = false;
        !state.1
    }
}
