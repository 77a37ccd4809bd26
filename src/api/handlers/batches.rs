//! Joints and fasteners together: looking them up, and writing several of them, all or none.

use super::audit::RecordDocument;
use super::records;
use crate::api::access::Caller;
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::body::JsonBody;
use crate::api::failing::in_background;
use crate::api::problem::Problem;
use crate::api::question::RecordQuestion;
use crate::api::reply;
use crate::api::says::{ChangedSince, Faulty, NotFound, NotModified};
use crate::catalog::{Catalog, Expected, State, Write};
use crate::record::field::{Field, members, wrong_kind};
use crate::record::{Fault, Id, Place, Record, Refused, Text};
use crate::view::{RecordPage, Written, WrittenList};
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde_json::Value;

/// Look up joints and fasteners together
///
/// As `/v1/fasteners` and `/v1/joints`, with records of both kinds in one order; `kind` says which they are.
#[utoipa::path(
    tag = "fasteners",
    operation_id = "list_records",
    params(RecordQuestion),
    responses(
        (status = 200, description = "A page of records", body = RecordPage,
            headers(("ETag" = String, description = "The state of the book; send it as If-None-Match to hear only of changes"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/records")]
pub async fn list_records(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    records::list(&shared, &request, None).await
}

/// The most writes of one batch.
const WRITES_MAX: usize = 500;

/// Several writes, all or none.
#[derive(utoipa::ToSchema)]
#[allow(dead_code)] // it is for the document; a body is read by `read_writes`
struct BatchRequest {
    /// The writes, in their order.
    #[schema(min_items = 1, max_items = 500)]
    writes: Vec<BatchWrite>,
}

/// One write of a batch: a record to be stored, or the id of one to be withdrawn.
#[derive(utoipa::ToSchema)]
#[allow(dead_code)] // it is for the document too
struct BatchWrite {
    /// What must stand there: `new` for nothing, `any` for anything or nothing, `r17` for that revision.
    #[schema(pattern = "^(new|any|r[1-9][0-9]{0,8})$", max_length = 10)]
    expected: String,
    /// The record to be stored.
    record: Option<RecordDocument>,
    /// The record to be withdrawn.
    withdraw: Option<Id>,
    /// Why it is withdrawn.
    why: Option<Text>,
}

/// Write several records, all or none
///
/// Stores and withdraws up to 500 records. Each write says what must stand there; if one of them finds something else, nothing is
/// stored (412). A record that stands there already as it is sent makes no revision, so that a retry is safe. More records go
/// through an intake.
#[utoipa::path(
    tag = "bulk",
    request_body(content = BatchRequest, description = "The writes",
        example = json!({ "writes": [
            { "expected": "new", "record": { "kind": "joint", "id": "skua.diesel.raw-water-pump.drain", "title": "Raw-water pump drain" } },
            { "expected": "new", "record": { "kind": "fastener", "id": "skua.diesel.raw-water-pump.drain.plug", "role": "plug",
                "joint": "skua.diesel.raw-water-pump.drain", "thread": "M10×1", "stages": ["12 N·m"] } },
            { "expected": "any", "withdraw": "skua.diesel.raw-water-pump.cover.hex", "why": "Replaced by a longer one" } ] })),
    responses(
        (status = 200, description = "All of them are stored, or stood there already", body = WrittenList),
        (status = 404, response = NotFound),
        (status = 412, response = ChangedSince),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/batches")]
pub async fn apply_batch(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let writes = read_writes(&body.0).map_err(Problem::faulty)?;
    let (catalog, caller) = (shared.catalog.clone(), Caller::of(&request));
    let items = in_background(move || {
        let ids: Vec<Id> = writes.iter().map(|write| id_of(write).clone()).collect();
        let writes = writes.into_iter().map(|write| allowed(&catalog, &caller, write));
        let puts = catalog.apply(writes.collect::<Result<_, Problem>>()?, &caller.author())?;
        Ok(ids.iter().zip(&puts).map(|(id, put)| Written::of(id.to_string(), put)).collect())
    })
    .await?;
    Ok(reply::json(&WrittenList { items }))
}

fn id_of(write: &Write) -> &Id {
    match write {
        Write::Put { record, .. } => record.id(),
        Write::Withdraw { id, .. } => id,
    }
}

/// The write, if its sender may do it; what stands there already as it is sent is expected to stand there.
fn allowed(catalog: &Catalog, caller: &Caller, write: Write) -> Result<Write, Problem> {
    let Write::Put { record, expected } = write else { return Ok(write) };
    let there = catalog.get(record.id())?;
    caller.may_check(there.as_ref(), &record)?;
    let same = there.filter(|there| there.state == State::Current && *there.record == *record);
    let expected = same.map_or(expected, |there| Expected::Revision(there.revision));
    Ok(Write::Put { record, expected })
}

/// The writes of a batch, or all faults of all of them.
fn read_writes(body: &Value) -> Result<Vec<Write>, Refused> {
    let (root, mut faults) = (Place::root(), Vec::new());
    let Some(body) = members(body, &root, &["writes"], &mut faults) else { return Err(Refused(faults)) };
    let place = root.below("writes");
    let items = match body.get("writes") {
        Some(Value::Array(items)) => items.as_slice(),
        Some(other) => {
            faults.push(wrong_kind(other, &place, "a list of writes"));
            &[]
        }
        None => {
            faults.push(Fault::new("missing", &place, "the field \"writes\" must be given"));
            &[]
        }
    };
    if faults.is_empty() && !(1..=WRITES_MAX).contains(&items.len()) {
        let detail = format!("a batch has 1 to {WRITES_MAX} writes, this one has {}", items.len());
        faults.push(Fault::new("too-long", &place, detail).hint("More records go through an intake"));
    }
    let mut writes: Vec<Write> = Vec::new();
    for (i, item) in items.iter().take(WRITES_MAX).enumerate() {
        let Some(write) = read_write(item, &place.below(i), &mut faults) else { continue };
        if writes.iter().any(|before| id_of(before) == id_of(&write)) {
            let detail = format!("{} is written twice", id_of(&write));
            faults.push(Fault::new("contradiction", &place.below(i), detail).hint("Keep one of the two"));
        }
        writes.push(write);
    }
    if faults.is_empty() { Ok(writes) } else { Err(Refused(faults)) }
}

const WRITE_FIELDS: &[&str] = &["expected", "record", "withdraw", "why"];

fn read_write(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Write> {
    let write = members(value, place, WRITE_FIELDS, faults)?;
    let given = |name: &str| write.get(name).filter(|value| !value.is_null());
    let expected = match write.get("expected") {
        Some(value) => read_expected(value, &place.below("expected"), faults),
        None => {
            let fault = Fault::new("missing", &place.below("expected"), "the field \"expected\" must be given");
            faults.push(fault.allowed(EXPECTED).hint("Say what must stand there"));
            None
        }
    };
    let why = given("why").map(|why| Text::read(why, &place.below("why"), faults));
    match (given("record"), given("withdraw")) {
        (Some(record), None) if why.is_none() => {
            let below = place.below("record");
            let read = Record::from_json(record).map_err(|Refused(inner)| {
                faults.extend(
                    inner.into_iter().map(|fault| Fault { pointer: format!("{below}{}", fault.pointer), ..fault }),
                );
            });
            Some(Write::Put { record: Box::new(read.ok()?), expected: expected? })
        }
        (None, Some(id)) => {
            let id = Id::read(id, &place.below("withdraw"), faults)?;
            let why = why.map_or(Some(None), |why| why.map(Some))?;
            Some(Write::Withdraw { id, expected: expected?, why })
        }
        _ => {
            let detail = "a write has a record, or the id of a record to withdraw, and with that why";
            faults.push(Fault::new("contradiction", place, detail).allowed("record, or withdraw and why"));
            None
        }
    }
}

const EXPECTED: &str = "new, any, or a revision such as r17";

fn read_expected(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Expected> {
    let read = match value.as_str() {
        Some("new") => Some(Expected::New),
        Some("any") => Some(Expected::Any),
        Some(text) => text.strip_prefix('r').and_then(|number| number.parse().ok()).map(Expected::Revision),
        None => None,
    };
    let read = read.filter(|expected| *expected != Expected::Revision(0));
    if read.is_none() {
        let fault = Fault::new("unreadable", place, "this is nothing that can be expected to stand there");
        faults.push(fault.given(value).allowed(EXPECTED));
    }
    read
}
