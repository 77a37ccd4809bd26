//! Version 1 of the stored forms: every value that has a notation is kept as its canonical text.

mod fastener;
mod joint;

use crate::record::{Accepted, Fits, Record, Source};
use fastener::FastenerV1;
use joint::JointV1;
use serde::{Deserialize, Serialize};
use std::fmt::Display;
use std::str::FromStr;

/// The schema number in the frame.
pub const SCHEMA: u16 = 1;

/// One revision of a record. It holds everything that its key says, so that it can be told from its bytes alone.
#[derive(Debug, Serialize, Deserialize)]
pub struct RevisionV1 {
    pub revision: u64,
    pub sequence: u64,
    /// Microseconds since 1970-01-01T00:00:00Z.
    pub changed_at: i64,
    pub changed_by: Option<String>,
    pub why: Option<String>,
    pub withdrawn: bool,
    pub record: RecordV1,
}

/// A record.
#[derive(Debug, Serialize, Deserialize)]
pub enum RecordV1 {
    Joint(Box<JointV1>),
    Fastener(Box<FastenerV1>),
}

#[derive(Debug, Serialize, Deserialize)]
pub struct FitsV1 {
    variants: Vec<String>,
    serials: Option<String>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct SourceV1 {
    document: Option<String>,
    edition: Option<String>,
    page: Option<String>,
    printed: Option<String>,
    entered_by: Option<String>,
    checked_by: Option<String>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct AcceptedV1 {
    rule: String,
    reason: String,
}

fn text<T: Display>(value: Option<&T>) -> Option<String> {
    value.map(ToString::to_string)
}

fn texts<T: Display>(values: &[T]) -> Vec<String> {
    values.iter().map(ToString::to_string).collect()
}

/// Reads a stored text; the error names the field.
fn read<T: FromStr<Err: Display>>(field: &str, text: &str) -> Result<T, String> {
    text.parse().map_err(|error| format!("{field}: {error}"))
}

fn read_option<T: FromStr<Err: Display>>(field: &str, text: Option<&String>) -> Result<Option<T>, String> {
    text.map(|text| read(field, text)).transpose()
}

fn read_list<T: FromStr<Err: Display>>(field: &str, texts: &[String]) -> Result<Vec<T>, String> {
    texts.iter().map(|text| read(field, text)).collect()
}

impl From<&Record> for RecordV1 {
    fn from(record: &Record) -> Self {
        match record {
            Record::Joint(joint) => Self::Joint(Box::new(joint.as_ref().into())),
            Record::Fastener(fastener) => Self::Fastener(Box::new(fastener.as_ref().into())),
        }
    }
}

impl RecordV1 {
    /// The id as text.
    pub fn id(&self) -> &str {
        match self {
            Self::Joint(joint) => &joint.id,
            Self::Fastener(fastener) => &fastener.id,
        }
    }

    /// The record; the error names the field that can't be read.
    pub fn read(&self) -> Result<Record, String> {
        Ok(match self {
            Self::Joint(joint) => Record::Joint(Box::new(joint.read()?)),
            Self::Fastener(fastener) => Record::Fastener(Box::new(fastener.read()?)),
        })
    }
}

impl From<&Fits> for FitsV1 {
    fn from(fits: &Fits) -> Self {
        Self { variants: texts(&fits.variants), serials: text(fits.serials.as_ref()) }
    }
}

impl FitsV1 {
    fn read(&self) -> Result<Fits, String> {
        Ok(Fits {
            variants: read_list("fits.variants", &self.variants)?,
            serials: read_option("fits.serials", self.serials.as_ref())?,
        })
    }
}

impl From<&Source> for SourceV1 {
    fn from(source: &Source) -> Self {
        Self {
            document: text(source.document.as_ref()),
            edition: text(source.edition.as_ref()),
            page: text(source.page.as_ref()),
            printed: text(source.printed.as_ref()),
            entered_by: text(source.entered_by.as_ref()),
            checked_by: text(source.checked_by.as_ref()),
        }
    }
}

impl SourceV1 {
    fn read(&self) -> Result<Source, String> {
        Ok(Source {
            document: read_option("source.document", self.document.as_ref())?,
            edition: read_option("source.edition", self.edition.as_ref())?,
            page: read_option("source.page", self.page.as_ref())?,
            printed: read_option("source.printed", self.printed.as_ref())?,
            entered_by: read_option("source.entered_by", self.entered_by.as_ref())?,
            checked_by: read_option("source.checked_by", self.checked_by.as_ref())?,
        })
    }
}

fn accepted_v1(accepted: &[Accepted]) -> Vec<AcceptedV1> {
    let one = |accepted: &Accepted| AcceptedV1 { rule: accepted.rule.to_string(), reason: accepted.reason.to_string() };
    accepted.iter().map(one).collect()
}

fn read_accepted(accepted: &[AcceptedV1]) -> Result<Vec<Accepted>, String> {
    let one = |accepted: &AcceptedV1| {
        Ok(Accepted {
            rule: read("accepted.rule", &accepted.rule)?,
            reason: read("accepted.reason", &accepted.reason)?,
        })
    };
    accepted.iter().map(one).collect()
}
