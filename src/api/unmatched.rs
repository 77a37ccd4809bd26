//! Requests that no handler answers: 405 with `Allow` where the path exists, else 404.

use super::app::Shared;
use super::problem::Problem;
use super::problem_kinds as kinds;
use actix_web::dev::ResourceDef;
use actix_web::http::header::ALLOW;
use actix_web::{HttpRequest, HttpResponse, web};
use utoipa::openapi::{OpenApi, PathItem};

/// The paths of the API and the methods that each has, taken from the document.
#[derive(Debug)]
pub struct Paths(Vec<(ResourceDef, String)>);

impl Paths {
    /// The paths that a document describes.
    #[must_use]
    pub fn of(document: &OpenApi) -> Self {
        let paths = document.paths.paths.iter();
        Self(paths.map(|(path, item)| (ResourceDef::new(path.as_str()), methods_of(item).join(", "))).collect())
    }

    /// The methods of a path, as in the header `Allow`.
    #[must_use]
    pub fn methods(&self, path: &str) -> Option<&str> {
        self.0.iter().find(|(pattern, _)| pattern.is_match(path)).map(|(_, methods)| methods.as_str())
    }
}

fn methods_of(item: &PathItem) -> Vec<&'static str> {
    let mut methods = Vec::new();
    let known = [
        (item.get.is_some(), ["GET", "HEAD"].as_slice()),
        (item.put.is_some(), &["PUT"]),
        (item.post.is_some(), &["POST"]),
        (item.patch.is_some(), &["PATCH"]),
        (item.delete.is_some(), &["DELETE"]),
    ];
    for (is_there, names) in known {
        if is_there {
            methods.extend_from_slice(names);
        }
    }
    methods
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
