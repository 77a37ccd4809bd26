//! The paths of the API, and requests that no handler answers: 405 with `Allow` where the path exists, else 404.

use super::app::Shared;
use super::problem::Problem;
use super::problem_kinds as kinds;
use actix_web::http::Method;
use actix_web::http::header::ALLOW;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::Value;
use std::collections::HashMap;
use std::sync::Arc;

/// More segments than any path of the API has.
const SEGMENTS_MAX: usize = 12;

/// The paths of the API and the methods that each has, taken from the document.
#[derive(Debug)]
pub struct Paths {
    plain: HashMap<String, Known>,
    patterns: Vec<Known>,
}

/// A path of the API.
#[derive(Debug)]
pub struct Known {
    /// The path as the document has it, `/v1/joints/{id}`.
    pub template: Arc<str>,
    /// Its methods, as in the header `Allow`.
    pub methods: String,
    /// The segments of the template; a name in braces is none.
    segments: Box<[Option<Box<str>>]>,
    operations: Vec<(&'static str, Arc<str>)>,
}

impl Known {
    /// The id of the operation that this method is here; that of `GET` for `HEAD`.
    #[must_use]
    pub fn operation(&self, method: &Method) -> Option<Arc<str>> {
        let found = self.operations.iter().find(|(name, _)| *name == method.as_str());
        found.map(|(_, operation)| operation.clone())
    }

    /// Whether a path of these segments has this form: a name in braces stands for any text. Every request is looked up here
    /// before it is routed, so this is no regular expression.
    fn is_of(&self, segments: &[&str]) -> bool {
        let fits = |(form, segment): (&Option<Box<str>>, &&str)| match form {
            Some(form) => **form == **segment,
            None => !segment.is_empty(),
        };
        self.segments.len() == segments.len() && self.segments.iter().zip(segments).rev().all(fits)
    }

    fn of(template: &str, item: &Value) -> Self {
        const METHODS: &[(&str, &[&str])] = &[
            ("get", &["GET", "HEAD"]),
            ("put", &["PUT"]),
            ("post", &["POST"]),
            ("patch", &["PATCH"]),
            ("delete", &["DELETE"]),
        ];
        let mut operations = Vec::new();
        for (word, names) in METHODS {
            if let Some(operation) = item.get(word) {
                let id: Arc<str> = operation["operationId"].as_str().unwrap_or_default().into();
                operations.extend(names.iter().map(|name| (*name, id.clone())));
            }
        }
        let methods = operations.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ");
        let segment = |segment: &str| (!segment.starts_with('{')).then(|| segment.into());
        let segments = template.split('/').map(segment).collect();
        Self { template: template.into(), methods, segments, operations }
    }
}

impl Paths {
    /// The paths that a document describes.
    #[must_use]
    pub fn of(document: &Value) -> Self {
        let mut paths = Self { plain: HashMap::new(), patterns: Vec::new() };
        for (template, item) in document["paths"].as_object().into_iter().flatten() {
            let known = Known::of(template, item);
            if template.contains('{') {
                paths.patterns.push(known);
            } else {
                paths.plain.insert(template.clone(), known);
            }
        }
        paths
    }

    /// The path of the API that this is.
    #[must_use]
    pub fn find(&self, path: &str) -> Option<&Known> {
        self.plain.get(path).or_else(|| {
            let (mut segments, mut count) = ([""; SEGMENTS_MAX], 0);
            for segment in path.split('/') {
                *segments.get_mut(count)? = segment;
                count += 1;
            }
            self.patterns.iter().find(|known| known.is_of(&segments[..count]))
        })
    }

    /// The methods of a path, as in the header `Allow`.
    #[must_use]
    pub fn methods(&self, path: &str) -> Option<&str> {
        self.find(path).map(|known| known.methods.as_str())
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_path_of_the_document_is_known_with_its_operations() {
        let paths = Paths::of(&crate::api::document());
        let known = paths.find("/v1/joints/a.b/positions/3").unwrap();
        assert_eq!((&*known.template, known.methods.as_str()), ("/v1/joints/{id}/positions/{position}", "GET, HEAD"));
        assert_eq!(known.operation(&Method::HEAD).as_deref(), Some("get_position"));
        let record = paths.find("/v1/fasteners/a.b.c").unwrap();
        assert_eq!(record.operation(&Method::PATCH).as_deref(), Some("patch_fastener"));
        assert_eq!(record.operation(&Method::POST), None);
        assert_eq!(paths.methods("/v1/changes"), Some("GET, HEAD"));
        assert!(paths.find("/v1/joints/a.b/").is_none() && paths.find("/v1").is_none());
        assert!(paths.find("/v1/joints/").is_none() && paths.find("/v1/joints//card").is_none());
        for known in &paths.patterns {
            let names = known.template.split('/').filter(|segment| segment.contains(['{', '}']));
            assert!(known.segments.len() <= SEGMENTS_MAX, "{}", known.template);
            assert!(names.clone().all(|name| name.starts_with('{') && name.ends_with('}')), "{}", known.template);
        }
    }
}
