//! Bulk intake: many records at once, checked as one, stored as whole, or as far as they are good.

use crate::api::access::Caller;
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::body::{check_length, media_type, read_into};
use crate::api::edge::OnlyHead;
use crate::api::intakes::{FAULTS_SHOWN, Intake, is_id};
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::reply;
use crate::api::says::{ChangedSince, Conflict, Faulty, NotFound, TooMany};
use crate::api::streaming::piped;
use crate::catalog::{Decimal, ImportFormat, ImportMode, ImportOptions, OnSame};
use crate::record::{Fault, Place, Text};
use crate::view::{IntakeList, IntakeShown, IntakeState};
use actix_web::http::StatusCode;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION};
use actix_web::web::Payload;
use actix_web::{HttpMessage, HttpRequest, HttpResponse, get, post, rt, web};
use std::io::{self, BufReader};
use std::str::FromStr;
use std::sync::Arc;
use std::time::Duration;
use tempfile::SpooledTempFile;

/// The most bytes of an intake.
const INTAKE_MAX: u64 = 50 << 20;
/// How much of an intake waits in memory; the rest waits in a file without a name.
const IN_MEMORY: usize = 1 << 20;
/// How long an answer waits for the end of an intake.
const PATIENCE: Duration = Duration::from_secs(5);

/// How an intake is to be taken in.
#[derive(utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[allow(dead_code)] // it is for the document; `Asking` reads it
struct IntakeParameters {
    /// check (look only), whole (all or none; the default) or partial (those that are good)
    #[param(example = "whole", min_length = 5, max_length = 7, pattern = "^(check|whole|partial)$")]
    mode: Option<String>,
    /// What to do with a record that the book has with another content: refuse, skip or replace
    #[param(example = "refuse", min_length = 4, max_length = 7, pattern = "^(refuse|skip|replace)$")]
    on_same: Option<String>,
    /// What the input is called in the report
    #[param(example = "parts", min_length = 1, max_length = 500, pattern = "^[!-~]([ -~]*[!-~])?$")]
    name: Option<String>,
}

/// What an intake is answered with.
#[derive(utoipa::IntoResponses)]
#[allow(dead_code)] // it is for the document; `answer` makes them
enum IntakeAnswers {
    /// It has no fault: nothing was to be stored, or all of it is in the book already
    #[response(status = 200)]
    Clean(IntakeShown),
    /// All of it is stored
    #[response(status = 201)]
    Stored(IntakeShown),
    /// It is under way; ask for it again
    #[response(status = 202)]
    Running(IntakeShown),
    /// Some of it is stored
    #[response(status = 207)]
    PartlyStored(IntakeShown),
    #[response(status = 412)]
    Changed(#[ref_response] ChangedSince),
    #[response(status = 422)]
    Faulty(#[ref_response] Faulty),
    #[response(status = 429)]
    TooMany(#[ref_response] TooMany),
}

/// Take in a list of records
///
/// Takes joints and fasteners in, up to 50 MiB; a larger file is sent in parts. `mode=check` looks and stores nothing, `whole` stores all of them or none,
/// `partial` stores those that are good. Every fault of every record is told with its line and the number of its record:
/// the first 1,000 in `errors` of a 422 and in `faults` otherwise, all of them in `/v1/intakes/{id}/faults.csv`. What takes longer than 5 seconds goes on behind a 202. A whole intake
/// of more than 5,000 records is judged as one and stored in batches: if it breaks off between two of them, sending it again stores
/// what is missing.
#[utoipa::path(
    tag = "bulk",
    params(IntakeParameters),
    request_body(content = Vec<serde_json::Value>, description = "The records",
        example = json!([{ "kind": "fastener", "id": "skua.test-bench.frame.bolt", "joint": "skua.test-bench.frame", "thread": "M8",
            "stages": ["20 N·m"] }])),
    responses(IntakeAnswers),
)]
#[post("/v1/intakes")]
pub async fn create_intake(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: Payload,
) -> Result<HttpResponse, Problem> {
    let options = Asking::of(&request).finish(ImportFormat::Json)?;
    media_type(&request, &["application/json"])?;
    take_in(shared, request, options, body).await
}

/// Take in a table
///
/// Takes in, as `POST /v1/intakes` does, CSV whose heading names the columns of `/v1/exports/fasteners.schema.json`, in any order. `torque`
/// and `angle` may stand for a single stage. Columns whose names begin with `fault.` are passed over, so that a corrected
/// `faults.csv` can be sent as it is. `delimiter` and `decimal` say how a table is written that has
/// other signs than comma and point.
#[utoipa::path(
    tag = "bulk",
    params(
        IntakeParameters,
        ("delimiter" = Option<String>, Query, description = "comma, semicolon or tab; absent means that the heading tells",
            example = "comma", min_length = 3, max_length = 9, pattern = "^(comma|semicolon|tab)$"),
        ("decimal" = Option<String>, Query, description = "How decimals are written: point or comma", example = "point",
            min_length = 5, max_length = 5, pattern = "^(point|comma)$"),
    ),
    request_body(content = String, content_type = "text/csv", description = "The table",
        example = "id,joint,thread,stages\r\nskua.test-bench.frame.bolt,skua.test-bench.frame,M8,20 N·m\r\n"),
    responses(IntakeAnswers),
)]
#[post("/v1/intakes.csv")]
pub async fn create_csv_intake(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: Payload,
) -> Result<HttpResponse, Problem> {
    let mut asking = Asking::of(&request);
    let delimiter: Option<Delimiter> = asking.asked.optional("delimiter");
    let decimal: Option<DecimalSign> = asking.asked.optional("decimal");
    let mut options = asking.finish(ImportFormat::Csv)?;
    options.delimiter = delimiter.map(|delimiter| delimiter.0);
    options.decimal = decimal.map_or(Decimal::Point, |decimal| decimal.0);
    media_type(&request, &["text/csv"])?;
    take_in(shared, request, options, body).await
}

