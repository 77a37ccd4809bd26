//! Tags of what is answered, and the conditions that requests put on them (RFC 9110, 13).

use super::problem::{Part, Problem};
use super::problem_kinds as kinds;
use super::ready::Shown;
use super::reply;
use super::sharing::BOOK_AUDITED;
use crate::catalog::{Catalog, Mark};
use crate::record::{Fault, Place};
use actix_web::http::StatusCode;
use actix_web::http::header::{CACHE_CONTROL, ETAG, HeaderValue, IF_MATCH, IF_NONE_MATCH};
use actix_web::{HttpRequest, HttpResponse};
use sha2::{Digest, Sha256};

/// The tag of a record at a revision: `"r17"`.
#[must_use]
pub fn of_revision(revision: u64) -> String {
    format!("\"r{revision}\"")
}

/// The strong tag of a record as it is shown: `"r17-5f1d0c3a9b"`. What the book says about a record can change while its
/// revision stands, since its neighbours are evidence for the audit; so the tag is the revision, which is what a write is
/// held to, and the digest of the very bytes that are sent.
#[must_use]
pub fn of_shown(revision: u64, bytes: &[u8]) -> String {
    of_digest(revision, short_digest(bytes))
}

/// What is told of a digest: enough that two forms of a revision don't get the same tag.
pub type Short = [u8; 5];

/// The digest of what is sent.
#[must_use]
pub fn short_digest(bytes: &[u8]) -> Short {
    let digest = Sha256::digest(bytes);
    std::array::from_fn(|at| digest[at])
}

/// The tag of a record whose bytes have this digest.
#[must_use]
pub fn of_digest(revision: u64, [a, b, c, d, e]: Short) -> String {
    format!("\"r{revision}-{a:02x}{b:02x}{c:02x}{d:02x}{e:02x}\"")
}

/// What an answer looks like can change with the program.
const VERSION: &str = env!("CARGO_PKG_VERSION");

/// The weak tag of everything that is worked out from the whole book.
#[must_use]
pub fn of_book(epoch: &str, sequence: u64) -> String {
    format!("W/\"{epoch}.{sequence}-{VERSION}\"")
}

/// The weak tag of everything that is worked out from this book as it is now.
#[must_use]
pub fn of_now(catalog: &Catalog) -> String {
    of_book(&catalog.epoch(), catalog.sequence())
}

/// The weak tag of one form of what is worked out from the whole book, where there are several.
#[must_use]
pub fn of_form(epoch: &str, sequence: u64, form: &str) -> String {
    format!("W/\"{epoch}.{sequence}-{VERSION}-{form}\"")
}

/// Answers with what is made here and its tag, or that the sender has it already: then nothing is made.
///
/// # Errors
/// What stands in the way of making it.
pub async fn unless_known(
    request: &HttpRequest,
    tag: String,
    made: impl Future<Output = Result<HttpResponse, Problem>>,
) -> Result<HttpResponse, Problem> {
    let response = if is_known(request, &tag) { HttpResponse::NotModified().finish() } else { made.await? };
    Ok(tagged(response, &tag))
}

/// An answer with its tag.
#[must_use]
pub fn tagged(mut response: HttpResponse, tag: &str) -> HttpResponse {
    reply::set(&mut response, ETAG, tag);
    response.headers_mut().insert(CACHE_CONTROL, NO_CACHE);
    response
}

/// An answer that was worked out from a state of the book, with its tag. Where what the audit says in it was found before, up to
/// a change, both say so: what is found by then may be something else.
#[must_use]
pub fn tagged_as_audited(response: HttpResponse, mark: &Mark, up_to: Option<u64>) -> HttpResponse {
    let (epoch, sequence) = (mark.epoch(), mark.sequence());
    let tag = match up_to {
        Some(up_to) => of_form(epoch, sequence, &format!("audited-{up_to}")),
        None => of_book(epoch, sequence),
    };
    tagged(as_audited(response, epoch, up_to), &tag)
}

