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

/// The JSON of a [`PositionView`] up to the fasteners that sit there. Nothing comes near, since somebody sits there: so they
/// come last.
///
/// What is said of each joint is kept as JSON, and this is asked for all the time; so it is put together here, member
/// by member. `room` is left behind it.
#[must_use]
pub fn before_the_seated(joint: &str, position: u32, seating: &Seating, here: &[usize], room: usize) -> Vec<u8> {
    let mut json = String::with_capacity((1 << 10) + room);
    json.extend([r#"{"joint":""#, joint, "\""]);
    if let Some(title) = seating.title() {
        json.extend([r#","title":"#, title]);
    }
    json.extend([r#","position":"#, position.to_string().as_str()]);
    if let Some(kinds) = seating.kinds(here) {
        let caution = serde_json::to_string(&kinds.caution).unwrap_or_default();
        json.extend([r#","caution":"#, caution.as_str()]);
        let mut open = r#","differences":["#;
        for (field, values) in kinds.differences() {
            json.extend([open, r#"{"field":""#, field, r#"","values":["#]);
            for (at, value) in values.enumerate() {
                json.extend([if at > 0 { "," } else { "" }, value]);
            }
            json.push_str("]}");
            open = ",";
        }
        if open == "," {
            json.push(']');
        }
    }
    json.push_str(r#","items":["#);
    json.into_bytes()
}

impl DifferenceShown {
    /// The difference in its public shape.
    #[must_use]
    pub fn of(difference: &Difference) -> Self {
        Self { field: difference.field.to_owned(), values: difference.values.clone() }
    }
}

impl PositionView {
    /// The change up to which the book had been audited, where that is not the last one.
    #[must_use]
    pub fn audited_up_to(&self) -> Option<u64> {
        Entry::all_audited_up_to(self.items.iter().chain(self.nearest.iter().map(|near| &near.fastener)))
    }

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
