//! The audit page: findings, the worst first, with what was probably meant, and the series as pictures.

use super::groups::{Group, groups};
use super::page::{Answer, Trouble, away, html};
use super::series::{self, Series};
use crate::audit::{Finding, Severity};
use crate::catalog::{AuditScope, Catalog};
use actix_web::web::{Data, Query as Asked};
use askama::Template;

/// How many records a page shows.
const TAKE: usize = 50;

/// What is asked for, as it stands in the form.
#[derive(Debug, Clone, Default, serde::Deserialize)]
#[serde(default)]
pub struct AuditForm {
    within: String,
    at_least: String,
    from: usize,
}

#[derive(Template)]
#[template(path = "page_audit.html", config = "src/askama.toml")]
struct AuditPage<'a> {
    form: &'a AuditForm,
    counts: [(Severity, usize); 3],
    accepted: usize,
    groups: Vec<Group>,
    with_record: bool,
    shown_to: usize,
    count: usize,
    series: Vec<Series>,
    /// Said where not every fastener was looked at for the series.
    looked_at: Option<usize>,
}

/// The audit page.
pub async fn audit_page(catalog: Data<Catalog>, form: Asked<AuditForm>) -> Answer {
    let asked = form.clone();
    let book = catalog.clone();
    let (all, series, is_all) = away(move || found(&book, &asked)).await?;
    let least = form.at_least.parse().unwrap_or(Severity::Note);
    let count_of = |severity| all.iter().filter(|f| f.accepted.is_none() && f.severity == severity).count();
    let counts = [Severity::Error, Severity::Warning, Severity::Note].map(|severity| (severity, count_of(severity)));
    let accepted = all.iter().filter(|finding| finding.accepted.is_some()).count();
    let findings = all.into_iter().filter(|finding| finding.accepted.is_none() && finding.severity >= least);
    let all = groups(findings.collect());
    let count = all.len();
    let groups: Vec<Group> = all.into_iter().skip(form.from).take(TAKE).collect();
    let shown_to = form.from + groups.len();
    let looked_at = (!is_all).then_some(series::LOOKED_AT_MAX);
    html(&AuditPage { form: &form, counts, accepted, groups, with_record: true, shown_to, count, series, looked_at })
}

fn found(catalog: &Catalog, form: &AuditForm) -> Result<(Vec<Finding>, Vec<Series>, bool), Trouble> {
    let within = form.within.trim();
    let scope = if within.is_empty() { AuditScope::Whole } else { AuditScope::Within(within.to_owned()) };
    let findings = catalog.audit(&scope)?;
    let (series, is_all) = series::series(catalog, within, &findings)?;
    Ok((findings, series, is_all))
}

/// The question for the records after those shown.
fn more(form: &AuditForm, from: &usize) -> String {
    let from = from.to_string();
    super::page::question(&[("within", Some(&form.within)), ("at_least", Some(&form.at_least)), ("from", Some(&from))])
}
