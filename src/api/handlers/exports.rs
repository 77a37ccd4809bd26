//! The book as text that other programs read: complete, counted before the first byte, never padded.

use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::edge::OnlyHead;
use crate::api::problem::Problem;
use crate::api::reply;
use crate::api::says::NotModified;
use crate::api::streaming::{Pipe, streamed};
use crate::api::tags;
use crate::catalog::{CatalogError, ExportFormat};
use crate::record::Kind;
use crate::view::TableSchema;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, HeaderName, LINK};
use actix_web::{HttpMessage, HttpRequest, HttpResponse, get, rt, web};
use std::io;
use tokio::runtime::Handle;

/// How many records an export holds.
const RECORD_COUNT: HeaderName = HeaderName::from_static("record-count");
/// The place in the change feed that an export is up to.
const CHANGES_SINCE: HeaderName = HeaderName::from_static("changes-since");

/// All fasteners as a table
///
/// Every fastener in force, by id, as CSV (RFC 4180, UTF-8, a heading, CRLF). `Record-Count` says how many rows follow; a
/// transfer that breaks off is cut and never padded. A cell that a spreadsheet would take for a formula has a `'` before it,
/// which an intake takes off again. What stands in the columns is at `/v1/exports/fasteners.schema.json`. `Changes-Since` is the
/// place in the change feed to go on from.
#[utoipa::path(
    tag = "bulk",
    responses(
        (status = 200, description = "The table", body = String, content_type = "text/csv",
            headers(("Record-Count" = u64, description = "How many rows follow the heading"),
                ("Changes-Since" = String, description = "What /v1/changes is to be asked for next"),
                ("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/exports/fasteners.csv")]
pub async fn export_fasteners_csv(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    export(&shared, &request, Kind::Fastener, ExportFormat::Csv).await
}

/// What stands in the table of fasteners
///
/// The columns of `/v1/exports/fasteners.csv` as a Table Schema: name, type, meaning, what holds for every cell.
#[utoipa::path(
    tag = "bulk",
    responses((status = 200, description = "The description", body = TableSchema)),
)]
#[get("/v1/exports/fasteners.schema.json")]
pub async fn get_fasteners_csv_schema(request: HttpRequest) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    Ok(reply::json(&TableSchema::of_fasteners()))
}

/// All fasteners as lines of JSON
///
/// Every fastener in force, by id, one JSON object a line, just as it may be put back. `Record-Count` says how many lines
/// follow; a transfer that breaks off is cut. `Changes-Since` is the place in the change feed to go on from.
#[utoipa::path(
    tag = "bulk",
    responses(
        (status = 200, description = "The lines", body = String, content_type = "application/x-ndjson",
            headers(("Record-Count" = u64, description = "How many lines follow"),
                ("Changes-Since" = String, description = "What /v1/changes is to be asked for next"),
                ("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/exports/fasteners.ndjson")]
pub async fn export_fasteners_ndjson(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    export(&shared, &request, Kind::Fastener, ExportFormat::Ndjson).await
}

/// All joints as lines of JSON
///
/// Every joint in force, by id, one JSON object a line, just as it may be put back. `Record-Count` says how many lines follow; a
/// transfer that breaks off is cut. `Changes-Since` is the place in the change feed to go on from.
#[utoipa::path(
    tag = "bulk",
    responses(
        (status = 200, description = "The lines", body = String, content_type = "application/x-ndjson",
            headers(("Record-Count" = u64, description = "How many lines follow"),
                ("Changes-Since" = String, description = "What /v1/changes is to be asked for next"),
                ("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/exports/joints.ndjson")]
pub async fn export_joints_ndjson(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    export(&shared, &request, Kind::Joint, ExportFormat::Ndjson).await
}

async fn export(
    shared: &Shared,
    request: &HttpRequest,
    kind: Kind,
    format: ExportFormat,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(request)?;
    let catalog = shared.catalog.clone();
    let plan = catalog.export_plan(Some(kind));
    let tag = tags::of_book(&plan.epoch, plan.sequence);
    if tags::is_known(request, &tag) {
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag)).finish());
    }
    let (media_type, ending) = match format {
        ExportFormat::Csv => ("text/csv; charset=utf-8; header=present", "csv"),
        ExportFormat::Ndjson => ("application/x-ndjson", "ndjson"),
    };
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((CONTENT_TYPE, media_type))
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{kind}s.{ending}\"")))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .insert_header((RECORD_COUNT, plan.records))
        .insert_header((CHANGES_SINCE, format!("{}.{}", plan.epoch, plan.sequence)))
        .insert_header((ETAG, tag));
    if format == ExportFormat::Csv {
        answer.insert_header((
            LINK,
            "</v1/exports/fasteners.schema.json>; rel=\"describedby\"; type=\"application/json\"",
        ));
    }
    if request.extensions().get::<OnlyHead>().is_some() {
        return Ok(answer.finish());
    }
    let (maker, body) = streamed();
    let runtime = Handle::current();
    rt::task::spawn_blocking(move || {
        let mut pipe = Pipe::new(maker, runtime);
        let done = catalog.export_as_planned(&plan, format, &mut pipe);
        pipe.finish(done.map(drop).map_err(told));
    });
    let body = body.begun().await.map_err(|error| Problem::internal(&error))?;
    Ok(answer.body(body))
}

/// Why an export ends early: in the log, and as the cut that the reader sees.
fn told(error: CatalogError) -> io::Error {
    tracing::error!(%error, "an export broke off");
    io::Error::other(error)
}
