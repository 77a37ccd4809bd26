//! The handlers: parameters, one question to the catalog or the pure core, the answer.

pub mod assemblies;
pub mod audit;
pub mod batches;
pub mod cards;
pub mod changes;
pub mod closing;
pub mod exports;
pub mod fasteners;
pub mod health;
pub mod intakes;
pub mod joints;
pub mod meta;
pub mod ranges;
pub mod records;
pub mod rules;
pub mod sheets;
pub mod standards;
pub mod tightening;
