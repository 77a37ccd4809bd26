//! The service put together: what is shared, which handlers there are, what every request goes through.

use super::access::Access;
use super::cors;
use super::document;
use super::edge;
use super::entry_form;
use super::handlers::{
    assemblies, audit, batches, cards, changes, closing, exports, fasteners, health, intakes, joints, meta, ranges,
    rules, sheets, standards, tightening,
};
use super::intakes::{Intakes, Shelf};
use super::metrics::{LostLines, Metrics};
use super::observe;
use super::options::{Limits, Options};
use super::rates::Rates;
use super::ready::Ready;
use super::sharing;
use super::sign_in;
use super::stopping::Stopping;
use super::unmatched::{self, Paths};
use crate::catalog::{Catalog, Deadline};
use actix_web::dev::{ServiceFactory, ServiceRequest};
use actix_web::middleware::Condition;
use actix_web::web::Data;
use actix_web::{App, Error, middleware, web};
use std::sync::LazyLock;
use std::time::Instant;
use utoipa::openapi::OpenApi;
use utoipa_actix_web::service_config::ServiceConfig;
use utoipa_actix_web::{AppExt, UtoipaApp};

/// What all handlers share.
#[derive(Debug)]
pub struct Shared {
    /// The book.
    pub catalog: Catalog,
    /// Who may do what.
    pub access: Access,
    /// The document of the API, as it is sent.
    pub document: &'static str,
    /// The paths and their methods.
    pub paths: &'static Paths,
    /// What is sent of records, ready.
    pub ready: Ready,
    /// What is taken in in bulk.
    pub intakes: Intakes,
    /// Whether the service is stopping.
    pub stopping: Stopping,
    /// What is counted.
    pub metrics: Metrics,
    /// What is too much and too long.
    pub limits: Limits,
    /// How many requests everybody may send.
    pub rates: Option<Rates>,
    /// Origins whose pages may read answers in a browser.
    pub origins: Vec<String>,
    /// The server that writes are for, if this one only follows it.
    pub leader: Option<String>,
    /// Whether connections are encrypted.
    pub is_encrypted: bool,
}

/// What the document says, which is the same for every service.
struct Documented {
    text: String,
    paths: Paths,
}

static DOCUMENTED: LazyLock<Documented> = LazyLock::new(|| {
    let document = document::document();
    Documented { text: document::text_of(&document), paths: Paths::of(&document) }
});

impl Shared {
    /// What the handlers share.
    #[must_use]
    pub fn new(catalog: Catalog, access: Access) -> Self {
        let Documented { text, paths } = &*DOCUMENTED;
        Self {
            metrics: Metrics::of(catalog.clone()),
            catalog,
            access,
            document: text,
            paths,
            ready: Ready::default(),
            intakes: Intakes::default(),
            stopping: Stopping::default(),
            limits: Limits::default(),
            rates: None,
            origins: Vec::new(),
            leader: None,
            is_encrypted: false,
        }
    }

    /// The book, for a request that begins now: what looks at many records for it ends with its time.
    #[must_use]
    pub fn in_time(&self) -> Catalog {
        let moment = Instant::now().checked_add(self.limits.answer_time);
        self.catalog.until(moment.map_or_else(Deadline::default, Deadline::at))
    }

    /// The same, run as the operator wants it.
    #[must_use]
    pub fn run_with(mut self, options: &Options) -> Self {
        if let Some(lost) = &options.lost_lines {
            self.metrics.also(|registry| registry.register_collector(Box::new(LostLines(lost.clone()))));
        }
        Self {
            limits: options.limits,
            rates: options.limits.rate.map(Rates::of),
            origins: options.origins.clone(),
            leader: options.leader.clone(),
            is_encrypted: options.tls.is_some(),
            intakes: intakes_of(&self.catalog, options),
            ..self
        }
    }
}

/// The intakes, written down where the operator says, or in the folder of the book.
fn intakes_of(catalog: &Catalog, options: &Options) -> Intakes {
    let beside = || catalog.folder().map(|folder| folder.join("intakes"));
    options.intakes.clone().or_else(beside).map_or_else(Intakes::default, |folder| Intakes::on(Shelf::at(folder)))
}

