//! The history of a record: every revision, and what each changed.

use super::page::{Answer, Trouble, html, id_in_path};
use crate::catalog::{Catalog, State};
use actix_web::web::{Data, Path};
use askama::Template;
use serde_json::Value;
use std::collections::BTreeMap;

/// How many revisions are compared; older ones are only counted.
const SHOWN: usize = 50;

/// One revision as it is shown.
struct Shown {
    revision: u64,
    at: String,
    by: Option<String>,
    why: Option<String>,
    is_withdrawn: bool,
    changes: Vec<Change>,
}

/// One field that a revision changed.
#[derive(Debug, PartialEq, Eq)]
struct Change {
    field: String,
    before: Option<String>,
    after: Option<String>,
}

#[derive(Template)]
#[template(path = "page_history.html", config = "src/askama.toml")]
struct HistoryPage {
    id: String,
    revisions: Vec<Shown>,
    older: usize,
}

/// The page of a record's history, the newest revision first.
pub async fn history_page(catalog: Data<Catalog>, id: Path<String>) -> Answer {
    let id = id_in_path(&id)?;
    let infos = catalog.revisions(&id)?;
    if infos.is_empty() {
        return Err(Trouble::NotFound { what: id.to_string(), near: catalog.ids_near(&id)? });
    }
    let older = infos.len().saturating_sub(SHOWN);
    let mut revisions = Vec::new();
    let mut before: Option<Value> = None;
    for (i, info) in infos.iter().enumerate().skip(older.saturating_sub(1)) {
        let stored = catalog.revision(&id, info.revision)?;
        let after = stored.and_then(|stored| serde_json::to_value(&*stored.record).ok());
        if i >= older {
            revisions.push(Shown {
                revision: info.revision,
                at: info.changed_at.strftime("%Y-%m-%d %H:%M UTC").to_string(),
                by: info.changed_by.as_ref().map(ToString::to_string),
                why: info.why.as_ref().map(ToString::to_string),
                is_withdrawn: info.state == State::Withdrawn,
                changes: if i == 0 { Vec::new() } else { changes(before.as_ref(), after.as_ref()) },
            });
        }
        before = after;
    }
    revisions.reverse();
    html(&HistoryPage { id: id.to_string(), revisions, older })
}

fn changes(before: Option<&Value>, after: Option<&Value>) -> Vec<Change> {
    let fields = |value: Option<&Value>| value.map(flat).unwrap_or_default();
    let (before, after) = (fields(before), fields(after));
    let (old, new): (BTreeMap<_, _>, BTreeMap<_, _>) =
        (before.iter().cloned().collect(), after.iter().cloned().collect());
    let gone = before.iter().filter(|(field, _)| !new.contains_key(field)).map(|(field, _)| field);
    let all = after.iter().map(|(field, _)| field).chain(gone);
    let changed = all.filter(|field| old.get(*field) != new.get(*field)).map(|field| Change {
        field: field.clone(),
        before: old.get(field).cloned(),
        after: new.get(field).cloned(),
    });
    changed.collect()
}

/// The members of a record as path and text: `drive.size`, `stages[2]`.
pub fn flat(value: &Value) -> Vec<(String, String)> {
    fn walk(value: &Value, path: &str, out: &mut Vec<(String, String)>) {
        match value {
            Value::Object(members) => {
                for (key, member) in members {
                    walk(member, &if path.is_empty() { key.clone() } else { format!("{path}.{key}") }, out);
                }
            }
            Value::Array(items) => {
                for (i, item) in items.iter().enumerate() {
                    walk(item, &format!("{path}[{i}]"), out);
                }
            }
            Value::String(text) => out.push((path.to_owned(), text.clone())),
            other => out.push((path.to_owned(), other.to_string())),
        }
    }
    let mut out = Vec::new();
    walk(value, "", &mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_changed_is_told_field_by_field() {
        let before = json!({ "stages": ["hand", "13 N·m"], "name": "x", "count": 2 });
        let after = json!({ "stages": ["hand", "30 N·m"], "head": "hexagon", "count": 2 });
        let told: Vec<_> = changes(Some(&before), Some(&after))
            .into_iter()
            .map(|change| (change.field, change.before.unwrap_or_default(), change.after.unwrap_or_default()))
            .collect();
        let text = |a: &str, b: &str, c: &str| (a.to_owned(), b.to_owned(), c.to_owned());
        assert_eq!(told, [text("stages[1]", "13 N·m", "30 N·m"), text("head", "", "hexagon"), text("name", "x", "")]);
        assert!(changes(Some(&after), Some(&after)).is_empty());
    }
}
