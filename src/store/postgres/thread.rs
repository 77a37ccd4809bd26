//! The engine's own thread, on which everything that waits for the database is done.

use crate::store::engine::EngineError;
use std::future::Future;
use std::sync::mpsc;
use std::thread::JoinHandle;
use tokio::runtime::Handle;
use tokio::sync::oneshot;

/// A thread that does asynchronous work for callers who wait.
pub struct Worker {
    handle: Handle,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Worker {
    /// Starts the thread.
    ///
    /// # Errors
    /// If the operating system gives none.
    pub fn start() -> Result<Self, EngineError> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(EngineError::Io)?;
        let (handle, (stop, stopped)) = (runtime.handle().clone(), oneshot::channel());
        let work = move || {
            // Whoever holds the other end lets go of it or sends: both mean the end.
            let _ = runtime.block_on(stopped);
        };
        let thread =
            std::thread::Builder::new().name("clampbook-pg".to_owned()).spawn(work).map_err(EngineError::Io)?;
        Ok(Self { handle, stop: Some(stop), thread: Some(thread) })
    }

    /// Does something on the thread and waits for its outcome.
    ///
    /// # Errors
    /// If the work broke down.
    pub fn run<T: Send + 'static>(&self, work: impl Future<Output = T> + Send + 'static) -> Result<T, EngineError> {
        let (done, outcome) = mpsc::sync_channel(1);
        self.handle.spawn(async move {
            let _ = done.send(work.await);
        });
        outcome.recv().map_err(|_| EngineError::Untold("the work on the database broke off".to_owned()))
    }

    /// Does something on the thread for as long as it lives.
    pub fn spawn(&self, work: impl Future<Output = ()> + Send + 'static) {
        self.handle.spawn(work);
    }
}

/// Ends the thread and all its connections.
impl Drop for Worker {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}