/// Take in lines of JSON
///
/// Takes in, as `POST /v1/intakes` does, one JSON object a line, as an export writes them.
#[utoipa::path(
    tag = "bulk",
    params(IntakeParameters),
    request_body(content = String, content_type = "application/x-ndjson", description = "The lines",
        example = "{\"kind\":\"fastener\",\"id\":\"skua.test-bench.frame.bolt\",\"joint\":\"skua.test-bench.frame\",\"thread\":\"M8\",\"stages\":[\"20 N·m\"]}\n"),
    responses(IntakeAnswers),
)]
#[post("/v1/intakes.ndjson")]
pub async fn create_ndjson_intake(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: Payload,
) -> Result<HttpResponse, Problem> {
    let options = Asking::of(&request).finish(ImportFormat::Ndjson)?;
    media_type(&request, &["application/x-ndjson"])?;
    take_in(shared, request, options, body).await
}

/// The last intakes
///
/// The last intakes, the newest first, without their faults. At most 32 are kept, for a day each and 1 GiB together: the
/// oldest go first. They outlive the service where the book lies in a folder; where it is in a database they don't, unless
/// the operator has given them a folder.
#[utoipa::path(
    tag = "bulk",
    responses((status = 200, description = "The intakes", body = IntakeList)),
)]
#[get("/v1/intakes")]
pub async fn list_intakes(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let without_faults = |intake: Arc<Intake>| {
        let mut shown = intake.shown();
        shown.report.faults.clear();
        shown
    };
    let items = shared.intakes.all().into_iter().map(without_faults).collect();
    Ok(fresh(reply::json(&IntakeList { items })))
}

