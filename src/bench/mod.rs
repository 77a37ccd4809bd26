//! The bench page: the book for oily hands, as pages that work without script.
//!
//! A handler asks the catalog once and fills a template. The page writes nothing into the book: what is entered goes
//! through the API. It knows no storage and judges no number. [`configure`] adds it to a service that holds a
//! [`Catalog`](crate::catalog::Catalog).

mod assets;
mod audit;
mod entry;
mod fastener;
mod find;
mod groups;
mod history;
mod joint;
mod page;
mod picker;
mod rule;
mod seal;
mod series;
mod several;
mod sign_in;
mod start;
mod step;
mod words;

pub use entry::{Entered, checked_page, refused_page};
pub use page::encoded;
pub use sign_in::sign_in_page;

use actix_web::web::{self, ServiceConfig};

/// Adds the pages below `/bench/` to a service. The service must hold the catalog as `web::Data<Catalog>`.
pub fn configure(config: &mut ServiceConfig) {
    config
        .route("/bench", web::get().to(page::to_bench))
        .route("/bench/", web::get().to(find::find_page))
        .route("/bench/assets/{name}", web::get().to(assets::asset))
        .route("/bench/joints/{id}", web::get().to(joint::joint_page))
        .route("/bench/joints/{id}/card", web::get().to(joint::card_file))
        .route("/bench/joints/{id}/start", web::get().to(start::start_page))
        .route("/bench/joints/{id}/steps/{n}", web::get().to(step::step_page))
        .route("/bench/kit", web::get().to(several::kit_page))
        .route("/bench/kit.csv", web::get().to(several::kit_csv))
        .route("/bench/way", web::get().to(several::way_page))
        .route("/bench/way/sheet", web::get().to(several::way_sheet))
        .route("/bench/label", web::get().to(several::label_page))
        .route("/bench/label/print", web::get().to(several::label_file))
        .route("/bench/fasteners/{id}", web::get().to(fastener::fastener_page))
        .route("/bench/history/{id}", web::get().to(history::history_page))
        .route("/bench/rules/{name}", web::get().to(rule::rule_page))
        .route("/bench/audit", web::get().to(audit::audit_page))
        .route("/bench/entry", web::get().to(entry::entry_page));
}
