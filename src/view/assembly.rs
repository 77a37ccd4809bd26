//! Assemblies and how much lies in them.

use super::entry::AuditState;
use crate::catalog::{Assembly, AssemblyPart, AuditSummary};
use serde::Serialize;

/// An assembly or a joint, and how much lies in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[schema(as = AssemblyPart)]
pub struct AssemblyPartShown {
    /// Its path: what the ids of everything in it begin with.
    #[schema(min_length = 1, max_length = 160)]
    pub path: String,
    /// What people call it, where a record says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Whether the path is a joint.
    pub is_joint: bool,
    /// How many joints lie in it, itself included.
    pub joints: usize,
    /// How many fasteners lie in it.
    pub fasteners: usize,
}

/// The tree of assemblies: every part is directly followed by its own parts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct AssemblyList {
    /// The parts.
    pub items: Vec<AssemblyPartShown>,
}

/// One assembly or joint, what lies directly below it, and what the audit says about everything in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[schema(as = Assembly)]
pub struct AssemblyView {
    /// The assembly itself.
    #[serde(flatten)]
    pub itself: AssemblyPartShown,
    /// What the audit says about everything in it.
    pub audit: AuditState,
    /// What lies directly below it; a joint has no parts, its fasteners close it.
    pub items: Vec<AssemblyPartShown>,
}

impl AssemblyPartShown {
    /// The part in its public shape.
    #[must_use]
    pub fn of(part: AssemblyPart) -> Self {
        let AssemblyPart { path, title, is_joint, joints, fasteners } = part;
        Self { path, title, is_joint, joints, fasteners }
    }
}

impl AssemblyList {
    /// The tree in its public shape.
    #[must_use]
    pub fn of(tree: Vec<AssemblyPart>) -> Self {
        Self { items: tree.into_iter().map(AssemblyPartShown::of).collect() }
    }
}

impl AssemblyView {
    /// The assembly in its public shape.
    #[must_use]
    pub fn of(assembly: Assembly, audit: Option<AuditSummary>) -> Self {
        Self {
            itself: AssemblyPartShown::of(assembly.itself),
            audit: AuditState::of(audit),
            items: assembly.parts.into_iter().map(AssemblyPartShown::of).collect(),
        }
    }
}