/// One intake
///
/// What became of an intake, or how far it is. The last 32 are kept until `expires_at`. One that was being read
/// or stored when the service stopped is `failed`: send it again. One that was being applied is `checked` again: apply it again.
#[utoipa::path(
    tag = "bulk",
    params(("id" = String, Path, description = "The id of the intake", example = "0f1e2d3c4b5a69788796a5b4c3d2e1f0",
        min_length = 32, max_length = 32, pattern = "^[0-9a-f]{32}$")),
    responses(
        (status = 200, description = "The intake", body = IntakeShown),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/intakes/{id}")]
pub async fn get_intake(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    Ok(fresh(reply::json(&found(&shared, &id)?.shown())))
}

/// Store what was checked
///
/// Stores just what an intake with `mode=check` found good, each record on the revision that it was checked against; where a
/// record was changed since, 412. Sent again it stores nothing and says the same; if the service was stopped over it, it stores
/// what is missing.
#[utoipa::path(
    tag = "bulk",
    params(("id" = String, Path, description = "The id of the intake", example = "0f1e2d3c4b5a69788796a5b4c3d2e1f0",
        min_length = 32, max_length = 32, pattern = "^[0-9a-f]{32}$")),
    responses(
        (status = 200, description = "All of it was in the book already", body = IntakeShown),
        (status = 201, description = "All of it is stored", body = IntakeShown),
        (status = 202, description = "It is under way; ask for it again", body = IntakeShown),
        (status = 207, description = "Some of it is stored", body = IntakeShown),
        (status = 404, response = NotFound),
        (status = 409, response = Conflict),
        (status = 412, response = ChangedSince),
    ),
)]
#[post("/v1/intakes/{id}/apply")]
pub async fn apply_intake(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let intake = found(&shared, &id)?;
    if !intake.is_check() || intake.state() == IntakeState::Refused && intake.stopped().is_none() {
        let detail = "only an intake with mode=check and without a fault can be applied";
        return Err(Problem::new(&kinds::CONFLICT, detail));
    }
    let caller = Caller::of(&request);
    if *intake.options() != (ImportOptions { may_check: caller.checks(), ..intake.options().clone() }) {
        let detail = "an intake is applied by somebody who may say the same of it as the one who sent it";
        return Err(Problem::new(&kinds::NOT_ALLOWED, detail));
    }
    if intake.begin_to_apply() {
        let catalog = shared.catalog.clone();
        let options = ImportOptions { author: caller.author(), ..intake.options().clone() };
        let applied = intake.clone();
        in_time(move || applied.apply(&catalog, &options)).await?;
    }
    answer(&intake)
}

/// The faults of an intake as a table
///
/// Every record that has a fault as it was sent, with the line, the number of the record, the columns and the faults beside it in
/// columns that begin with `fault.`. Corrected, it can be sent again as it is.
#[utoipa::path(
    tag = "bulk",
    params(("id" = String, Path, description = "The id of the intake", example = "0f1e2d3c4b5a69788796a5b4c3d2e1f0",
        min_length = 32, max_length = 32, pattern = "^[0-9a-f]{32}$")),
    responses(
        (status = 200, description = "The table", body = String, content_type = "text/csv"),
        (status = 404, response = NotFound),
        (status = 409, response = Conflict),
    ),
)]
#[get("/v1/intakes/{id}/faults.csv")]
pub async fn export_intake_faults(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let intake = found(&shared, &id)?;
    let faults = intake.faults().map_err(|error| Problem::internal(&error))?;
    let Some(faults) = faults else {
        return Err(Problem::new(&kinds::CONFLICT, "the intake is under way: its faults are not all known yet"));
    };
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((CONTENT_TYPE, "text/csv; charset=utf-8; header=present"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"faults.csv\""))
        .insert_header((CACHE_CONTROL, "no-store"));
    if request.extensions().get::<OnlyHead>().is_some() {
        return Ok(answer.finish());
    }
    let body = piped(move |pipe| io::copy(&mut BufReader::with_capacity(1 << 16, faults), pipe).map(drop));
    Ok(answer.body(body.await?))
}

/// How an intake is to be taken in, as it stands behind `?`.
struct Asking {
    asked: Asked,
    options: ImportOptions,
}

impl Asking {
    fn of(request: &HttpRequest) -> Self {
        let mut asked = Asked::of(request);
        let mode: Option<Mode> = asked.optional("mode");
        let on_same: Option<Same> = asked.optional("on_same");
        let name: Option<Text> = asked.optional("name");
        let caller = Caller::of(request);
        let options = ImportOptions {
            name: name.map_or_else(|| "input".to_owned(), |name| name.to_string()),
            mode: mode.map_or(ImportMode::Whole, |mode| mode.0),
            on_same: on_same.map_or(OnSame::Refuse, |on_same| on_same.0),
            author: caller.author(),
            may_check: caller.checks(),
            faults_max: FAULTS_SHOWN,
            ..ImportOptions::default()
        };
        Self { asked, options }
    }

    fn finish(self, format: ImportFormat) -> Result<ImportOptions, Problem> {
        let options = self.asked.finish(Some(self.options))?;
        Ok(ImportOptions { format: Some(format), ..options })
    }
}

/// Makes a parameter that is one of a few words.
macro_rules! one_of {
    ($name:ident: $type:ty, $what:literal, $( $word:literal => $value:expr ),+) => {
        struct $name($type);

        impl FromStr for $name {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                match text {
                    $( $word => Ok(Self($value)), )+
                    _ => Err(format!("\"{text}\" is not {}; write {}", $what, [$($word),+].join(" or "))),
                }
            }
        }
    };
}

