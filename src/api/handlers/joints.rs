//! Joints: looking them up, writing them, their history.

use super::records;
use crate::api::app::Shared;
use crate::api::body::{JsonBody, PatchBody};
use crate::api::patch::{MergePatch, PatchOperation};
use crate::api::problem::Problem;
use crate::api::question::{JointMembers, JointQuestion};
use crate::api::says::{ChangedSince, Conflict, Faulty, IfMatchWanted, NotFound, NotModified};
use crate::record::Kind;
use crate::view::{FindingList, JointEntry, JointInput, JointPage, RevisionList, Written};
use actix_web::{HttpRequest, HttpResponse, delete, get, patch, put, web};

/// Look up joints
///
/// Joints by words, assembly, variant, source and more, in any mix. Values are read leniently and `page.read_as` says how. The page after
/// this one is asked for with its cursor, `page.next`; the link to it is in the header `Link` too. `fields` leaves out what is not
/// named; what a joint is, what is done and how far to trust it stay.
#[utoipa::path(
    tag = "joints",
    operation_id = "list_joints",
    params(JointQuestion),
    responses(
        (status = 200, description = "A page of joints", body = JointPage,
            headers(("ETag" = String, description = "The state of the book; send it as If-None-Match to hear only of changes"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/joints")]
pub async fn list_joints(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    records::list(&shared, &request, Some(Kind::Joint)).await
}

/// One joint
///
/// The last revision of a joint, withdrawn or not, or the one in force at a moment. Its tag is its revision and a
/// digest of what is sent: what the audit says can change with the joint's neighbours. Send it as `If-Match` with a write, which
/// is held to the revision alone.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("as_of" = Option<String>, Query, description = "The joint as it was at this moment", format = DateTime,
            min_length = 10, max_length = 40, example = "2100-01-01T00:00:00Z"),
        ("fields" = inline(Option<JointMembers>), Query, description = "The members to show besides those that it always has",
            example = json!(["title", "positions"]), style = Form, explode = false),
    ),
    responses(
        (status = 200, description = "The joint", body = JointEntry,
            headers(("ETag" = String, description = "The revision, as If-Match takes it"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}")]
pub async fn get_joint(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    records::read(&shared, &request, Kind::Joint, &id).await
}

/// Store a joint
///
/// Makes a joint (`If-None-Match: *`) or a new revision of one (`If-Match` with its tag). `kind` and `id` may be left out of
/// the body: the path says them. A write whose result is what stands there already makes no revision, so that a retry is safe.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.drain",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("If-Match" = Option<String>, Header, description = "The tag of the revision that this write replaces",
            pattern = r#"^([*]|"r[0-9]+(-[0-9a-z]+)?")$"#, max_length = 200, example = "\"r1\""),
        ("If-None-Match" = Option<String>, Header, description = "`*` where the joint is to be new",
            pattern = "^[*]$", max_length = 1, example = "*"),
    ),
    request_body(content = JointInput, description = "The whole joint", example = json!({
        "title": "Raw-water pump drain", "positions": [{ "n": 1, "x_mm": 0, "y_mm": 0 }],
        "renew": [{ "item": "Sealing ring 10 × 13.5", "count": 1 }],
        "source": { "document": "Skerry Yard workshop book", "edition": "3", "page": "42", "entered_by": "mo" } })),
    responses(
        (status = 201, description = "The joint is new", body = Written,
            headers(("ETag" = String, description = "The revision, as If-Match takes it"),
                ("Location" = String, description = "Where the joint is"))),
        (status = 200, description = "A new revision was stored, or it stood there already", body = Written,
            headers(("ETag" = String, description = "The revision, as If-Match takes it"),
                ("Location" = String, description = "Where the joint is"))),
        (status = 409, response = Conflict),
        (status = 412, response = ChangedSince),
        (status = 422, response = Faulty),
        (status = 428, response = IfMatchWanted),
    ),
)]
#[put("/v1/joints/{id}")]
pub async fn put_joint(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    records::write(&shared, &request, Kind::Joint, &id, body.0).await
}

/// Change a joint
///
/// Changes what the body says is different: a merge patch (RFC 7396), or a list of operations (RFC 6902). The result must be
/// a whole joint again.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("If-Match" = String, Header, description = "The tag of the revision that is changed",
            pattern = r#"^([*]|"r[0-9]+(-[0-9a-z]+)?")$"#, max_length = 200, example = "\"r1\""),
    ),
    request_body(description = "What is different", content(
        (MergePatch = "application/merge-patch+json", example = json!({ "title": "Cover of the raw-water pump", "tools": null })),
        (Vec<PatchOperation> = "application/json-patch+json",
            example = json!([{ "op": "add", "path": "/cautions", "value": ["Hot after running"] }])),
    )),
    responses(
        (status = 200, description = "A new revision was stored, or it stood there already", body = Written,
            headers(("ETag" = String, description = "The revision, as If-Match takes it"),
                ("Location" = String, description = "Where the joint is"))),
        (status = 404, response = NotFound),
        (status = 409, response = Conflict),
        (status = 412, response = ChangedSince),
        (status = 422, response = Faulty),
        (status = 428, response = IfMatchWanted),
    ),
)]
#[patch("/v1/joints/{id}")]
pub async fn patch_joint(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
    body: PatchBody,
) -> Result<HttpResponse, Problem> {
    records::amend(&shared, &request, Kind::Joint, &id, body).await
}

