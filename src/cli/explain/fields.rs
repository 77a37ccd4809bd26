//! The fields of records, as the types of records themselves describe them.

use crate::cli::{layout, terminal};
use crate::record::{Fastener, Joint};
use serde::Serialize;
use serde_json::{Map, Value};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// What a field means and what may stand in it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldPage {
    /// The path of the field.
    pub field: String,
    /// `joint` or `fastener`.
    pub kind: &'static str,
    /// Whether it must be there.
    pub required: bool,
    /// What it means.
    pub summary: String,
    /// How it is written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub written: Option<String>,
    /// The words that may stand there, where the list is closed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub one_of: Vec<String>,
    /// The fields below it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<String>,
    /// An example.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub example: Option<String>,
}

impl FieldPage {
    /// The page for a terminal.
    #[must_use]
    pub fn for_people(&self, width: usize) -> String {
        let needed = if self.required { ", must be given" } else { "" };
        let mut text = terminal::heading(&format!("{} of a {}{needed}", self.field, self.kind)) + "\n";
        text += &layout::fill(&self.summary, width, "  ", "  ");
        if let Some(written) = &self.written {
            text += &layout::fill(&format!("written as: {written}"), width, "  ", "    ");
        }
        if !self.one_of.is_empty() {
            text += &layout::fill(&format!("one of: {}", self.one_of.join(", ")), width, "  ", "    ");
        }
        if !self.parts.is_empty() {
            text += &layout::fill(&format!("made of: {}", self.parts.join(", ")), width, "  ", "    ");
        }
        if let Some(example) = &self.example {
            text += &layout::fill(&format!("such as: {example}"), width, "  ", "    ");
        }
        text
    }
}

/// A path without the numbers of list entries: `renew[0].count` is `renew.count`.
#[must_use]
pub fn without_indexes(path: &str) -> String {
    let segments = path.split(['.', '[', ']']).filter(|segment| !segment.is_empty());
    segments.filter(|segment| segment.parse::<u32>().is_err()).collect::<Vec<_>>().join(".")
}

/// Every field of joints and fasteners, in the order of the record.
#[must_use]
pub fn fields() -> Vec<FieldPage> {
    let mut pages = Vec::new();
    let kinds = [("joint", described::<Joint>()), ("fastener", described::<Fastener>())];
    for (kind, (schema, named)) in &kinds {
        let mut walk = Walk { kind, named, pages: &mut pages };
        walk.members(schema, "");
    }
    pages
}

/// The schema of a type, and those that it refers to by name.
fn described<T: ToSchema>() -> (Value, Map<String, Value>) {
    let mut named: Vec<(String, RefOr<Schema>)> = Vec::new();
    T::schemas(&mut named);
    let json = |schema: &RefOr<Schema>| serde_json::to_value(schema).unwrap_or_default();
    let all = named.iter().map(|(name, schema)| (name.clone(), json(schema)));
    (json(&<T as PartialSchema>::schema()), all.collect())
}

struct Walk<'w> {
    kind: &'static str,
    named: &'w Map<String, Value>,
    pages: &'w mut Vec<FieldPage>,
}

impl Walk<'_> {
    fn members(&mut self, schema: &Value, above: &str) {
        let required: Vec<&str> =
            schema.get("required").and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str).collect();
        for (name, member) in members_of(schema) {
            let field = if above.is_empty() { name.clone() } else { format!("{above}.{name}") };
            let type_of = self.type_of(member);
            let text = |name: &str| type_of.get(name).and_then(Value::as_str).map(str::to_owned);
            let summary = description(member).or_else(|| text("description")).unwrap_or_default();
            let one_of = type_of.get("enum").and_then(Value::as_array).into_iter().flatten();
            self.pages.push(FieldPage {
                field: field.clone(),
                kind: self.kind,
                required: required.contains(&name.as_str()),
                written: text("description").filter(|written| *written != summary && !is_object(&type_of)),
                summary,
                one_of: one_of.filter_map(Value::as_str).map(str::to_owned).collect(),
                parts: members_of(&type_of).map(|(name, _)| format!("{field}.{name}")).collect(),
                example: type_of.pointer("/examples/0").map(crate::cli::table::cell),
            });
            if is_object(&type_of) {
                self.members(&type_of, &field);
            }
        }
    }

    /// The schema that says what may stand in a member: its own, or the one that it refers to; of a list, that of its
    /// entries.
    fn type_of(&self, member: &Value) -> Value {
        if let Some(name) = member.get("$ref").and_then(Value::as_str) {
            let name = name.rsplit('/').next().unwrap_or_default();
            return self.named.get(name).map(|schema| self.type_of(schema)).unwrap_or_default();
        }
        for several in ["oneOf", "allOf", "anyOf"] {
            let choices = member.get(several).and_then(Value::as_array).into_iter().flatten();
            if let Some(choice) = choices.into_iter().find(|choice| choice.get("type") != Some(&"null".into())) {
                return self.type_of(choice);
            }
        }
        match member.get("items") {
            Some(items) => self.type_of(items),
            None => member.clone(),
        }
    }
}

fn members_of(schema: &Value) -> impl Iterator<Item = (&String, &Value)> {
    schema.get("properties").and_then(Value::as_object).into_iter().flatten()
}

fn is_object(schema: &Value) -> bool {
    schema.get("properties").is_some()
}

/// What the member itself says it is: beside its type, or beside its reference.
fn description(member: &Value) -> Option<String> {
    let own = member.get("description").and_then(Value::as_str);
    let inner = || {
        let choices = ["oneOf", "allOf"].iter().filter_map(|name| member.get(*name)?.as_array()).flatten();
        choices.into_iter().find_map(|choice| choice.get("description")?.as_str())
    };
    own.or_else(inner).map(|text| text.replace('\n', " "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_field_has_a_page_that_says_what_it_means() {
        let pages = fields();
        for (kind, names) in [("joint", Joint::FIELDS), ("fastener", Fastener::FIELDS)] {
            for name in names {
                let page = pages.iter().find(|page| page.kind == kind && page.field == *name);
                let page = page.unwrap_or_else(|| panic!("{kind}.{name} has no page"));
                assert!(page.summary.ends_with(['.', '`']), "{kind}.{name}: {:?}", page.summary);
            }
        }
        let size = pages.iter().find(|page| page.field == "drive.size").unwrap();
        assert_eq!(size.example.as_deref(), Some("13 mm"));
        let head = pages.iter().find(|page| page.field == "head").unwrap();
        assert_eq!(head.one_of[..2], ["hexagon".to_owned(), "hexagon-flange".to_owned()]);
    }

    #[test]
    fn numbers_of_entries_are_no_part_of_a_name() {
        assert_eq!(without_indexes("renew[0].count"), "renew.count");
        assert_eq!(without_indexes("stages.1"), "stages");
    }
}
