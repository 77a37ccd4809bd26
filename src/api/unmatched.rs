//! Requests that no handler answers: 405 with `Allow` where the path exists, else 404.

use super::app::Shared;
use super::problem::Problem;
use super::problem_kinds as kinds;
use actix_web::dev::ResourceDef;
use actix_web::http::header::ALLOW;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::Value;

/// The paths of the API and the methods that each has, taken from the document.
#[derive(Debug)]
pub struct Paths(Vec<(ResourceDef, String)>);

impl Paths {
    /// The paths that a document describes.
    #[must_use]
    pub fn of(document: &Value) -> Self {
        let paths = document["paths"].as_object().into_iter().flatten();
        Self(paths.map(|(path, item)| (ResourceDef::new(path.as_str()), methods_of(item).join(", "))).collect())
    }

    /// The methods of a path, as in the header `Allow`.
    #[must_use]
    pub fn methods(&self, path: &str) -> Option<&str> {
        self.0.iter().find(|(pattern, _)| pattern.is_match(path)).map(|(_, methods)| methods.as_str())
    }
}

fn methods_of(item: &Value) -> Vec<&'static str> {
    const METHODS: &[(&str, &[&str])] = &[
        ("get", &["GET", "HEAD"]),
        ("put", &["PUT"]),
        ("post", &["POST"]),
        ("patch", &["PATCH"]),
        ("delete", &["DELETE"]),
    ];
    let there = METHODS.iter().filter(|(word, _)| item.get(word).is_some());
    there.flat_map(|(_, names)| names.iter().copied()).collect()
}

/// Answers a request that no handler answers.
///
/// # Errors
/// Always: with the problem that it is.
pub async fn refuse(request: HttpRequest, shared: web::Data<Shared>) -> Result<HttpResponse, Problem> {
    let path = request.path();
    match shared.paths.methods(path) {
        Some(methods) => {
            let detail = format!("{} is not a method of this path; it has {methods}", request.method());
            Err(Problem::new(&kinds::METHOD_NOT_ALLOWED, detail).header(ALLOW, methods))
        }
        None => Err(Problem::not_found(format!("there is no path {path}; /openapi.json and /docs list the paths"))),
    }
}
