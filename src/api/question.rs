//! Questions to the book as they stand behind `?`, and their entries in the document, one parameter each.

use super::asked::{pairs_of, wants_lenience};
use super::problem::{Part, Problem};
use crate::query::{
    Field, IDS_MAX, PARAMETERS, Parameter as Known, Query, SortField, TAKE_DEFAULT, TAKE_MAX, TEXT_LENGTH_MAX,
    members_named, members_of,
};
use crate::record::{Fault, Kind, POSITION_MAX, Place, Refused, did_you_mean};
use actix_web::HttpRequest;
use serde_json::{Value, json};
use std::borrow::Cow;
use std::sync::LazyLock;
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{IntoParams, PartialSchema, ToSchema};

/// The parameters that ask about fasteners.
pub struct FastenerQuestion;

/// The parameters that ask about joints.
pub struct JointQuestion;

/// The parameters that ask about both.
pub struct RecordQuestion;

macro_rules! parameters_of {
    ($name:ident, $kind:expr) => {
        impl IntoParams for $name {
            fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
                known_for($kind).map(|known| parameter(known, $kind)).collect()
            }
        }
    };
}

parameters_of!(FastenerQuestion, Some(Kind::Fastener));
parameters_of!(JointQuestion, Some(Kind::Joint));
parameters_of!(RecordQuestion, None);

/// Names of members of fasteners, for the document.
pub struct FastenerMembers;

/// Names of members of joints, for the document.
pub struct JointMembers;

macro_rules! members_schema {
    ($name:ident, $kind:expr) => {
        impl PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                serde_json::from_value(schema_of("fields", Some($kind)))
                    .unwrap_or_else(|error| unreachable!("fields: {error}"))
            }
        }

        impl ToSchema for $name {}
    };
}

members_schema!(FastenerMembers, Kind::Fastener);
members_schema!(JointMembers, Kind::Joint);

/// What a joint has a value in.
const OF_JOINTS: &[&str] = &[
    "q",
    "id",
    "within",
    "within.not",
    "variant",
    "variant.has",
    "checked",
    "part_no",
    "part_no.starts",
    "part_no.has",
    "document",
    "document.has",
    "as_of",
    "sort",
    "take",
    "after",
    "count",
    "facets",
    "fields",
];

/// The parameters that a kind of record can be asked with: the kind itself is in the path.
fn known_for(kind: Option<Kind>) -> impl Iterator<Item = &'static Known> {
    let is_for = move |known: &&Known| match kind {
        None => true,
        Some(Kind::Fastener) => known.name != "kind",
        Some(Kind::Joint) => OF_JOINTS.contains(&known.name),
    };
    PARAMETERS.iter().filter(is_for)
}

/// The names of these parameters.
fn names_for(kind: Option<Kind>) -> &'static [&'static str] {
    type Names = Vec<&'static str>;
    static NAMES: LazyLock<[Names; 3]> = LazyLock::new(|| {
        [None, Some(Kind::Fastener), Some(Kind::Joint)].map(|kind| known_for(kind).map(|known| known.name).collect())
    });
    let [both, fasteners, joints] = &*NAMES;
    match kind {
        None => both,
        Some(Kind::Fastener) => fasteners,
        Some(Kind::Joint) => joints,
    }
}

