//! What is seen of every request: its id, one line in the log, and what it counts for.
//!
//! An answer that is streamed is told of when it has ended, with what was sent of it. Of a token only the name is told,
//! of the address only the template: neither secrets nor anybody's search words get into a log.

use super::access::Caller;
use super::app::Shared;
use super::metrics::InFlight;
use super::problem::Problem;
use super::request_id::{self, REQUEST_ID};
use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::header::{
    CONTENT_SECURITY_POLICY, HeaderMap, HeaderName, HeaderValue, REFERRER_POLICY, STRICT_TRANSPORT_SECURITY,
    X_CONTENT_TYPE_OPTIONS,
};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::{Bytes, Data};
use actix_web::{Error, HttpMessage};
use std::pin::Pin;
use std::sync::{Arc, LazyLock};
use std::task::{Context, Poll, ready};
use std::time::{Duration, Instant};

/// From when on a request is entered in the log as slow.
const SLOW: Duration = Duration::from_secs(1);

/// The headers that every answer has.
const EVERYWHERE: &[(HeaderName, &str)] = &[
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (REFERRER_POLICY, "no-referrer"),
    (CONTENT_SECURITY_POLICY, "default-src 'none'; frame-ancestors 'none'"),
];

/// What an answer over an encrypted connection says besides: to ask encrypted only, for a year.
const ENCRYPTED: (HeaderName, &str) = (STRICT_TRANSPORT_SECURITY, "max-age=31536000");

/// Leads a request in and its answer out.
///
/// # Errors
/// What a service could not turn into an answer, with the headers that every answer has.
pub async fn pass(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let id = request_id::of(request.headers());
    let mut seen = Seen::of(&request, id.clone());
    match next.call(request).await {
        Ok(response) => {
            let mut response = response.map_into_boxed_body();
            finish(response.headers_mut(), id, seen.is_encrypted());
            seen.answered(&response);
            Ok(match response.response().body().size() {
                BodySize::None | BodySize::Sized(_) => response,
                BodySize::Stream => response.map_body(|_, body| BoxBody::new(Watched { body, seen })),
            })
        }
        Err(error) => {
            let mut response = error.error_response();
            finish(response.headers_mut(), id, seen.is_encrypted());
            seen.failed(&error, response.status());
            Err(InternalError::from_response(error, response).into())
        }
    }
}

fn finish(headers: &mut HeaderMap, id: HeaderValue, is_encrypted: bool) {
    headers.insert(REQUEST_ID, id);
    for (name, value) in EVERYWHERE.iter().chain(is_encrypted.then_some(&ENCRYPTED)) {
        if !headers.contains_key(name) {
            headers.insert(name.clone(), HeaderValue::from_static(value));
        }
    }
}

/// What is known of a request; it is told when this ends.
struct Seen {
    shared: Option<Data<Shared>>,
    _flying: Option<InFlight>,
    id: HeaderValue,
    start: Instant,
    method: Method,
    template: Option<Arc<str>>,
    operation: Arc<str>,
    status: StatusCode,
    bytes: u64,
    token: Option<String>,
    problem: Option<String>,
    /// Whether the answer was sent to its end; a stream may not be.
    is_whole: bool,
}

impl Seen {
    fn of(request: &ServiceRequest, id: HeaderValue) -> Self {
        let shared = request.app_data::<Data<Shared>>().cloned();
        let known = shared.as_ref().and_then(|shared| shared.paths.find(request.path()));
        let operation = known.and_then(|known| known.operation(request.method()));
        let operation = operation.unwrap_or_else(|| operation_of_page(request.path()));
        Self {
            template: known.map(|known| known.template.clone()),
            _flying: shared.as_ref().map(|shared| shared.metrics.begin()),
            id,
            start: Instant::now(),
            method: request.method().clone(),
            operation,
            status: StatusCode::OK,
            bytes: 0,
            token: None,
            problem: None,
            is_whole: true,
            shared,
        }
    }

    fn answered(&mut self, response: &ServiceResponse<BoxBody>) {
        let request = response.request();
        self.status = response.status();
        if self.template.is_none() {
            self.template = request.match_pattern().map(Arc::from);
        }
        if let Some(Caller::Holder(token)) = request.extensions().get::<Caller>() {
            self.token = Some(token.label.clone());
        }
        self.problem = response.response().error().and_then(Error::as_error::<Problem>).map(Problem::in_the_log);
        match response.response().body().size() {
            BodySize::Sized(bytes) => self.bytes = bytes,
            BodySize::None => {}
            BodySize::Stream => self.is_whole = false,
        }
    }

    fn failed(&mut self, error: &Error, status: StatusCode) {
        self.status = status;
        self.problem = Some(error.as_error::<Problem>().map_or_else(|| error.to_string(), Problem::in_the_log));
    }
}

/// What pages count as; they are no operations of the document.
fn operation_of_page(path: &str) -> Arc<str> {
    static PAGES: LazyLock<[Arc<str>; 3]> = LazyLock::new(|| ["bench".into(), "docs".into(), "none".into()]);
    let [bench, docs, none] = &*PAGES;
    let page = if path.starts_with("/bench") {
        bench
    } else if path.starts_with("/docs") {
        docs
    } else {
        none
    };
    page.clone()
}

impl Drop for Seen {
    fn drop(&mut self) {
        let took = self.start.elapsed();
        if let Some(shared) = &self.shared {
            shared.metrics.answered(&self.operation, self.status.as_u16(), took, self.bytes);
        }
        macro_rules! tell {
            ($level:ident) => {
                tracing::$level!(
                    request_id = self.id.to_str().unwrap_or_default(),
                    method = self.method.as_str(),
                    path = self.template.as_deref().unwrap_or("none"),
                    status = self.status.as_u16(),
                    ms = (took.as_secs_f64() * 1e6).round() / 1e3,
                    bytes = self.bytes,
                    token = self.token.as_deref(),
                    problem = self.problem.as_deref(),
                    broken_off = (!self.is_whole).then_some(true),
                    "answered"
                )
            };
        }
        match self.status {
            status if status.is_server_error() => tell!(error),
            _ if !self.is_whole || (took > SLOW && self.bytes > 0 && !self.is_long()) => tell!(warn),
            _ => tell!(info),
        }
    }
}

impl Seen {
    fn is_encrypted(&self) -> bool {
        self.shared.as_ref().is_some_and(|shared| shared.is_encrypted)
    }

    /// Whether it may take long without anything being wrong.
    fn is_long(&self) -> bool {
        matches!(&*self.operation, "list_changes") || self.operation.starts_with("export_")
    }
}

/// A streamed body that is watched until it ends.
struct Watched {
    body: BoxBody,
    seen: Seen,
}

impl MessageBody for Watched {
    type Error = Box<dyn std::error::Error>;

    fn size(&self) -> BodySize {
        self.body.size()
    }

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Result<Bytes, Self::Error>>> {
        let piece = ready!(Pin::new(&mut self.body).poll_next(context));
        match &piece {
            Some(Ok(bytes)) => self.seen.bytes += bytes.len() as u64,
            Some(Err(error)) => self.seen.problem = Some(error.to_string()),
            None => self.seen.is_whole = true,
        }
        Poll::Ready(piece)
    }
}
