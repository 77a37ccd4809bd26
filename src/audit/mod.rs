//! The audit: what is wrong, improbable or missing in the records, judged by standards and mechanics.
//!
//! `Record → rules → findings`. A rule is a pure function over a record and its surroundings; a finding is
//! derived whenever it is asked for and never stored. The audit never says that a number is right: it says
//! what a number was compared with.

mod assessment;
mod book;
mod column;
mod condition;
mod doubt;
mod entries;
mod exchange;
mod finding;
mod first;
mod friction_words;
mod holding;
mod kept;
mod live;
mod memo;
mod names;
mod parts;
mod plan;
mod printed;
mod roll;
mod rule;
mod rules;
mod run;
pub mod slip;
mod summary;
mod torques;
mod ways;

pub use assessment::{Assessment, ByFriction, FrictionIs, Unjudged};
pub use book::Book;
pub use doubt::perhaps_meant;
pub use finding::{Allowed, Because, Evidence, Finding, Perhaps, Severity, chance};
pub use first::{Cut, Portions};
pub use live::{Begun, BookChange, Judged, LiveAudit, Pages, Standing, Wanted};
pub use rule::{FastenerCase, JointCase, Rule};
pub use rules::{RULES, rule_named};
pub use run::Audit;
pub use summary::AuditSummary;
pub use torques::{JudgedTorque, Torques};
