//! Whether the service lives and can answer.

use crate::api::app::Shared;
use crate::api::problem::Problem;
use crate::api::problem_kinds as kinds;
use crate::api::reply;
use crate::api::says::NotReady;
use crate::catalog::Freshness;
use actix_web::http::header::RETRY_AFTER;
use actix_web::{HttpResponse, get, web};
use serde::Serialize;

/// The state of the service.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Health {
    /// `live` or `ready`.
    #[schema(example = "live")]
    pub status: &'static str,
    /// What other servers wrote longer ago than this is seen by this one, in seconds, if others share its book.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, minimum = 0, maximum = 1e9, example = 0.4)]
    pub behind_s: Option<f64>,
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
    reply::json(&Health { status: "live", behind_s: None })
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
    if shared.stopping.has_begun() {
        return Err(Problem::new(&kinds::NOT_READY, "the service is stopping").header(RETRY_AFTER, "5"));
    }
    let freshness = shared.catalog.freshness();
    if let Some(Freshness { is_late: true, behind, why, .. }) = freshness {
        tracing::warn!(behind = behind.as_secs_f64(), why, "not ready");
        let detail =
            format!("what this server holds may be {:.1} s behind what others have written", behind.as_secs_f64());
        return Err(Problem::new(&kinds::NOT_READY, detail).header(RETRY_AFTER, "5"));
    }
    let behind_s = freshness.map(|freshness| freshness.behind.as_secs_f64());
    let catalog = shared.catalog.clone();
    // A store that cannot write any more still reads; only flushing tells.
    let flushed = web::block(move || catalog.sync()).await;
    match flushed {
        Ok(Ok(())) => Ok(reply::json(&Health { status: "ready", behind_s })),
        Ok(Err(error)) => Err(Problem::new(&kinds::NOT_READY, error.to_string())),
        Err(error) => Err(Problem::internal(&error)),
    }
}
