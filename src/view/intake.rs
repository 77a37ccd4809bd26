//! What an import did.

use crate::catalog::{ImportReport, LineFault};
use serde::{Deserialize, Serialize};

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

/// What became of an intake.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum IntakeState {
    /// It is being read or stored.
    Running,
    /// It has no fault, and nothing was stored: it can be applied.
    Checked,
    /// It has faults, and nothing was stored.
    Refused,
    /// All of it is in the book.
    Stored,
    /// Some of it is in the book: the rest has faults, or was kept from being stored.
    PartlyStored,
    /// The service could not do it, or was stopped over it.
    Failed,
}

/// An intake and what became of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[schema(as = Intake)]
pub struct IntakeShown {
    /// Its name in the paths of the service.
    #[schema(pattern = "^[0-9a-f]{32}$", min_length = 32, max_length = 32)]
    pub id: String,
    /// What became of it.
    pub state: IntakeState,
    /// `check`, `whole` or `partial`.
    pub mode: &'static str,
    /// When it came.
    #[schema(value_type = String, format = DateTime)]
    pub at: String,
    /// When it is forgotten, or sooner, when 32 others have come since. Records that it stored stay.
    #[schema(value_type = String, format = DateTime)]
    pub expires_at: String,
    /// Who sent it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Why it came to no good end: a record was changed meanwhile, or the service could not go on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stopped: Option<String>,
    /// The numbers, and the first faults.
    #[serde(flatten)]
    pub report: IntakeView,
}

/// Intakes, the newest first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct IntakeList {
    /// The intakes, without their faults.
    pub items: Vec<IntakeShown>,
}
