//! What closes a joint, and what sits where.

use super::records::{absent, absent_as_of, audited_as_seen, id_in_path, moment_asked, there, waits_for_audit};
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::failing::{at_once, in_background};
use crate::api::problem::{Part, Problem};
use crate::api::ready::AtPosition;
use crate::api::reply;
use crate::api::says::{NotFound, NotModified};
use crate::api::sharing::BOOK_SEEN;
use crate::api::tags;
use crate::catalog::{Catalog, Mark, PositionAsked};
use crate::record::{Fault, Head, Kind, POSITION_MAX, Place, Text};
use crate::view::{Entry, JointFasteners, PositionView};
use actix_web::http::StatusCode;
use actix_web::http::header::{ETAG, IF_NONE_MATCH};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// Everything that closes a joint
///
/// The fasteners of a joint, what tells them apart, and the passes of tightening: in each pass every position once, in order,
/// with what is done there.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("as_of" = Option<String>, Query, description = "The joint and its fasteners as they were at this moment", format = DateTime,
            min_length = 10, max_length = 40, example = "2100-01-01T00:00:00Z"),
    ),
    responses(
        (status = 200, description = "The fasteners and the passes", body = JointFasteners,
            headers(("ETag" = String, description = "The state of the book; send it as If-None-Match to hear only of changes"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/fasteners")]
pub async fn list_joint_fasteners(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let moment = moment_asked(&mut asked);
    asked.finish(Some(()))?;
    let id = id_in_path(&id)?;
    let (catalog, mark) = (shared.in_time(), shared.catalog.mark());
    there(&catalog, Kind::Joint, &id)?.ok_or_else(|| absent(&catalog, Kind::Joint, &id))?;
    let as_seen = audited_as_seen(&request);
    let closing = in_background(move || {
        as_seen(&catalog)?;
        let view = catalog.joint_as_of(&id, moment)?;
        let view = view.ok_or_else(|| absent_as_of(&catalog, Kind::Joint, &id, moment))?;
        JointFasteners::of(&catalog, view)?.ok_or_else(|| absent(&catalog, Kind::Joint, &id))
    });
    tags::unless_known_as_audited(&request, &mark, async {
        let closing = closing.await?;
        Ok((reply::json(&closing), Entry::all_audited_up_to(&closing.items)))
    })
    .await
}

/// What sits at a position
///
/// The fastener at a position of a joint: head, thread, stages, reuse rule. Where several answer, all are given, what tells
/// them apart comes first, and the caution says what to look at before a value is set. Where none does, what comes nearest is
/// given with the reason why it is not it.
#[utoipa::path(
    tag = "joints",
    params(
        ("id" = String, Path, description = "The id of the joint", example = "skua.diesel.raw-water-pump.cover",
            min_length = 3, max_length = 160, pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$"),
        ("position" = u32, Path, description = "The number of the position", example = 2, minimum = 1, maximum = 999),
        ("head" = Option<Head>, Query, description = "Only fasteners with this kind of head", example = "hexagon-flange"),
        ("variant" = Option<String>, Query, description = "Only what fits this variant of the machine",
            example = "bronze-housing", min_length = 1, max_length = 500, pattern = "^[!-~]([ -~]*[!-~])?$"),
        ("as_of" = Option<String>, Query, description = "The joint and its fasteners as they were at this moment", format = DateTime,
            min_length = 10, max_length = 40, example = "2100-01-01T00:00:00Z"),
    ),
    responses(
        (status = 200, description = "What sits there, or what comes near", body = PositionView,
            headers(("ETag" = String, description = "The state of the book; send it as If-None-Match to hear only of changes"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/joints/{id}/positions/{position}")]
pub async fn get_position(
    shared: web::Data<Shared>,
    request: HttpRequest,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let (id, number) = path.into_inner();
    position(&shared, &request, &id, &number).await
}

/// What sits at a position of a joint.
pub async fn position(shared: &Shared, request: &HttpRequest, id: &str, number: &str) -> Result<HttpResponse, Problem> {
    if let Some(answer) = at_hand(shared, request, id, number)? {
        return Ok(answer);
    }
    let mut asked = Asked::of(request);
    let head: Option<Head> = asked.optional("head");
    let variant: Option<Text> = asked.optional("variant");
    let as_of = moment_asked(&mut asked);
    asked.finish(Some(()))?;
    let (id, position) = (id_in_path(id)?, position_in_path(number)?);
    let (catalog, mark) = (shared.in_time(), shared.catalog.mark());
    let tag = tags::of_book(mark.epoch(), mark.sequence());
    if tags::is_known(request, &tag) && there(&catalog, Kind::Joint, &id)?.is_some() {
        return Ok(tags::tagged(HttpResponse::NotModified().finish(), &tag));
    }
    let (ready, as_seen) = (shared.ready.clone(), audited_as_seen(request));
    let work = move |catalog: &Catalog| {
        as_seen(catalog)?;
        let variant = variant.as_ref().map(Text::as_str);
        let at = ready.position(catalog, &id, &PositionAsked { position, head, variant, as_of })?;
        at.ok_or_else(|| absent_as_of(catalog, Kind::Joint, &id, as_of))
    };
    // What was at another moment is not in memory, and who waits for the audit does not do so here.
    let at = match as_of.is_none() && !waits_for_audit(request) {
        true => at_once(catalog, work, |at| at.up_to.is_none()).await?,
        false => in_background(move || work(&catalog)).await?,
    };
    Ok(answered(at, &mark))
}

/// The same, if it is ready and is asked for in the plainest form: what is asked all the time is answered without taking
/// the question apart.
fn at_hand(shared: &Shared, request: &HttpRequest, id: &str, number: &str) -> Result<Option<HttpResponse>, Problem> {
    let (Some(head), Ok(position)) = (plain_head(request.query_string()), position_in_path(number)) else {
        return Ok(None);
    };
    if [IF_NONE_MATCH, BOOK_SEEN].iter().any(|name| request.headers().contains_key(name)) {
        return Ok(None);
    }
    let mark = shared.catalog.mark();
    let asked = PositionAsked { position, head, ..PositionAsked::default() };
    let at = shared.ready.position_at_hand(&shared.catalog, &mark, id, &asked)?;
    Ok(at.map(|at| answered(at, &mark)))
}

/// The head that is asked for, where that is the word of a record and nothing else is asked.
fn plain_head(question: &str) -> Option<Option<Head>> {
    if question.is_empty() {
        return Some(None);
    }
    let word = question.strip_prefix("head=")?;
    Head::ALL.iter().find(|head| head.word() == word).map(|head| Some(*head))
}

fn answered(at: AtPosition, mark: &Mark) -> HttpResponse {
    let mut response = tags::tagged_as_audited(reply::json_made(StatusCode::OK, at.bytes), mark, at.up_to);
    // Where the joint is in no record its fasteners may be, and no tag says when one comes.
    if !at.has_joint {
        response.headers_mut().remove(ETAG);
    }
    response
}

fn position_in_path(text: &str) -> Result<u32, Problem> {
    text.parse().ok().filter(|number| (1..=POSITION_MAX).contains(number)).ok_or_else(|| {
        let detail = format!("a position is a whole number from 1 to {POSITION_MAX}");
        let fault = Fault::new("unreadable", &Place::root().below("position"), detail).given(text);
        Problem::unreadable(Part::Path, vec![fault])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_word_of_a_head_alone_is_plain() {
        assert_eq!(plain_head(""), Some(None));
        assert_eq!(plain_head("head=hexagon-flange"), Some(Some(Head::HexagonFlange)));
        for question in [
            "head=",
            "head=hex",
            "head=Hexagon",
            "head=hexagon&",
            "head=hexagon&head=pan",
            "head=hexagon+flange",
            "as_of=2100-01-01",
        ] {
            assert_eq!(plain_head(question), None, "{question}");
        }
    }
}
