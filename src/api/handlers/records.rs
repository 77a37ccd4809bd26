//! What fasteners and joints have in common: reading, writing, history, findings of one record.

use crate::answer::json_bytes;
use crate::api::access::Caller;
use crate::api::app::Shared;
use crate::api::asked::{Asked, wants_lenience};
use crate::api::body::PatchBody;
use crate::api::failing::{at_once, changed, in_background};
use crate::api::patch;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::question::question;
use crate::api::ready::PageSent;
use crate::api::reply;
use crate::api::sharing::BOOK_SEEN;
use crate::api::tags::{self, Condition};
use crate::catalog::{AuditScope, Catalog, CatalogError, Expected, Found, Mark, Put, State, Stored};
use crate::query::{Moment, Query, TAKE_DEFAULT, members_named};
use crate::record::{Fault, Id, Kind, Place, Record, Refused, Text};
use crate::view::{Entry, FindingList, Members, RevisionList, Written};
use actix_web::http::StatusCode;
use actix_web::http::header::{ETAG, IF_NONE_MATCH, LINK, LOCATION};
use actix_web::http::uri::PathAndQuery;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::Value;

/// The record that a path names.
///
/// # Errors
/// If the text is not an id.
pub fn id_in_path(text: &str) -> Result<Id, Problem> {
    text.parse().map_err(|error| {
        let fault = Fault::new("unreadable", &Place::root().below("id"), format!("{error}")).given(text);
        Problem::unreadable(Part::Path, vec![fault])
    })
}

fn folder(kind: Kind) -> &'static str {
    match kind {
        Kind::Fastener => "/v1/fasteners",
        Kind::Joint => "/v1/joints",
    }
}

/// The record as it stands there, if it is of this kind.
///
/// # Errors
/// If the book can't be read.
pub fn there(catalog: &Catalog, kind: Kind, id: &Id) -> Result<Option<Stored>, Problem> {
    Ok(catalog.get(id)?.filter(|stored| stored.record.kind() == kind))
}

/// That there is no such record, with what is near.
pub fn absent(catalog: &Catalog, kind: Kind, id: &Id) -> Problem {
    let other = catalog.get(id).ok().flatten().filter(|stored| stored.record.kind() != kind);
    if let Some(other) = other {
        let other = other.record.kind();
        return Problem::not_found(format!("{id} is a {other}, not a {kind}; ask for {}/{id}", folder(other)));
    }
    let near: Vec<String> = catalog.ids_near(id).unwrap_or_default().iter().map(ToString::to_string).collect();
    let words = if near.is_empty() { String::new() } else { format!("; near it: {}", near.join(", ")) };
    Problem::not_found(format!("there is no {kind} {id}{words}")).with("near", near)
}

/// The last revision of a record, if that is all that is asked for, and no audit has to be waited for.
pub fn at_hand(shared: &Shared, request: &HttpRequest, kind: Kind, id: &str) -> Result<Option<HttpResponse>, Problem> {
    if !request.query_string().is_empty() {
        return Ok(None);
    }
    let Some((shown, up_to)) = shared.ready.one(&shared.catalog, id)?.filter(|(shown, _)| shown.kind == kind) else {
        return Ok(None);
    };
    // Who names what they have seen is shown what the audit says of it.
    if up_to.is_some() && waits_for_audit(request) {
        return Ok(None);
    }
    let response = tags::shown_unless_known(request, &shown);
    Ok(Some(tags::as_audited(response, &shared.catalog.epoch(), up_to)))
}

