//! Answers that are a yes: the bytes, their type, and what the sender accepts.

use crate::answer::json_bytes;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{ACCEPT, CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue};
use actix_web::web::Bytes;
use serde::Serialize;

/// A value as JSON, byte for byte as the command line prints it.
#[must_use]
pub fn json(value: &impl Serialize) -> HttpResponse {
    json_with(StatusCode::OK, value)
}

/// A value as JSON with another status.
#[must_use]
pub fn json_with(status: StatusCode, value: &impl Serialize) -> HttpResponse {
    json_made(status, json_bytes(value).into())
}

/// Bytes that are JSON already.
#[must_use]
pub fn json_made(status: StatusCode, bytes: Bytes) -> HttpResponse {
    const JSON: HeaderValue = HeaderValue::from_static("application/json");
    HttpResponse::build(status).insert_header((CONTENT_TYPE, JSON)).body(bytes)
}

/// Gives an answer a header; a value that no header can have is left out.
pub fn set(response: &mut HttpResponse, name: HeaderName, value: &str) {
    if let Ok(value) = HeaderValue::from_str(value) {
        response.headers_mut().insert(name, value);
    }
}

/// A text for people.
#[must_use]
pub fn text(text: String) -> HttpResponse {
    HttpResponse::Ok().insert_header((CONTENT_TYPE, "text/plain; charset=utf-8")).body(text)
}

/// A list of things under the member `items`, with nothing else to say about it.
#[derive(Debug, Serialize)]
pub struct Items<T> {
    /// The things.
    pub items: Vec<T>,
}

/// Whether the sender takes this media type (RFC 9110 `Accept`; without the header everything is taken).
#[must_use]
pub fn accepts(headers: &HeaderMap, media_type: &str) -> bool {
    rank(headers, media_type) > 0.0
}

/// The media type that the sender likes best of these, the first one of equals; nothing if it takes none.
#[must_use]
pub fn preferred<'t>(headers: &HeaderMap, media_types: &[&'t str]) -> Option<&'t str> {
    let ranked = media_types.iter().map(|media_type| (*media_type, rank(headers, media_type)));
    let better = |best: (&'t str, f32), next: (&'t str, f32)| if next.1 > best.1 { next } else { best };
    ranked.reduce(better).filter(|(_, rank)| *rank > 0.0).map(|(media_type, _)| media_type)
}

/// How much the sender likes a media type, 0 to 1.
fn rank(headers: &HeaderMap, media_type: &str) -> f32 {
    let ranges: Vec<String> = headers
        .get_all(ACCEPT)
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(|range| range.trim().to_ascii_lowercase())
        .filter(|range| !range.is_empty())
        .collect();
    if ranges.is_empty() {
        return 1.0;
    }
    let essence = media_type.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    let main = essence.split('/').next().unwrap_or_default();
    let mut best = (0, 0.0);
    for range in &ranges {
        let mut parts = range.split(';').map(str::trim);
        let name = parts.next().unwrap_or_default();
        let exactness = match name {
            _ if name == essence => 3,
            _ if name.strip_suffix("/*") == Some(main) => 2,
            "*/*" | "*" => 1,
            _ => continue,
        };
        let quality = parts.find_map(|part| part.strip_prefix("q=")?.parse().ok()).unwrap_or(1.0);
        if exactness > best.0 {
            best = (exactness, quality);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sending(accept: &'static str) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(ACCEPT, HeaderValue::from_static(accept));
        headers
    }

    #[test]
    fn the_most_exact_range_counts() {
        assert!(accepts(&HeaderMap::new(), "application/json"));
        assert!(accepts(&sending("*/*"), "text/plain; charset=utf-8"));
        assert!(accepts(&sending("text/html, application/*;q=0.1"), "application/json"));
        assert!(!accepts(&sending("text/html"), "application/json"));
        assert!(!accepts(&sending("*/*, application/json;q=0"), "application/json"));
    }

    #[test]
    fn the_best_liked_type_is_sent() {
        let types = ["application/json", "text/html", "text/plain"];
        assert_eq!(preferred(&HeaderMap::new(), &types), Some("application/json"));
        assert_eq!(preferred(&sending("text/*"), &types), Some("text/html"));
        assert_eq!(preferred(&sending("text/html;q=0.4, text/plain;q=0.8"), &types), Some("text/plain"));
        assert_eq!(preferred(&sending("application/pdf"), &types), None);
    }
}
