//! The second listener: nothing but the metrics, for those who collect them.

use super::{OPENMETRICS, TEXT, as_text};
use crate::api::app::Shared;
use crate::api::reply::preferred;
use actix_web::dev::Server;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use actix_web::web::{self, Data};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer};
use std::net::TcpListener;
use std::time::Duration;

/// How long a collector may take to ask, and how long it may idle.
const PATIENCE: Duration = Duration::from_secs(10);

/// A server that answers `/metrics` on this listener and nothing else.
///
/// # Errors
/// If the listener can't be used.
pub fn server(listener: TcpListener, shared: Data<Shared>) -> std::io::Result<Server> {
    let app = move || {
        App::new()
            .app_data(shared.clone())
            .route("/metrics", web::get().to(get_metrics))
            .route("/metrics", web::head().to(get_metrics))
            .default_service(web::to(|| async { HttpResponse::NotFound().body("only /metrics is here\n") }))
    };
    let server = HttpServer::new(app).workers(1).max_connections(64).disable_signals();
    Ok(server.client_request_timeout(PATIENCE).keep_alive(Duration::from_secs(75)).listen(listener)?.run())
}

/// The metrics, as OpenMetrics unless the older form is liked better.
async fn get_metrics(shared: Data<Shared>, request: HttpRequest) -> HttpResponse {
    let text = shared.metrics.text();
    let (media_type, text) = match preferred(request.headers(), &[OPENMETRICS, TEXT]) {
        Some(TEXT) => (TEXT, as_text(&text)),
        _ => (OPENMETRICS, text),
    };
    HttpResponse::Ok().insert_header((CONTENT_TYPE, media_type)).insert_header((CACHE_CONTROL, "no-store")).body(text)
}