/// Answers with one record: the last revision, or the one in force at a moment.
pub async fn read(shared: &Shared, request: &HttpRequest, kind: Kind, id: &str) -> Result<HttpResponse, Problem> {
    if let Some(answer) = at_hand(shared, request, kind, id)? {
        return Ok(answer);
    }
    let mut asked = Asked::of(request);
    let moment = moment_asked(&mut asked);
    let members = members_asked(&mut asked, kind);
    asked.finish(Some(()))?;
    let id = id_in_path(id)?;
    let catalog = shared.in_time();
    let stored = match moment {
        Some(moment) => catalog.get_as_of(&id, moment)?.filter(|stored| stored.record.kind() == kind),
        None => there(&catalog, kind, &id)?,
    };
    let stored = stored.ok_or_else(|| absent_as_of(&catalog, kind, &id, moment))?;
    shown(request, catalog, stored, members).await
}

/// The moment that a question is about; absent means now.
pub fn moment_asked(asked: &mut Asked) -> Option<jiff::Timestamp> {
    asked.optional("as_of").map(|Moment(moment)| moment)
}

/// That there is no such record, or was none at a moment.
pub fn absent_as_of(catalog: &Catalog, kind: Kind, id: &Id, moment: Option<jiff::Timestamp>) -> Problem {
    let is_there = there(catalog, kind, id).is_ok_and(|stored| stored.is_some());
    match moment.filter(|_| is_there) {
        Some(moment) => Problem::not_found(format!("{id} was not in the book yet at {moment}")),
        None => absent(catalog, kind, id),
    }
}

/// The members that are asked for besides those that a record is always shown with.
fn members_asked(asked: &mut Asked, kind: Kind) -> Option<Members> {
    let fields = asked.list("fields")?.join(",");
    match members_named("fields", &fields, Some(kind)) {
        Ok(members) => Some(members),
        Err(Refused(faults)) => {
            faults.into_iter().for_each(|fault| asked.fault(fault));
            None
        }
    }
}

/// A revision of a record as it is shown, with the tag of just that.
async fn shown(
    request: &HttpRequest,
    catalog: Catalog,
    stored: Stored,
    members: Option<Members>,
) -> Result<HttpResponse, Problem> {
    let as_seen = audited_as_seen(request);
    let entry = in_background(move || {
        as_seen(&catalog)?;
        let epoch = catalog.epoch();
        Ok((epoch, Entry::of(&catalog, stored)?.showing(members.as_ref())))
    });
    let (epoch, entry) = entry.await?;
    let tag = tags::of_shown(entry.stored.revision, &json_bytes(&entry));
    let response = tags::unless_known(request, tag, async { Ok(reply::json(&entry)) }).await?;
    Ok(tags::as_audited(response, &epoch, entry.audited_up_to))
}

/// Stores a record: a new one, or a new revision.
pub async fn write(
    shared: &Shared,
    request: &HttpRequest,
    kind: Kind,
    id: &str,
    body: Value,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(request)?;
    let id = id_in_path(id)?;
    let condition = Condition::of(request)?;
    let record = named(kind, &id, body);
    store(shared, Caller::of(request), kind, id, condition, record).await
}

/// Changes a record by what the body says is different.
pub async fn amend(
    shared: &Shared,
    request: &HttpRequest,
    kind: Kind,
    id: &str,
    PatchBody(form, body): PatchBody,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(request)?;
    let id = id_in_path(id)?;
    let condition = Condition::of(request)?;
    let stored = there(&shared.catalog, kind, &id)?.ok_or_else(|| absent(&shared.catalog, kind, &id))?;
    let mut value = serde_json::to_value(&*stored.record).map_err(|error| Problem::internal(&error))?;
    let patched = patch::apply(form, &mut value, body);
    // A retry of a change that was stored must find out that it was, whatever it asks to be applied to.
    if !condition.is_met(Some(stored.revision)) {
        let same = patched.is_ok() && named(kind, &id, value).is_ok_and(|record| record == *stored.record);
        return match same {
            true => Ok(written(kind, &id, &unchanged(&stored))),
            false => Err(stale(&shared.catalog, &condition, Some(&stored), &id)),
        };
    }
    patched?;
    store(shared, Caller::of(request), kind, id.clone(), condition, named(kind, &id, value)).await
}

