//! What is counted while the service runs, for those who watch it.
//!
//! Requests are counted by the operation of the document and the status, never by their path, so that nobody's ids get
//! into the metrics and their number stays bounded.

mod book;
mod listener;
mod text;

pub use book::LostLines;
pub use listener::server;
pub use text::{OPENMETRICS, TEXT, as_text};

use crate::catalog::Catalog;
use book::OfBook;
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::{Registry, Unit};
use std::sync::Arc;
use std::time::Duration;

/// Bounds of the histogram of durations, in seconds: from a look-up in memory to a long poll.
const BOUNDS: [f64; 14] =
    [0.000_1, 0.000_25, 0.000_5, 0.001, 0.002_5, 0.005, 0.01, 0.025, 0.1, 0.25, 1.0, 2.5, 10.0, 60.0];

/// What a request counts under.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    operation: Arc<str>,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfOperation {
    operation: Arc<str>,
}

/// What is counted while the service runs.
#[derive(Debug)]
pub struct Metrics {
    registry: Registry,
    requests: Family<Answered, Counter>,
    durations: Family<OfOperation, Histogram, fn() -> Histogram>,
    in_flight: Gauge,
    sent: Counter,
}

/// A request that is being answered; it counts as in flight as long as this lives.
#[derive(Debug)]
pub struct InFlight(Gauge);

impl Drop for InFlight {
    fn drop(&mut self) {
        self.0.dec();
    }
}

impl Metrics {
    /// Begins to count for a service on this book.
    #[must_use]
    pub fn of(catalog: Catalog) -> Self {
        let mut registry = Registry::with_prefix("clampbook");
        let requests = Family::<Answered, Counter>::default();
        registry.register("requests", "Requests that were answered, by operation and status", requests.clone());
        let new: fn() -> Histogram = || Histogram::new(BOUNDS);
        let durations = Family::<OfOperation, Histogram, fn() -> Histogram>::new_with_constructor(new);
        let help = "How long answers took, to their last byte where they are streamed";
        registry.register_with_unit("request_duration", help, Unit::Seconds, durations.clone());
        let in_flight = Gauge::default();
        registry.register("requests_in_flight", "Requests that are being answered", in_flight.clone());
        let sent = Counter::default();
        registry.register_with_unit("sent", "Bytes of bodies that were sent", Unit::Bytes, sent.clone());
        let version = Info::new(vec![("version", env!("CARGO_PKG_VERSION"))]);
        registry.register("build", "The program", version);
        registry.register_collector(Box::new(OfBook(catalog)));
        Self { registry, requests, durations, in_flight, sent }
    }

    /// Counts a request as in flight.
    #[must_use]
    pub fn begin(&self) -> InFlight {
        self.in_flight.inc();
        InFlight(self.in_flight.clone())
    }

    /// Counts an answer.
    pub fn answered(&self, operation: &Arc<str>, status: u16, took: Duration, bytes: u64) {
        self.requests.get_or_create(&Answered { operation: operation.clone(), status }).inc();
        self.durations.get_or_create(&OfOperation { operation: operation.clone() }).observe(took.as_secs_f64());
        self.sent.inc_by(bytes);
    }

    /// Counts what else there is to count.
    pub fn also(&mut self, register: impl FnOnce(&mut Registry)) {
        register(&mut self.registry);
    }

    /// Everything, as OpenMetrics text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing into a text in memory does not fail.
        let _ = encode(&mut text, &self.registry);
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalog::AuditScope;

    #[test]
    fn what_was_answered_is_counted_by_operation_and_status() {
        let book = Catalog::in_memory().unwrap();
        let metrics = Metrics::of(book.clone());
        assert!(!metrics.text().contains("audit"), "nobody has asked for an audit");
        book.audit(&AuditScope::Whole).unwrap();
        let (get, put): (Arc<str>, Arc<str>) = ("get_joint".into(), "put_joint".into());
        let flying = metrics.begin();
        metrics.answered(&get, 200, Duration::from_micros(300), 120);
        metrics.answered(&get, 200, Duration::from_millis(3), 80);
        metrics.answered(&put, 412, Duration::from_millis(3), 10);
        let text = metrics.text();
        for line in [
            "clampbook_requests_total{operation=\"get_joint\",status=\"200\"} 2",
            "clampbook_requests_total{operation=\"put_joint\",status=\"412\"} 1",
            "clampbook_request_duration_seconds_bucket{le=\"0.0005\",operation=\"get_joint\"} 1",
            "clampbook_request_duration_seconds_count{operation=\"get_joint\"} 2",
            "clampbook_requests_in_flight 1",
            "clampbook_sent_bytes_total 210",
            "clampbook_last_change 0",
            "clampbook_store_stopped 0",
            "clampbook_audited_change 0",
            "clampbook_records{kind=\"joint\",state=\"current\"} 0",
        ] {
            assert!(text.lines().any(|there| there == line), "{line} is not in\n{text}");
        }
        assert!(text.ends_with("# EOF\n"));
        drop(flying);
        assert!(metrics.text().contains("clampbook_requests_in_flight 0\n"));
    }
}
