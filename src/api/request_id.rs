//! Ids of requests: one in every answer, the sender's own where it sent a sensible one.

use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};
use std::hash::{BuildHasher, RandomState};
use std::sync::LazyLock;
use std::sync::atomic::{AtomicU64, Ordering};

/// The header that carries the id, in requests and in answers.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("request-id");

/// The longest id that is taken over from a request.
const LENGTH_MAX: usize = 64;

/// A text that no other request of this process has, and hardly one of another.
#[must_use]
pub fn fresh() -> String {
    use std::fmt::Write;
    const LENGTH: usize = 25;
    static START: LazyLock<u64> = LazyLock::new(|| RandomState::new().hash_one(std::process::id()));
    static COUNT: AtomicU64 = AtomicU64::new(1);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let mut text = String::with_capacity(LENGTH);
    // Writing into a text in memory does not fail.
    let _ = write!(text, "{:08x}-{count:x}", *START & 0xffff_ffff);
    text
}

/// The id that a request brought, if it is short and plain, else a fresh one.
#[must_use]
pub fn of(headers: &HeaderMap) -> HeaderValue {
    let is_plain = |value: &&HeaderValue| {
        let bytes = value.as_bytes();
        (1..=LENGTH_MAX).contains(&bytes.len())
            && bytes.iter().all(|byte| byte.is_ascii_alphanumeric() || b"-._".contains(byte))
    };
    let given = headers.get(REQUEST_ID).filter(is_plain).cloned();
    given.unwrap_or_else(|| HeaderValue::try_from(fresh()).unwrap_or(HeaderValue::from_static("unknown")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_over_a_plain_id_and_nothing_else() {
        let of_text = |text: &'static str| {
            let mut headers = HeaderMap::new();
            headers.insert(REQUEST_ID, HeaderValue::from_static(text));
            of(&headers)
        };
        assert_eq!(of_text("shop-17.a"), "shop-17.a");
        assert_ne!(of_text("two words"), "two words");
        assert_ne!(of(&HeaderMap::new()), of(&HeaderMap::new()));
    }
}
