//! The directory of a book that is served: made beside the first answers.

use super::{Catalog, CatalogError};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often it is looked whether the directory is still there.
const LOOKS_EVERY: Duration = Duration::from_millis(500);

/// A directory that a thread works on, and makes again if it is lost. When this is dropped the thread lets go of the book.
#[derive(Debug)]
pub struct DirectoryUnderWay {
    is_unwanted: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Drop for DirectoryUnderWay {
    fn drop(&mut self) {
        self.is_unwanted.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // A panic in it has been told where it happened.
            let _ = thread.join();
        }
    }
}

impl Catalog {
    /// Keeps what is needed to find records fast in memory from now on, some hundred bytes each: for one who serves the
    /// book. It is made from the index; reads and writes go on meanwhile, and every later write keeps it up.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn keep_directory(&self) -> Result<(), CatalogError> {
        self.store().keep_directory(&|| false)?;
        Ok(())
    }

    /// The same on a thread of its own, which makes it again after others have written another history of the book, or too
    /// much at once. Until it is there, answers come from the index.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn directory_in_background(&self) -> Result<DirectoryUnderWay, CatalogError> {
        let is_unwanted = Arc::new(AtomicBool::new(false));
        let (catalog, stop) = (self.clone(), is_unwanted.clone());
        let work = move || {
            let is_unwanted = || stop.load(Ordering::Relaxed);
            while !is_unwanted() {
                match catalog.store().keep_directory(&is_unwanted) {
                    Ok(true) => std::thread::park_timeout(LOOKS_EVERY),
                    Ok(false) => return,
                    // Whoever asks meets the same fault and can be told.
                    Err(error) => return tracing::warn!(%error, "the directory of the book was not made"),
                }
            }
        };
        let thread = std::thread::Builder::new().name("clampbook-directory".to_owned()).spawn(work);
        let thread = thread.map_err(|source| CatalogError::Stream { what: "starting a thread failed", source })?;
        Ok(DirectoryUnderWay { is_unwanted, thread: Some(thread) })
    }

    /// Whether the directory is there. Answers are the same without it, and slower.
    #[must_use]
    pub fn has_directory(&self) -> bool {
        self.store().directory().is_some()
    }
}