/// The record in a body; kind and id are in the path and may be left out.
fn named(kind: Kind, id: &Id, mut body: Value) -> Result<Record, Refused> {
    if let Value::Object(members) = &mut body {
        members.entry("kind").or_insert_with(|| kind.word().into());
        members.entry("id").or_insert_with(|| id.as_str().into());
    }
    let mut faults = Vec::new();
    let mut contradiction = |place: &str, given: &dyn std::fmt::Display, wanted: &str| {
        let detail = format!("the path says {wanted}");
        faults.push(Fault::new("contradiction", &Place::root().below(place), detail).given(given).allowed(wanted));
    };
    match Record::from_json(&body) {
        Ok(record) => {
            if record.kind() != kind {
                contradiction("kind", &record.kind(), kind.word());
            }
            if record.id() != id {
                contradiction("id", record.id(), id.as_str());
            }
            if faults.is_empty() { Ok(record) } else { Err(Refused(faults)) }
        }
        Err(refused) => Err(refused),
    }
}

/// Stores a record, if what stands there is what the condition says.
pub async fn store(
    shared: &Shared,
    caller: Caller,
    kind: Kind,
    id: Id,
    condition: Condition,
    record: Result<Record, Refused>,
) -> Result<HttpResponse, Problem> {
    let catalog = shared.catalog.clone();
    let name = id.clone();
    let put = in_background(move || {
        let before = catalog.get(&id)?;
        if let Some(before) = &before
            && before.state == State::Current
            && record.as_ref().is_ok_and(|record| *record == *before.record)
        {
            // The answer to the first try was lost: it is stored already.
            return Ok(unchanged(before));
        }
        if !condition.is_met(before.as_ref().map(|before| before.revision)) {
            return Err(stale(&catalog, &condition, before.as_ref(), &id));
        }
        if let Some(before) = before.as_ref().filter(|before| before.record.kind() != kind) {
            let detail = format!("{id} is a {}, and stays one", before.record.kind());
            return Err(Problem::new(&kinds::CONFLICT, detail));
        }
        let record = record.map_err(Problem::faulty)?;
        caller.may_check(before.as_ref(), &record)?;
        let expected = before.map_or(Expected::New, |before| Expected::Revision(before.revision));
        Ok(catalog.put(record, expected, &caller.author())?)
    })
    .await?;
    Ok(written(kind, &name, &put))
}

fn written(kind: Kind, id: &Id, put: &Put) -> HttpResponse {
    let status = if put.new { StatusCode::CREATED } else { StatusCode::OK };
    let mut response = reply::json_with(status, &Written::of(id.to_string(), put));
    reply::set(&mut response, LOCATION, &format!("{}/{id}", folder(kind)));
    reply::set(&mut response, ETAG, &tags::of_revision(put.revision));
    response
}

/// A write whose result is what stands there already.
fn unchanged(stored: &Stored) -> Put {
    Put { revision: stored.revision, changed: false, new: false, sequence: stored.sequence }
}

/// The condition is not met (412): who changed it, when, and what is different.
fn stale(catalog: &Catalog, condition: &Condition, there: Option<&Stored>, id: &Id) -> Problem {
    let Some(there) = there else {
        let detail = format!("{id} is not in the book; send If-None-Match: * alone to make it");
        return Problem::new(&kinds::CHANGED_SINCE, detail);
    };
    let found = Found {
        revision: there.revision,
        changed_at: there.changed_at,
        changed_by: there.changed_by.clone(),
        withdrawn: there.state == State::Withdrawn,
    };
    let known = match condition {
        Condition::Revisions(revisions) => revisions.first().copied(),
        _ => None,
    };
    let before = known.and_then(|revision| catalog.revision(id, revision).ok().flatten());
    let detail = match (&before, known) {
        (Some(before), _) => format!("{id} was at revision {} and is at {} now", before.revision, there.revision),
        (None, Some(_)) => format!("the tag is not one of {id}, which is at revision {}", there.revision),
        (None, None) => format!("{id} is in the book, at revision {}", there.revision),
    };
    let problem = changed(detail, &found);
    match before {
        Some(before) => problem.with("pointers", patch::differences(&before.record, &there.record)),
        None => problem,
    }
}

