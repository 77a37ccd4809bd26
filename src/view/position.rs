//! What sits at a position of a joint.

use super::entry::{Entry, FastenerEntry};
use crate::catalog::{Catalog, CatalogError, Difference, PositionAnswer, Seating};
use crate::record::Id;
use serde::Serialize;

/// What sits at a position: every fastener that may, what tells them apart, and what to look at first.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct PositionView {
    /// The joint.
    #[schema(value_type = crate::record::Id)]
    pub joint: String,
    /// What people call it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// The position.
    #[schema(minimum = 1, maximum = 999)]
    pub position: u32,
    /// What to look at before a value is set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// What tells the kinds of fastener apart, what is seen first coming first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub differences: Vec<DifferenceShown>,
    /// The fasteners that sit there.
    #[schema(value_type = Vec<FastenerEntry>)]
    pub items: Vec<Entry>,
    /// Where nothing sits there: what comes near, with the reason why it is not it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub nearest: Vec<NearShown>,
}

/// A field in which the kinds of fastener differ.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct DifferenceShown {
    /// The field of the record.
    pub field: String,
    /// The value of each fastener, in their order; null where it is not stated.
    pub values: Vec<Option<String>>,
}

/// A fastener that comes near what was asked for.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct NearShown {
    /// Why it is not it.
    pub reason: String,
    /// The fastener.
    #[schema(value_type = FastenerEntry)]
    pub fastener: Entry,
}

/// What sits at a position, without the fasteners that sit there, in the members and the order of [`PositionView`]. Nothing
/// comes near, since somebody sits there: so the fasteners come last.
#[derive(Debug, Serialize)]
pub struct SeatedView<'s> {
    joint: &'s str,
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<&'s str>,
    position: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    caution: Option<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    differences: Vec<DifferenceSeated<'s>>,
    items: [(); 0],
}

/// The same as [`DifferenceShown`], of a seating.
#[derive(Debug, Serialize)]
struct DifferenceSeated<'s> {
    field: &'s str,
    values: Vec<Option<&'s str>>,
}

impl<'s> SeatedView<'s> {
    /// What is said of these fasteners of a joint, which sit at a position.
    #[must_use]
    pub fn of(joint: &'s str, position: u32, seating: &'s Seating, here: &[usize]) -> Self {
        let (caution, differences) = seating.apart(here).map(|apart| (apart.caution, apart.differences)).unzip();
        let shown = |Difference { field, values, .. }| DifferenceSeated { field, values };
        let differences = differences.into_iter().flatten().map(shown).collect();
        Self { joint, title: seating.title(), position, caution, differences, items: [] }
    }
}

impl DifferenceShown {
    /// The difference in its public shape.
    #[must_use]
    pub fn of(difference: &Difference) -> Self {
        Self { field: difference.field.to_owned(), values: difference.values.clone() }
    }
}

impl PositionView {
    /// The answer in its public shape.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn of(catalog: &Catalog, joint: &Id, mut answer: PositionAnswer) -> Result<Self, CatalogError> {
        let items = Entry::all_of(catalog, std::mem::take(&mut answer.fasteners))?;
        Ok(Self { items, ..Self::around(catalog, joint, answer)? })
    }

    /// The answer without the fasteners that sit there.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn around(catalog: &Catalog, joint: &Id, answer: PositionAnswer) -> Result<Self, CatalogError> {
        let title = answer.joint.as_ref().and_then(|stored| stored.record.as_joint()?.title.as_ref());
        let apart = answer.apart;
        let differences = apart.iter().flat_map(|apart| &apart.differences).map(DifferenceShown::of);
        let near = |near: crate::catalog::NearMatch| {
            Ok(NearShown { reason: near.reason, fastener: Entry::of(catalog, near.fastener)? })
        };
        Ok(Self {
            joint: joint.to_string(),
            title: title.map(ToString::to_string),
            position: answer.position,
            differences: differences.collect(),
            caution: apart.map(|apart| apart.caution),
            items: Vec::new(),
            nearest: answer.nearest.into_iter().map(near).collect::<Result<_, CatalogError>>()?,
        })
    }
}
