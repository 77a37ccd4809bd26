//! What is told of the book: read when somebody asks, so that nothing has to be kept in step.

use crate::catalog::{Catalog, Counts, Freshness};
use prometheus_client::collector::Collector;
use prometheus_client::encoding::{DescriptorEncoder, EncodeGaugeValue, EncodeMetric};
use prometheus_client::metrics::MetricType;
use prometheus_client::metrics::counter::ConstCounter;
use prometheus_client::metrics::gauge::ConstGauge;
use prometheus_client::registry::Unit;
use std::fmt;
use tracing_appender::non_blocking::ErrorCounter;

/// What is told of this book.
#[derive(Debug)]
pub struct OfBook(pub Catalog);

impl Collector for OfBook {
    fn encode(&self, mut encoder: DescriptorEncoder<'_>) -> fmt::Result {
        let book = &self.0;
        let Counts { joints, fasteners, withdrawn, revisions } = book.counts();
        let mut records =
            encoder.encode_descriptor("records", "Records of the book, by kind and state", None, MetricType::Gauge)?;
        for (labels, number) in [
            ([("kind", "joint"), ("state", "current")], joints),
            ([("kind", "fastener"), ("state", "current")], fasteners),
            ([("kind", "any"), ("state", "withdrawn")], withdrawn),
        ] {
            ConstGauge::new(number).encode(records.encode_family(&labels)?)?;
        }
        let help = "Revisions of all records";
        let revisions = ConstCounter::new(revisions);
        revisions.encode(encoder.encode_descriptor("revisions", help, None, MetricType::Counter)?)?;
        gauge(&mut encoder, "last_change", "The number of the last change", None, book.sequence())?;
        let help = "Whether the store takes no more writes, because its disk was full or failed";
        gauge(&mut encoder, "store_stopped", help, None, u64::from(book.stopped().is_some()))?;
        if let Some((sequence, age)) = book.last_audit() {
            gauge(&mut encoder, "audited_change", "The last change that the last audit has looked at", None, sequence)?;
            let help = "How long ago the last audit was finished; nobody asking and nothing changing ages it too";
            gauge(&mut encoder, "audit_age", help, Some(&Unit::Seconds), age.as_secs_f64())?;
        }
        if let Some(Freshness { behind, .. }) = book.freshness() {
            let help = "What others wrote longer ago than this is in the answers";
            gauge(&mut encoder, "behind", help, Some(&Unit::Seconds), behind.as_secs_f64())?;
        }
        Ok(())
    }
}

/// Counts the lines of the log that were lost.
#[derive(Debug)]
pub struct LostLines(pub ErrorCounter);

impl Collector for LostLines {
    fn encode(&self, mut encoder: DescriptorEncoder<'_>) -> fmt::Result {
        let help = "Lines of the log that were lost because nobody read them in time";
        let lost = ConstCounter::new(self.0.dropped_lines() as u64);
        lost.encode(encoder.encode_descriptor("log_lines_lost", help, None, MetricType::Counter)?)
    }
}

fn gauge<N: EncodeGaugeValue>(
    encoder: &mut DescriptorEncoder<'_>,
    name: &str,
    help: &str,
    unit: Option<&Unit>,
    value: N,
) -> fmt::Result {
    ConstGauge::new(value).encode(encoder.encode_descriptor(name, help, unit, MetricType::Gauge)?)
}
