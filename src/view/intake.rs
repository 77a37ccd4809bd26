//! What an import did.

use crate::catalog::{ImportReport, LineFault};
use serde::Serialize;

/// What an import did, with every fault of every line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct IntakeView {
    /// What the input is called.
    pub name: String,
    /// How many records it has.
    pub records: u64,
    /// How many were stored.
    pub stored: u64,
    /// How many are new to the book.
    pub new: u64,
    /// How many change what the book has.
    pub replaced: u64,
    /// How many the book has already, as they are.
    pub unchanged: u64,
    /// How many the book has with another content, which it keeps.
    pub skipped: u64,
    /// How many records have a fault.
    pub faulty_records: u64,
    /// How many faults there are in all.
    pub faults_total: u64,
    /// The first faults, in the order of the input.
    pub faults: Vec<LineFault>,
}

impl IntakeView {
    /// The report in its public shape.
    #[must_use]
    pub fn of(report: ImportReport) -> Self {
        Self {
            name: report.name,
            records: report.records,
            stored: report.stored,
            new: report.new,
            replaced: report.replaced,
            unchanged: report.unchanged,
            skipped: report.skipped,
            faulty_records: report.faulty_records,
            faults_total: report.faults_total,
            faults: report.faults,
        }
    }
}
