//! The audit: of what is sent, and of the book.

use crate::answer::json_bytes;
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::body::JsonBody;
use crate::api::edge::OnlyHead;
use crate::api::failing::in_background;
use crate::api::problem::Problem;
use crate::api::problem_kinds as kinds;
use crate::api::reply;
use crate::api::says::{Faulty, NotModified};
use crate::api::streaming::piped;
use crate::api::tags;
use crate::audit::{Finding, RULES, Severity, Wanted, rule_named};
use crate::catalog::Catalog;
use crate::record::{Fastener, Fault, Joint, Place, Record, Refused, did_you_mean};
use crate::view::FindingList;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::{HttpMessage, HttpRequest, HttpResponse, get, post, web};
use serde_json::Value;
use std::io::Write;
use utoipa::openapi::schema::{ArrayBuilder, Discriminator, ObjectBuilder, OneOfBuilder, Schema, Type};
use utoipa::openapi::{Ref, RefOr};
use utoipa::{IntoParams, PartialSchema, ToSchema};

/// A joint or a fastener, for the document: its `kind` says which.
pub struct RecordDocument;

impl PartialSchema for RecordDocument {
    fn schema() -> RefOr<Schema> {
        let mapping = [Joint::name(), Fastener::name()];
        let mapping = mapping.map(|name| (name.to_lowercase(), format!("#/components/schemas/{name}")));
        let choice = OneOfBuilder::new()
            .item(Ref::from_schema_name(Joint::name()))
            .item(Ref::from_schema_name(Fastener::name()))
            .discriminator(Some(Discriminator::with_mapping("kind", mapping)))
            .description(Some("A joint or a fastener: its kind says which."))
            .build();
        RefOr::T(Schema::OneOf(choice))
    }
}

impl ToSchema for RecordDocument {
    fn name() -> std::borrow::Cow<'static, str> {
        "Record".into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        Joint::schemas(schemas);
        Fastener::schemas(schemas);
        schemas.push((Joint::name().into_owned(), Joint::schema()));
        schemas.push((Fastener::name().into_owned(), Fastener::schema()));
    }
}

/// The most records that are audited at once.
const RECORDS_MAX: usize = 500;

/// Some records, for the document.
struct RecordsDocument;

impl PartialSchema for RecordsDocument {
    fn schema() -> RefOr<Schema> {
        let items = Ref::from_schema_name(RecordDocument::name());
        ArrayBuilder::new().items(items).min_items(Some(1)).max_items(Some(RECORDS_MAX)).build().into()
    }
}

impl ToSchema for RecordsDocument {
    fn name() -> std::borrow::Cow<'static, str> {
        "Records".into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        RecordDocument::schemas(schemas);
        schemas.push((RecordDocument::name().into_owned(), RecordDocument::schema()));
    }
}

/// Audit records
///
/// Judges the records that are sent, as a book of their own. Nothing is stored. The audit says what a number was compared
/// with, never that it is right.
#[utoipa::path(
    tag = "audit",
    request_body(content = RecordsDocument, description = "Up to 500 joints and fasteners",
        example = json!([{ "kind": "fastener", "id": "skua.diesel.raw-water-pump.cover.hex",
            "joint": "skua.diesel.raw-water-pump.cover", "head": "hexagon-flange", "thread": "M8×1.25",
            "property_class": "8.8", "stages": ["60 N·m"], "source": { "document": "Skerry Yard workshop book" } }])),
    responses(
        (status = 200, description = "The findings, in the order of the records", body = FindingList),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/audits")]
pub async fn audit_records(request: HttpRequest, body: JsonBody) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let records = records_in(&body.0).map_err(Problem::faulty)?;
    let list = in_background(move || Ok(FindingList::of(Catalog::audit_records(&records)))).await?;
    Ok(reply::json(&list))
}

/// The records of a list, or all faults of all of them, each with its place in the list.
fn records_in(body: &Value) -> Result<Vec<Record>, Refused> {
    let root = Place::root();
    let Value::Array(items) = body else {
        return Err(Refused(vec![crate::record::field::wrong_kind(body, &root, "a list of records")]));
    };
    if items.is_empty() || items.len() > RECORDS_MAX {
        let detail = format!("1 to {RECORDS_MAX} records are audited at once, these are {}", items.len());
        return Err(Refused(vec![Fault::new("too-long", &root, detail).hint("Larger files go through an intake")]));
    }
    let mut records = Vec::new();
    let mut faults = Vec::new();
    for (i, item) in items.iter().enumerate() {
        match Record::from_json(item) {
            Ok(record) => records.push(record),
            Err(Refused(inner)) => faults
                .extend(inner.into_iter().map(|fault| Fault { pointer: format!("/{i}{}", fault.pointer), ..fault })),
        }
    }
    if faults.is_empty() { Ok(records) } else { Err(Refused(faults)) }
}