/// Takes a record back.
pub async fn withdraw(shared: &Shared, request: &HttpRequest, kind: Kind, id: &str) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(request);
    let why: Option<Text> = asked.optional("why");
    asked.finish(Some(()))?;
    let id = id_in_path(id)?;
    let condition = Condition::of(request)?;
    let catalog = shared.catalog.clone();
    let (name, caller) = (id.clone(), Caller::of(request));
    let put = in_background(move || {
        let stored = there(&catalog, kind, &id)?.ok_or_else(|| absent(&catalog, kind, &id))?;
        if stored.state == State::Withdrawn {
            return Ok(unchanged(&stored));
        }
        if !condition.is_met(Some(stored.revision)) {
            return Err(stale(&catalog, &condition, Some(&stored), &id));
        }
        Ok(catalog.withdraw(&id, Expected::Revision(stored.revision), why, &caller.author())?)
    })
    .await?;
    Ok(written(kind, &name, &put))
}

/// What is known of every revision of a record.
pub async fn revisions(shared: &Shared, request: &HttpRequest, kind: Kind, id: &str) -> Result<HttpResponse, Problem> {
    Asked::nothing(request)?;
    let id = id_in_path(id)?;
    there(&shared.catalog, kind, &id)?.ok_or_else(|| absent(&shared.catalog, kind, &id))?;
    let tag = tags::of_now(&shared.catalog);
    let list = async { Ok(reply::json(&RevisionList::of(shared.catalog.revisions(&id)?))) };
    tags::unless_known(request, tag, list).await
}

/// One revision of a record, which stays what it is for ever.
pub async fn revision(
    shared: &Shared,
    request: &HttpRequest,
    kind: Kind,
    (id, number): (String, String),
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(request);
    let members = members_asked(&mut asked, kind);
    asked.finish(Some(()))?;
    let id = id_in_path(&id)?;
    let number: u64 = number.parse().ok().filter(|number| *number > 0).ok_or_else(|| {
        let detail = "a revision is a whole number from 1";
        let fault = Fault::new("unreadable", &Place::root().below("revision"), detail).given(&number);
        Problem::unreadable(Part::Path, vec![fault])
    })?;
    let last = there(&shared.catalog, kind, &id)?.ok_or_else(|| absent(&shared.catalog, kind, &id))?.revision;
    let stored = shared.catalog.revision(&id, number)?;
    let stored =
        stored.ok_or_else(|| Problem::not_found(format!("{id} has no revision {number}, the last one is {last}")))?;
    shown(request, shared.catalog.clone(), stored, members).await
}

/// What the audit of the book says about a record.
pub async fn findings(shared: &Shared, request: &HttpRequest, kind: Kind, id: &str) -> Result<HttpResponse, Problem> {
    Asked::nothing(request)?;
    let id = id_in_path(id)?;
    there(&shared.catalog, kind, &id)?.ok_or_else(|| absent(&shared.catalog, kind, &id))?;
    let catalog = shared.in_time();
    let tag = tags::of_now(&catalog);
    let list = in_background(move || Ok(FindingList::of(catalog.audit(&AuditScope::Ids(vec![id]))?)));
    tags::unless_known(request, tag, async { Ok(reply::json(&list.await?)) }).await
}

/// Whether the index answers a question in less time than it takes to ask another thread to.
fn is_short(query: &Query) -> bool {
    query.as_of.is_none() && query.words.is_empty() && query.facets.is_empty() && query.take <= TAKE_DEFAULT
}

