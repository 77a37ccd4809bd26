//! The problems that an operation can answer with, as its entry in the document names them.

use crate::api::problem_kinds as kinds;
use utoipa::ToResponse;
use utoipa::openapi::{RefOr, Response};

macro_rules! says {
    ($( $name:ident = $kind:ident; )*) => { $(
        #[doc = concat!("The operation can answer with the problem of this name (`", stringify!($kind), "`).")]
        pub struct $name;

        impl<'r> ToResponse<'r> for $name {
            fn response() -> (&'r str, RefOr<Response>) {
                (kinds::$kind.name, Response::new(kinds::$kind.title).into())
            }
        }
    )* };
}

says! {
    NotFound = NOT_FOUND;
    Faulty = FAULTY;
    NotReady = NOT_READY;
    Gone = GONE;
    TooMany = TOO_MANY_REQUESTS;
    Conflict = CONFLICT;
    ChangedSince = CHANGED_SINCE;
    IfMatchWanted = IF_MATCH_WANTED;
}

/// The name of the answer that nothing has changed.
pub const NOT_MODIFIED: &str = "not-modified";

/// The operation can answer that the sender has the present state already (304).
pub struct NotModified;

impl<'r> ToResponse<'r> for NotModified {
    fn response() -> (&'r str, RefOr<Response>) {
        (NOT_MODIFIED, Response::new("Nothing has changed").into())
    }
}
