//! Problems: every answer that is a no, as `application/problem+json` (RFC 9457), all faults at once.

use super::problem_kinds as kinds;
use super::problem_kinds::ProblemKind;
use crate::answer::json_bytes;
use crate::catalog::LineFault;
use crate::record::{Fault, Refused};
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use serde_json::{Map, Value};
use std::fmt;

/// The media type of problems.
pub const PROBLEM_JSON: &str = "application/problem+json";

/// A no to a request.
#[derive(Debug)]
pub struct Problem(Box<Inner>);

#[derive(Debug)]
struct Inner {
    kind: &'static ProblemKind,
    detail: String,
    errors: Vec<ProblemError>,
    more: Map<String, Value>,
    headers: Vec<(HeaderName, HeaderValue)>,
}

/// One fault of a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct ProblemError {
    /// What kind of fault, a word for programs.
    #[schema(example = "unreadable")]
    pub code: String,
    /// Which part of the request it is in.
    #[serde(rename = "in")]
    pub part: Part,
    /// The place in that part as a JSON pointer (RFC 6901): a member of the body, or the name of a parameter.
    #[schema(example = "/stages/1")]
    pub pointer: String,
    /// The physical line of what was taken in on which the record begins, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
    /// The number of the record of what was taken in, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<u64>,
    /// The column, if what was taken in is a table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// What stood there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub given: Option<String>,
    /// What may stand there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<String>,
    /// The fault in one sentence.
    pub detail: String,
    /// What to do about it, where that can be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hint: Option<String>,
}

impl ProblemError {
    fn of(part: Part, fault: Fault) -> Self {
        Self {
            code: fault.code.into_owned(),
            part,
            pointer: clipped(fault.pointer),
            line: None,
            record: None,
            column: None,
            given: fault.given.map(clipped),
            allowed: fault.allowed.map(clipped),
            detail: clipped(fault.detail),
            hint: fault.hint.map(clipped),
        }
    }
}

/// A part of a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Part {
    /// The path.
    Path,
    /// The parameters after `?`.
    Query,
    /// A header.
    Header,
    /// The body.
    Body,
}

/// The members of a problem as they are sent (RFC 9457).
#[derive(Debug, Serialize, utoipa::ToSchema)]
#[schema(as = Problem)]
pub struct ProblemDocument {
    /// The kind of problem: a path of this service that answers in words.
    #[serde(rename = "type")]
    #[schema(format = "uri-reference", example = "/problems/not-found")]
    pub kind: String,
    /// The kind in a few words.
    pub title: &'static str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    pub status: u16,
    /// What happened this time.
    pub detail: String,
    /// Every fault of the request.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub errors: Vec<ProblemError>,
    /// Where the log of the service has more.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri-reference")]
    pub instance: Option<String>,
}

impl Problem {
    /// A problem of this kind.
    #[must_use]
    pub fn new(kind: &'static ProblemKind, detail: impl Into<String>) -> Self {
        let detail = detail.into();
        Self(Box::new(Inner { kind, detail, errors: Vec::new(), more: Map::new(), headers: Vec::new() }))
    }

    /// Faults that keep the request from being read (400).
    #[must_use]
    pub fn unreadable(part: Part, faults: Vec<Fault>) -> Self {
        Self::of_faults(&kinds::UNREADABLE, part, faults)
    }

    /// Faults of what was read (422).
    #[must_use]
    pub fn faulty(Refused(faults): Refused) -> Self {
        Self::of_faults(&kinds::FAULTY, Part::Body, faults)
    }

    /// Faults as a problem of some kind.
    #[must_use]
    pub fn of_faults(kind: &'static ProblemKind, part: Part, faults: Vec<Fault>) -> Self {
        let detail = match faults.as_slice() {
            [one] => one.detail.clone(),
            many => format!("there are {} faults, each with its place in errors", many.len()),
        };
        let mut problem = Self::new(kind, clipped(detail));
        problem.0.errors = faults.into_iter().map(|fault| ProblemError::of(part, fault)).collect();
        problem
    }

    /// With the faults of the lines of what was taken in.
    #[must_use]
    pub fn with_lines(mut self, faults: &[LineFault]) -> Self {
        let error = |fault: &LineFault| ProblemError {
            line: Some(fault.line),
            record: Some(fault.record),
            column: fault.column.clone().map(clipped),
            ..ProblemError::of(Part::Body, fault.fault.clone())
        };
        self.0.errors.extend(faults.iter().map(error));
        self
    }

    /// There is nothing here (404).
    #[must_use]
    pub fn not_found(detail: impl Into<String>) -> Self {
        Self::new(&kinds::NOT_FOUND, detail)
    }

