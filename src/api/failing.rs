//! What the catalog cannot do, as problems: the one place where its errors meet HTTP.

use super::problem::Problem;
use super::problem_kinds as kinds;
use crate::catalog::{Catalog, CatalogError, Found, StoreError};
use actix_web::http::header::RETRY_AFTER;
use serde_json::json;

impl From<CatalogError> for Problem {
    fn from(error: CatalogError) -> Self {
        match &error {
            CatalogError::Store(error) => of_store(error),
            CatalogError::Cursor(reason) => Self::new(&kinds::CURSOR_MISMATCH, reason.to_string()),
            CatalogError::OutOfTime => {
                Self::took_too_long("there was no answer within the time that one may take", false)
            }
            CatalogError::Stream { source, .. } => Self::internal(&format!("{error}: {source}")),
        }
    }
}

fn of_store(error: &StoreError) -> Problem {
    match error {
        StoreError::Changed { id, found: Some(found) } => {
            let _ = id;
            changed(error.to_string(), found)
        }
        StoreError::Changed { found: None, .. } => Problem::not_found(error.to_string()),
        StoreError::TooLarge { .. } => Problem::new(&kinds::BODY_TOO_LARGE, error.to_string()),
        StoreError::DiskFull { .. } | StoreError::Stopped { .. } => Problem::new(&kinds::NOT_READY, error.to_string()),
        StoreError::Crowded { .. } | StoreError::Overtaken => again_later(error.to_string()),
        StoreError::Away { .. } | StoreError::Untold { .. } | StoreError::Refused { .. } => of_database(error),
        StoreError::Missing { .. }
        | StoreError::NotBuilt { .. }
        | StoreError::NotAFolder { .. }
        | StoreError::Foreign { .. }
        | StoreError::Newer { .. }
        | StoreError::Held { .. }
        | StoreError::NotWritable { .. }
        | StoreError::Io { .. }
        | StoreError::Damaged { .. }
        | StoreError::Backup { .. }
        | StoreError::Occupied { .. }
        | StoreError::ForReading
        | StoreError::Internal(_) => Problem::internal(&chain(error)),
    }
}

/// What is the matter with the database goes to the log: it names hosts and users.
fn of_database(error: &StoreError) -> Problem {
    tracing::error!(%error, "the database");
    again_later(match error {
        StoreError::Untold { .. } => {
            "the database went away over this write, and it can't be told whether it was stored. Read the record before writing again"
        }
        StoreError::Refused { .. } => "the database takes no writes from this server; nothing was stored",
        _ => "the database can't be reached; nothing was stored",
    })
}

/// It may be worth trying again in a few seconds.
fn again_later(detail: impl Into<String>) -> Problem {
    Problem::new(&kinds::NOT_READY, detail).header(RETRY_AFTER, "5")
}

/// An error with everything that caused it, in one line.
#[must_use]
pub fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(error) = source {
        text = format!("{text}: {error}");
        source = error.source();
    }
    text
}

/// Something else stands there than was expected (412).
#[must_use]
pub fn changed(detail: impl Into<String>, found: &Found) -> Problem {
    let current = json!({
        "revision": found.revision,
        "changed_at": found.changed_at.to_string(),
        "changed_by": found.changed_by.as_ref().map(ToString::to_string),
        "state": if found.withdrawn { "withdrawn" } else { "current" },
    });
    Problem::new(&kinds::CHANGED_SINCE, detail).with("current", current)
}

/// Does here what only looks at what is in memory, without waiting for an audit; what does not come to all that can be said
/// is done anew away from the threads that answer. To go there and back costs more than most answers.
///
/// # Errors
/// What the work says; 503 if the service is stopping.
pub async fn at_once<T: Send + 'static>(
    catalog: Catalog,
    work: impl Fn(&Catalog) -> Result<T, Problem> + Send + 'static,
    is_all: impl FnOnce(&T) -> bool,
) -> Result<T, Problem> {
    if catalog.is_audited() {
        let done = work(&catalog.without_waiting())?;
        if is_all(&done) {
            return Ok(done);
        }
    }
    in_background(move || work(&catalog)).await
}

/// Does what takes a while away from the threads that answer.
///
/// # Errors
/// What the work says; 503 if the service is stopping.
pub async fn in_background<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    match actix_web::web::block(work).await {
        Ok(done) => done,
        Err(_) => Err(Problem::new(&kinds::NOT_READY, "the service is stopping")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalog::ImportOptions;
    use std::thread;

    #[actix_web::test]
    async fn where_the_audit_would_be_waited_for_others_are_not_kept_from_their_answers() {
        let book = Catalog::in_memory().unwrap();
        book.await_audit().unwrap();
        let here = thread::current().id();
        let asked = |work: fn(&Catalog) -> Option<u64>| {
            at_once(book.clone(), move |book| Ok((work(book), thread::current().id())), |(up_to, _)| up_to.is_none())
        };
        assert_eq!(asked(|_| None).await.unwrap(), (None, here));
        // Something is written when this has just begun.
        let up_to = |book: &Catalog| {
            let line = br#"{"kind":"joint","id":"skua.gangway.foot"}"#;
            book.import(line.as_slice(), &ImportOptions::default()).unwrap();
            let stored = book.get(&"skua.gangway.foot".parse().unwrap()).unwrap().unwrap();
            book.audit_so_far(&[&stored]).unwrap().up_to
        };
        let (up_to, there) = asked(up_to).await.unwrap();
        assert!(up_to.is_none() && there != here, "the audit was waited for here");
    }
}
