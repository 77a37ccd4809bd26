//! The pages of the bench where reading needs a token: the browser is told it once and keeps it as a cookie.

use super::access::Access;
use super::app::Shared;
use super::tokens::Scope;
use crate::bench;
use actix_web::dev::ServiceRequest;
use actix_web::http::header::{CACHE_CONTROL, LOCATION, SET_COOKIE};
use actix_web::web::{Data, Form, Query};
use actix_web::{HttpResponse, http::StatusCode};

/// Where a token is told.
pub const PATH: &str = "/bench/sign-in";
/// How long a browser keeps it; the token itself may end sooner.
const KEPT_SECONDS: u32 = 30 * 24 * 3600;

/// Where to go on afterwards, and the token.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct SignIn {
    to: String,
    token: String,
}

impl SignIn {
    /// A page of the bench; nowhere else, so that no address leads away from here.
    fn to(&self) -> &str {
        let is_page = self.to.starts_with("/bench/") && self.to.bytes().all(|byte| byte.is_ascii_graphic());
        if is_page && !self.to.starts_with(PATH) { &self.to } else { "/bench/" }
    }
}

/// Leads a request for a page to where a token is told, if reading needs one and none was sent.
pub fn led_there(request: &ServiceRequest) -> Option<HttpResponse> {
    let path = request.path();
    let says_nothing = path == PATH || path.starts_with("/bench/assets/");
    if !path.starts_with("/bench") || says_nothing {
        return None;
    }
    let access: &Access = &request.app_data::<Data<Shared>>()?.access;
    access.check(request.headers(), Scope::Read).err()?;
    let to = request.uri().path_and_query().map_or("/bench/", |asked| asked.as_str());
    Some(seen_at(&format!("{PATH}?to={}", bench::encoded(to))).finish())
}

fn seen_at(to: &str) -> actix_web::HttpResponseBuilder {
    let mut response = HttpResponse::SeeOther();
    response.insert_header((LOCATION, to)).insert_header((CACHE_CONTROL, "no-store"));
    response
}

/// The page that asks for a token.
pub async fn sign_in_page(form: Query<SignIn>) -> HttpResponse {
    bench::sign_in_page(StatusCode::OK, form.to(), None)
}

/// Keeps a token that is good for reading.
pub async fn sign_in(shared: Data<Shared>, form: Form<SignIn>) -> HttpResponse {
    let text = form.token.trim();
    let refused = |why| bench::sign_in_page(StatusCode::FORBIDDEN, form.to(), Some(why));
    match shared.access.tokens.find(text) {
        Ok(Some(token)) if token.allows(Scope::Read) => {
            let secure = if shared.is_encrypted { "; Secure" } else { "" };
            let cookie = format!("clampbook={text}; Path=/; Max-Age={KEPT_SECONDS}; HttpOnly; SameSite=Strict{secure}");
            seen_at(form.to()).insert_header((SET_COOKIE, cookie)).finish()
        }
        Ok(Some(_)) => refused("This token is not for reading."),
        Ok(None) => refused("This token is unknown, ended or revoked."),
        Err(error) => {
            tracing::error!(%error, "the tokens cannot be read");
            bench::sign_in_page(StatusCode::INTERNAL_SERVER_ERROR, form.to(), Some("The tokens cannot be read."))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::api::app::app;
    use crate::api::tokens::Tokens;
    use crate::catalog::Catalog;
    use actix_web::dev::ServiceResponse;
    use actix_web::test::{TestRequest, call_service, init_service};

    /// What a service answers whose readers need a token. `token` is made with these scopes.
    async fn ask(scopes: &[Scope], request: impl FnOnce(&str) -> TestRequest) -> ServiceResponse {
        let folder = tempfile::tempdir().unwrap();
        let tokens = Tokens::at(folder.path().join("tokens.json"));
        let (_, text) = tokens.make(&"mo".parse().unwrap(), scopes, None).unwrap();
        let access = Access { anonymous_read: false, anonymous_write: false, tokens };
        let shared = Data::new(Shared::new(Catalog::in_memory().unwrap(), access));
        call_service(&init_service(app(shared)).await, request(&text).to_request()).await
    }

    fn header(response: &ServiceResponse, name: &str) -> String {
        response.headers().get(name).map_or(String::new(), |value| value.to_str().unwrap().to_owned())
    }

    #[actix_web::test]
    async fn a_page_leads_to_the_token_and_back() {
        let asked = ask(&[Scope::Read], |_| TestRequest::get().uri("/bench/audit?within=a.b")).await;
        assert_eq!(
            (asked.status().as_u16(), header(&asked, "location").as_str()),
            (303, "/bench/sign-in?to=%2Fbench%2Faudit%3Fwithin%3Da.b")
        );
        let told = ask(&[Scope::Read], |token| {
            TestRequest::post().uri(PATH).set_form([("to", "/bench/audit?within=a.b"), ("token", token)])
        });
        let told = told.await;
        assert_eq!((told.status().as_u16(), header(&told, "location").as_str()), (303, "/bench/audit?within=a.b"));
        let cookie = header(&told, "set-cookie");
        assert!(cookie.starts_with("clampbook=") && cookie.contains("HttpOnly; SameSite=Strict"), "{cookie}");
    }

    #[actix_web::test]
    async fn the_kept_token_reads_and_never_writes() {
        let with =
            |method: TestRequest, token: &str| method.insert_header(("cookie", format!("x=1; clampbook={token}")));
        let all = [Scope::Read, Scope::Write];
        for path in ["/bench/", "/bench/kit", "/v1/fasteners"] {
            let read = ask(&all, |token| with(TestRequest::get().uri(path), token)).await;
            assert_eq!(read.status().as_u16(), 200, "{path}");
            let forged = ask(&all, |_| with(TestRequest::get().uri(path), "cb_00")).await;
            assert_ne!(forged.status().as_u16(), 200, "{path}");
        }
        let write = ask(&all, |token| with(TestRequest::put().uri("/v1/joints/a.b").set_payload("{}"), token)).await;
        assert_eq!(write.status().as_u16(), 401);
        let narrow = ask(&[Scope::Write], |token| with(TestRequest::get().uri("/bench/"), token)).await;
        assert_eq!(narrow.status().as_u16(), 303);
    }

    #[actix_web::test]
    async fn nothing_leads_away_and_a_wrong_token_is_refused() {
        for to in ["https://elsewhere.example/", "//elsewhere.example", "/v1/fasteners", "/bench/\r\nx: y", PATH] {
            let told =
                ask(&[Scope::Read], |token| TestRequest::post().uri(PATH).set_form([("to", to), ("token", token)]));
            assert_eq!(header(&told.await, "location"), "/bench/", "{to:?}");
        }
        let wrong = ask(&[Scope::Read], |_| TestRequest::post().uri(PATH).set_form([("token", "cb_00")])).await;
        assert_eq!((wrong.status().as_u16(), header(&wrong, "set-cookie").as_str()), (403, ""));
        let style = ask(&[Scope::Read], |_| TestRequest::get().uri("/bench/assets/bench.css")).await;
        assert_eq!(style.status().as_u16(), 200);
    }
}
