//! One page of records.

use super::entry::Entry;
use crate::catalog::{Catalog, CatalogError, Page};
use crate::query::FacetValue;
use serde::Serialize;
use std::collections::BTreeMap;

/// One page of an answer: records, where the next page begins, and the facets asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PageView {
    /// The records in the order asked for.
    pub items: Vec<Entry>,
    /// About the page.
    pub page: PageInfo,
    /// For each field asked for, its values and how often they occur.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
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
    /// The page in its public shape.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn of(catalog: &Catalog, page: Page) -> Result<Self, CatalogError> {
        let facet = |facet: crate::query::Facet| (facet.field.name().to_owned(), facet.values);
        Ok(Self {
            items: Entry::all_of(catalog, page.items)?,
            page: PageInfo {
                next: page.next,
                count: page.count,
                drift: page.drift,
                missing: page.missing.iter().map(ToString::to_string).collect(),
                read_as: page.read_as,
            },
            facets: page.facets.into_iter().map(facet).collect(),
        })
    }
}
