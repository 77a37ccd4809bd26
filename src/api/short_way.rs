//! What a workshop asks all the time, led past the routes: one record, what sits at a position, and lists.
//!
//! Routes are tried one after the other, most of them by a regular expression, which costs more than some of these answers do.
//! What is not asked in the plainest form goes the long way, to the same functions.

use super::app::Shared;
use super::handlers::{closing, records};
use super::problem::Problem;
use crate::record::Kind;
use actix_web::http::Method;
use actix_web::{HttpRequest, HttpResponse};

/// Answers a request if it is one of these; nothing if it is to go the long way.
///
/// # Errors
/// What the handler says.
pub async fn answer(shared: &Shared, request: &HttpRequest) -> Option<Result<HttpResponse, Problem>> {
    if *request.method() != Method::GET {
        return None;
    }
    match Asked::of(request.path())? {
        Asked::Record(kind, id) => records::at_hand(shared, request, kind, id).transpose(),
        Asked::Page(kind) => Some(records::list(shared, request, kind).await),
        Asked::Position(joint, position) => Some(closing::position(shared, request, joint, position).await),
    }
}

/// What a path asks for.
#[derive(Debug, PartialEq, Eq)]
enum Asked<'p> {
    Record(Kind, &'p str),
    Position(&'p str, &'p str),
    Page(Option<Kind>),
}

impl<'p> Asked<'p> {
    fn of(path: &'p str) -> Option<Self> {
        let rest = path.strip_prefix("/v1/")?;
        // What is escaped has to be read first.
        if rest.contains('%') {
            return None;
        }
        let mut segments = rest.split('/');
        let mut next = || segments.next();
        match (next()?, next(), next(), next(), next()) {
            ("fasteners", None, ..) => Some(Self::Page(Some(Kind::Fastener))),
            ("joints", None, ..) => Some(Self::Page(Some(Kind::Joint))),
            ("records", None, ..) => Some(Self::Page(None)),
            (_, Some(""), ..) => None,
            ("fasteners", Some(id), None, ..) => Some(Self::Record(Kind::Fastener, id)),
            ("joints", Some(id), None, ..) => Some(Self::Record(Kind::Joint, id)),
            ("joints", Some(id), Some("positions"), Some(position), None) if !position.is_empty() => {
                Some(Self::Position(id, position))
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_three_kinds_of_paths_are_short() {
        assert_eq!(Asked::of("/v1/fasteners/a.b.c"), Some(Asked::Record(Kind::Fastener, "a.b.c")));
        assert_eq!(Asked::of("/v1/joints/a.b"), Some(Asked::Record(Kind::Joint, "a.b")));
        assert_eq!(Asked::of("/v1/joints/a.b/positions/3"), Some(Asked::Position("a.b", "3")));
        assert_eq!(Asked::of("/v1/fasteners"), Some(Asked::Page(Some(Kind::Fastener))));
        assert_eq!(Asked::of("/v1/joints"), Some(Asked::Page(Some(Kind::Joint))));
        assert_eq!(Asked::of("/v1/records"), Some(Asked::Page(None)));
        for path in [
            "/v1/rules",
            "/v1/fasteners/",
            "/v1/fasteners/a.b.c/findings",
            "/v1/fasteners/a%2Eb.c",
            "/v1/rules/a.b",
            "/v1/joints/a.b/positions",
            "/v1/joints/a.b/positions/",
            "/v1/joints/a.b/positions/3/x",
            "/v1/joints//positions/3",
            "/bench/joints/a.b",
        ] {
            assert_eq!(Asked::of(path), None, "{path}");
        }
    }
}