/// Every handler that the document describes.
fn routes(config: &mut ServiceConfig<'_>) {
    config
        .configure(asked_most)
        .service(health::get_live)
        .service(health::get_ready)
        .service(meta::get_openapi)
        .service(meta::get_problem)
        .service(rules::list_rules)
        .service(rules::get_rule)
        .service(standards::get_thread)
        .service(standards::list_classes)
        .service(standards::get_class)
        .service(standards::list_tables)
        .service(standards::get_table)
        .service(standards::get_conversion)
        .service(audit::audit_records)
        .service(audit::list_findings)
        .service(audit::export_findings)
        .service(assemblies::list_assemblies)
        .service(assemblies::get_assembly)
        .configure(of_several)
        .service(changes::list_changes)
        .configure(in_bulk)
        .service(ranges::compute_range)
        .configure(of_fasteners)
        .configure(of_joints)
        .service(tightening::compute_tightening);
}

/// Routes are tried in their order, most of them by a regular expression: what is asked all the time comes first.
fn asked_most(config: &mut ServiceConfig<'_>) {
    config
        .service(fasteners::list_fasteners)
        .service(fasteners::get_fastener)
        .service(closing::get_position)
        .service(joints::get_joint);
}

fn of_several(config: &mut ServiceConfig<'_>) {
    config
        .service(sheets::make_kit)
        .service(sheets::make_kit_table)
        .service(sheets::find_way)
        .service(sheets::make_label)
        .service(batches::list_records)
        .service(batches::apply_batch);
}

fn in_bulk(config: &mut ServiceConfig<'_>) {
    config
        .service(exports::export_fasteners_csv)
        .service(exports::export_joints_csv)
        .service(exports::export_records_csv)
        .service(exports::export_fasteners_ndjson)
        .service(exports::export_joints_ndjson)
        .service(exports::export_records_ndjson)
        .service(exports::get_fasteners_csv_schema)
        .service(exports::get_joints_csv_schema)
        .service(exports::get_records_csv_schema)
        .service(intakes::create_intake)
        .service(intakes::create_csv_intake)
        .service(intakes::create_ndjson_intake)
        .service(intakes::list_intakes)
        .service(intakes::get_intake)
        .service(intakes::apply_intake)
        .service(intakes::export_intake_faults);
}

fn of_fasteners(config: &mut ServiceConfig<'_>) {
    config
        .service(fasteners::put_fastener)
        .service(fasteners::patch_fastener)
        .service(fasteners::withdraw_fastener)
        .service(fasteners::list_fastener_revisions)
        .service(fasteners::get_fastener_revision)
        .service(fasteners::list_fastener_findings)
        .service(cards::get_fastener_range);
}

fn of_joints(config: &mut ServiceConfig<'_>) {
    config
        .service(joints::list_joints)
        .service(joints::put_joint)
        .service(joints::patch_joint)
        .service(joints::withdraw_joint)
        .service(joints::list_joint_revisions)
        .service(joints::get_joint_revision)
        .service(joints::list_joint_findings)
        .service(closing::list_joint_fasteners)
        .service(cards::get_joint_card)
        .service(cards::get_joint_drawing);
}

/// An application with every handler, and their entries in this document.
#[must_use]
pub fn with_routes(
    document: OpenApi,
) -> UtoipaApp<impl ServiceFactory<ServiceRequest, Config = (), Error = Error, InitError = ()>> {
    App::new().into_utoipa_app().openapi(document).configure(routes)
}

/// The whole service.
#[must_use]
pub fn app(
    shared: Data<Shared>,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = actix_web::dev::ServiceResponse<actix_web::body::BoxBody>,
        Error = Error,
        InitError = (),
    >,
> {
    app_beside(shared, |_| {})
}

/// The whole service, and what else is served behind the same middleware.
#[must_use]
pub fn app_beside(
    shared: Data<Shared>,
    others: impl FnOnce(&mut web::ServiceConfig),
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = actix_web::dev::ServiceResponse<actix_web::body::BoxBody>,
        Error = Error,
        InitError = (),
    >,
> {
    let cors = Condition::new(!shared.origins.is_empty(), cors::allowing(&shared.origins));
    App::new()
        .app_data(Data::new(shared.catalog.clone()))
        .app_data(shared)
        .configure(others)
        .into_utoipa_app()
        .configure(routes)
        .into_app()
        .route("/docs", web::get().to(meta::to_docs))
        .route("/docs/{file:.*}", web::get().to(meta::docs_file))
        .configure(crate::bench::configure)
        .route("/bench/entry", web::post().to(entry_form::entered))
        .route(sign_in::PATH, web::get().to(sign_in::sign_in_page))
        .route(sign_in::PATH, web::post().to(sign_in::sign_in))
        .default_service(web::to(unmatched::refuse))
        .wrap(middleware::from_fn(sharing::pass))
        .wrap(middleware::from_fn(edge::pass))
        .wrap(cors)
        .wrap(middleware::from_fn(observe::pass))
}
