//! A list of findings.

use crate::audit::{Finding, Severity};
use serde::Serialize;

/// Findings, and how many there are of each severity.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct FindingList {
    /// The findings.
    pub items: Vec<Finding>,
    /// How many errors there are, accepted ones left out.
    pub errors: usize,
    /// How many warnings, likewise.
    pub warnings: usize,
    /// How many notes, likewise.
    pub notes: usize,
    /// How many findings were accepted.
    pub accepted: usize,
}

impl FindingList {
    /// The list of these findings.
    #[must_use]
    pub fn of(items: Vec<Finding>) -> Self {
        let count = |severity| {
            items.iter().filter(|finding| finding.accepted.is_none() && finding.severity == severity).count()
        };
        Self {
            errors: count(Severity::Error),
            warnings: count(Severity::Warning),
            notes: count(Severity::Note),
            accepted: items.iter().filter(|finding| finding.accepted.is_some()).count(),
            items,
        }
    }
}
