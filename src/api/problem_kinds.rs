//! The kinds of problem that the API answers with, each with a page in words at `/problems/{name}`.

use actix_web::http::StatusCode;

/// A kind of problem: its name is the last part of the problem's `type`.
#[derive(Debug, PartialEq, Eq)]
pub struct ProblemKind {
    /// The name, lower-case words joined by hyphens.
    pub name: &'static str,
    /// The HTTP status that it is sent with.
    pub status: StatusCode,
    /// What happened, in a few words.
    pub title: &'static str,
    /// What it means and what to do about it.
    pub page: &'static str,
}

macro_rules! problem_kinds {
    ($( $(#[doc = $doc:literal])* $constant:ident = $name:literal, $status:ident, $title:literal; )*) => {
        $(
            $(#[doc = $doc])*
            pub static $constant: ProblemKind = ProblemKind {
                name: $name,
                status: StatusCode::$status,
                title: $title,
                page: concat!($($doc, "\n"),*),
            };
        )*

        /// Every kind of problem.
        pub static PROBLEM_KINDS: &[&ProblemKind] = &[$(&$constant),*];
    };
}

problem_kinds! {
    /// The request cannot be read: a parameter is unknown, given twice or unreadable, or the body is not JSON.
    /// Every fault found is in `errors`, each with its place. Nothing was done; correct the request and send it again.
    UNREADABLE = "unreadable", BAD_REQUEST, "The request cannot be read";
    /// The cursor in `after` belongs to another question, to another book, or was not made by this one.
    /// Cursors are taken from `page.next` of an answer to the same question. Ask for the first page again.
    CURSOR_MISMATCH = "cursor-mismatch", BAD_REQUEST, "The cursor does not belong to this question";
    /// The request needs a token, and none was sent, or one that is unknown, expired or revoked.
    /// Send it as `Authorization: Bearer`. Tokens are made with `clampbook token new`.
    TOKEN_WANTED = "token-wanted", UNAUTHORIZED, "A token is needed";
    /// The token is good but does not cover this: its scopes are too narrow, or the rule that nobody checks their own
    /// entry stands in the way. The detail says which.
    NOT_ALLOWED = "not-allowed", FORBIDDEN, "That is not allowed";
    /// There is nothing at this address: no such path, record, revision, rule or table. Ids are case-sensitive.
    /// A name with `/` or other special characters must be percent-encoded.
    NOT_FOUND = "not-found", NOT_FOUND, "There is nothing here";
    /// The path exists but not with this method. The methods that it has are in the header `Allow`.
    METHOD_NOT_ALLOWED = "method-not-allowed", METHOD_NOT_ALLOWED, "This path does not have this method";
    /// What is here cannot be sent in any of the forms that `Accept` names. The forms it has are in `detail`.
    NOT_ACCEPTABLE = "not-acceptable", NOT_ACCEPTABLE, "It cannot be sent in the form asked for";
    /// The request did not arrive within the time allowed for it. Send it again on a better connection.
    TOO_SLOW = "too-slow", REQUEST_TIMEOUT, "The request took too long to arrive";
    /// What is asked for contradicts what is in the book now: the id belongs to a record of another kind, or is taken.
    CONFLICT = "conflict", CONFLICT, "It contradicts what is in the book";
    /// What was here is gone: the place in the change feed belongs to a life of the store before a restore.
    /// Read the book anew and go on from the place that it names.
    GONE = "gone", GONE, "What was here is gone";
    /// The record was changed since the revision named in `If-Match`, or is there although `If-None-Match: *` says that
    /// it must not be. `current` says which revision stands there, when it was stored and by whom, and `pointers` what is
    /// different. Nothing was stored. Read the record again, decide, and send the new tag.
    CHANGED_SINCE = "changed-since", PRECONDITION_FAILED, "It was changed since you read it";
    /// The body is larger than what is taken here; the limit is in `detail`. Records go in bulk through `/v1/intakes`.
    BODY_TOO_LARGE = "body-too-large", PAYLOAD_TOO_LARGE, "The body is too large";
    /// The address is longer than 8 KiB. Ask for fewer things at once.
    ADDRESS_TOO_LONG = "address-too-long", URI_TOO_LONG, "The address is too long";
    /// The headers of the request are too many or too long; the limit is in `detail`. Send only those that are needed.
    HEADERS_TOO_LARGE = "headers-too-large", REQUEST_HEADER_FIELDS_TOO_LARGE, "The headers are too large";
    /// This server only follows another one and takes no writes. `leader` is the address of the server that does. Nothing
    /// was done; send the request there.
    FOLLOWS = "follows", MISDIRECTED_REQUEST, "This server takes no writes";
    /// The body is of a type that is not taken here, or in an encoding other than UTF-8.
    WRONG_MEDIA_TYPE = "wrong-media-type", UNSUPPORTED_MEDIA_TYPE, "The body is of a type that is not taken here";
    /// The request was read but what it says cannot be: a field is unknown, missing, of the wrong kind, or contradicts
    /// another. Every fault is in `errors`, each with its place. Nothing was stored.
    FAULTY = "faulty", UNPROCESSABLE_ENTITY, "What was sent cannot be right";
    /// A write to a record that exists must say which revision it is meant for. Read the record, take its `ETag`, and send
    /// it as `If-Match`; to make a new record, send `If-None-Match: *`.
    IF_MATCH_WANTED = "if-match-wanted", PRECONDITION_REQUIRED, "Say which revision you mean";
    /// Too many requests came from one place in a short time. `Retry-After` says how many seconds to wait.
    TOO_MANY_REQUESTS = "too-many-requests", TOO_MANY_REQUESTS, "Too many requests";
    /// Something went wrong inside, and it is not the fault of the request. The log of the service has the details under
    /// the `instance` given here.
    INTERNAL = "internal", INTERNAL_SERVER_ERROR, "Something went wrong inside";
    /// There was no answer within the time that the service gives itself. A write may still be done: read the record before
    /// writing again. Ask for less at once, or later.
    TOOK_TOO_LONG = "took-too-long", SERVICE_UNAVAILABLE, "It took too long";
    /// The service cannot answer just now: it is starting, stopping, or its store is in trouble. Try again later.
    NOT_READY = "not-ready", SERVICE_UNAVAILABLE, "The service cannot answer just now";
}

/// The kind of this name.
#[must_use]
pub fn problem_kind(name: &str) -> Option<&'static ProblemKind> {
    PROBLEM_KINDS.iter().copied().find(|kind| kind.name == name)
}

impl ProblemKind {
    /// Its page as text, lines joined as paragraphs are.
    #[must_use]
    pub fn words(&self) -> String {
        let page = self.page.lines().map(str::trim).collect::<Vec<_>>().join(" ");
        format!("{} ({})\n\n{}\n", self.title, self.status.as_u16(), page.trim())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_a_name_of_its_own_and_a_page() {
        for (i, kind) in PROBLEM_KINDS.iter().enumerate() {
            assert!(PROBLEM_KINDS[..i].iter().all(|other| other.name != kind.name), "{} twice", kind.name);
            assert!(kind.words().len() > 80, "{}", kind.name);
            assert!(kind.status.is_client_error() || kind.status.is_server_error());
        }
    }
}