/// The findings about the book
///
/// What the audit says about every record of the book, or of a part of it, the worst of each record first.
#[utoipa::path(
    tag = "audit",
    params(AskedFindings),
    responses(
        (status = 200, description = "The findings", body = FindingList,
            headers(("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/findings")]
pub async fn list_findings(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = AskedFindings::of(&request)?;
    let catalog = shared.in_time();
    let tag = tags::of_now(&catalog);
    let list = in_background(move || {
        let Some(findings) = asked.findings(&catalog, FINDINGS_MAX)? else {
            let detail = format!(
                "there are more than {FINDINGS_MAX} findings; ask for less with within, at_least or rule, or for /v1/exports/findings.ndjson"
            );
            return Err(Problem::new(&kinds::UNREADABLE, detail));
        };
        Ok(FindingList::of(findings))
    });
    tags::unless_known(&request, tag, async { Ok(reply::json(&list.await?)) }).await
}

/// The most findings of one answer.
const FINDINGS_MAX: usize = 10_000;

/// The findings about the book as lines of JSON
///
/// What the audit says about every record of the book, or of a part of it, by id, one finding a line and however many there
/// are. A transfer that breaks off is cut.
#[utoipa::path(
    tag = "bulk",
    params(AskedFindings),
    responses(
        (status = 200, description = "The findings", body = String, content_type = "application/x-ndjson",
            headers(("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/exports/findings.ndjson")]
pub async fn export_findings(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = AskedFindings::of(&request)?;
    let catalog = shared.in_time();
    let tag = tags::of_now(&catalog);
    let lines = async {
        let findings = in_background(move || asked.findings(&catalog, usize::MAX)).await?.unwrap_or_default();
        let mut answer = HttpResponse::Ok();
        answer.insert_header((CONTENT_TYPE, "application/x-ndjson"));
        if request.extensions().get::<OnlyHead>().is_some() {
            return Ok(answer.finish());
        }
        let lines = piped(move |pipe| findings.iter().try_for_each(|finding| pipe.write_all(&json_bytes(finding))));
        Ok(answer.body(lines.await?))
    };
    tags::unless_known(&request, tag, lines).await
}

/// Which findings of the book are asked for.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
struct AskedFindings {
    /// Only records whose ids begin with this path
    #[param(value_type = Option<String>, example = "skua.diesel.raw-water-pump.cover", max_length = 160,
        pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){0,7}$")]
    within: Option<AssemblyPath>,
    /// Only findings at least this bad
    #[param(example = "note")]
    at_least: Option<Severity>,
    /// Only findings of this rule
    #[param(inline, example = "unchecked-entry")]
    rule: Option<RuleName>,
}

impl AskedFindings {
    fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let mut asked = Asked::of(request);
        let (within, at_least, rule) = (asked.optional("within"), asked.optional("at_least"), asked.optional("rule"));
        asked.finish(Some(Self { within, at_least, rule }))
    }

    /// The findings; nothing if there are more than `most` of them.
    fn findings(self, catalog: &Catalog, most: usize) -> Result<Option<Vec<Finding>>, Problem> {
        let rule = self.rule.map(|RuleName(rule)| rule);
        let wanted = Wanted { at_least: self.at_least.unwrap_or(Severity::Note), rule };
        Ok(catalog.some_findings(self.within.as_ref().map(|path| path.0.as_str()), wanted, most)?)
    }
}

/// The name of a rule.
struct RuleName(&'static str);

impl std::str::FromStr for RuleName {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        if let Some(rule) = rule_named(text) {
            return Ok(Self(rule.name));
        }
        let names: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
        let near = did_you_mean(text, &names).map(|near| format!(". {near}?")).unwrap_or_default();
        Err(format!("there is no rule \"{text}\"{near}"))
    }
}

impl PartialSchema for RuleName {
    fn schema() -> RefOr<Schema> {
        let names = RULES.iter().map(|rule| rule.name);
        ObjectBuilder::new().schema_type(Type::String).enum_values(Some(names)).build().into()
    }
}

impl ToSchema for RuleName {}

/// A dotted path.
struct AssemblyPath(String);

impl std::str::FromStr for AssemblyPath {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        crate::query::Field::Within.read(text).map(Self)
    }
}
