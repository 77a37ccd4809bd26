//! The published tables: strengths, loads, nuts, heads, holes, friction, materials.
//!
//! A file per standard, its rows in the order of the standard, one row a line, so that a page can be held beside it.
//! Every value carries a [`Citation`]: standard, edition, table, and whether it was read from a page, recalled from
//! memory or computed with the standard's formula. Where editions disagree both stand, named.
//!
//! This module calculates no tightening (that is `mechanics`) and judges no record (that is `audit`).

mod astm;
mod citation;
mod iso3506_1;
mod iso898_1;
mod nuts;
mod property_class;
mod sae_j429;
mod shear_ratio;
mod size;
mod strength;

pub use citation::{Citation, Origin};
pub use property_class::PropertyClass;
pub use shear_ratio::ShearRatio;
pub use size::{Size, SizeRange};
pub use strength::{Elongation, NoStrength, Strength, YieldKind, strength, strength_by_edition, strength_sizes};
