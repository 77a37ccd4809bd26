//! One page of records.

use super::entry::{Entry, FastenerEntry, JointEntry};
use crate::catalog::{Catalog, CatalogError, Page};
use crate::query::{FacetValue, Query};
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::openapi::schema::{Discriminator, OneOfBuilder, Schema};
use utoipa::openapi::{Ref, RefOr};
use utoipa::{PartialSchema, ToSchema};

/// One page of an answer: records, where the next page begins, and the facets asked for.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[schema(as = FastenerPage)]
pub struct PageView {
    /// The records in the order asked for.
    #[schema(value_type = Vec<FastenerEntry>, max_items = 500)]
    pub items: Vec<Entry>,
    /// About the page.
    pub page: PageInfo,
    /// For each field asked for, its values and how often they occur.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    #[schema(required = false)]
    pub facets: BTreeMap<String, Vec<FacetValue>>,
}

/// What is to be known about a page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct PageInfo {
    /// The cursor of the next page; absent on the last one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<String>,
    /// How many records match in all, if that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u64>,
    /// Whether something changed in the book since the first page.
    pub drift: bool,
    /// Ids that were asked for and are not in the book.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub missing: Vec<String>,
    /// What was understood otherwise than written, by parameter.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    #[schema(required = false)]
    pub read_as: BTreeMap<String, String>,
}

impl PageView {
    /// The page that answers a question, in its public shape.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn of(catalog: &Catalog, query: &Query, mut page: Page) -> Result<Self, CatalogError> {
        let entries = Entry::all_of(catalog, std::mem::take(&mut page.items))?;
        let items = entries.into_iter().map(|entry| entry.showing(query.members.as_ref())).collect();
        Ok(Self { items, ..Self::around(page) })
    }

    /// The page without its records.
    #[must_use]
    pub fn around(page: Page) -> Self {
        let facet = |facet: crate::query::Facet| (facet.field.name().to_owned(), facet.values);
        Self {
            items: Vec::new(),
            page: PageInfo {
                next: page.next,
                count: page.count,
                drift: page.drift,
                missing: page.missing.iter().map(ToString::to_string).collect(),
                read_as: page.read_as,
            },
            facets: page.facets.into_iter().map(facet).collect(),
        }
    }
}

/// A page of joints and fasteners, for the API's document: a [`PageView`] of both.
#[derive(Debug)]
pub struct RecordPage;

/// A joint or a fastener with what the book knows about it, for the API's document.
#[derive(Debug)]
pub struct RecordEntry;

impl PartialSchema for RecordEntry {
    fn schema() -> RefOr<Schema> {
        let kinds = [("joint", JointEntry::name()), ("fastener", FastenerEntry::name())];
        let mapping = kinds.clone().map(|(kind, name)| (kind, format!("#/components/schemas/{name}")));
        let [joint, fastener] = kinds.map(|(_, name)| Ref::from_schema_name(name));
        let choice = OneOfBuilder::new()
            .item(joint)
            .item(fastener)
            .discriminator(Some(Discriminator::with_mapping("kind", mapping)))
            .description(Some("A joint or a fastener with what the book knows about it: its kind says which."))
            .build();
        RefOr::T(Schema::OneOf(choice))
    }
}

impl ToSchema for RecordEntry {
    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        JointPage::schemas(schemas);
        FastenerEntry::schemas(schemas);
        schemas.push((FastenerEntry::name().into_owned(), FastenerEntry::schema()));
    }
}

/// The schema of a page of fasteners with other records in their place.
fn page_of(name: &str) -> RefOr<Schema> {
    let of_fasteners = serde_json::to_string(&PageView::schema()).unwrap_or_default();
    let of_others = of_fasteners.replace(&format!("schemas/{}\"", FastenerEntry::name()), &format!("schemas/{name}\""));
    serde_json::from_str(&of_others).unwrap_or_else(|_| PageView::schema())
}

impl PartialSchema for RecordPage {
    fn schema() -> RefOr<Schema> {
        page_of(&RecordEntry::name())
    }
}

impl ToSchema for RecordPage {
    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        RecordEntry::schemas(schemas);
        schemas.push((RecordEntry::name().into_owned(), RecordEntry::schema()));
    }
}

/// A page of joints, for the API's document: a [`PageView`] whose records are joints.
#[derive(Debug)]
pub struct JointPage;

impl PartialSchema for JointPage {
    fn schema() -> RefOr<Schema> {
        page_of(&JointEntry::name())
    }
}

impl ToSchema for JointPage {
    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        PageView::schemas(schemas);
        JointEntry::schemas(schemas);
        schemas.push((JointEntry::name().into_owned(), JointEntry::schema()));
    }
}