/// Answers with what is made here from a state of the book, tagged as [`tagged_as_audited`] does, or that the sender has it
/// already: then nothing is made.
///
/// # Errors
/// What stands in the way of making it.
pub async fn unless_known_as_audited(
    request: &HttpRequest,
    mark: &Mark,
    made: impl Future<Output = Result<(HttpResponse, Option<u64>), Problem>>,
) -> Result<HttpResponse, Problem> {
    let tag = of_book(mark.epoch(), mark.sequence());
    if is_known(request, &tag) {
        return Ok(tagged(HttpResponse::NotModified().finish(), &tag));
    }
    let (response, up_to) = made.await?;
    Ok(tagged_as_audited(response, mark, up_to))
}

/// An answer that says up to which change the book had been audited, where that is not the last one.
#[must_use]
pub fn as_audited(mut response: HttpResponse, epoch: &str, up_to: Option<u64>) -> HttpResponse {
    if let Some(up_to) = up_to {
        reply::set(&mut response, BOOK_AUDITED, &format!("{epoch}.{up_to}"));
    }
    response
}

/// A record as it is shown, or that the sender has it already.
#[must_use]
pub fn shown_unless_known(request: &HttpRequest, shown: &Shown) -> HttpResponse {
    let tag = shown.tag();
    let is_known =
        request.headers().contains_key(IF_NONE_MATCH) && tag.to_str().is_ok_and(|tag| is_known(request, tag));
    let mut response = match is_known {
        true => HttpResponse::NotModified().finish(),
        false => reply::json_made(StatusCode::OK, shown.line.clone()),
    };
    response.headers_mut().insert(ETAG, tag);
    response.headers_mut().insert(CACHE_CONTROL, NO_CACHE);
    response
}

/// An answer may be kept, and is to be asked about each time.
const NO_CACHE: HeaderValue = HeaderValue::from_static("no-cache");

/// What a write says about what must stand there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// Nothing: the record is to be new (`If-None-Match: *`).
    New,
    /// Anything (`If-Match: *`).
    Anything,
    /// One of these revisions.
    Revisions(Vec<u64>),
    /// Something that is to be there and not to be there: what can't be.
    Nothing,
}

impl Condition {
    /// The condition of a write.
    ///
    /// # Errors
    /// If there is none (428), or it can't be read (400).
    pub fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let text = |name| {
            let values: Vec<&str> = request.headers().get_all(name).filter_map(|value| value.to_str().ok()).collect();
            (!values.is_empty()).then(|| values.join(","))
        };
        match (text(IF_MATCH), text(IF_NONE_MATCH)) {
            (Some(tags), None) => match_of(&tags),
            (None, Some(tags)) if tags.trim() == "*" => Ok(Self::New),
            (None, None) => Err(wanted()),
            // Both are taken at their word: the record is to be there, and not to be there.
            (Some(tags), Some(none)) if none.trim() == "*" => match_of(&tags).map(|_| Self::Nothing),
            (_, Some(given)) => {
                let detail = "a write takes If-Match with a tag, or If-None-Match: *";
                let fault = Fault::new("unreadable", &Place::root().below("If-None-Match"), detail).given(given);
                Err(Problem::unreadable(Part::Header, vec![fault.allowed("*")]))
            }
        }
    }

    /// Whether this revision, or nothing, is what must stand there.
    #[must_use]
    pub fn is_met(&self, revision: Option<u64>) -> bool {
        match (self, revision) {
            (Self::New, there) => there.is_none(),
            (Self::Anything, there) => there.is_some(),
            (Self::Revisions(wanted), Some(there)) => wanted.contains(&there),
            (Self::Revisions(_), None) | (Self::Nothing, _) => false,
        }
    }
}

fn wanted() -> Problem {
    let detail = "send If-Match with the ETag of the record as you read it, or If-None-Match: * to make a new one";
    Problem::new(&kinds::IF_MATCH_WANTED, detail)
}

