//! The handlers: parameters, one question to the catalog or the pure core, the answer.

pub mod health;
pub mod meta;
pub mod rules;
pub mod standards;
pub mod tightening;
