//! The rules of the audit, as pages.

use crate::api::asked::Asked;
use crate::api::problem::Problem;
use crate::api::reply::{self, Items};
use crate::api::says::NotFound;
use crate::audit::{RULES, Rule, rule_named};
use crate::record::did_you_mean;
use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Serialize;

/// A rule of the audit in one sentence.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct RuleSummary {
    /// Its name: what it flags.
    pub rule: &'static str,
    /// What it flags, in one sentence.
    pub summary: String,
}

/// The page of a rule.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct RulePage {
    /// Its name: what it flags.
    pub rule: &'static str,
    /// What it flags, in one sentence.
    pub summary: String,
    /// The page as Markdown: why it matters, what is flagged, what is accepted, sources.
    pub page: String,
}

/// The rules of the audit.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct RuleList {
    /// The rules in the order they run.
    pub items: Vec<RuleSummary>,
}

/// The rules of the audit
///
/// Every rule that the audit runs, each in one sentence. The audit says what a number was compared with, never that it
/// is right.
#[utoipa::path(
    tag = "audit",
    responses((status = 200, description = "The rules", body = RuleList)),
)]
#[get("/v1/rules")]
pub async fn list_rules(request: HttpRequest) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let summary = |rule: &&Rule| RuleSummary { rule: rule.name, summary: rule.summary() };
    Ok(reply::json(&Items { items: RULES.iter().map(summary).collect() }))
}

/// The page of a rule
///
/// Why the rule matters, what it flags and what it accepts, with its sources: the same text as `clampbook explain` shows.
#[utoipa::path(
    tag = "audit",
    params(("name" = String, Path, description = "The name of the rule", example = "unknown-thread",
        min_length = 1, max_length = 60, pattern = "^[a-z0-9-]+$")),
    responses(
        (status = 200, description = "The page of the rule", body = RulePage),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/rules/{name}")]
pub async fn get_rule(request: HttpRequest, name: web::Path<String>) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    match rule_named(&name) {
        Some(rule) => Ok(reply::json(&RulePage { rule: rule.name, summary: rule.summary(), page: rule.page() })),
        None => {
            let names: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
            let hint = did_you_mean(&name, &names).map(|hint| format!(" {hint}?")).unwrap_or_default();
            Err(Problem::not_found(format!("no rule is called \"{name}\".{hint}")))
        }
    }
}