/// Reads the question of a request about one kind of record, or about both.
///
/// # Errors
/// All faults of the question at once.
pub fn question(request: &HttpRequest, kind: Option<Kind>) -> Result<Query, Problem> {
    let names = names_for(kind);
    let is_lenient = wants_lenience(request);
    let (mut known, mut faults) = (Vec::with_capacity(8), Vec::new());
    for (name, value) in pairs_of(request) {
        if names.contains(&&*name) {
            enter(&mut known, name, value);
        } else if !is_lenient {
            faults.push(unknown_parameter(&name, names));
        }
    }
    // What no record has is a fault of the question; what only the other kind has is one of this path.
    let fields = known.iter().filter(|(name, value)| name == "fields" && members_named(name, value, None).is_ok());
    let refused = fields.filter_map(|(name, value)| members_named(name, value, kind).err());
    faults.extend(refused.flat_map(|Refused(faults)| faults));
    match Query::parse(known) {
        Ok(query) if faults.is_empty() => Ok(match kind {
            Some(kind) => query.with(Field::Kind, kind.word()),
            None => query,
        }),
        Ok(_) => Err(Problem::unreadable(Part::Query, faults)),
        Err(Refused(more)) => {
            faults.extend(more);
            let is_cursor = faults.iter().all(|fault| fault.code == "cursor-mismatch");
            let kind =
                if is_cursor { &super::problem_kinds::CURSOR_MISMATCH } else { &super::problem_kinds::UNREADABLE };
            Err(Problem::of_faults(kind, Part::Query, faults))
        }
    }
}

/// The parameters that are lists, whatever kind is asked for.
static LISTS: LazyLock<Vec<&str>> = LazyLock::new(|| {
    let is_list = |known: &&Known| schema_of(known.name, None)["type"] == "array";
    PARAMETERS.iter().filter(is_list).map(|known| known.name).collect()
});

/// Enters a parameter. What belongs to one list is joined: many clients write `head=pan&head=button` where others write
/// `head=pan,button`.
fn enter<'r>(known: &mut Vec<(Cow<'r, str>, Cow<'r, str>)>, name: Cow<'r, str>, value: Cow<'r, str>) {
    match known.iter_mut().find(|(other, _)| *other == name && LISTS.contains(&&*name)) {
        Some((_, values)) => *values = format!("{values},{value}").into(),
        None => known.push((name, value)),
    }
}

fn unknown_parameter(name: &str, names: &[&str]) -> Fault {
    let detail = match name.split_once('.') {
        Some((field, test)) if names.contains(&field) => format!("\"{field}\" has no test \"{test}\""),
        _ => format!("there is no parameter \"{name}\" here"),
    };
    let mut fault = Fault::new("unknown-parameter", &Place::root().below(name), detail).given(name);
    fault.hint = did_you_mean(name, names);
    fault
}

/// The entry of a parameter. It is written as JSON: the builders of the document cannot say `explode` and limits together.
fn parameter(known: &Known, kind: Option<Kind>) -> Parameter {
    let schema = schema_of(known.name, kind);
    let mut entry = json!({
        "name": known.name, "in": "query", "required": false, "description": known.description, "schema": schema,
    });
    if schema["type"] == "array" {
        entry["style"] = "form".into();
        entry["explode"] = false.into();
    }
    if let Some(example) = example_of(known, &schema, kind) {
        entry["example"] = example;
    }
    serde_json::from_value(entry).unwrap_or_else(|error| unreachable!("{}: {error}", known.name))
}

fn example_of(known: &Known, schema: &Value, kind: Option<Kind>) -> Option<Value> {
    let text = match (known.name, kind) {
        ("after", _) => return None,
        ("id", Some(Kind::Fastener)) => "skua.diesel.raw-water-pump.cover.hex",
        ("sort", Some(Kind::Joint)) => "name",
        ("facets", Some(Kind::Joint)) => "document",
        ("fields", Some(Kind::Joint)) => "title,positions",
        _ => known.example,
    };
    Some(match schema["type"].as_str() {
        Some("array") => {
            let items = text.split(',');
            if schema["items"]["type"] == "integer" {
                items.filter_map(|item| item.parse::<u32>().ok()).collect()
            } else {
                items.collect()
            }
        }
        Some("boolean") => (text == "true").into(),
        Some("integer") => text.parse::<u64>().ok()?.into(),
        Some("number") => text.parse::<f64>().ok()?.into(),
        _ => text.into(),
    })
}

/// One line of text without a comma, as it can stand in a list.
const LISTED_TEXT: &str = "^[^\\s,\\u0000-\\u001f\\u007f-\\u009f]([^,\\u0000-\\u001f\\u007f-\\u009f]*[^\\s,\\u0000-\\u001f\\u007f-\\u009f])?$";
/// A dotted path.
const PATH: &str = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){0,7}$";
/// An id.
const ID: &str = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){1,7}$";

