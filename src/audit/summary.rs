//! What the findings of a record come to.

use super::finding::{Finding, Severity};

/// What the audit says about a record in short.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AuditSummary {
    /// The severity of the worst finding, accepted ones left out.
    pub worst: Option<Severity>,
    /// How many findings there are, accepted ones left out.
    pub count: usize,
    /// How many were accepted.
    pub accepted: usize,
}

impl AuditSummary {
    /// What findings come to: of one record, or of several.
    pub fn of<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Self {
        let mut summary = Self::default();
        for finding in findings {
            if finding.accepted.is_some() {
                summary.accepted += 1;
            } else {
                summary.count += 1;
                summary.worst = summary.worst.max(Some(finding.severity));
            }
        }
        summary
    }
}

impl std::iter::Sum for AuditSummary {
    fn sum<I: Iterator<Item = Self>>(summaries: I) -> Self {
        summaries.fold(Self::default(), |all, one| Self {
            worst: all.worst.max(one.worst),
            count: all.count + one.count,
            accepted: all.accepted + one.accepted,
        })
    }
}
