//! Everything that closes a joint.

use super::entry::{Entry, FastenerEntry, TorqueShown};
use super::position::DifferenceShown;
use crate::card::passes::{Pass, Step, passes};
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
    pub passes: Vec<PassShown>,
}

/// All positions of a joint taken once.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[schema(as = Pass)]
pub struct PassShown {
    /// The number of the pass, from 1.
    #[schema(minimum = 1, maximum = 400)]
    pub number: u32,
    /// How the order was made, in words.
    pub order: &'static str,
    /// What is done, in order.
    pub steps: Vec<StepShown>,
    /// Positions that have a stage in this pass, while the order of the pass leaves them out: not touched.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub left_out: Vec<u32>,
}

/// One fastener taken once, with how far to trust its torque.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[schema(as = PassStep)]
pub struct StepShown {
    /// Where, and what is done.
    #[serde(flatten)]
    pub step: Step,
    /// The torque of the stage, where it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub torque: Option<TorqueShown>,
}

impl PassShown {
    fn of(Pass { number, order, steps, left_out }: Pass, entries: &[Entry]) -> Self {
        let stage = (number as usize).saturating_sub(1);
        let shown = |step: Step| {
            let entry = entries.iter().find(|entry| *entry.stored.record.id() == step.fastener);
            StepShown { torque: entry.and_then(|entry| entry.torque_of(stage)).cloned(), step }
        };
        Self { number, order, steps: steps.into_iter().map(shown).collect(), left_out }
    }
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
        let (joint, title) = (joint.id.clone(), joint.title.clone());
        let items = Entry::all_of(catalog, view.fasteners)?;
        let passes = passes.into_iter().map(|pass| PassShown::of(pass, &items)).collect();
        Ok(Some(Self { joint, title, caution: apart.map(|apart| apart.caution), differences, items, passes }))
    }
}