/// The page that this address had, if it was asked for before, and the book has not changed since.
fn page_at_hand(shared: &Shared, request: &HttpRequest) -> Option<HttpResponse> {
    if wants_lenience(request) || request.headers().contains_key(IF_NONE_MATCH) {
        return None;
    }
    let (page, mark) = shared.ready.page_again(&shared.catalog, address(request))?;
    Some(sent(page, &mark))
}

/// The path and the question of a request.
fn address(request: &HttpRequest) -> &str {
    request.uri().path_and_query().map_or("", PathAndQuery::as_str)
}

/// A page of a state of the book, with the link to the next one.
fn sent(PageSent { bytes, link, up_to }: PageSent, mark: &Mark) -> HttpResponse {
    let mut response = tags::tagged_as_audited(reply::json_made(StatusCode::OK, bytes), mark, up_to);
    if let Some(link) = link {
        response.headers_mut().insert(LINK, link);
    }
    response
}

/// Whether somebody names what they have seen: they wait until the audit has looked at that.
pub fn waits_for_audit(request: &HttpRequest) -> bool {
    request.headers().contains_key(BOOK_SEEN)
}

/// Sees to it that who names what they have seen is shown what the audit says of it.
pub fn audited_as_seen(request: &HttpRequest) -> impl Fn(&Catalog) -> Result<(), CatalogError> + Send + use<> {
    let waits = waits_for_audit(request);
    move |catalog| if waits { catalog.await_audit() } else { Ok(()) }
}

