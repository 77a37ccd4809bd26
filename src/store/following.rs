//! What a store does about others that write to the same engine: it takes their writes in.

use super::Store;
use super::error::StoreError;
use super::head;
use super::shared::{Bell, News, Shared, Source, Standing};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};

/// Up to so many changes of others at once are entered in the directory; after more it is sooner made anew.
const ENTERED_MOST: usize = 20_000;

impl Store {
    /// Takes in what others have written, and says whether there was anything.
    ///
    /// # Errors
    /// If they can't be asked, or what they wrote is damaged.
    pub fn catch_up(&self) -> Result<bool, StoreError> {
        let Some(shared) = self.engine.shared() else { return Ok(false) };
        let Some(news) = shared.news(Source::Reading)? else { return Ok(false) };
        let _writing = self.writer.lock().unwrap_or_else(PoisonError::into_inner);
        self.take_in(shared, &news)?;
        Ok(true)
    }

    /// The same while this thread is the one that writes, from where writes go.
    pub(super) fn catch_up_in_writing(&self, shared: &dyn Shared) -> Result<bool, StoreError> {
        let Some(news) = shared.news(Source::Writable)? else { return Ok(false) };
        self.take_in(shared, &news)?;
        Ok(true)
    }

    fn take_in(&self, shared: &dyn Shared, news: &News) -> Result<(), StoreError> {
        let before = self.head();
        self.commits.fetch_add(1, Ordering::SeqCst);
        shared.take_in(news);
        let head = head::load(self.engine.as_ref());
        // They may have put another history in its place.
        self.known_sets.clear();
        self.known.clear();
        if let Ok(head) = &head {
            // The head comes last: whoever knows it finds what belongs to it.
            self.directory.store(self.directory_since(&before, head, ENTERED_MOST));
            self.head.store(Arc::new(head.clone()));
        }
        self.commits.fetch_add(1, Ordering::SeqCst);
        head.map(|_| ())
    }

    /// What rings when others may have written; nothing if there are no others.
    #[must_use]
    pub fn bell(&self) -> Option<Arc<Bell>> {
        self.engine.shared().map(Shared::bell)
    }

    /// Looks for others' writes now rather than in a while.
    pub fn hurry(&self) {
        if let Some(shared) = self.engine.shared() {
            shared.hurry();
        }
    }

    /// How old what this process holds may be; nothing if there are no others.
    #[must_use]
    pub fn standing(&self) -> Option<Standing> {
        self.engine.shared().map(Shared::standing)
    }
}
