//! The book as text that other programs read: complete, counted before the first byte, never padded.

use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::edge::OnlyHead;
use crate::api::problem::Problem;
use crate::api::reply;
use crate::api::says::NotModified;
use crate::api::streaming::piped;
use crate::api::tags;
use crate::catalog::{CatalogError, ExportFormat};
use crate::record::Kind;
use crate::view::TableSchema;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, HeaderName, LINK};
use actix_web::{HttpMessage, HttpRequest, HttpResponse, get, web};
use std::io;

/// How many records an export holds.
const RECORD_COUNT: HeaderName = HeaderName::from_static("record-count");
/// The place in the change feed that an export is up to.
const CHANGES_SINCE: HeaderName = HeaderName::from_static("changes-since");

/// Makes the operations that export: they differ in what they hold and in its form.
macro_rules! exports {
    ($( $name:ident, $path:literal, $media_type:literal, $kind:expr, $format:expr, $summary:literal, $about:literal; )*) => { $(
        #[doc = $summary]
        #[utoipa::path(
            tag = "bulk",
            summary = $summary,
            description = $about,
            responses(
                (status = 200, description = $summary, body = String, content_type = $media_type,
                    headers(("Record-Count" = u64, description = "How many records follow"),
                        ("Changes-Since" = String, description = "What /v1/changes is to be asked for next"),
                        ("Content-Disposition" = String, description = "A name for the file"),
                        ("Link" = String, description = "What describes the columns of a table"),
                        ("ETag" = String, description = "The state of the book"))),
                (status = 304, response = NotModified),
            ),
        )]
        #[get($path)]
        pub async fn $name(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
            export(&shared, &request, $kind, $format).await
        }
    )* };
}

exports! {
    export_fasteners_csv, "/v1/exports/fasteners.csv", "text/csv", Some(Kind::Fastener), ExportFormat::Csv, "All fasteners as a table",
    "Every fastener in force, by id, as CSV (RFC 4180, UTF-8, a heading, CRLF). `Record-Count` says how many rows follow; a transfer that breaks off is cut and never padded. A cell that a spreadsheet would take for a formula has a `'` before it, which an intake takes off again. What stands in the columns is at `/v1/exports/fasteners.schema.json`. `Changes-Since` is the place in the change feed to go on from.";
    export_joints_csv, "/v1/exports/joints.csv", "text/csv", Some(Kind::Joint), ExportFormat::Csv, "All joints as a table",
    "Every joint in force, by id, in the form of `/v1/exports/fasteners.csv` and with the same columns. What stands in them is at `/v1/exports/joints.schema.json`.";
    export_records_csv, "/v1/exports/records.csv", "text/csv", None, ExportFormat::Csv, "The whole book as a table",
    "Every joint and fastener in force, by id, as they were at one moment, in the form of `/v1/exports/fasteners.csv`. What stands in the columns is at `/v1/exports/records.schema.json`.";
    export_fasteners_ndjson, "/v1/exports/fasteners.ndjson", "application/x-ndjson", Some(Kind::Fastener), ExportFormat::Ndjson, "All fasteners as lines of JSON",
    "Every fastener in force, by id, one JSON object a line, just as it may be put back. `Record-Count` says how many lines follow; a transfer that breaks off is cut. `Changes-Since` is the place in the change feed to go on from.";
    export_joints_ndjson, "/v1/exports/joints.ndjson", "application/x-ndjson", Some(Kind::Joint), ExportFormat::Ndjson, "All joints as lines of JSON",
    "Every joint in force, by id, one JSON object a line, just as it may be put back. `Record-Count` says how many lines follow; a transfer that breaks off is cut. `Changes-Since` is the place in the change feed to go on from.";
    export_records_ndjson, "/v1/exports/records.ndjson", "application/x-ndjson", None, ExportFormat::Ndjson, "The whole book as lines of JSON",
    "Every joint and fastener in force, by id, as they were at one moment, one JSON object a line: an intake of it into an empty book gives the same book.";
}

/// Makes the operations that describe tables.
macro_rules! schemas {
    ($( $name:ident, $path:literal, $kind:expr, $summary:literal, $about:literal; )*) => { $(
        #[doc = $summary]
        #[utoipa::path(
            tag = "bulk",
            summary = $summary,
            description = $about,
            responses((status = 200, description = "The description", body = TableSchema)),
        )]
        #[get($path)]
        pub async fn $name(request: HttpRequest) -> Result<HttpResponse, Problem> {
            Asked::nothing(&request)?;
            Ok(reply::json(&TableSchema::of($kind)))
        }
    )* };
}

schemas! {
    get_fasteners_csv_schema, "/v1/exports/fasteners.schema.json", Some(Kind::Fastener), "What stands in the table of fasteners",
    "The columns of `/v1/exports/fasteners.csv` as a Table Schema: name, type, meaning, what holds for every cell.";
    get_joints_csv_schema, "/v1/exports/joints.schema.json", Some(Kind::Joint), "What stands in the table of joints",
    "The columns of `/v1/exports/joints.csv` as a Table Schema: name, type, meaning, what holds for every cell.";
    get_records_csv_schema, "/v1/exports/records.schema.json", None, "What stands in the table of the whole book",
    "The columns of `/v1/exports/records.csv` as a Table Schema: name, type, meaning, what holds for every cell.";
}

async fn export(
    shared: &Shared,
    request: &HttpRequest,
    kind: Option<Kind>,
    format: ExportFormat,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(request)?;
    let catalog = shared.catalog.clone();
    let plan = catalog.export_plan(kind);
    let what = kind.map_or("records".to_owned(), |kind| format!("{kind}s"));
    let tag = tags::of_book(&plan.epoch, plan.sequence);
    if tags::is_known(request, &tag) {
        let no_cache = (CACHE_CONTROL, "no-cache");
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag)).insert_header(no_cache).finish());
    }
    let (media_type, ending) = match format {
        ExportFormat::Csv => ("text/csv; charset=utf-8; header=present", "csv"),
        ExportFormat::Ndjson => ("application/x-ndjson", "ndjson"),
    };
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((CONTENT_TYPE, media_type))
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{what}.{ending}\"")))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .insert_header((RECORD_COUNT, plan.records))
        .insert_header((CHANGES_SINCE, format!("{}.{}", plan.epoch, plan.sequence)))
        .insert_header((ETAG, tag));
    if format == ExportFormat::Csv {
        let schema = format!("</v1/exports/{what}.schema.json>; rel=\"describedby\"; type=\"application/json\"");
        answer.insert_header((LINK, schema));
    }
    if request.extensions().get::<OnlyHead>().is_some() {
        return Ok(answer.finish());
    }
    let body = piped(move |pipe| catalog.export_as_planned(&plan, format, pipe).map(drop).map_err(told)).await?;
    Ok(answer.body(body))
}

/// Why an export ends early: in the log, and as the cut that the reader sees.
fn told(error: CatalogError) -> io::Error {
    tracing::error!(%error, "an export broke off");
    io::Error::other(error)
}
