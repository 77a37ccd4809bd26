//! Limits of size: how large and how small a thread of a tolerance class may be.

use super::{Form, Thread, ThreadClass, tolerance_iso, tolerance_unified};
use crate::units::Length;

/// The smallest and largest permitted size of one diameter; `None` where the standard sets no limit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Span {
    /// Smallest permitted size.
    pub min: Option<Length>,
    /// Largest permitted size.
    pub max: Option<Length>,
}

impl Span {
    pub(super) fn between(min: Length, max: Length) -> Self {
        Self { min: Some(min), max: Some(max) }
    }

    pub(super) fn from(min: Length) -> Self {
        Self { min: Some(min), max: None }
    }
}

/// Limits of size of a thread in one tolerance class, before coating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    pub(super) external: bool,
    pub(super) major: Span,
    pub(super) pitch: Span,
    pub(super) minor: Span,
}

impl Limits {
    /// Whether these are limits of a bolt thread.
    #[must_use]
    pub fn is_external(&self) -> bool {
        self.external
    }

    /// Major diameter: d of a bolt; D of a nut, which has no upper limit.
    #[must_use]
    pub fn major(&self) -> Span {
        self.major
    }

    /// Pitch diameter: d2 or D2.
    #[must_use]
    pub fn pitch(&self) -> Span {
        self.pitch
    }

    /// Minor diameter. Nut: D1. Bolt, metric: from the smallest root d3 that the standard's smallest root
    /// radius of P/8 leaves, to the basic profile moved by the fundamental deviation. Bolt, unified: from
    /// the root of the sharp form at the smallest pitch diameter, to the root of the UNR form at the
    /// largest; both are reference sizes in the standard.
    #[must_use]
    pub fn minor(&self) -> Span {
        self.minor
    }
}

impl Thread {
    /// Limits of size in a tolerance class, for a normal length of engagement. Metric: ISO 965-1:1998,
    /// tables and section 13. Unified: ASME B1.1-2003, section 5. `None` if the class is unknown or of the
    /// other system, if ISO 965-1 has no such grade for this diameter and pitch, or if the thread has no
    /// geometry.
    #[must_use]
    pub fn limits(&self, class: &ThreadClass) -> Option<Limits> {
        self.geometry()?;
        match &self.0 {
            Form::Metric(metric) => {
                let (pitch, crest) = class.iso()?;
                tolerance_iso::limits(metric.diameter_mm(), metric.pitch_mm()?, pitch, crest)
            }
            Form::Unified(unified) => {
                let (number, external) = class.unified()?;
                let engagement = tolerance_unified::engagement_in(*unified)?;
                tolerance_unified::limits(
                    unified.diameter_in(),
                    unified.threads_per_inch()?,
                    engagement,
                    number,
                    external,
                )
            }
            Form::Other(_) => None,
        }
    }

    /// The class that fasteners of this thread have where none is stated: 6g and 6H (6h and 5H up to M1.4,
    /// ISO 965-2:1998), 2A and 2B (ASME B1.1). Falls back on the finer grades that a very fine pitch has.
    /// `None` if the thread has no limits of size.
    #[must_use]
    pub fn usual_class(&self, external: bool) -> Option<ThreadClass> {
        let small = matches!(&self.0, Form::Metric(metric) if metric.diameter_mm() <= 1.4);
        let candidates: &[&str] = match (&self.0, external) {
            (Form::Metric(_), true) if small => &["6h"],
            (Form::Metric(_), true) => &["6g", "6h"],
            (Form::Metric(_), false) if small => &["5H", "4H"],
            (Form::Metric(_), false) => &["6H", "5H", "4H"],
            (Form::Unified(_), true) => &["2A"],
            (Form::Unified(_), false) => &["2B"],
            (Form::Other(_), _) => &[],
        };
        let classes = candidates.iter().filter_map(|text| text.parse().ok());
        classes.into_iter().find(|class| self.limits(class).is_some())
    }

    /// Lengths of engagement that count as normal (N), for which [`Thread::limits`] holds: ISO 965-1:1998,
    /// table 2. `None` for threads that the table does not have, and for unified threads.
    #[must_use]
    pub fn normal_engagement(&self) -> Option<Span> {
        match &self.0 {
            Form::Metric(metric) => tolerance_iso::normal_engagement(metric.diameter_mm(), metric.pitch_mm()?),
            _ => None,
        }
    }
}
