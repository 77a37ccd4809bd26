//! Everything that closes a joint.

use super::entry::{Entry, FastenerEntry};
use super::position::DifferenceShown;
use crate::card::passes::{Pass, passes};
use crate::catalog::{Catalog, CatalogError, JointView, tell_apart};
use crate::record::{Fastener, Id, Text};
use serde::Serialize;

/// Everything that closes a joint, its stages merged pass by pass.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct JointFasteners {
    /// The joint.
    pub joint: Id,
    /// What people call it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<Text>,
    /// What to look at before a value is set, where several kinds of fastener close the joint.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// What tells the kinds of fastener apart, what is seen first coming first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub differences: Vec<DifferenceShown>,
    /// The fasteners, by id.
    #[schema(value_type = Vec<FastenerEntry>)]
    pub items: Vec<Entry>,
    /// All positions taken once, time after time: stage k of every fastener is done in pass k.
    pub passes: Vec<Pass>,
}

impl JointFasteners {
    /// What closes this joint.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn of(catalog: &Catalog, view: JointView) -> Result<Option<Self>, CatalogError> {
        let Some(joint) = view.joint.record.as_joint() else { return Ok(None) };
        let fasteners: Vec<&Fastener> =
            view.fasteners.iter().filter_map(|stored| stored.record.as_fastener()).collect();
        let apart = tell_apart(&fasteners);
        let passes = passes(joint, &fasteners);
        let differences = apart.iter().flat_map(|apart| &apart.differences).map(DifferenceShown::of).collect();
        Ok(Some(Self {
            joint: joint.id.clone(),
            title: joint.title.clone(),
            caution: apart.map(|apart| apart.caution),
            differences,
            passes,
            items: view.fasteners.into_iter().map(|stored| Entry::of(catalog, stored)).collect::<Result<_, _>>()?,
        }))
    }
}