    /// Something went wrong inside (500): what is sent names an instance, what is known goes to the log.
    #[must_use]
    pub fn internal(cause: &dyn fmt::Display) -> Self {
        let instance = format!("/problems/internal#{}", super::request_id::fresh());
        tracing::error!(%instance, %cause, "a request failed");
        let mut problem = Self::new(&kinds::INTERNAL, "the log of the service says what happened");
        problem.0.more.insert("instance".to_owned(), instance.into());
        problem
    }

    /// There was no answer in time (503); a write may still be done.
    #[must_use]
    pub fn took_too_long(what: &str, writes: bool) -> Self {
        let then = if writes {
            "It may still be done: read the record before writing again"
        } else {
            "Ask for less at once, or later"
        };
        Self::new(&kinds::TOOK_TOO_LONG, format!("{what}. {then}")).header(header::RETRY_AFTER, "5")
    }

    /// With a header of its own.
    #[must_use]
    pub fn header(mut self, name: HeaderName, value: &str) -> Self {
        if let Ok(value) = HeaderValue::from_str(value) {
            self.0.headers.push((name, value));
        }
        self
    }

    /// With a member beyond those of every problem.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Serialize) -> Self {
        self.0.more.insert(name.to_owned(), serde_json::to_value(value).unwrap_or_default());
        self
    }

    /// The kind.
    #[must_use]
    pub fn kind(&self) -> &'static ProblemKind {
        self.0.kind
    }

    /// What happened this time.
    #[must_use]
    pub fn detail(&self) -> &str {
        &self.0.detail
    }

    /// What the log says of it: its kind, and where the log has more. What was sent is not repeated there.
    #[must_use]
    pub fn in_the_log(&self) -> String {
        match self.0.more.get("instance").and_then(Value::as_str) {
            Some(instance) => format!("{} {instance}", self.0.kind.name),
            None => self.0.kind.name.to_owned(),
        }
    }

    fn document(&self) -> Value {
        let document = ProblemDocument {
            kind: format!("/problems/{}", self.0.kind.name),
            title: self.0.kind.title,
            status: self.0.kind.status.as_u16(),
            detail: self.0.detail.clone(),
            errors: self.0.errors.clone(),
            instance: None,
        };
        let mut value = serde_json::to_value(document).unwrap_or_default();
        if let Value::Object(members) = &mut value {
            members.extend(self.0.more.clone());
        }
        value
    }
}

/// The most characters of one text in a problem.
const CHARACTERS_MAX: usize = 2000;

/// A text without its end, where it is longer than anybody reads: what was sent must not come back whole.
fn clipped(text: String) -> String {
    if text.chars().count() <= CHARACTERS_MAX {
        return text;
    }
    text.chars().take(CHARACTERS_MAX - 1).chain(['…']).collect()
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.0.kind.name, self.0.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.0.kind.status
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.0.kind.status);
        response.insert_header((header::CONTENT_TYPE, PROBLEM_JSON));
        response.insert_header((header::CACHE_CONTROL, "no-store"));
        for (name, value) in &self.0.headers {
            response.insert_header((name.clone(), value.clone()));
        }
        response.body(json_bytes(&self.document()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Place;

    #[test]
    fn says_all_faults_at_once_in_the_members_of_the_standard() {
        let faults = vec![
            Fault::new("unreadable", &Place::root().below("head"), "\"hexagonal\" is not a kind of head")
                .given("hexagonal"),
            Fault::new("unknown-parameter", &Place::root().below("hed"), "there is no parameter \"hed\""),
        ];
        let value = Problem::unreadable(Part::Query, faults).document();
        assert_eq!((&value["type"], &value["status"]), (&"/problems/unreadable".into(), &400.into()));
        assert_eq!(value["errors"][0]["pointer"], "/head");
        assert_eq!(value["errors"][1]["in"], "query");
        assert!(value.get("instance").is_none());
    }

    #[test]
    fn a_long_text_does_not_come_back_whole() {
        let fault =
            Fault::new("unreadable", &Place::root(), "ä".repeat(CHARACTERS_MAX + 1)).given("7".repeat(CHARACTERS_MAX));
        let value = Problem::unreadable(Part::Body, vec![fault]).document();
        let detail = value["errors"][0]["detail"].as_str().unwrap();
        assert_eq!((detail.chars().count(), detail.ends_with("ä…")), (CHARACTERS_MAX, true));
        // What was given is cut shorter still, by the fault itself.
        assert_eq!(value["errors"][0]["given"], format!("{}…", "7".repeat(80)));
    }

    #[test]
    fn what_went_wrong_inside_is_not_told_outside() {
        let value = Problem::internal(&"secret path /srv/x").document();
        assert!(!value.to_string().contains("secret"));
        assert!(value["instance"].as_str().unwrap().starts_with("/problems/internal#"));
    }
}
