//! The page that asks for a token, where reading needs one.

use super::page::html_with;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

#[derive(Template)]
#[template(path = "page_sign_in.html", config = "src/askama.toml")]
struct SignInPage<'s> {
    to: &'s str,
    fault: Option<&'s str>,
}

/// The page that asks for a token; `to` is where to go on, `fault` what is wrong with the one given.
#[must_use]
pub fn sign_in_page(status: StatusCode, to: &str, fault: Option<&str>) -> HttpResponse {
    html_with(status, &SignInPage { to, fault }).unwrap_or_else(|_| HttpResponse::InternalServerError().finish())
}
