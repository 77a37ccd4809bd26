//! Pages and pictures made from records: the bench card, the drawing of a joint, the tightening range, the kit.

use super::records::{absent, id_in_path};
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::body::JsonBody;
use crate::api::failing::in_background;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::reply::{self, preferred};
use crate::api::says::{Faulty, NotFound, NotModified};
use crate::api::tags;
use crate::card::bench_card::{html, plain_text};
use crate::card::range_bar::{RangeBar, range_bar};
use crate::card::{Card, CardOptions, Kit, KitOptions, WrenchRange};
use crate::catalog::{Catalog, JointDrawing};
use crate::record::field::{Field, fields};
use crate::record::{Fault, Id, Kind, Place, Refused, Text, TorqueSetting};
use crate::tightening::TighteningRequest;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, HeaderValue, VARY};
use actix_web::{HttpRequest, HttpResponse, get, post, web};

const JSON: &str = "application/json";
const HTML: &str = "text/html";
const PLAIN: &str = "text/plain";
const SVG: &str = "image/svg+xml";

/// What the file of a card brings with it: its own style, and nothing else.
const CARD_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'";

/// The bench card of a joint
///
/// One joint on one page: cautions, what to prepare and renew, the fasteners with their heads, the passes with boxes to tick,
/// checked or unchecked, what the audit found, sources. As data, as an HTML file that needs no other file and prints on A4 and
/// Letter, or as plain text: `Accept` says which.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("variant" = Option<String>, Query, description = "Only what fits this variant of the machine",
            example = "bronze-housing", min_length = 1, max_length = 500, pattern = "^[!-~]([ -~]*[!-~])?$"),
    ),
    responses(
        (status = 200, description = "The card", content((Card = "application/json"), (String = "text/html"), (String = "text/plain")),
            headers(("ETag" = String, description = "The state of the book, and the form"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/card")]
pub async fn get_joint_card(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let variant: Option<Text> = asked.optional("variant");
    asked.finish(Some(()))?;
    let id = id_in_path(&id)?;
    let Some(form) = preferred(request.headers(), &[JSON, HTML, PLAIN]) else {
        return Err(Problem::new(&kinds::NOT_ACCEPTABLE, format!("what is here is {JSON}, {HTML} or {PLAIN}")));
    };
    let catalog = shared.catalog.clone();
    let tag = tags::of_form(&catalog.epoch(), catalog.sequence(), form.rsplit('/').next().unwrap_or(form));
    let card = in_background(move || {
        let options = CardOptions { variant: variant.map(|variant| variant.to_string()), ..CardOptions::default() };
        let printed_at = jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string();
        catalog.card(&id, &options, &printed_at)?.ok_or_else(|| absent(&catalog, Kind::Joint, &id))
    })
    .await?;
    if tags::is_known(&request, &tag) {
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag)).insert_header((VARY, "Accept")).finish());
    }
    let mut response = match form {
        HTML => {
            let mut page = with_type("text/html; charset=utf-8", html(&card));
            reply::set(&mut page, CONTENT_SECURITY_POLICY, CARD_POLICY);
            page
        }
        PLAIN => reply::text(plain_text(&card)),
        _ => reply::json(&card),
    };
    reply::set(&mut response, ETAG, &tag);
    response.headers_mut().insert(VARY, HeaderValue::from_static("Accept"));
    reply::set(&mut response, CACHE_CONTROL, "no-cache");
    Ok(response)
}

fn with_type(media_type: &'static str, body: String) -> HttpResponse {
    HttpResponse::Ok().insert_header((CONTENT_TYPE, media_type)).body(body)
}

/// The drawing of a joint
///
/// The positions with their numbers and heads and the order in which they are taken, as an SVG picture with a title and a
/// description. It is for people: the list of positions beside it says the same in words.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("pass" = Option<u32>, Query, description = "The order of this pass instead of that of the whole joint", example = 1,
            minimum = 1, maximum = 400),
        ("variant" = Option<String>, Query, description = "Only what fits this variant of the machine",
            example = "bronze-housing", min_length = 1, max_length = 500, pattern = "^[!-~]([ -~]*[!-~])?$"),
    ),
    responses(
        (status = 200, description = "The drawing", body = String, content_type = "image/svg+xml",
            headers(("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/drawing.svg")]
pub async fn get_joint_drawing(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let pass: Option<PassNumber> = asked.optional("pass");
    let variant: Option<Text> = asked.optional("variant");
    asked.finish(Some(()))?;
    let id = id_in_path(&id)?;
    let catalog = shared.catalog.clone();
    let tag = tags::of_book(&catalog.epoch(), catalog.sequence());
    let svg = in_background(move || {
        let pass = pass.map(|pass| pass.0);
        match catalog.joint_drawing(&id, pass, variant.as_ref().map(Text::as_str))? {
            JointDrawing::Drawn(svg) => Ok(svg),
            JointDrawing::NoJoint => Err(absent(&catalog, Kind::Joint, &id)),
            JointDrawing::NoPass(count) => Err(Problem::not_found(format!("{id} has {count} passes"))),
            JointDrawing::NoPositions => {
                let detail = format!("{id} has no drawing: its record gives no position with x_mm and y_mm");
                Err(Problem::not_found(detail))
            }
        }
    })
    .await?;
    Ok(picture(&request, &tag, svg))
}

/// The number of a pass.
struct PassNumber(u32);

impl std::str::FromStr for PassNumber {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let number = text.parse().ok().filter(|number| (1..=400).contains(number));
        number.map(Self).ok_or_else(|| "a pass is a whole number from 1 to 400".to_owned())
    }
}

/// A picture, or that the sender has it already.
fn picture(request: &HttpRequest, tag: &str, svg: String) -> HttpResponse {
    let mut response =
        if tags::is_known(request, tag) { HttpResponse::NotModified().finish() } else { with_type(SVG, svg) };
    reply::set(&mut response, ETAG, tag);
    reply::set(&mut response, CACHE_CONTROL, "no-cache");
    response
}

/// The tightening range of a fastener
///
/// The range from too loose to yielding as an SVG bar with the entered torque on it, what friction makes of it, and the same
/// in words as its description. A torque that a turn follows is not on the bar: it only seats the bolt.
#[utoipa::path(
    tag = "fasteners",
    params(("id" = String, Path, description = "The id of the fastener", example = "skua.diesel.raw-water-pump.cover.hex",
        min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$")),
    responses(
        (status = 200, description = "The bar", body = String, content_type = "image/svg+xml",
            headers(("ETag" = String, description = "The revision of the fastener"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/fasteners/{id}/range.svg")]
pub async fn get_fastener_range(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let id = id_in_path(&id)?;
    let stored = shared.catalog.get(&id)?.ok_or_else(|| absent(&shared.catalog, Kind::Fastener, &id))?;
    let fastener = stored.record.as_fastener().ok_or_else(|| absent(&shared.catalog, Kind::Fastener, &id))?;
    let bar = RangeBar::of_fastener(fastener).ok_or_else(|| {
        let why = match TighteningRequest::of_fastener(fastener) {
            _ if !fastener.role().is_limited_by_bolt() => {
                "what it may be tightened to is not limited by the bolt".to_owned()
            }
            None => "its property class is not stated".to_owned(),
            Some(asked) => crate::tightening::tightening(&asked).err().map(|why| why.to_string()).unwrap_or_default(),
        };
        Problem::not_found(format!("{id} has no tightening range: {why}"))
    })?;
    Ok(picture(&request, &tags::of_revision(stored.revision), range_bar(&bar)))
}

fields! {
    /// The joints that are to be opened.
    pub struct KitRequest {
        /// The joints; one named twice counts once.
        #[schema(min_items = 1, max_items = 400)]
        pub joints: Vec<Id>,
        /// The variant of the machine; without one, parts of every variant are named, each with what it fits.
        pub variant: Option<Text>,
        /// The torque wrenches at hand, each as its range; absent means the usual ones.
        #[schema(required = false, max_items = 400)]
        pub wrenches: Vec<TorqueSetting>,
    }
}

impl KitRequest {
    /// Reads the request, all faults at once.
    fn from_json(value: &serde_json::Value) -> Result<(Vec<Id>, KitOptions), Refused> {
        let mut faults = Vec::new();
        let read = Self::read(value, &Place::root(), &mut faults);
        let Some(Self { joints, variant, wrenches }) = read else { return Err(Refused(faults)) };
        if joints.is_empty() {
            let detail = "a kit is for at least one joint";
            faults.push(Fault::new("missing", &Place::root().below("joints"), detail).hint("Name the ids of joints"));
        }
        let mut ranges = Vec::new();
        for (i, wrench) in wrenches.into_iter().enumerate() {
            match WrenchRange::new(wrench) {
                Some(range) => ranges.push(range),
                None => {
                    let place = Place::root().below("wrenches").below(i);
                    let fault = Fault::new("unreadable", &place, "a wrench is written as its range").given(wrench);
                    faults.push(fault.allowed("a range such as 10-60 N·m"));
                }
            }
        }
        let variant = variant.map(|variant| variant.to_string());
        if faults.is_empty() { Ok((joints, KitOptions { variant, wrenches: ranges })) } else { Err(Refused(faults)) }
    }
}

/// The kit for some joints
///
/// What must lie on the bench before the first fastener is loosened: parts to renew with their counts, fasteners to measure,
/// sockets and drives, the fewest torque wrenches, fluids, and what the records do not say. Nothing is stored.
#[utoipa::path(
    tag = "joints",
    request_body(content = KitRequest, description = "The joints, and how the kit is made",
        example = json!({ "joints": ["skua.diesel.raw-water-pump.cover"], "wrenches": ["5-25 N·m", "20-100 N·m"] })),
    responses(
        (status = 200, description = "The kit", body = Kit),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/kits")]
pub async fn make_kit(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let (joints, options) = KitRequest::from_json(&body.0).map_err(Problem::faulty)?;
    let catalog = shared.catalog.clone();
    let kit = in_background(move || {
        let (kit, unknown) = catalog.kit(&joints, &options)?;
        if unknown.is_empty() { Ok(kit) } else { Err(unknown_joints(&catalog, &joints, &unknown)) }
    })
    .await?;
    Ok(reply::json(&kit))
}

/// That some of the joints are none, each with its place and what is near it.
fn unknown_joints(catalog: &Catalog, joints: &[Id], unknown: &[Id]) -> Problem {
    let fault = |(i, id): (usize, &Id)| {
        let place = Place::root().below("joints").below(i);
        let mut fault = Fault::new("unknown", &place, format!("there is no joint {id}")).given(id);
        let near: Vec<String> = catalog.ids_near(id).unwrap_or_default().iter().map(ToString::to_string).collect();
        if !near.is_empty() {
            fault = fault.hint(format!("Near it: {}", near.join(", ")));
        }
        fault
    };
    let faults = joints.iter().enumerate().filter(|(_, id)| unknown.contains(id)).map(fault).collect();
    Problem::of_faults(&kinds::FAULTY, Part::Body, faults)
}
