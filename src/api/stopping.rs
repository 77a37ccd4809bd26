//! How the service stops: first it says that it is not ready, then it takes nothing new, then it is gone.
//!
//! Whoever waits for something to happen (a long poll, a stream of events) waits for the stop too.

use tokio::sync::watch;

/// How far a stop has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    Running,
    /// Still answering, but not ready any more, so that balancers turn away.
    Leaving,
    /// What is being answered is finished; nothing new is taken.
    Closing,
}

/// Whether the service is stopping. All clones say the same.
#[derive(Debug, Clone)]
pub struct Stopping(watch::Sender<Step>);

impl Default for Stopping {
    fn default() -> Self {
        Self(watch::Sender::new(Step::Running))
    }
}

impl Stopping {
    /// Says that the service is about to stop.
    pub fn leave(&self) {
        self.advance(Step::Leaving);
    }

    /// Says that nothing new is taken.
    pub fn close(&self) {
        self.advance(Step::Closing);
    }

    fn advance(&self, to: Step) {
        self.0.send_if_modified(|step| {
            let is_later = to > *step;
            *step = (*step).max(to);
            is_later
        });
    }

    /// Whether the service was told to stop.
    #[must_use]
    pub fn has_begun(&self) -> bool {
        *self.0.borrow() >= Step::Leaving
    }

    /// Whether nothing new is taken any more.
    #[must_use]
    pub fn is_closing(&self) -> bool {
        *self.0.borrow() >= Step::Closing
    }

    /// Waits until the service is told to stop.
    pub async fn begun(&self) {
        // The sender lives as long as this does, so that there is an end of waiting only when it happens.
        let _ = self.0.subscribe().wait_for(|step| *step >= Step::Leaving).await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[actix_web::test]
    async fn who_waits_is_told_and_a_stop_is_never_taken_back() {
        let stopping = Stopping::default();
        assert!(!stopping.has_begun() && !stopping.is_closing());
        let waiting = stopping.clone();
        let waits = actix_web::rt::spawn(async move { waiting.begun().await });
        stopping.close();
        waits.await.unwrap();
        stopping.leave();
        assert!(stopping.has_begun() && stopping.is_closing());
        stopping.begun().await;
    }
}
