//! What stands in the columns of an exported table, in the words of Table Schema (an open standard for tables).

use crate::catalog::{COLUMNS, CellKind, Column};
use crate::record::{Fastener, Id, Joint, Kind};
use serde::Serialize;
use serde_json::{Map, Value};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// The description of a table.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct TableSchema {
    /// The columns in their order.
    pub fields: Vec<TableField>,
    /// The column that names a row.
    #[serde(rename = "primaryKey")]
    #[schema(rename = "primaryKey")]
    pub primary_key: &'static str,
    /// What stands for nothing.
    #[serde(rename = "missingValues")]
    #[schema(rename = "missingValues")]
    pub missing_values: Vec<&'static str>,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct TableField {
    /// Its name: the dotted path of the field of a record.
    pub name: &'static str,
    /// `string`, `integer` or `number`.
    #[serde(rename = "type")]
    #[schema(rename = "type")]
    pub kind: &'static str,
    /// What it means.
    pub description: String,
    /// What holds for its cells.
    pub constraints: TableConstraints,
}

/// What holds for the cells of a column.
#[derive(Debug, Clone, PartialEq, Default, Serialize, utoipa::ToSchema)]
pub struct TableConstraints {
    /// Whether none is empty.
    pub required: bool,
    /// Whether no two are the same.
    pub unique: bool,
    /// The words that may stand there, where the list is closed.
    #[serde(rename = "enum", skip_serializing_if = "Vec::is_empty")]
    #[schema(rename = "enum", required = false)]
    pub words: Vec<String>,
    /// What they look like.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pattern: Option<&'static str>,
    /// The least that may stand there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum: Option<f64>,
    /// The most that may stand there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maximum: Option<f64>,
}

/// What an id looks like.
const ID: &str = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$";
/// Every row has these.
const ALWAYS: &[&str] = &["kind", "id"];
/// Every row of a fastener has these too.
const OF_EVERY_FASTENER: &[&str] = &["joint", "thread"];
/// What only the other kind of record has: empty in every row of this one.
const OF_OTHERS: &str = "This kind of record does not have it: empty here";

impl TableSchema {
    /// The description of a table of one kind of record, or of both.
    #[must_use]
    pub fn of(kind: Option<Kind>) -> Self {
        let described: Vec<Described> = [Kind::Fastener, Kind::Joint]
            .into_iter()
            .filter(|of| kind.is_none_or(|kind| kind == *of))
            .map(Described::of)
            .collect();
        let field = |column: &Column| {
            let found = described.iter().map(|described| described.field(column));
            let found: Vec<TableField> = found.collect();
            // In a table of both, a column says what holds for the rows of the kind that has it.
            let own = found.iter().position(|field| !field.description.starts_with(OF_OTHERS)).unwrap_or(0);
            let mut field = found.into_iter().nth(own).unwrap_or_else(|| described[0].field(column));
            let always = ALWAYS.contains(&column.name);
            field.constraints.required =
                always || kind == Some(Kind::Fastener) && OF_EVERY_FASTENER.contains(&column.name);
            if column.name == "kind" {
                field.constraints.words = match kind {
                    Some(kind) => vec![kind.word().to_owned()],
                    None => vec![Kind::Fastener.word().to_owned(), Kind::Joint.word().to_owned()],
                };
            }
            field
        };
        Self { fields: COLUMNS.iter().map(field).collect(), primary_key: "id", missing_values: vec![""] }
    }
}

/// The schema of a record, and those it refers to.
struct Described {
    record: Value,
    named: Map<String, Value>,
}

impl Described {
    fn of(kind: Kind) -> Self {
        let mut named: Vec<(String, RefOr<Schema>)> = vec![(Id::name().into_owned(), Id::schema())];
        let record = match kind {
            Kind::Fastener => {
                Fastener::schemas(&mut named);
                Fastener::schema()
            }
            Kind::Joint => {
                Joint::schemas(&mut named);
                Joint::schema()
            }
        };
        let value = |schema: &RefOr<Schema>| serde_json::to_value(schema).unwrap_or_default();
        let record = value(&record);
        Self { record, named: named.iter().map(|(name, schema)| (name.clone(), value(schema))).collect() }
    }

    fn field(&self, column: &Column) -> TableField {
        let found = self.at(column.name);
        let (description, schema) = match &found {
            Some((about, schema)) => (about.clone(), schema),
            None => (OF_OTHERS.to_owned(), &Value::Null),
        };
        let kind = match column.kind() {
            CellKind::Whole => "integer",
            CellKind::Number => "number",
            CellKind::Text | CellKind::List => "string",
        };
        let how = if column.kind() == CellKind::List { "; entries joined by \" | \"" } else { "" };
        let is_named = matches!(column.name, "id" | "joint");
        let number = |name: &str| schema[name].as_f64().filter(|_| kind != "string");
        TableField {
            name: column.name,
            kind,
            description: format!("{}{how}", description.trim_end_matches('.')),
            constraints: TableConstraints {
                required: false,
                unique: column.name == "id",
                words: words(schema).filter(|_| column.kind() == CellKind::Text).unwrap_or_default(),
                pattern: is_named.then_some(ID),
                minimum: number("minimum"),
                maximum: number("maximum"),
            },
        }
    }

    /// What is said about the field at a dotted path, and its schema.
    fn at(&self, path: &str) -> Option<(String, Value)> {
        let mut schema = self.record.clone();
        let mut about = String::new();
        for name in path.split('.') {
            let member = schema["properties"].get(name)?.clone();
            let choices = ["oneOf", "anyOf", "allOf"].iter().find_map(|word| member[*word].as_array());
            let one = choices.and_then(|choices| choices.iter().find(|choice| choice["type"] != "null"));
            let inner = one.unwrap_or(&member);
            let said = member["description"].as_str().or(inner["description"].as_str());
            said.unwrap_or_default().replace('\n', " ").clone_into(&mut about);
            schema = match inner["$ref"].as_str().and_then(|reference| reference.rsplit('/').next()) {
                Some(name) => self.named.get(name)?.clone(),
                None => inner.clone(),
            };
        }
        Some((about, schema))
    }
}

fn words(schema: &Value) -> Option<Vec<String>> {
    let words = schema["enum"].as_array()?;
    words.iter().map(|word| word.as_str().map(str::to_owned)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_column_is_described() {
        let schema = TableSchema::of(Some(Kind::Fastener));
        assert_eq!(schema.fields.len(), COLUMNS.len());
        let field = |name: &str| schema.fields.iter().find(|field| field.name == name).unwrap();
        for field in &schema.fields {
            assert!(field.description.len() > 5, "{} is not described", field.name);
        }
        assert!(field("head").constraints.words.contains(&"hexagon-flange".to_owned()));
        assert!(field("reuse.rule").constraints.words.contains(&"renew".to_owned()));
        assert!(field("id").constraints.pattern.is_some() && field("id").constraints.unique);
        assert_eq!((field("count").kind, field("count").constraints.minimum), ("integer", Some(1.0)));
        assert_eq!(field("renew").description, format!("{OF_OTHERS}; entries joined by \" | \""));
        assert_eq!(field("thread").constraints.words, Vec::<String>::new());
    }
}