/// Withdraw a joint
///
/// Takes the joint back. It stays readable with `book.state` `withdrawn`, since printed cards point at it, and can be
/// stored again.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("why" = Option<String>, Query, description = "Why it is withdrawn", example = "Replaced by a longer one",
            pattern = "^[!-~]([ -~]*[!-~])?$", min_length = 1, max_length = 500),
        ("If-Match" = String, Header, description = "The tag of the revision that is withdrawn",
            pattern = r#"^([*]|"r[0-9]+(-[0-9a-z]+)?")$"#, max_length = 200, example = "\"r1\""),
    ),
    responses(
        (status = 200, description = "It is withdrawn", body = Written,
            headers(("ETag" = String, description = "The revision, as If-Match takes it"),
                ("Location" = String, description = "Where the joint is"))),
        (status = 404, response = NotFound),
        (status = 412, response = ChangedSince),
        (status = 428, response = IfMatchWanted),
    ),
)]
#[delete("/v1/joints/{id}")]
pub async fn withdraw_joint(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    records::withdraw(&shared, &request, Kind::Joint, &id).await
}

/// The revisions of a joint
///
/// What is known of every revision, the first one first: when it was stored, by whom, and why it was withdrawn.
#[utoipa::path(
    tag = "joints",
    params(("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
        min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$")),
    responses(
        (status = 200, description = "The revisions", body = RevisionList,
            headers(("ETag" = String, description = "The state of the book; send it as If-None-Match to hear only of changes"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/revisions")]
pub async fn list_joint_revisions(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    records::revisions(&shared, &request, Kind::Joint, &id).await
}

/// One revision of a joint
///
/// The joint as it was stored then. The record of a revision never changes. What the audit says of it can, since it looks at the
/// book as it is now: so an answer is asked for again with its tag, which costs nothing where nothing has changed.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("revision" = u32, Path, description = "The number of the revision, from 1", example = 1, minimum = 1, maximum = 1_000_000_000),
        ("fields" = inline(Option<JointMembers>), Query, description = "The members to show besides those that it always has",
            example = json!(["title", "positions"]), style = Form, explode = false),
    ),
    responses(
        (status = 200, description = "The joint as it was", body = JointEntry,
            headers(("ETag" = String, description = "The revision, and a digest of what is sent"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/revisions/{revision}")]
pub async fn get_joint_revision(
    shared: web::Data<Shared>,
    request: HttpRequest,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, Problem> {
    records::revision(&shared, &request, Kind::Joint, path.into_inner()).await
}

/// The findings about a joint
///
/// What the audit says about the joint, judged with the whole book as evidence. No finding does not mean that a number is
/// right.
#[utoipa::path(
    tag = "audit",
    params(("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
        min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$")),
    responses(
        (status = 200, description = "The findings", body = FindingList,
            headers(("ETag" = String, description = "The state of the book; send it as If-None-Match to hear only of changes"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/findings")]
pub async fn list_joint_findings(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    records::findings(&shared, &request, Kind::Joint, &id).await
}
