//! What a bolt is tightened to.

use crate::api::asked::Asked;
use crate::api::body::JsonBody;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::reply;
use crate::api::says::Faulty;
use crate::record::Fault;
use crate::tightening::{Tightening, TighteningRequest, tightening};
use actix_web::{HttpRequest, HttpResponse, post};

/// What a bolt is tightened to
///
/// Takes what is known about a bolt and its joint, and gives the torques between clamping enough and yielding; with a torque
/// and turns, what they come to: preload, utilisation, strain. What is not stated is looked up or assumed, and said so.
/// Nothing is stored.
#[utoipa::path(
    tag = "standards",
    request_body(content = TighteningRequest, description = "What is known; thread and property class must be given",
        example = json!({ "thread": "M8×1.25", "property_class": "8.8", "head": "hexagon-flange", "friction": "0.10-0.16",
            "torque": "20 N·m", "angles": ["90°"], "grip": "22 mm" })),
    responses(
        (status = 200, description = "What it comes to", body = Tightening),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/tightening")]
pub async fn compute_tightening(request: HttpRequest, body: JsonBody) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let asked = TighteningRequest::from_json(&body.0).map_err(Problem::faulty)?;
    let answer = tightening(&asked).map_err(|reason| {
        let mut fault = Fault::new("not-computable", &crate::record::Place::root(), reason.to_string());
        reason.pointer().clone_into(&mut fault.pointer);
        Problem::of_faults(&kinds::FAULTY, Part::Body, vec![fault])
    })?;
    Ok(reply::json(&answer))
}
