//! `openapi`: the document of the HTTP API.

use super::failure::Failure;
use super::output::Output;

/// The document of the HTTP API (OpenAPI 3.1).
///
/// As it is checked in under openapi/.
#[derive(Debug, clap::Args)]
pub struct Arguments {}

/// Prints the document.
///
/// # Errors
/// If it cannot be written.
pub fn run(_arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    output.write(crate::api::document_text().as_bytes())
}
