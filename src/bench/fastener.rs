//! The page of a fastener: every field, the tightening range with the torque on it, and what the audit found.

use super::groups::{Group, groups};
use super::page::{Answer, Trouble, away, html, id_in_path};
use crate::card::range_bar::{RangeBar, range_bar};
use crate::catalog::{AuditScope, Catalog, State};
use crate::record::{Fastener, Source};
use actix_web::HttpResponse;
use actix_web::http::header::LOCATION;
use actix_web::web::{Data, Path};
use askama::Template;

#[derive(Template)]
#[template(path = "page_fastener.html", config = "src/askama.toml")]
struct FastenerPage<'f> {
    fastener: &'f Fastener,
    revision: u64,
    is_withdrawn: bool,
    fields: Vec<(String, String)>,
    range: Option<String>,
    /// Whether the audit has come to it as it stands.
    is_audited: bool,
    groups: Vec<Group>,
    with_record: bool,
}

/// The page of a fastener; a joint has its own.
pub async fn fastener_page(catalog: Data<Catalog>, id: Path<String>) -> Answer {
    let id = id_in_path(&id)?;
    let Some(stored) = catalog.get(&id)? else {
        return Err(Trouble::NotFound { what: id.to_string(), near: catalog.ids_near(&id)? });
    };
    let Some(fastener) = stored.record.as_fastener() else {
        let to = format!("/bench/joints/{id}");
        return Ok(HttpResponse::SeeOther().insert_header((LOCATION, to)).finish());
    };
    let findings = away(move || Ok(catalog.audit_soon(&AuditScope::Ids(vec![id]))?)).await?;
    html(&FastenerPage {
        fastener,
        revision: stored.revision,
        is_withdrawn: stored.state == State::Withdrawn,
        fields: fields_of(fastener),
        range: RangeBar::of_fastener(fastener).map(|bar| range_bar(&bar)),
        is_audited: findings.is_some(),
        groups: groups(findings.unwrap_or_default()),
        with_record: false,
    })
}

/// The fields of a record as name and text, deeper ones with their path, the ids and the source left out.
fn fields_of(fastener: &Fastener) -> Vec<(String, String)> {
    let value = serde_json::to_value(fastener).unwrap_or_default();
    let mut fields = super::history::flat(&value);
    fields.retain(|(name, _)| !matches!(name.as_str(), "kind" | "id" | "joint") && !name.starts_with("stages"));
    fields.into_iter().map(|(name, value)| (super::words::of_field(&name), value)).collect()
}

/// Whether the record was checked, in words.
fn checked_words(fastener: &Fastener) -> &'static str {
    if fastener.source.as_ref().is_some_and(Source::is_checked) { "Checked by a second person" } else { "UNCHECKED" }
}