one_of!(Mode: ImportMode, "a mode", "check" => ImportMode::Check, "whole" => ImportMode::Whole, "partial" => ImportMode::Partial);
one_of!(Same: OnSame, "something to do", "refuse" => OnSame::Refuse, "skip" => OnSame::Skip, "replace" => OnSame::Replace);
one_of!(Delimiter: u8, "a delimiter", "comma" => b',', "semicolon" => b';', "tab" => b'\t');
one_of!(DecimalSign: Decimal, "a decimal sign", "point" => Decimal::Point, "comma" => Decimal::Comma);

async fn take_in(
    shared: web::Data<Shared>,
    request: HttpRequest,
    options: ImportOptions,
    body: Payload,
) -> Result<HttpResponse, Problem> {
    check_length(&request, usize::try_from(INTAKE_MAX).unwrap_or(usize::MAX))?;
    let mut input = SpooledTempFile::new(IN_MEMORY);
    let mut body = body.into_inner();
    read_into(&mut body, INTAKE_MAX, &mut input).await?;
    let by = match Caller::of(&request) {
        Caller::Holder(token) => Some(token.label),
        Caller::Anybody => None,
    };
    let intake = shared.intakes.begin(options, by)?;
    let catalog = shared.catalog.clone();
    let running = intake.clone();
    in_time(move || running.run(&catalog, input)).await?;
    answer(&intake)
}

/// Does some work in the background, and waits for it as long as an answer may take.
async fn in_time(work: impl FnOnce() + Send + 'static) -> Result<(), Problem> {
    match rt::time::timeout(PATIENCE, rt::task::spawn_blocking(work)).await {
        Ok(Err(panic)) => Err(Problem::internal(&panic)),
        Ok(Ok(())) | Err(_) => Ok(()),
    }
}

fn found(shared: &Shared, id: &str) -> Result<Arc<Intake>, Problem> {
    if !is_id(id) {
        let detail = "the id of an intake has 32 characters of 0-9 and a-f";
        let fault = Fault::new("unreadable", &Place::root().below("id"), detail).given(id);
        return Err(Problem::unreadable(Part::Path, vec![fault]));
    }
    let gone = "there is no intake of this id here. The last 32 are kept for a day by the server that took them; send it again if it is not in the book";
    shared.intakes.find(id).ok_or_else(|| Problem::not_found(gone))
}

/// What is said of an intake: the status says what became of it.
fn answer(intake: &Intake) -> Result<HttpResponse, Problem> {
    let shown = intake.shown();
    let report = &shown.report;
    let status = match shown.state {
        IntakeState::Running => StatusCode::ACCEPTED,
        IntakeState::Checked => StatusCode::OK,
        IntakeState::Stored if report.stored == 0 => StatusCode::OK,
        IntakeState::Stored => StatusCode::CREATED,
        IntakeState::PartlyStored => StatusCode::MULTI_STATUS,
        IntakeState::Failed => return Err(Problem::internal(&"an intake failed; its cause stands before this line")),
        IntakeState::Refused => return Err(refused(intake, &shown)),
    };
    let mut response = fresh(reply::json_with(status, &shown));
    reply::set(&mut response, LOCATION, &format!("/v1/intakes/{}", intake.id()));
    Ok(response)
}

fn refused(intake: &Intake, shown: &IntakeShown) -> Problem {
    if let Some(why) = intake.stopped() {
        return Problem::new(&kinds::CHANGED_SINCE, format!("{why}. Nothing was stored")).with("intake", shown);
    }
    let report = &shown.report;
    let (faults, records) = (report.faults_total, report.faulty_records);
    let detail = format!("there are {faults} faults in {records} of {} records; nothing was stored", report.records);
    // The faults stand in `errors`, as those of every other problem do.
    let mut intake = serde_json::to_value(shown).unwrap_or_default();
    intake.as_object_mut().and_then(|members| members.shift_remove("faults"));
    Problem::new(&kinds::FAULTY, detail).with_lines(&report.faults).with("intake", intake)
}

fn fresh(mut response: HttpResponse) -> HttpResponse {
    reply::set(&mut response, CACHE_CONTROL, "no-store");
    response
}
