//! The document of the API: what the handlers say about themselves, and what holds for all of them.

mod common;
mod examples;
mod inputs;
mod links;
mod texts;
mod tidy;

use super::app;
use serde_json::Value;
use utoipa::openapi::{InfoBuilder, LicenseBuilder, OpenApi, OpenApiBuilder, Server, info, tag::TagBuilder};

/// The name of the security scheme: a token in the header `Authorization`.
pub const BEARER: &str = "bearer";

const ABOUT: &str = "A book of fastener specifications that checks every number it takes in: look-up by head, thread and \
position, the stages of tightening with their order, an audit against published tables and the mechanics of the bolt.\n\n\
Quantities that people state are text with a unit and keep it; computed quantities are numbers whose key carries the unit. \
The audit says what a number was compared with, never that it is right. The maker's current instructions, local codes and \
licensed practice come before this book. Nobody waits long for the audit of much that was written: what it has not come to yet is \
shown with `is_pending` in the place of its word, unless `Book-Seen` asks to wait.\n\n\
`HEAD` works wherever `GET` does. Every answer has a `Request-Id`. Everything that is a no is `application/problem+json` \
with all faults at once, but for what is not HTTP at all, a head beyond 128 KiB, or one that does not end in time: that is \
cut off with a bare 400, 431 or 408.\n\n\
What is answered about the book has a tag: sent again as `If-None-Match` it is a 304 where nothing has changed. `as_of` asks for \
the book as it was at a moment.";

const TAGS: &[(&str, &str)] = &[
    ("fasteners", "Look up, write and withdraw fasteners"),
    ("joints", "Look up, write and withdraw joints; what closes them, their cards and drawings"),
    ("assemblies", "The tree that joints lie in"),
    ("audit", "Findings, and the rules they come from"),
    ("standards", "What published tables say, and conversions"),
    ("history", "Changes of the book"),
    ("bulk", "Many records at once, in and out"),
    ("service", "The service itself"),
];

/// The document before the handlers have entered themselves.
#[must_use]
pub fn blank() -> OpenApi {
    let license = LicenseBuilder::new().name("MIT").identifier(Some("MIT")).build();
    let info = InfoBuilder::new()
        .title("clampbook")
        .version(env!("CARGO_PKG_VERSION"))
        .description(Some(ABOUT))
        .license(Some(license))
        .contact(Some(info::ContactBuilder::new().name(Some("The maintainers of clampbook")).build()))
        .build();
    let tags = TAGS.iter().map(|(name, about)| TagBuilder::new().name(*name).description(Some(*about)).build());
    OpenApiBuilder::new().info(info).servers(Some([Server::new("/")])).tags(Some(tags)).build()
}

/// The document of the API as the handlers of this program make it.
#[must_use]
pub fn document() -> Value {
    let (_, document) = app::with_routes(blank()).split_for_parts();
    let mut document = serde_json::to_value(document).unwrap_or_default();
    common::complete(&mut document);
    inputs::close(&mut document);
    tidy::tidy(&mut document);
    examples::enter(&mut document);
    links::enter(&mut document);
    document
}

/// The document as it is checked in and served: JSON, indented, ended by a line break.
#[must_use]
pub fn document_text() -> String {
    text_of(&document())
}

/// The same of a document that was made already.
pub(super) fn text_of(document: &Value) -> String {
    format!("{document:#}\n")
}
