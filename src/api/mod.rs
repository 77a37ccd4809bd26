//! The HTTP API: JSON and CSV for other shop software, described by an OpenAPI document that is made from the handlers.
//!
//! A handler reads its parameters, asks the catalog or the pure core once, and answers. Everything that is a no is a
//! problem (RFC 9457). This module knows no storage and judges no number.

mod access;
mod app;
mod asked;
mod body;
mod cors;
mod document;
mod edge;
mod entry_form;
mod failing;
mod handlers;
mod intakes;
mod last_use;
mod metrics;
mod observe;
mod options;
mod patch;
mod problem;
mod problem_kinds;
mod question;
mod rates;
mod ready;
mod reply;
mod request_id;
mod says;
mod serve;
mod sharing;
mod short_way;
mod sign_in;
mod stopping;
mod streaming;
mod tags;
mod tls;
mod tokens;
mod unmatched;

pub use access::Access;
pub use app::{Shared, app, app_beside};
pub use document::{document, document_text};
pub use failing::chain;
pub use options::{Limits, Options, TlsFiles};
pub use problem::{Part, Problem, ProblemDocument, ProblemError};
pub use problem_kinds::{PROBLEM_KINDS, ProblemKind};
pub use serve::{Listening, Ready, ServeError, run, run_on};
pub use stopping::Stopping;
pub use tokens::{Scope, Token, TokenError, Tokens};
