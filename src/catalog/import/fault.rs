//! The faults of an input and the report of an import.

use super::super::table::column;
use super::{ImportOptions, MayCheck};
use crate::query::Stored;
use crate::record::{Fault, Record};
use serde::{Deserialize, Serialize};
use std::fmt;

/// One fault of one record of an input.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LineFault {
    /// The physical line on which the record begins, from 1.
    pub line: u64,
    /// The number of the record, from 1.
    pub record: u64,
    /// The column, if the input is a table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// The fault.
    #[serde(flatten)]
    pub fault: Fault,
}

impl fmt::Display for LineFault {
    /// `17: torque "95" has no unit. Write 95 N·m.`: the name of the input and a colon belong before it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.line)?;
        match &self.column {
            Some(column) if self.fault.code != "no-unit" => write!(f, "{column}: ")?,
            None if !self.fault.pointer.is_empty() => write!(f, "{}: ", self.fault.pointer)?,
            _ => {}
        }
        write!(f, "{}.", self.fault.detail)?;
        match &self.fault.hint {
            Some(hint) => write!(f, " {hint}."),
            None => Ok(()),
        }
    }
}

/// What an import did, or would do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ImportReport {
    /// What the input is called.
    pub name: String,
    /// How many records it has.
    pub records: u64,
    /// How many of them are new to the book.
    pub new: u64,
    /// How many change what the book has.
    pub replaced: u64,
    /// How many the book has already, as they are.
    pub unchanged: u64,
    /// How many the book has with another content, which it keeps.
    pub skipped: u64,
    /// How many were stored.
    pub stored: u64,
    /// The first faults, in the order of the input.
    pub faults: Vec<LineFault>,
    /// How many faults there are in all.
    pub faults_total: u64,
    /// How many records have a fault.
    pub faulty_records: u64,
    /// The last change of the book after the import.
    pub sequence: u64,
}

impl ImportReport {
    /// The report of an import that has read nothing yet.
    #[must_use]
    pub fn empty(options: &ImportOptions) -> Self {
        Self {
            name: options.name.clone(),
            records: 0,
            new: 0,
            replaced: 0,
            unchanged: 0,
            skipped: 0,
            stored: 0,
            faults: Vec::new(),
            faults_total: 0,
            faulty_records: 0,
            sequence: 0,
        }
    }

    /// Whether no record has a fault.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.faults_total == 0
    }

    /// The faults as lines for people: `parts.csv:17: torque "95" has no unit. Write 95 N·m.`
    pub fn lines(&self) -> impl Iterator<Item = String> + '_ {
        self.faults.iter().map(|fault| format!("{}:{fault}", self.name))
    }
}

/// A fault and the column it is in.
pub struct Blame {
    pub fault: Fault,
    pub column: Option<String>,
}

impl Blame {
    /// A fault of the whole record.
    pub fn whole(code: &'static str, detail: impl Into<String>) -> Self {
        let fault = Fault::new(code, &crate::record::Place::root(), detail);
        Self { fault, column: None }
    }

    /// A fault of a record that came from JSON.
    pub fn of(fault: Fault) -> Self {
        Self { fault, column: None }
    }

    /// A fault of a record that came from a row: its place tells the column.
    pub fn in_table(fault: Fault) -> Self {
        let steps: Vec<&str> = fault.pointer.split('/').skip(1).collect();
        let path = |count: usize| steps[..count].join(".");
        let known = (1..=steps.len().min(2)).rev().map(path).find(|path| column(path).is_some());
        let column = known.or_else(|| steps.first().map(|step| (*step).to_owned()));
        Self { fault, column }
    }
}

/// The fault that an id stands twice in one input.
pub fn twice(record: &Record, first: u64) -> Blame {
    let detail = format!("\"{}\" stands in record {first} already", record.id());
    let place = crate::record::Place::root().below("id");
    let fault = Fault::new("given-twice", &place, detail).given(record.id()).hint("Keep one of the two");
    Blame { fault, column: Some("id".to_owned()) }
}

/// The fault that the book has the id with another content.
pub fn already_there(there: &Stored) -> Blame {
    let id = there.record.id();
    let detail = format!("the book has \"{id}\" already, with another content (revision {})", there.revision);
    let place = crate::record::Place::root().below("id");
    let fault = Fault::new("already-there", &place, detail)
        .given(id)
        .hint("Import with on_same replace or skip, or take the record out");
    Blame { fault, column: Some("id".to_owned()) }
}

/// The fault that whoever brings a record in may not say that it was checked.
pub fn not_allowed(record: &Record, there: Option<&Stored>, may_check: &MayCheck) -> Option<Blame> {
    let checked_by = |record: &Record| record.source().and_then(|source| source.checked_by.clone());
    let now = checked_by(record)?;
    if there.and_then(|there| checked_by(&there.record)) == Some(now.clone()) {
        return None;
    }
    let detail = match (may_check, there) {
        (MayCheck::Everybody, _) => return None,
        (MayCheck::Nobody, _) => "saying that an entry was checked needs the scope check",
        (MayCheck::Another(name), Some(there))
            if there.changed_by.as_ref().is_none_or(|author| author.as_str() != name) =>
        {
            return None;
        }
        (MayCheck::Another(_), _) => "an entry is checked by somebody other than the one who stored it",
    };
    let place = crate::record::Place::root().below("source").below("checked_by");
    let fault = Fault::new("not-allowed", &place, detail).given(now).hint("Leave checked_by out");
    Some(Blame { fault, column: Some("source.checked_by".to_owned()) })
}

/// The faults of an input: the first of them kept, all of them counted.
pub struct Faults {
    most: usize,
    kept: Vec<LineFault>,
    total: u64,
    records: u64,
}

impl Faults {
    pub fn new(options: &ImportOptions) -> Self {
        Self { most: options.faults_max, kept: Vec::new(), total: 0, records: 0 }
    }

    pub fn is_empty(&self) -> bool {
        self.total == 0
    }

    /// Enters the faults of a record, and gives them with their place.
    pub fn add(&mut self, line: u64, record: u64, blames: Vec<Blame>) -> Vec<LineFault> {
        let placed = |Blame { fault, column }| LineFault { line, record, column, fault };
        let faults: Vec<LineFault> = blames.into_iter().map(placed).collect();
        self.records += 1;
        self.total += faults.len() as u64;
        let room = self.most.saturating_sub(self.kept.len());
        self.kept.extend(faults.iter().take(room).cloned());
        faults
    }

    pub fn into_report(self, report: &mut ImportReport) {
        report.faults = self.kept;
        report.faults_total = self.total;
        report.faulty_records = self.records;
    }
}
