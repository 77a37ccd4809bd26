//! Pages and pictures made from one record: the bench card, the drawing of a joint, the tightening range.

use super::records::{absent, absent_as_of, id_in_path, moment_asked, there};
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::failing::in_background;
use crate::api::problem::Problem;
use crate::api::problem_kinds as kinds;
use crate::api::reply::{self, preferred};
use crate::api::says::{NotFound, NotModified};
use crate::api::tags;
use crate::card::bench_card::{html, plain_text};
use crate::card::range_bar::{RangeBar, range_bar};
use crate::card::turns::largest_step;
use crate::card::{Card, CardOptions};
use crate::catalog::JointDrawing;
use crate::record::{Kind, Text};
use crate::tightening::TighteningRequest;
use crate::view::printed_at;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, VARY};
use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Serialize;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ArrayBuilder, ObjectBuilder, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

/// Data.
pub const JSON: &str = "application/json";
/// A page that needs no other file.
pub const HTML: &str = "text/html";
/// Text for people.
pub const PLAIN: &str = "text/plain";
const SVG: &str = "image/svg+xml";

/// What the file of a card brings with it: its own style, and nothing else.
const CARD_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'";

/// The form that the sender likes best of those that are here.
///
/// # Errors
/// 406 if it takes none of them.
pub fn form_of(request: &HttpRequest, forms: &[&'static str]) -> Result<&'static str, Problem> {
    preferred(request.headers(), forms).ok_or_else(|| {
        let (last, others) = forms.split_last().unwrap_or((&JSON, &[]));
        Problem::new(&kinds::NOT_ACCEPTABLE, format!("what is here is {} or {last}", others.join(", ")))
    })
}

/// A sheet in one of its forms.
pub fn in_form(
    form: &str,
    data: &impl Serialize,
    page: impl FnOnce() -> String,
    text: impl FnOnce() -> String,
) -> HttpResponse {
    let mut response = match form {
        HTML => {
            let mut page = with_type("text/html; charset=utf-8", page());
            reply::set(&mut page, CONTENT_SECURITY_POLICY, CARD_POLICY);
            page
        }
        PLAIN => reply::text(text()),
        _ => reply::json(data),
    };
    reply::set(&mut response, VARY, "Accept");
    response
}

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
        ("wrench" = inline(Option<WrenchList>), Query, description = "The torque wrenches at hand, each as its range; absent means the usual ones",
            example = json!(["5-25 N·m", "20-100 N·m"]), style = Form, explode = false),
        ("step" = Option<String>, Query, description = "Turns are split into steps not larger than this; absent means 90°",
            example = "60°", min_length = 2, max_length = 6, pattern = "^([1-9][0-9]?|[12][0-9]{2}|3[0-5][0-9])([.][0-9])?°$|^360°$"),
        ("as_of" = Option<String>, Query, description = "The card of the joint as it was at this moment; it says so", format = DateTime,
            min_length = 10, max_length = 40, example = "2100-01-01T00:00:00Z"),
    ),
    responses(
        (status = 200, description = "The card", content((Card = "application/json"), (String = "text/html"), (String = "text/plain")),
            headers(("ETag" = String, description = "The state of the book, and the form"), ("Vary" = String, description = "Accept"))),
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
    let options = card_asked(&request)?;
    let id = id_in_path(&id)?;
    let form = form_of(&request, &[JSON, HTML, PLAIN])?;
    let catalog = shared.in_time();
    there(&catalog, Kind::Joint, &id)?.ok_or_else(|| absent(&catalog, Kind::Joint, &id))?;
    let tag = tags::of_form(&catalog.epoch(), catalog.sequence(), form.rsplit('/').next().unwrap_or(form));
    let card = in_background(move || {
        let card = catalog.card(&id, &options, &printed_at())?;
        card.ok_or_else(|| absent_as_of(&catalog, Kind::Joint, &id, options.as_of))
    });
    let made = async {
        let card = card.await?;
        Ok(in_form(form, &card, || html(&card), || plain_text(&card)))
    };
    let mut response = tags::unless_known(&request, tag, made).await?;
    reply::set(&mut response, VARY, "Accept");
    Ok(response)
}

/// The most wrenches behind `?`: an address has an end.
const WRENCHES_MAX: usize = 20;

/// Wrenches behind `?`, for the document.
struct WrenchList;

impl PartialSchema for WrenchList {
    fn schema() -> RefOr<Schema> {
        let range = "^[0-9]{1,4}([.][0-9]{1,3})?-[0-9]{1,4}([.][0-9]{1,3})? (N·m|lbf·ft|lbf·in|kgf·m|kgf·cm|cN·m)$";
        let item = ObjectBuilder::new().schema_type(Type::String).max_length(Some(40)).min_length(Some(3));
        let items = item.pattern(Some(range)).build();
        ArrayBuilder::new().items(items).min_items(Some(1)).max_items(Some(WRENCHES_MAX)).build().into()
    }
}

impl ToSchema for WrenchList {}

/// How a card is to be made, as it stands behind `?`.
fn card_asked(request: &HttpRequest) -> Result<CardOptions, Problem> {
    let mut asked = Asked::of(request);
    let mut options = CardOptions::default();
    let variant: Option<Text> = asked.optional("variant");
    options.variant = variant.map(|variant| variant.to_string());
    let wrenches = asked.list("wrench").unwrap_or_default();
    if wrenches.len() > WRENCHES_MAX {
        asked.unreadable("wrench", &wrenches.len().to_string(), format!("at most {WRENCHES_MAX} wrenches stand here"));
    }
    for wrench in wrenches.into_iter().take(WRENCHES_MAX) {
        match wrench.parse() {
            Ok(range) => options.wrenches.push(range),
            Err(error) => asked.unreadable("wrench", &wrench, error),
        }
    }
    if let Some(step) = asked.optional::<String>("step") {
        match largest_step(&step) {
            Ok(angle) => options.largest_step = angle,
            Err(error) => asked.unreadable("step", &step, error),
        }
    }
    options.as_of = moment_asked(&mut asked);
    asked.finish(Some(options))
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
        ("as_of" = Option<String>, Query, description = "The joint and its fasteners as they were at this moment", format = DateTime,
            min_length = 10, max_length = 40, example = "2100-01-01T00:00:00Z"),
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
    let as_of = moment_asked(&mut asked);
    asked.finish(Some(()))?;
    let id = id_in_path(&id)?;
    let catalog = shared.catalog.clone();
    let tag = tags::of_book(&catalog.epoch(), catalog.sequence());
    let svg = in_background(move || {
        let pass = pass.map(|pass| pass.0);
        match catalog.joint_drawing(&id, pass, variant.as_ref().map(Text::as_str), as_of)? {
            JointDrawing::Drawn(svg) => Ok(svg),
            JointDrawing::NoJoint => Err(absent_as_of(&catalog, Kind::Joint, &id, as_of)),
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
