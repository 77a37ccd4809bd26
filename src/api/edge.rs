//! What every request goes through before a handler: limits, who sends it, `HEAD`, and what it accepts.

use super::access::{self, Caller};
use super::app::Shared;
use super::problem::Problem;
use super::problem_kinds as kinds;
use super::rates::Left;
use super::reply::accepts;
use super::sign_in;
use super::tokens::Scope;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{CONNECTION, CONTENT_TYPE, HeaderValue, RETRY_AFTER};
use actix_web::middleware::Next;
use actix_web::rt::time::timeout;
use actix_web::web::Data;
use actix_web::{Error, HttpMessage};
use std::future::poll_fn;
use std::panic::AssertUnwindSafe;
use std::task::Poll;
use std::time::Duration;

/// The longest address that is taken.
pub const ADDRESS_MAX: usize = 8 << 10;
/// How long all headers of a request may be together.
const HEADERS_MAX: usize = 32 << 10;
/// How many headers a request may have.
const HEADERS_COUNT: usize = 64;

/// The mark of a request that was `HEAD`: nobody reads the body of its answer.
#[derive(Debug, Clone, Copy)]
pub struct OnlyHead;

/// Leads a request in and its answer out.
///
/// # Errors
/// A problem if the handler panics or takes too long, and what a service could not turn into an answer.
pub async fn pass(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let shared = request.app_data::<Data<Shared>>().map(|shared| shared.clone().into_inner());
    if let Err(problem) = is_small(&request).and_then(|()| is_taken(&request, shared.as_deref())) {
        return Ok(request.error_response(problem));
    }
    // The codec below remembers that it was HEAD and sends no body.
    if *request.method() == Method::HEAD {
        request.head_mut().method = Method::GET;
        request.extensions_mut().insert(OnlyHead);
    }
    let left = match let_in(&request, shared.as_deref()) {
        Ok(left) => left,
        Err(problem) => return Ok(request.error_response(problem)),
    };
    if let Some(response) = sign_in::led_there(&request) {
        return Ok(request.into_response(response));
    }
    let most = shared.as_ref().and_then(|shared| time_for(&request, shared.limits.answer_time));
    let writes = !matches!(*request.method(), Method::GET);
    let answered = without_panic(next.call(request));
    let answered = match most {
        Some(most) => timeout(most, answered).await.map_err(|_| too_late(most, shared.as_deref(), writes))?,
        None => answered.await,
    };
    let mut response = check_accept(answered.map_err(|panic| Problem::internal(&panic))??.map_into_boxed_body());
    if let Some(left) = left {
        for (name, value) in left.fields() {
            if let Ok(value) = HeaderValue::try_from(value) {
                response.headers_mut().insert(name, value);
            }
        }
    }
    Ok(response)
}

/// Refuses what is larger than it has to be.
fn is_small(request: &ServiceRequest) -> Result<(), Problem> {
    let uri = request.uri();
    let address = uri.path_and_query().map_or(0, |asked| asked.as_str().len());
    if address > ADDRESS_MAX {
        return Err(Problem::new(&kinds::ADDRESS_TOO_LONG, format!("the address has more than {ADDRESS_MAX} bytes")));
    }
    let headers = request.headers();
    let bytes: usize = headers.iter().map(|(name, value)| name.as_str().len() + value.len()).sum();
    if headers.len() > HEADERS_COUNT || bytes > HEADERS_MAX {
        let detail = format!("a request has at most {HEADERS_COUNT} headers with {HEADERS_MAX} bytes in all");
        return Err(Problem::new(&kinds::HEADERS_TOO_LARGE, detail));
    }
    Ok(())
}

/// Refuses what is new when the service has almost stopped. Whether it lives is told to the end.
fn is_taken(request: &ServiceRequest, shared: Option<&Shared>) -> Result<(), Problem> {
    let is_closing = shared.is_some_and(|shared| shared.stopping.is_closing());
    if is_closing && request.path() != "/health/live" {
        let problem = Problem::new(&kinds::NOT_READY, "the service is stopping; nothing was done");
        return Err(problem.header(RETRY_AFTER, "5").header(CONNECTION, "close"));
    }
    Ok(())
}

