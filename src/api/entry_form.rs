//! The entry form of the bench where it is sent without script: judged, or stored as if it had been put.
//!
//! A browser sends a form wherever any page tells it to, so what a form may do is narrower than what a program may. A
//! token stands in the form itself and is kept nowhere; the cookie of the pages is never good for writing. Where
//! anybody may write, the form must have been made by this service ([`Entered::is_sealed`]) and sent from a page of it.

use super::access::{Access, Caller, names_this_machine};
use super::app::Shared;
use super::handlers::records;
use super::problem::Problem;
use super::problem_kinds as kinds;
use super::tags::Condition;
use super::tokens::Scope;
use crate::bench::{self, Entered};
use crate::record::{Kind, Record};
use actix_web::http::StatusCode;
use actix_web::http::header::{CACHE_CONTROL, HOST, HeaderMap, LOCATION, ORIGIN};
use actix_web::web::{Data, Form};
use actix_web::{HttpRequest, HttpResponse, ResponseError};

/// Judges what was entered, and stores it if that is asked for.
///
/// # Errors
/// If the page that answers cannot be made.
pub async fn entered(
    shared: Data<Shared>,
    request: HttpRequest,
    pairs: Form<Vec<(String, String)>>,
) -> Result<HttpResponse, actix_web::Error> {
    let entered = Entered::of(&pairs);
    let Ok(record) = Record::from_json(&entered.value) else {
        return if entered.is_to_store {
            let why = "The fields say what is wrong.";
            bench::refused_page(&shared.catalog, &entered, StatusCode::UNPROCESSABLE_ENTITY, why)
        } else {
            bench::checked_page(&shared.catalog, &entered)
        };
    };
    if !entered.is_to_store {
        return bench::checked_page(&shared.catalog, &entered);
    }
    let id = record.id().clone();
    let outcome = match writer(&shared.access, request.headers(), &entered) {
        Ok(caller) => {
            let condition = entered.revision.map_or(Condition::New, |revision| Condition::Revisions(vec![revision]));
            records::store(&shared, caller, Kind::Fastener, id.clone(), condition, Ok(record)).await
        }
        Err(problem) => Err(problem),
    };
    match outcome {
        Ok(_) => Ok(HttpResponse::SeeOther()
            .insert_header((LOCATION, format!("/bench/fasteners/{id}")))
            .insert_header((CACHE_CONTROL, "no-store"))
            .finish()),
        Err(problem) => {
            let why = format!("{}: {}.", problem.kind().title, problem.detail());
            bench::refused_page(&shared.catalog, &entered, problem.status_code(), &why)
        }
    }
}

/// Who stores what was entered.
fn writer(access: &Access, headers: &HeaderMap, entered: &Entered) -> Result<Caller, Problem> {
    let refused = |why: &str| Err(Problem::new(&kinds::NOT_ALLOWED, why));
    if is_from_elsewhere(headers) {
        return refused("the form was sent from a page of another site");
    }
    if !entered.token.is_empty() {
        return access.holder(&entered.token, Scope::Write);
    }
    if !access.anonymous_write {
        return refused("writing into this book needs a token: write it into its field at the foot of the form");
    }
    if !names_this_machine(headers) {
        return refused("anybody may write here, so only a browser of this machine that asks it by its own name");
    }
    if !entered.is_sealed {
        return refused("the form was not made by this service, or stood open for too long; store it once more");
    }
    Ok(Caller::Anybody)
}