fn match_of(tags: &str) -> Result<Condition, Problem> {
    if tags.trim() == "*" {
        return Ok(Condition::Anything);
    }
    let mut revisions = Vec::new();
    if tags.trim().is_empty() {
        let fault = Fault::new("unreadable", &Place::root().below("If-Match"), "there is no tag in it");
        return Err(Problem::unreadable(Part::Header, vec![fault.allowed("\"r17\"")]));
    }
    for tag in tags.split(',').map(str::trim).filter(|tag| !tag.is_empty()) {
        let strong = tag.strip_prefix("W/").unwrap_or(tag);
        let Some(inner) = strong.strip_prefix('"').and_then(|tag| tag.strip_suffix('"')) else {
            let detail = format!("{tag} is not a tag: a tag stands in quotation marks");
            let fault =
                Fault::new("unreadable", &Place::root().below("If-Match"), detail).given(tag).allowed("\"r17\"");
            return Err(Problem::unreadable(Part::Header, vec![fault]));
        };
        // A weak tag never matches a write, and neither does one that this book did not give.
        if strong.len() == tag.len() {
            revisions.extend(revision_in(inner));
        }
    }
    Ok(Condition::Revisions(revisions))
}

/// The revision in a tag; the tag of a partial view has something behind a hyphen.
fn revision_in(tag: &str) -> Option<u64> {
    let number = tag.strip_prefix('r')?;
    number.split('-').next()?.parse().ok()
}

/// Whether the sender has what this tag names already, so that 304 answers a read.
#[must_use]
pub fn is_known(request: &HttpRequest, tag: &str) -> bool {
    let opaque = |tag: &str| tag.trim().trim_start_matches("W/").to_owned();
    let values = request.headers().get_all(IF_NONE_MATCH).filter_map(|value| value.to_str().ok());
    values.flat_map(|value| value.split(',')).any(|known| known.trim() == "*" || opaque(known) == opaque(tag))
}

#[cfg(test)]
mod tests {
    use super::*;
    use actix_web::test::TestRequest;

    fn condition(name: &'static str, value: &str) -> Result<Condition, u16> {
        let request = TestRequest::default().insert_header((name, value)).to_http_request();
        Condition::of(&request).map_err(|problem| problem.kind().status.as_u16())
    }

    #[test]
    fn tags_of_revisions_are_read_back() {
        assert_eq!(condition("If-Match", &of_revision(17)), Ok(Condition::Revisions(vec![17])));
        assert_eq!(condition("If-Match", "\"r1\", \"r2-part\""), Ok(Condition::Revisions(vec![1, 2])));
        assert_eq!(condition("If-Match", "\"other\", W/\"r3\""), Ok(Condition::Revisions(Vec::new())));
        assert_eq!(condition("If-Match", &of_shown(17, b"shown")), Ok(Condition::Revisions(vec![17])));
        assert_ne!(of_shown(17, b"shown"), of_shown(17, b"shown otherwise"));
        assert_eq!(condition("If-Match", "*"), Ok(Condition::Anything));
        assert_eq!(condition("If-None-Match", "*"), Ok(Condition::New));
        assert_eq!(condition("If-None-Match", "\"r1\""), Err(400));
        assert_eq!(condition("If-Match", "r17"), Err(400));
        assert_eq!(condition("If-Match", ""), Err(400));
        assert_eq!(condition("Accept", "*/*"), Err(428));
    }

    #[test]
    fn what_is_to_be_there_and_not_there_can_not_be() {
        let both = TestRequest::default().insert_header(("If-Match", "\"r1\"")).insert_header(("If-None-Match", "*"));
        let condition = Condition::of(&both.to_http_request()).map_err(|problem| problem.kind().status.as_u16());
        assert_eq!(condition, Ok(Condition::Nothing));
        assert!(!Condition::Nothing.is_met(None) && !Condition::Nothing.is_met(Some(1)));
    }

    #[test]
    fn a_read_is_known_by_any_of_its_tags() {
        let request = TestRequest::default().insert_header(("If-None-Match", "\"r1\", W/\"a.7\"")).to_http_request();
        assert!(is_known(&request, "W/\"a.7\"") && is_known(&request, "\"r1\""));
        assert!(!is_known(&request, "\"r2\""));
    }
}