/// Finds out who sends a request, whether they may, and whether they have not sent too many.
fn let_in(request: &ServiceRequest, shared: Option<&Shared>) -> Result<Option<Left>, Problem> {
    let Some(shared) = shared else { return Ok(None) };
    let caller = caller(request, shared);
    let is_counted = request.path().starts_with("/v1/") || request.path().starts_with("/bench");
    let left = match &shared.rates {
        Some(rates) if is_counted => {
            let known = caller.as_ref().ok().and_then(Option::as_ref);
            Some(rates.count(known, request.peer_addr().map(|address| address.ip()))?)
        }
        _ => None,
    };
    // Whoever is not entered is anybody.
    if let Some(caller @ Caller::Holder(_)) = caller? {
        request.extensions_mut().insert(caller);
    }
    Ok(left)
}

fn caller(request: &ServiceRequest, shared: &Shared) -> Result<Option<Caller>, Problem> {
    let Some(scope) = access::needed(request.method(), request.path()) else { return Ok(None) };
    // A method that the path has not is told so to everybody.
    let known = shared.paths.find(request.path());
    if known.and_then(|known| known.operation(request.method())).is_none() {
        return Ok(None);
    }
    if scope == Scope::Write
        && let Some(leader) = &shared.leader
    {
        return Err(only_follows(leader));
    }
    shared.access.check(request.headers(), scope).map(Some)
}

/// What a write is told by a server that only follows another one.
fn only_follows(leader: &str) -> Problem {
    let detail = format!("this server follows the one at {leader} and takes no writes; send it there");
    Problem::new(&kinds::FOLLOWS, detail).with("leader", leader)
}

/// How long the answer to a request may take to begin. Who waits for changes has said how long, and a large intake arrives
/// as fast as its sender sends it; both have limits of their own.
fn time_for(request: &ServiceRequest, usual: Duration) -> Option<Duration> {
    let has_its_own = request.path() == "/v1/changes" || request.path().starts_with("/v1/intakes");
    (!has_its_own).then_some(usual)
}

/// That there was no answer in time, and why, where that is known.
fn too_late(most: Duration, shared: Option<&Shared>, writes: bool) -> Problem {
    let is_audited = shared.is_none_or(|shared| shared.catalog.last_audit().is_some());
    let why = if is_audited { "" } else { "; the book has not been audited yet, and what needs that waits for it" };
    Problem::took_too_long(&format!("there was no answer within {} s{why}", most.as_secs_f64()), writes)
}

/// Replaces what was got but cannot be used by a 406. Writes are done by then, and their answer stands.
fn check_accept(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let is_read = *response.request().method() == Method::GET && response.status().is_success();
    let media_type = response.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    match media_type {
        Some(media_type) if is_read && !accepts(response.request().headers(), media_type) => {
            let problem = Problem::new(&kinds::NOT_ACCEPTABLE, format!("what is here is {media_type}"));
            let request = response.request().clone();
            ServiceResponse::from_err(problem, request)
        }
        _ => response,
    }
}

/// Waits for an outcome and takes a panic as one: one broken request must not end the worker that others wait for.
async fn without_panic<F: Future>(inner: F) -> Result<F::Output, String> {
    let mut inner = Box::pin(inner);
    poll_fn(move |context| match std::panic::catch_unwind(AssertUnwindSafe(|| inner.as_mut().poll(context))) {
        Ok(poll) => poll.map(Ok),
        Err(panic) => {
            let text = panic.downcast_ref::<String>().cloned();
            let text = text.or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned()));
            Poll::Ready(Err(format!("a panic: {}", text.unwrap_or_default())))
        }
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::api::access::Access;
    use crate::api::tokens::Tokens;
    use crate::catalog::{AuditScope, Catalog};

    #[test]
    fn who_waited_for_the_first_audit_is_told_so() {
        let access = Access { anonymous_read: true, anonymous_write: false, tokens: Tokens::at("tokens.json") };
        let shared = Shared::new(Catalog::in_memory().unwrap(), access);
        let told = || too_late(Duration::from_secs(60), Some(&shared), false).to_string();
        assert!(told().contains("within 60 s; the book has not been audited yet"), "{}", told());
        shared.catalog.audit(&AuditScope::Whole).unwrap();
        assert!(told().contains("within 60 s. Ask for less"), "{}", told());
    }
}
