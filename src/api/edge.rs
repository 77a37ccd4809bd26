//! What every request and every answer go through: ids, limits, `HEAD`, headers for safety, the log.

use super::access;
use super::app::Shared;
use super::problem::Problem;
use super::problem_kinds as kinds;
use super::reply::accepts;
use super::request_id::{self, REQUEST_ID};
use super::sign_in;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{Error, HttpMessage, ResponseError};
use std::future::poll_fn;
use std::panic::AssertUnwindSafe;
use std::task::Poll;
use std::time::{Duration, Instant};

/// The longest address that is taken.
pub const ADDRESS_MAX: usize = 8 << 10;
/// From when on a request is entered in the log as slow.
const SLOW: Duration = Duration::from_secs(1);

/// The mark of a request that was `HEAD`: nobody reads the body of its answer.
#[derive(Debug, Clone, Copy)]
pub struct OnlyHead;

/// Leads a request in and its answer out.
///
/// # Errors
/// None of its own; what a service could not turn into an answer.
pub async fn pass(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let id = request_id::of(request.headers());
    let (method, path, start) = (request.method().clone(), request.path().to_owned(), Instant::now());
    let mut response = match answer(request, next).await {
        Ok(response) => response?,
        Err(panic) => {
            let mut problem = Problem::internal(&panic).header(REQUEST_ID, id.to_str().unwrap_or_default());
            for (name, value) in EVERYWHERE {
                problem = problem.header(HeaderName::from_static(name), value);
            }
            return Err(problem.into());
        }
    };
    finish(response.headers_mut(), id.clone());
    let (status, took) = (response.status(), start.elapsed());
    if status.is_server_error() || took > SLOW {
        tracing::warn!(%method, path, status = status.as_u16(), ms = took.as_millis(), id = id.to_str().unwrap_or_default(), "answered");
    } else {
        tracing::debug!(%method, path, status = status.as_u16(), ms = took.as_millis(), id = id.to_str().unwrap_or_default(), "answered");
    }
    Ok(response)
}

async fn answer(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<Result<ServiceResponse<BoxBody>, Error>, String> {
    if request.uri().to_string().len() > ADDRESS_MAX {
        let detail = format!("the address has more than {ADDRESS_MAX} bytes");
        return Ok(Ok(request.into_response(Problem::new(&kinds::ADDRESS_TOO_LONG, detail).error_response())));
    }
    // The codec below remembers that it was HEAD and sends no body.
    if *request.method() == Method::HEAD {
        request.head_mut().method = Method::GET;
        request.extensions_mut().insert(OnlyHead);
    }
    if let Some(response) = sign_in::led_there(&request) {
        return Ok(Ok(request.into_response(response)));
    }
    if let Err(problem) = let_in(&request) {
        return Ok(Ok(request.into_response(problem.error_response())));
    }
    let response = without_panic(next.call(request)).await?;
    Ok(response.map(|response| check_accept(response.map_into_boxed_body())))
}

/// Finds out who sends a request, and whether they may.
fn let_in(request: &ServiceRequest) -> Result<(), Problem> {
    let Some(scope) = access::needed(request.method(), request.path()) else { return Ok(()) };
    let Some(shared) = request.app_data::<Data<Shared>>() else { return Ok(()) };
    // A method that the path has not is told so to everybody.
    let methods = shared.paths.methods(request.path());
    if !methods.is_some_and(|methods| methods.split(", ").any(|method| method == request.method().as_str())) {
        return Ok(());
    }
    let caller = shared.access.check(request.headers(), scope)?;
    request.extensions_mut().insert(caller);
    Ok(())
}

/// Replaces what was got but cannot be used by a 406. Writes are done by then, and their answer stands.
fn check_accept(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let is_read = *response.request().method() == Method::GET && response.status().is_success();
    let media_type = response.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    match media_type {
        Some(media_type) if is_read && !accepts(response.request().headers(), media_type) => {
            let problem = Problem::new(&kinds::NOT_ACCEPTABLE, format!("what is here is {media_type}"));
            let request = response.request().clone();
            ServiceResponse::new(request, problem.error_response())
        }
        _ => response,
    }
}

/// The headers that every answer has.
const EVERYWHERE: &[(&str, &str)] = &[
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("content-security-policy", "default-src 'none'; frame-ancestors 'none'"),
];

fn finish(headers: &mut HeaderMap, id: HeaderValue) {
    headers.insert(REQUEST_ID, id);
    for (name, value) in EVERYWHERE {
        let name = HeaderName::from_static(name);
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
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
