//! Reading the body of a request: type, size, time, and that it is JSON.

use super::patch::Form;
use super::problem::{Part, Problem};
use super::problem_kinds as kinds;
use crate::record::{Refused, read_json};
use actix_web::dev::Payload;
use actix_web::error::PayloadError;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpRequest};
use serde_json::Value;
use std::future::{Future, poll_fn};
use std::pin::Pin;
use std::time::Duration;

/// The most bytes of a body, but for bulk intake.
const BODY_MAX: usize = 1 << 20;
/// How long a body may take to arrive.
const BODY_TIME: Duration = Duration::from_secs(20);

/// The JSON value of a body, each member once, not too deep.
#[derive(Debug)]
pub struct JsonBody(pub Value);

/// A change of a record, and how it is written.
#[derive(Debug)]
pub struct PatchBody(pub Form, pub Value);

const JSON: &str = "application/json";
const MERGE_PATCH: &str = "application/merge-patch+json";
const JSON_PATCH: &str = "application/json-patch+json";

impl FromRequest for JsonBody {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let checked = checked(request, &[JSON]);
        let mut payload = payload.take();
        Box::pin(async move {
            checked?;
            json_of(&read(&mut payload, BODY_MAX).await?).map(Self)
        })
    }
}

impl FromRequest for PatchBody {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let checked = checked(request, &[MERGE_PATCH, JSON_PATCH]);
        let mut payload = payload.take();
        Box::pin(async move {
            let form = if checked? == MERGE_PATCH { Form::Merge } else { Form::Operations };
            Ok(Self(form, json_of(&read(&mut payload, BODY_MAX).await?)?))
        })
    }
}

/// What can be said of a body before it is read.
fn checked(request: &HttpRequest, taken: &[&'static str]) -> Result<&'static str, Problem> {
    let media_type = media_type(request, taken)?;
    check_length(request, BODY_MAX)?;
    Ok(media_type)
}

/// The JSON value in these bytes.
///
/// # Errors
/// Where it can't be read as JSON, 400.
fn json_of(bytes: &[u8]) -> Result<Value, Problem> {
    read_json(bytes).map_err(|Refused(faults)| Problem::unreadable(Part::Body, faults))
}

/// Which of these media types the body has.
///
/// # Errors
/// If it has none of them, or is not in UTF-8.
pub fn media_type(request: &HttpRequest, taken: &[&'static str]) -> Result<&'static str, Problem> {
    let given = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let mut parts = given.split(';').map(str::trim);
    let essence = parts.next().unwrap_or_default().to_ascii_lowercase();
    let refuse = |what: String| {
        let detail = format!("{what}; taken here: {}", taken.join(", "));
        Problem::new(&kinds::WRONG_MEDIA_TYPE, detail)
    };
    let Some(found) = taken.iter().copied().find(|taken| *taken == essence) else {
        let what = if given.is_empty() {
            "the body has no Content-Type".to_owned()
        } else {
            format!("\"{given}\" is not taken")
        };
        return Err(refuse(what));
    };
    let charset = parts.find_map(|part| part.to_ascii_lowercase().strip_prefix("charset=").map(str::to_owned));
    match charset.as_deref().map(|charset| charset.trim_matches('"')) {
        None | Some("utf-8" | "utf8" | "us-ascii") => Ok(found),
        Some(other) => Err(refuse(format!("the charset \"{other}\" is not taken, UTF-8 is"))),
    }
}

/// Refuses a body by the length that it announces.
///
/// # Errors
/// If that is too much.
pub fn check_length(request: &HttpRequest, most: usize) -> Result<(), Problem> {
    let length = request.headers().get("content-length").and_then(|value| value.to_str().ok()?.parse::<usize>().ok());
    if length.is_some_and(|length| length > most) { Err(too_large(most)) } else { Ok(()) }
}

/// Reads the whole body.
///
/// # Errors
/// If it is too large, takes too long, or breaks off.
pub async fn read(payload: &mut Payload, most: usize) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    let reading = async {
        while let Some(chunk) = next(payload).await {
            let chunk = chunk.map_err(|error| broken_off(&error))?;
            if bytes.len() + chunk.len() > most {
                return Err(too_large(most));
            }
            bytes.extend_from_slice(&chunk);
        }
        Ok(())
    };
    match actix_web::rt::time::timeout(BODY_TIME, reading).await {
        Ok(done) => done.map(|()| bytes),
        Err(_) => {
            let detail = format!("the body was not there within {} seconds", BODY_TIME.as_secs());
            Err(Problem::new(&kinds::TOO_SLOW, detail))
        }
    }
}

/// Reads a body of any length up to `most` into `file`, piece by piece.
///
/// # Errors
/// If it is too large, stalls, or breaks off; 500 if the file can't be written.
pub async fn read_into(payload: &mut Payload, most: u64, file: &mut impl std::io::Write) -> Result<(), Problem> {
    let mut length = 0;
    loop {
        let piece = actix_web::rt::time::timeout(BODY_TIME, next(payload)).await.map_err(|_| {
            let detail = format!("nothing came for {} seconds", BODY_TIME.as_secs());
            Problem::new(&kinds::TOO_SLOW, detail)
        })?;
        let Some(piece) = piece else { return Ok(()) };
        let piece = piece.map_err(|error| broken_off(&error))?;
        length += piece.len() as u64;
        if length > most {
            return Err(too_large(usize::try_from(most).unwrap_or(usize::MAX)));
        }
        file.write_all(&piece).map_err(|error| Problem::internal(&error))?;
    }
}

/// The next piece of a body.
async fn next(payload: &mut Payload) -> Option<Result<Bytes, PayloadError>> {
    poll_fn(|context| futures_core::Stream::poll_next(Pin::new(payload), context)).await
}

fn too_large(most: usize) -> Problem {
    Problem::new(&kinds::BODY_TOO_LARGE, format!("the body has more than {most} bytes"))
}

fn broken_off(error: &PayloadError) -> Problem {
    let fault =
        crate::record::Fault::new("broken-off", &crate::record::Place::root(), format!("the body broke off: {error}"));
    Problem::unreadable(Part::Body, vec![fault])
}
