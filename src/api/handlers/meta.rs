//! What the API says about itself: its document, the page that shows it, and the problems in words.

use crate::api::app::Shared;
use crate::api::problem::Problem;
use crate::api::problem_kinds::{PROBLEM_KINDS, problem_kind};
use crate::api::reply;
use crate::api::says::NotFound;
use crate::record::did_you_mean;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, LOCATION};
use actix_web::{HttpResponse, get, web};
use std::sync::Arc;

/// This document
///
/// The description of the whole API in OpenAPI 3.1, made from the handlers that answer.
#[utoipa::path(
    tag = "service",
    responses((status = 200, description = "The document", body = serde_json::Value, content_type = "application/json")),
)]
#[get("/openapi.json")]
pub async fn get_openapi(shared: web::Data<Shared>) -> HttpResponse {
    HttpResponse::Ok().insert_header((CONTENT_TYPE, "application/json")).body(shared.document)
}

/// A kind of problem in words
///
/// What the `type` of a problem means and what to do about it.
#[utoipa::path(
    tag = "service",
    params(("name" = String, Path, description = "The name of the kind, the last part of the problem's type",
        example = "not-found", min_length = 1, max_length = 60, pattern = "^[a-z-]+$")),
    responses(
        (status = 200, description = "The page of the kind", body = String, content_type = "text/plain"),
        (status = 404, response = NotFound),
    ),
)]
#[get("/problems/{name}")]
pub async fn get_problem(name: web::Path<String>) -> Result<HttpResponse, Problem> {
    match problem_kind(&name) {
        Some(kind) => Ok(reply::text(kind.words())),
        None => {
            let names: Vec<&str> = PROBLEM_KINDS.iter().map(|kind| kind.name).collect();
            let hint = did_you_mean(&name, &names).map(|hint| format!(" {hint}?")).unwrap_or_default();
            Err(Problem::not_found(format!("no kind of problem is called \"{name}\".{hint}")))
        }
    }
}

/// Leads to the page that shows the document.
pub async fn to_docs() -> HttpResponse {
    HttpResponse::PermanentRedirect().insert_header((LOCATION, "/docs/")).finish()
}

/// The files of the page that shows the document; every one is in the program, nothing is asked of the network.
///
/// # Errors
/// If there is no such file.
pub async fn docs_file(file: web::Path<String>) -> Result<HttpResponse, Problem> {
    let config = utoipa_swagger_ui::Config::from("/openapi.json").validator_url("none");
    match utoipa_swagger_ui::serve(&file, Arc::new(config)) {
        Ok(Some(found)) => Ok(HttpResponse::Ok()
            .insert_header((CONTENT_TYPE, found.content_type))
            .insert_header((CACHE_CONTROL, "no-cache"))
            .insert_header((CONTENT_SECURITY_POLICY, DOCS_POLICY))
            .body(found.bytes.into_owned())),
        Ok(None) => Err(Problem::not_found(format!("there is no file {file} here"))),
        Err(error) => Err(Problem::internal(&error)),
    }
}

/// The page brings its own scripts and styles, and pictures inside its styles.
const DOCS_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";
