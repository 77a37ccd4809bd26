//! The document of the API: what the handlers say about themselves, and what holds for all of them.

use super::app;
use super::problem::{PROBLEM_JSON, ProblemDocument};
use super::problem_kinds::{self as kinds, ProblemKind};
use utoipa::openapi::path::{Operation, ParameterIn};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme};
use utoipa::openapi::{
    ContentBuilder, HeaderBuilder, InfoBuilder, LicenseBuilder, ObjectBuilder, OpenApi, OpenApiBuilder, PathItem, Ref,
    RefOr, Response, ResponseBuilder, Server, Type, info, tag::TagBuilder,
};
use utoipa::{PartialSchema, ToSchema};

/// The name of the security scheme: a token in the header `Authorization`.
pub const BEARER: &str = "bearer";

const ABOUT: &str = "A book of fastener specifications that checks every number it takes in: look-up by head, thread and \
position, the stages of tightening with their order, an audit against published tables and the mechanics of the bolt.\n\n\
Quantities that people state are text with a unit and keep it; computed quantities are numbers whose key carries the unit. \
The audit says what a number was compared with, never that it is right. The maker's current instructions, local codes and \
licensed practice come before this book.\n\n\
`HEAD` works wherever `GET` does. Every answer has a `Request-Id`. Everything that is a no is `application/problem+json` \
with all faults at once.";

const TAGS: &[(&str, &str)] = &[
    ("fasteners", "Look up, write and withdraw fasteners"),
    ("joints", "Look up, write and withdraw joints; what closes them, their cards and drawings"),
    ("audit", "Findings, and the rules they come from"),
    ("standards", "What published tables say, and conversions"),
    ("history", "Changes of the book"),
    ("bulk", "Many records at once, in and out"),
    ("service", "The service itself"),
];

/// The document before the handlers have entered themselves.
#[must_use]
pub fn blank() -> OpenApi {
    let license = LicenseBuilder::new().name("MIT").identifier(Some("MIT")).build();
    let info = InfoBuilder::new()
        .title("clampbook")
        .version(env!("CARGO_PKG_VERSION"))
        .description(Some(ABOUT))
        .license(Some(license))
        .contact(Some(info::ContactBuilder::new().name(Some("The maintainers of clampbook")).build()))
        .build();
    let tags = TAGS.iter().map(|(name, about)| TagBuilder::new().name(*name).description(Some(*about)).build());
    OpenApiBuilder::new().info(info).servers(Some([Server::new("/")])).tags(Some(tags)).build()
}

/// The document of the API as the handlers of this program make it.
#[must_use]
pub fn document() -> OpenApi {
    let (_, mut document) = app::with_routes(blank()).split_for_parts();
    complete(&mut document);
    document
}

/// The document as it is checked in and served: JSON, indented, ended by a line break.
///
/// # Panics
/// Never: the document has text keys.
#[must_use]
pub fn document_text() -> String {
    let mut text = document().to_pretty_json().expect("the document has text keys");
    text.push('\n');
    text
}

/// Enters what holds for every operation.
fn complete(document: &mut OpenApi) {
    let components = document.components.get_or_insert_default();
    let scheme = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .description(Some("A token made with `clampbook token new`, with the scopes read, write, check or admin"))
        .build();
    components.security_schemes.insert(BEARER.to_owned(), SecurityScheme::Http(scheme).into());
    let mut problems = Vec::new();
    ProblemDocument::schemas(&mut problems);
    problems.push((ProblemDocument::name().into_owned(), ProblemDocument::schema()));
    components.schemas.extend(problems);
    let mut used = Vec::new();
    for (path, item) in &mut document.paths.paths {
        for operation in operations_of(item) {
            complete_operation(path, operation, &mut used);
        }
    }
    let components = document.components.get_or_insert_default();
    for kind in used {
        components.responses.entry(kind.name.to_owned()).or_insert_with(|| response_of(kind).into());
    }
}

fn operations_of(item: &mut PathItem) -> impl Iterator<Item = &mut Operation> {
    [&mut item.get, &mut item.put, &mut item.post, &mut item.patch, &mut item.delete].into_iter().flatten()
}

fn complete_operation(path: &str, operation: &mut Operation, used: &mut Vec<&'static ProblemKind>) {
    let is_of_book = path.starts_with("/v1/");
    if operation.security.is_none() {
        let bearer = SecurityRequirement::new(BEARER, [] as [&str; 0]);
        operation.security = Some(vec![SecurityRequirement::default(), bearer]);
    }
    let mut kinds: Vec<&'static ProblemKind> = vec![&kinds::NOT_ACCEPTABLE, &kinds::INTERNAL];
    if is_of_book {
        kinds.extend([&kinds::UNREADABLE, &kinds::ADDRESS_TOO_LONG]);
    }
    if operation.request_body.is_some() {
        kinds.extend([&kinds::TOO_SLOW, &kinds::BODY_TOO_LARGE, &kinds::WRONG_MEDIA_TYPE]);
    }
    for kind in kinds {
        let status = kind.status.as_str().to_owned();
        if !operation.responses.responses.contains_key(&status) {
            let reference = Ref::from_response_name(kind.name);
            operation.responses.responses.insert(status, RefOr::Ref(reference));
            used.push(kind);
        }
    }
    describe_parameters(operation);
    for response in operation.responses.responses.values_mut() {
        if let RefOr::T(response) = response {
            add_request_id(response);
        }
    }
}

/// Where a parameter of a path has an example and its schema has none, tools look in the schema.
fn describe_parameters(operation: &mut Operation) {
    for parameter in operation.parameters.iter_mut().flatten() {
        if let RefOr::T(parameter) = parameter
            && parameter.parameter_in == ParameterIn::Path
        {
            parameter.required = utoipa::openapi::Required::True;
        }
    }
}

fn response_of(kind: &ProblemKind) -> Response {
    let content = ContentBuilder::new().schema(Some(Ref::from_schema_name(ProblemDocument::name()))).build();
    let mut response = ResponseBuilder::new().description(kind.title).content(PROBLEM_JSON, content).build();
    add_request_id(&mut response);
    response
}

fn add_request_id(response: &mut Response) {
    let schema = ObjectBuilder::new().schema_type(Type::String).min_length(Some(1)).max_length(Some(64)).build();
    let header = HeaderBuilder::new().description(Some("The id of the request")).schema(Some(schema)).build();
    response.headers.insert("Request-Id".to_owned(), header.into());
}