/// Answers a question about one kind of record, or about both, with a page.
pub async fn list(shared: &Shared, request: &HttpRequest, kind: Option<Kind>) -> Result<HttpResponse, Problem> {
    if let Some(answer) = page_at_hand(shared, request) {
        return Ok(answer);
    }
    let query = question(request, kind)?;
    let (catalog, ready, mark) = (shared.in_time(), shared.ready.clone(), shared.catalog.mark());
    let tag = tags::of_book(mark.epoch(), mark.sequence());
    if tags::is_known(request, &tag) {
        return Ok(tags::tagged(HttpResponse::NotModified().finish(), &tag));
    }
    let (is_quick, as_seen) = (is_short(&query) && !waits_for_audit(request), audited_as_seen(request));
    let (address, is_kept) = (address(request).to_owned(), !wants_lenience(request));
    let page = move |catalog: &Catalog| {
        as_seen(catalog)?;
        Ok(ready.page(catalog, &query, &address, is_kept)?)
    };
    let page = match is_quick {
        true => at_once(catalog, page, |page| page.up_to.is_none()).await?,
        false => in_background(move || page(&catalog)).await?,
    };
    Ok(sent(page, &mark))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::api::access::Access;
    use crate::api::app::app;
    use crate::api::sharing::BOOK_AUDITED;
    use crate::api::tokens::Tokens;
    use crate::catalog::ImportOptions;
    use actix_web::test::{TestRequest, call_service, init_service, read_body};
    use std::time::{Duration, Instant};

    const JOINT: &str = "skua.gangway.here";
    /// More than is audited by whoever asks.
    const MANY: usize = 600;

    struct Answer {
        value: Value,
        tag: String,
        audited: Option<String>,
    }

    async fn get(shared: &actix_web::web::Data<Shared>, path: &str, headers: &[(&str, &str)]) -> Answer {
        let mut request = TestRequest::get().uri(path);
        for header in headers {
            request = request.insert_header(*header);
        }
        let answer = call_service(&init_service(app(shared.clone())).await, request.to_request()).await;
        assert_eq!(answer.status(), StatusCode::OK, "{path}");
        let header = |name| answer.headers().get(name).map(|value| value.to_str().unwrap().to_owned());
        let (tag, audited) = (header(ETAG).unwrap(), header(BOOK_AUDITED));
        Answer { value: serde_json::from_slice(&read_body(answer).await).unwrap(), tag, audited }
    }

    /// While the audit of much that was written is promised, nobody waits for it who does not ask for just that.
    #[actix_web::test]
    async fn what_is_not_audited_yet_is_shown_as_pending() {
        let access = Access { anonymous_read: true, anonymous_write: false, tokens: Tokens::at("tokens.json") };
        let shared = actix_web::web::Data::new(Shared::new(Catalog::in_memory().unwrap(), access));
        let book = &shared.catalog;
        book.await_audit().unwrap();
        let before = format!("{}.{}", book.epoch(), book.sequence());
        book.promise_audit(Instant::now() + Duration::from_secs(3600));
        let line = |number| {
            format!(
                "{{\"kind\":\"fastener\",\"id\":\"{JOINT}.f{number}\",\"joint\":\"{JOINT}\",\"thread\":\"M8\",\"positions\":\"{number}\",\"stages\":[\"20 N·m\"]}}\n"
            )
        };
        let joint = format!("{{\"kind\":\"joint\",\"id\":\"{JOINT}\"}}\n");
        let lines: String = std::iter::once(joint).chain((1..=MANY).map(line)).collect();
        assert_eq!(book.import(lines.as_bytes(), &ImportOptions::default()).unwrap().stored, 1 + MANY as u64);

        let change = format!("{}.{}", book.epoch(), book.sequence());
        let one = format!("/v1/fasteners/{JOINT}.f7");
        for (path, place) in [
            (one.clone(), "/book/audit"),
            (format!("{one}?fields=stages"), "/book/torques/0/audit"),
            (format!("{one}/revisions/1"), "/book/audit"),
            ("/v1/fasteners?take=5".to_owned(), "/items/4/book/audit"),
            ("/v1/records?fields=thread".to_owned(), "/items/3/book/audit"),
            (format!("/v1/joints/{JOINT}/positions/3"), "/items/0/book/audit"),
            (format!("/v1/joints/{JOINT}/positions/700"), "/nearest/0/fastener/book/audit"),
            (format!("/v1/joints/{JOINT}/fasteners"), "/passes/0/steps/0/torque/audit"),
            (format!("/v1/assemblies/{JOINT}"), "/audit"),
        ] {
            let pending = get(&shared, &path, &[]).await;
            let state = pending.value.pointer(place).unwrap_or_else(|| panic!("{path}: {}", pending.value));
            assert_eq!(*state, serde_json::json!({ "is_pending": true, "count": 0, "accepted": 0 }), "{path}");
            assert_eq!(pending.audited.as_deref(), Some(before.as_str()), "{path}");
            // Asked again, nothing of it was kept as if it had been audited.
            assert_eq!(get(&shared, &path, &[]).await.value, pending.value, "{path}");
        }
        let at_the_bench = || async {
            let request = TestRequest::get().uri(&format!("/bench/fasteners/{JOINT}.f7")).to_request();
            let answer = call_service(&init_service(app(shared.clone())).await, request).await;
            String::from_utf8(read_body(answer).await.to_vec()).unwrap()
        };
        assert!(at_the_bench().await.contains("The audit is pending"));
        let page_before = get(&shared, "/v1/fasteners?take=5", &[]).await;
        // Who names what they have seen waits; then it is known to everybody.
        let seen = get(&shared, &one, &[("Book-Seen", &change)]).await;
        assert!(seen.value["book"]["audit"]["count"].as_u64() > Some(0), "{}", seen.value);
        assert_eq!((seen.audited, seen.value["book"]["audit"].get("is_pending")), (None, None));
        assert_eq!(get(&shared, &one, &[]).await.tag, seen.tag);
        // The tag of what was pending is none of what is known.
        let page = get(&shared, "/v1/fasteners?take=5", &[("If-None-Match", &page_before.tag)]).await;
        assert!(!at_the_bench().await.contains("pending"));
        assert!(page.audited.is_none() && !page.value.to_string().contains("is_pending"), "{}", page.value);
    }
}
