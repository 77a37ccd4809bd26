//! What every page has: headers, the stamp of a record, and the page that says what went wrong.

use super::assets;
use crate::catalog::CatalogError;
use crate::record::{Fault, Id, Refused};
use actix_web::body::BoxBody;
use actix_web::http::StatusCode;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, LOCATION};
use actix_web::{HttpResponse, ResponseError, web};
use askama::Template;

/// What a page may load: its own files, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; \
    connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The result of a handler.
pub type Answer = Result<HttpResponse, Trouble>;

/// A filled template as an answer.
pub fn html(template: &impl Template) -> Answer {
    html_with(StatusCode::OK, template)
}

/// A filled template as an answer with a status.
pub fn html_with(status: StatusCode, template: &impl Template) -> Answer {
    let text = template.render().map_err(|error| Trouble::Internal(error.to_string()))?;
    Ok(HttpResponse::build(status)
        .content_type("text/html; charset=utf-8")
        .insert_header((CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .body(text))
}

/// A file that carries its own style, such as a card for the device's storage.
pub fn whole_file(text: String) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .insert_header((
            CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
        ))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .body(text)
}

/// Does what may wait for the audit away from the threads that answer, so that others go on meanwhile.
pub async fn away<T: Send + 'static>(work: impl FnOnce() -> Result<T, Trouble> + Send + 'static) -> Result<T, Trouble> {
    web::block(work).await.map_err(|error| Trouble::Internal(error.to_string()))?
}

/// Leads `/bench` to `/bench/`.
pub async fn to_bench() -> HttpResponse {
    HttpResponse::PermanentRedirect().insert_header((LOCATION, "/bench/")).finish()
}

/// What keeps a page from being shown.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// There is nothing of this name.
    #[error("{what} is not in the book")]
    NotFound {
        /// What was asked for.
        what: String,
        /// What is spelled like it.
        near: Vec<Id>,
    },
    /// What was asked cannot be read.
    #[error("this cannot be read")]
    Unreadable(Vec<Fault>),
    /// The book cannot be read.
    #[error("the book cannot be read")]
    Catalog(#[from] CatalogError),
    /// A fault of this program.
    #[error("the page could not be made")]
    Internal(String),
}

impl From<Refused> for Trouble {
    fn from(refused: Refused) -> Self {
        Self::Unreadable(refused.0)
    }
}

impl Trouble {
    /// A record that is not in the book.
    pub fn not_found(what: impl Into<String>) -> Self {
        Self::NotFound { what: what.into(), near: Vec::new() }
    }
}

#[derive(Template)]
#[template(path = "page_trouble.html", config = "src/askama.toml")]
struct TroublePage<'t> {
    heading: String,
    near: &'t [Id],
    faults: &'t [Fault],
}

impl ResponseError for Trouble {
    fn status_code(&self) -> StatusCode {
        match self {
            Self::NotFound { .. } => StatusCode::NOT_FOUND,
            Self::Unreadable(_) => StatusCode::BAD_REQUEST,
            Self::Catalog(_) => StatusCode::SERVICE_UNAVAILABLE,
            Self::Internal(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        match self {
            Self::Catalog(error) => tracing::error!(%error, "the bench page cannot read the book"),
            Self::Internal(error) => tracing::error!(%error, "a bench page could not be made"),
            Self::NotFound { .. } | Self::Unreadable(_) => {}
        }
        let (near, faults): (&[Id], &[Fault]) = match self {
            Self::NotFound { near, .. } => (near, &[]),
            Self::Unreadable(faults) => (&[], faults),
            Self::Catalog(_) | Self::Internal(_) => (&[], &[]),
        };
        let page = TroublePage { heading: self.to_string(), near, faults };
        html_with(self.status_code(), &page).unwrap_or_else(|_| HttpResponse::InternalServerError().finish())
    }
}

/// The id in a path, or the page that says that there is none of this name.
pub fn id_in_path(text: &str) -> Result<Id, Trouble> {
    text.parse().map_err(|_| Trouble::not_found(text))
}

/// The moment in words, for a printed page.
pub fn now_in_words() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string()
}

/// A question appended to an address: the pairs that have a value.
pub fn question(pairs: &[(&str, Option<&str>)]) -> String {
    let mut out = String::new();
    for (name, value) in pairs {
        if let Some(value) = value.filter(|value| !value.is_empty()) {
            out.push(if out.is_empty() { '?' } else { '&' });
            out.push_str(name);
            out.push('=');
            out.push_str(&encoded(value));
        }
    }
    out
}

/// A value as it may stand in an address (RFC 3986: unreserved characters stand for themselves).
pub fn encoded(value: &str) -> String {
    let mut out = String::new();
    for byte in value.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// An id that may break after its dots, as HTML: ids hold no character that markup knows.
pub fn broken(id: impl std::fmt::Display) -> String {
    crate::card::svg::escaped(&id.to_string()).replace('.', ".<wbr>")
}

/// The address of an asset with its version, for the templates.
pub fn asset(name: &str) -> String {
    assets::address(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_question_holds_only_what_has_a_value() {
        assert_eq!(question(&[("variant", None), ("q", Some("")), ("a", Some("b c&ü"))]), "?a=b%20c%26%C3%BC");
        assert_eq!(question(&[("a", Some("1")), ("b", Some("2"))]), "?a=1&b=2");
        assert_eq!(question(&[]), "");
    }
}
