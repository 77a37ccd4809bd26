//! The kit: what must lie on the bench before the first fastener of some joints is loosened.
//!
//! Parts are summed, never rounded down: where a record does not say how many, the kit says so instead of guessing.
//! It knows no stock and no prices.

mod parts;
mod tables;
mod tools;

pub(super) use parts::{count_of, size_of};

use super::fits::suits;
use super::wrenches::WrenchRange;
use crate::record::{Fastener, Id, Joint, Text};
use serde::Serialize;

/// A joint with the fasteners that close it.
#[derive(Debug, Clone)]
pub struct JointRecords<'r> {
    /// The joint.
    pub joint: &'r Joint,
    /// Its fasteners.
    pub fasteners: Vec<&'r Fastener>,
}

impl<'r> JointRecords<'r> {
    /// The fasteners for a variant; all of them if none is asked for.
    #[must_use]
    pub fn suiting(&self, variant: Option<&str>) -> Vec<&'r Fastener> {
        self.fasteners.iter().copied().filter(|fastener| suits(fastener.fits.as_ref(), variant)).collect()
    }
}

/// What a kit is made for.
#[derive(Debug, Clone, Default)]
pub struct KitOptions {
    /// The variant of the machine; without one, parts of every variant are named, each with what it fits.
    pub variant: Option<String>,
    /// The torque wrenches at hand; none means the usual ones.
    pub wrenches: Vec<WrenchRange>,
}

/// What must lie on the bench.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Kit {
    /// The joints that it is for.
    pub joints: Vec<KitJoint>,
    /// The variant that it is for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variant: Option<String>,
    /// Parts that may not go back.
    pub renew: Vec<KitPart>,
    /// Fasteners that may go back if a measurement, an inspection or a count of uses says so.
    pub conditional: Vec<KitPart>,
    /// Sockets, keys and bits.
    pub drives: Vec<KitTool>,
    /// The fewest torque wrenches that serve every torque within 20 to 100 % of their range.
    pub wrenches: Vec<KitWrench>,
    /// Torques that none of the wrenches serves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub unserved: Vec<String>,
    /// The turns that an angle gauge is needed for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub angle_gauge: Option<KitTool>,
    /// Special tools.
    pub special_tools: Vec<KitTool>,
    /// Lubricants, threadlocker, sealant.
    pub supplies: Vec<KitTool>,
    /// What the records do not say, so that the kit may be short of something.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub not_stated: Vec<String>,
}

/// A joint of a kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct KitJoint {
    /// Its id.
    pub id: Id,
    /// What people call it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<Text>,
}

/// A part of a kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct KitPart {
    /// What it is.
    pub item: String,
    /// Its size.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size: Option<String>,
    /// Its part number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_no: Option<String>,
    /// How many in all; absent where a record does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// When it may go back, where it may.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule: Option<String>,
    /// The machines it is for, where it is not for all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fits: Option<String>,
    /// The joints it is for.
    #[serde(rename = "for")]
    #[schema(rename = "for")]
    pub joints: Vec<Id>,
}

/// A tool or a supply, and what it is for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct KitTool {
    /// What it is.
    pub item: String,
    /// The joints it is for.
    #[serde(rename = "for")]
    #[schema(rename = "for")]
    pub joints: Vec<Id>,
}

/// A torque wrench of a kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct KitWrench {
    /// Its range as written on it.
    pub range: String,
    /// The settings it is used for, as stated.
    pub settings: Vec<String>,
}

/// Makes the kit for some joints; one named twice counts once.
#[must_use]
pub fn kit(joints: &[JointRecords<'_>], options: &KitOptions) -> Kit {
    let mut seen = std::collections::BTreeSet::new();
    let joints: Vec<&JointRecords<'_>> = joints.iter().filter(|joint| seen.insert(&joint.joint.id)).collect();
    let variant = options.variant.as_deref();
    let mut parts = parts::Parts::default();
    let mut tools = tools::Tools::default();
    for joint in &joints {
        let fasteners = joint.suiting(variant);
        parts.add(joint.joint, &fasteners);
        tools.add(joint.joint, &fasteners);
    }
    let (wrenches, unserved) = tools.wrenches(&options.wrenches);
    let mut not_stated = parts.not_stated;
    not_stated.append(&mut tools.not_stated);
    let named = joints.iter().map(|joint| KitJoint { id: joint.joint.id.clone(), title: joint.joint.title.clone() });
    Kit {
        joints: named.collect(),
        variant: options.variant.clone(),
        renew: parts.renew,
        conditional: parts.conditional,
        drives: tools.drives(),
        wrenches,
        unserved,
        angle_gauge: tools.angle_gauge,
        special_tools: tools.special,
        supplies: tools.supplies,
        not_stated,
    }
}

#[cfg(test)]
mod tests;
