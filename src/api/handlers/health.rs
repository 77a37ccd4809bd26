//! Whether the service lives and can answer.

use crate::api::app::Shared;
use crate::api::problem::Problem;
use crate::api::problem_kinds as kinds;
use crate::api::reply;
use crate::api::says::NotReady;
use actix_web::{HttpResponse, get, web};
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
    responses(
        (status = 200, description = "The service can answer", body = Health),
        (status = 503, response = NotReady),
    ),
)]
#[get("/health/ready")]
pub async fn get_ready(shared: web::Data<Shared>) -> Result<HttpResponse, Problem> {
    let catalog = shared.catalog.clone();
    // A store that cannot write any more still reads; only flushing tells.
    let flushed = web::block(move || catalog.sync()).await;
    match flushed {
        Ok(Ok(())) => Ok(reply::json(&Health { status: "ready" })),
        Ok(Err(error)) => Err(Problem::new(&kinds::NOT_READY, error.to_string())),
        Err(error) => Err(Problem::internal(&error)),
    }
}