fn schema_of(name: &str, kind: Option<Kind>) -> Value {
    let (field, test) = name.split_once('.').unwrap_or((name, ""));
    match (field, test) {
        (_, "has") | ("checked", _) => json!({ "type": "boolean" }),
        ("torque", "min" | "max") => json!({ "type": "number", "minimum": 0, "maximum": 100_000, "multipleOf": 0.001 }),
        ("torque", _) => {
            json!({ "type": "string", "enum": ["N·m", "lbf·ft", "lbf·in", "kgf·m", "kgf·cm", "cN·m", "N.m", "lbf.ft", "lbf.in"] })
        }
        ("q", _) => json!({ "type": "string", "minLength": 1, "maxLength": TEXT_LENGTH_MAX }),
        ("as_of", _) => json!({ "type": "string", "format": "date-time", "minLength": 10, "maxLength": 40 }),
        ("take", _) => json!({ "type": "integer", "minimum": 1, "maximum": TAKE_MAX, "default": TAKE_DEFAULT }),
        ("after", _) => json!({ "type": "string", "pattern": "^[0-9a-f]+$", "minLength": 48, "maxLength": 2000 }),
        ("count", _) => json!({ "type": "string", "enum": ["exact", "none"], "default": "none" }),
        ("sort", _) => list_of(json!({ "type": "string", "enum": sort_words(kind) }), 4),
        ("facets", _) => list_of(json!({ "type": "string", "enum": facet_words(kind) }), 20),
        ("fields", _) => list_of(json!({ "type": "string", "enum": members_of(kind) }), 100),
        ("id", _) => list_of(json!({ "type": "string", "pattern": ID, "maxLength": 160 }), IDS_MAX),
        ("joint", _) => list_of(json!({ "type": "string", "pattern": ID, "maxLength": 160 }), 100),
        ("within", _) => list_of(json!({ "type": "string", "pattern": PATH, "maxLength": 160 }), 100),
        ("position", _) => list_of(json!({ "type": "integer", "minimum": 1, "maximum": POSITION_MAX }), 100),
        ("thread", _) => {
            list_of(json!({ "type": "string", "pattern": LISTED_TEXT, "minLength": 1, "maxLength": 40 }), 100)
        }
        ("property_class", _) => {
            list_of(json!({ "type": "string", "pattern": LISTED_TEXT, "minLength": 1, "maxLength": 40 }), 100)
        }
        (_, "starts") => json!({ "type": "string", "pattern": "\\S", "minLength": 1, "maxLength": TEXT_LENGTH_MAX }),
        _ => match Field::ALL.iter().find(|known| known.name() == field).and_then(|field| field.words()) {
            Some(words) => list_of(json!({ "type": "string", "enum": words }), 100),
            None => list_of(
                json!({ "type": "string", "pattern": LISTED_TEXT, "minLength": 1, "maxLength": TEXT_LENGTH_MAX }),
                100,
            ),
        },
    }
}

fn list_of(items: Value, most: usize) -> Value {
    json!({ "type": "array", "items": items, "minItems": 1, "maxItems": most })
}

fn sort_words(kind: Option<Kind>) -> Vec<String> {
    let is_for = |field: &&SortField| {
        kind != Some(Kind::Joint) || matches!(field, SortField::Id | SortField::Name | SortField::Changed)
    };
    SortField::ALL
        .iter()
        .filter(is_for)
        .flat_map(|field| [field.name().to_owned(), format!("-{}", field.name())])
        .collect()
}

fn facet_words(kind: Option<Kind>) -> Vec<&'static str> {
    let is_for = |field: &&Field| {
        kind != Some(Kind::Joint) || matches!(field, Field::Within | Field::Variant | Field::Checked | Field::Document)
    };
    let is_asked = |field: &&Field| kind.is_none() || **field != Field::Kind;
    Field::ALL.iter().filter(is_asked).filter(is_for).map(|field| field.name()).collect()
}
