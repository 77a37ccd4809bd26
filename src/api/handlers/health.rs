//! Whether the service lives and can answer.

use crate::api::problem::Problem;
use crate::api::reply;
use actix_web::{HttpResponse, get};
use serde::Serialize;

/// The state of the service.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Health {
    /// `live` or `ready`.
    #[schema(example = "live")]
    pub status: &'static str,
}

/// Whether the process lives
///
/// Answers as long as the process can answer anything. A supervisor restarts the service when it does not.
#[utoipa::path(
    tag = "service",
    security(()),
    responses((status = 200, description = "The process lives", body = Health)),
)]
#[get("/health/live")]
pub async fn get_live() -> HttpResponse {
    reply::json(&Health { status: "live" })
}

/// Whether the service can answer
///
/// Ready means that the store is open and can be read and written. A balancer sends no requests here while it is not.
#[utoipa::path(
    tag = "service",
    security(()),
    responses((status = 200, description = "The service can answer", body = Health)),
)]
#[get("/health/ready")]
pub async fn get_ready() -> Result<HttpResponse, Problem> {
    Ok(reply::json(&Health { status: "ready" }))
}
