//! Pages of other origins: which of them a browser lets read answers. None, unless the operator lists them.
//!
//! Cookies are never sent along: what such a page may do it may do with a token that it was given.

use super::rates::{RATE_LIMIT, RATE_LIMIT_POLICY};
use super::request_id::REQUEST_ID;
use super::sharing::{BOOK_AUDITED, BOOK_BEHIND, BOOK_CHANGE, BOOK_SEEN};
use actix_cors::Cors;
use actix_web::http::header::{
    ACCEPT, AUTHORIZATION, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, HeaderName, IF_MATCH, IF_NONE_MATCH, LINK,
    LOCATION, RETRY_AFTER,
};

/// How long a browser may remember what it was told, in seconds.
const REMEMBERED: usize = 3600;

/// Lets pages of these origins read answers.
pub fn allowing(origins: &[String]) -> Cors {
    let last_event = HeaderName::from_static("last-event-id");
    let prefer = HeaderName::from_static("prefer");
    let records = HeaderName::from_static("record-count");
    let cors = origins.iter().fold(Cors::default(), |cors, origin| cors.allowed_origin(origin));
    cors.allowed_methods(["GET", "HEAD", "PUT", "POST", "PATCH", "DELETE"])
        .allowed_headers([ACCEPT, AUTHORIZATION, CONTENT_TYPE, IF_MATCH, IF_NONE_MATCH, REQUEST_ID, BOOK_SEEN])
        .allowed_headers([last_event, prefer])
        .expose_headers([ETAG, LINK, LOCATION, RETRY_AFTER, CONTENT_DISPOSITION, REQUEST_ID, RATE_LIMIT])
        .expose_headers([RATE_LIMIT_POLICY, BOOK_CHANGE, BOOK_AUDITED, BOOK_BEHIND, records])
        .max_age(REMEMBERED)
}
