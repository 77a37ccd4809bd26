//! What concerns a book that several servers share: how old an answer may be, and seeing what one has written.
//!
//! - `Book-Change: EPOCH.SEQUENCE` stands on the answer to every write, and on every answer from a shared book: the last
//!   change that it knows of.
//! - Who sends that back as `Book-Seen` gets an answer that knows of it too, from whichever server it asks, or a 503.
//! - `Book-Behind: SECONDS` on answers from a shared book: what was written longer ago than this is in them.
//! - `Age: SECONDS` besides, once that is more than the operator's bound. An answer older than the operator allows is
//!   not given: 503.

use super::app::Shared;
use super::problem::Problem;
use super::problem_kinds as kinds;
use super::short_way;
use crate::catalog::{Catalog, Freshness};
use actix_web::Error;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{AGE, HeaderMap, HeaderName, HeaderValue, RETRY_AFTER};
use actix_web::middleware::Next;
use actix_web::rt::time::sleep;
use actix_web::web::Data;
use std::time::{Duration, Instant};

/// The last change that an answer knows of.
pub const BOOK_CHANGE: HeaderName = HeaderName::from_static("book-change");
/// The change that an answer must know of.
pub const BOOK_SEEN: HeaderName = HeaderName::from_static("book-seen");
/// The last change that had surely been audited, on an answer whose record was audited before the last change of the book.
pub const BOOK_AUDITED: HeaderName = HeaderName::from_static("book-audited");
/// How far an answer may be behind, in seconds.
pub const BOOK_BEHIND: HeaderName = HeaderName::from_static("book-behind");

/// How long a request waits for what its sender has seen.
const WAIT_MAX: Duration = Duration::from_secs(5);

/// Leads a request in, when the book knows what its sender has seen, and its answer out.
///
/// # Errors
/// None of its own.
pub async fn pass(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let catalog = request.app_data::<Data<Catalog>>().cloned();
    let Some(catalog) = catalog.filter(|_| is_about_the_book(request.path())) else {
        return Ok(next.call(request).await?.map_into_boxed_body());
    };
    let writes = !matches!(*request.method(), Method::GET | Method::HEAD);
    let let_in = match has_seen(request.headers(), &catalog).await {
        Ok(()) if !writes => is_young_enough(&catalog),
        other => other,
    };
    if let Err(problem) = let_in {
        return Ok(request.error_response(problem));
    }
    let shared = request.app_data::<Data<Shared>>().cloned();
    let answered = match &shared {
        Some(shared) => short_way::answer(shared, request.request()).await,
        None => None,
    };
    let mut response = match answered {
        Some(Ok(response)) => request.into_response(response),
        Some(Err(problem)) => request.error_response(problem),
        None => next.call(request).await?.map_into_boxed_body(),
    };
    mark(response.headers_mut(), &catalog, writes);
    Ok(response)
}

/// Whether what is answered here comes from the book.
fn is_about_the_book(path: &str) -> bool {
    (path.starts_with("/v1/") || path.starts_with("/bench")) && !path.starts_with("/bench/assets/")
}

/// Waits until the book knows of the change that the request names.
async fn has_seen(headers: &HeaderMap, catalog: &Catalog) -> Result<(), Problem> {
    let Some(seen) = headers.get(BOOK_SEEN) else { return Ok(()) };
    let (epoch, sequence) = seen.to_str().ok().and_then(read_change).ok_or_else(|| {
        Problem::new(
            &kinds::UNREADABLE,
            "the header Book-Seen is no EPOCH.SEQUENCE as Book-Change of an answer gives it",
        )
    })?;
    let until = Instant::now() + WAIT_MAX;
    loop {
        if catalog.epoch() != epoch {
            let detail = "what Book-Seen names belongs to a life of the book before a restore. Read anew without it";
            return Err(Problem::new(&kinds::GONE, detail));
        }
        let known = catalog.sequence();
        if known >= sequence {
            return Ok(());
        }
        if Instant::now() >= until {
            let detail = format!("this server knows of changes up to {known} so far, and {sequence} is asked for");
            return Err(Problem::new(&kinds::NOT_READY, detail).header(RETRY_AFTER, "1"));
        }
        catalog.hurry();
        sleep(Duration::from_millis(10)).await;
    }
}

fn read_change(text: &str) -> Option<(&str, u64)> {
    let (epoch, sequence) = text.split_once('.')?;
    let is_number = !sequence.is_empty() && sequence.bytes().all(|byte| byte.is_ascii_digit());
    is_number.then(|| sequence.parse().ok()).flatten().map(|sequence| (epoch, sequence))
}

/// Refuses what is older than the operator lets answers be.
fn is_young_enough(catalog: &Catalog) -> Result<(), Problem> {
    match catalog.freshness() {
        Some(Freshness { is_too_old: true, behind, .. }) => {
            let detail = format!("what this server holds is {} s old, older than is served here", behind.as_secs());
            Err(Problem::new(&kinds::NOT_READY, detail).header(RETRY_AFTER, "5"))
        }
        _ => Ok(()),
    }
}

fn mark(headers: &mut HeaderMap, catalog: &Catalog, writes: bool) {
    let freshness = catalog.freshness();
    if writes || freshness.is_some() {
        set(headers, BOOK_CHANGE, &format!("{}.{}", catalog.epoch(), catalog.sequence()));
    }
    if let Some(Freshness { behind, is_late, .. }) = freshness {
        set(headers, BOOK_BEHIND, &format!("{:.3}", behind.as_secs_f64()));
        if is_late {
            set(headers, AGE, &behind.as_secs().to_string());
        }
    }
}

fn set(headers: &mut HeaderMap, name: HeaderName, value: &str) {
    if let Ok(value) = HeaderValue::from_str(value) {
        headers.insert(name, value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_an_epoch_and_a_number() {
        assert_eq!(read_change("00ab.17"), Some(("00ab", 17)));
        for wrong in ["17", "00ab.", "00ab.+1", "00ab.x", "", "a.99999999999999999999"] {
            assert_eq!(read_change(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn only_what_comes_from_the_book_is_marked() {
        assert!(is_about_the_book("/v1/fasteners") && is_about_the_book("/bench/"));
        assert!(!is_about_the_book("/health/ready") && !is_about_the_book("/bench/assets/page.css"));
    }
}