/// Whether the browser says that another site made it send this. One that says nothing is held to the rest.
fn is_from_elsewhere(headers: &HeaderMap) -> bool {
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    if let Some(site) = text("sec-fetch-site") {
        return site != "same-origin";
    }
    // Pages that send no referrer have the origin "null" here, their own as well.
    let Some(origin) = text(ORIGIN.as_str()).filter(|origin| *origin != "null") else { return false };
    origin.split_once("://").map(|(_, host)| host) != text(HOST.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::api::app::app;
    use crate::api::tokens::Tokens;
    use crate::catalog::Catalog;
    use actix_web::test::{TestRequest, call_service, init_service, read_body};

    type Pair<'p> = (&'p str, &'p str);

    const FIELDS: [Pair<'_>; 4] = [("joint", "a.b"), ("id", "a.b.hex"), ("thread", "M8"), ("stages", "hand\n20 N·m")];

    struct Service {
        shared: Data<Shared>,
        token: String,
        reader: String,
        _folder: tempfile::TempDir,
    }

    impl Service {
        fn new(is_open: bool) -> Self {
            let folder = tempfile::tempdir().unwrap();
            let tokens = Tokens::at(folder.path().join("tokens.json"));
            let (_, token) = tokens.make(&"mo".parse().unwrap(), &[Scope::Read, Scope::Write], None).unwrap();
            let (_, reader) = tokens.make(&"ines".parse().unwrap(), &[Scope::Read], None).unwrap();
            let access = Access { anonymous_read: true, anonymous_write: is_open, tokens };
            let shared = Data::new(Shared::new(Catalog::in_memory().unwrap(), access));
            Self { shared, token, reader, _folder: folder }
        }

        /// Sends the form with these fields and headers: status, page, and whether the record is in the book.
        async fn send(&self, more: &[(&str, &str)], headers: &[(&str, &str)]) -> (u16, String, bool) {
            let fields: Vec<(&str, &str)> = more.iter().chain(&FIELDS).copied().collect();
            let mut request = TestRequest::post().uri("/bench/entry").set_form(fields);
            for (name, value) in headers {
                request = request.insert_header((*name, *value));
            }
            let answer = call_service(&init_service(app(self.shared.clone())).await, request.to_request()).await;
            let status = answer.status().as_u16();
            let page = String::from_utf8(read_body(answer).await.to_vec()).unwrap();
            let is_stored = self.shared.catalog.get(&"a.b.hex".parse().unwrap()).unwrap().is_some();
            (status, page, is_stored)
        }

        async fn seal(&self) -> String {
            let request = TestRequest::get().uri("/bench/entry").to_request();
            let answer = call_service(&init_service(app(self.shared.clone())).await, request).await;
            let page = String::from_utf8(read_body(answer).await.to_vec()).unwrap();
            let rest = page.split("name=\"seal\" value=\"").nth(1).unwrap();
            rest.split('"').next().unwrap().to_owned()
        }
    }

    const STORE: (&str, &str) = ("do", "store");
    const HERE: [(&str, &str); 2] = [("host", "127.0.0.1:8470"), ("sec-fetch-site", "same-origin")];

    #[actix_web::test]
    async fn a_form_of_ours_stores_where_anybody_may_and_only_when_asked() {
        let service = Service::new(true);
        let seal = service.seal().await;
        let (status, page, is_stored) = service.send(&[("do", "check"), ("seal", &seal)], &HERE).await;
        assert_eq!((status, is_stored), (200, false), "{page}");
        let (status, _, is_stored) = service.send(&[STORE, ("seal", &seal)], &HERE).await;
        assert_eq!((status, is_stored), (303, true));
        // Once more, from a form that still believes it new: the same record is no change, another is refused.
        let again = service.send(&[STORE, ("seal", &seal)], &HERE).await;
        assert_eq!(again.0, 303);
        let other = service.send(&[STORE, ("seal", &seal), ("name", "other")], &HERE).await;
        assert_eq!(other.0, 412);
        assert!(other.1.contains("Nothing was stored") && other.1.contains("revision 1"), "{}", other.1);
    }

    #[actix_web::test]
    async fn no_other_page_can_make_a_browser_store() {
        let service = Service::new(true);
        let seal = service.seal().await;
        let sealed = [STORE, ("seal", seal.as_str())];
        let elsewhere: [(&[Pair<'_>], [Pair<'_>; 2]); 6] = [
            (&sealed, [("host", "127.0.0.1:8470"), ("sec-fetch-site", "cross-site")]),
            (&sealed, [("host", "127.0.0.1:8470"), ("sec-fetch-site", "same-site")]),
            (&sealed, [("host", "127.0.0.1:8470"), ("origin", "https://elsewhere.example")]),
            // A name of theirs that leads here: the same site to the browser.
            (&sealed, [("host", "elsewhere.example:8470"), ("sec-fetch-site", "same-origin")]),
            (&[STORE], HERE),
            (&[STORE, ("seal", "00")], HERE),
        ];
        for (fields, headers) in elsewhere {
            let (status, page, is_stored) = service.send(fields, &headers).await;
            assert_eq!((status, is_stored), (403, false), "{fields:?} {headers:?}");
            assert!(page.contains("Nothing was stored") && page.contains("20 N·m"), "what was typed is kept");
        }
        // A browser that says little, as pages without a referrer make it.
        let (status, ..) = service.send(&sealed, &[("host", "localhost:8470"), ("origin", "null")]).await;
        assert_eq!(status, 303);
    }

    #[actix_web::test]
    async fn where_a_token_is_wanted_only_the_one_in_the_form_counts() {
        let service = Service::new(false);
        let seal = service.seal().await;
        let cookie = format!("clampbook={}", service.token);
        let with_cookie = [("host", "shop.example"), ("cookie", cookie.as_str())];
        let (status, page, is_stored) = service.send(&[STORE, ("seal", &seal)], &with_cookie).await;
        assert_eq!((status, is_stored), (403, false));
        assert!(page.contains("needs a token"));
        for wrong in ["cb_00", service.reader.as_str()] {
            let (status, _, is_stored) = service.send(&[STORE, ("token", wrong)], &with_cookie).await;
            assert!(!is_stored && (status == 401 || status == 403), "{status}");
        }
        let (status, _, is_stored) = service.send(&[STORE, ("token", &service.token)], &with_cookie).await;
        assert_eq!((status, is_stored), (303, true));
        let by = service.shared.catalog.get(&"a.b.hex".parse().unwrap()).unwrap().unwrap().changed_by;
        assert_eq!(by.unwrap().as_str(), "mo");
    }

    #[actix_web::test]
    async fn what_cannot_be_read_comes_back_with_the_reason() {
        let service = Service::new(true);
        let seal = service.seal().await;
        let fields = [STORE, ("seal", &seal), ("length", "long")];
        let (status, page, is_stored) = service.send(&fields, &HERE).await;
        assert_eq!((status, is_stored), (422, false));
        assert!(page.contains("aria-invalid") && page.contains("Nothing was stored"), "{page}");
    }
}
