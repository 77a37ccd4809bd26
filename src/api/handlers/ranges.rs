//! The tightening range of a fastener that is not stored, as a picture.

use crate::api::asked::Asked;
use crate::api::body::JsonBody;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::says::Faulty;
use crate::card::{RangeBar, range_bar};
use crate::record::{Fastener, Fault, Place, Record};
use actix_web::{HttpRequest, HttpResponse, post};

/// Draw a tightening range
///
/// Draws as SVG the torques between clamping enough and yielding, and on them the torque of the fastener that is sent. Nothing is
/// stored. The picture says what a torque was compared with, never that it is right.
#[utoipa::path(
    tag = "audit",
    request_body(content = Fastener, description = "The fastener, with its thread and its property class",
        example = json!({ "kind": "fastener", "id": "skua.diesel.raw-water-pump.cover.hex",
            "joint": "skua.diesel.raw-water-pump.cover", "head": "hexagon-flange", "thread": "M8×1.25",
            "property_class": "8.8", "stages": ["20 N·m"] })),
    responses(
        (status = 200, description = "The picture", body = String, content_type = "image/svg+xml"),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/ranges")]
pub async fn compute_range(request: HttpRequest, body: JsonBody) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let record = Record::from_json(&body.0).map_err(Problem::faulty)?;
    let bar = record.as_fastener().and_then(RangeBar::of_fastener).ok_or_else(|| {
        let detail =
            "no range can be stated: thread and property class must be known, and the torque be limited by the bolt";
        Problem::of_faults(&kinds::FAULTY, Part::Body, vec![Fault::new("not-computable", &Place::root(), detail)])
    })?;
    Ok(HttpResponse::Ok().content_type("image/svg+xml").body(range_bar(&bar)))
}
