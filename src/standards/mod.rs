//! The published tables: strengths, loads, nuts, heads, holes, friction, materials.
//!
//! A file per standard, its rows in the order of the standard, one row a line, so that a page can be held beside it.
//! Every value carries a [`Citation`]: standard, edition, table, and whether it was read from a page, recalled from
//! memory or computed with the standard's formula. Where editions disagree both stand, named. [`tables`] gives every
//! table in one form for printing.
//!
//! | question | function | standards |
//! |---|---|---|
//! | how strong is a class? | [`strength()`], [`strength_by_edition`], [`loads()`] | ISO 898-1, ISO 3506-1, SAE J429, ASTM |
//! | what does a nut bear, which nut fits? | [`nut_strength`], [`nut_for`], [`nut_fit`] | ISO 898-2, ISO 898-6, ISO 3506-2, SAE J995 |
//! | which torque breaks a bolt? | [`breaking_torque()`] | ISO 898-7, ISO 3506-1 |
//! | which tool, how wide a head? | [`heads()`], [`head`], [`hexalobular_drive`] | ISO 4014 …, ASME B18, ISO 10664 |
//! | which hole, which washer? | [`holes()`], [`washers()`] | ISO 273, ASME B18.2.8, ISO 7089 |
//! | how much friction? | [`friction_for`] | VDI 2230-1 |
//! | how much scatter? | [`tightening_factor()`] | VDI 2230, handbooks |
//! | what does a part bear? | [`material`] | VDI 2230-1 |
//! | which wrench? | [`wrench_deviation`], [`workshop_wrenches`] | ISO 6789-1 |
//!
//! This module calculates no tightening (that is `mechanics`) and judges no record (that is `audit`).

mod asme_heads;
mod astm;
mod breaking_torque;
mod catalogue;
mod citation;
mod drives;
mod friction;
mod heads;
mod holes;
mod iso3506_1;
mod iso898_1;
mod iso898_1_loads;
mod iso898_2;
mod iso_hexagons;
mod iso_sockets;
mod loads;
mod materials;
mod nuts;
mod property_class;
mod sae_j429;
mod shear_ratio;
mod size;
mod strength;
mod table;
mod tightening_factor;
mod washers;
mod wrench;

pub use breaking_torque::{BreakingTorque, breaking_torque};
pub use catalogue::{table, tables};
pub use citation::{Citation, Origin};
pub use drives::{HexalobularDrive, hexalobular_drive};
pub use friction::{FRICTION_SOURCE, FrictionClass, FrictionEstimate, friction_for};
pub use heads::{HeadForm, HeadSize, Tool, head, heads};
pub use holes::{HoleFit, Holes, holes};
pub use loads::{Load, Loads, loads};
pub use materials::{Material, MaterialGroup, PressureLimit, material};
pub use nuts::{NutFit, NutStrength, NutStyle, nut_fit, nut_for, nut_strength};
pub use property_class::PropertyClass;
pub use shear_ratio::ShearRatio;
pub use size::{Size, SizeRange};
pub use strength::{Elongation, NoStrength, Strength, YieldKind, strength, strength_by_edition, strength_sizes};
pub use table::{Cell, Origins, Row, Table};
pub use tightening_factor::{TIGHTENING_FACTORS, TighteningFactorRow, TighteningMethod, tightening_factor};
pub use washers::{Washer, washers};
pub use wrench::{WRENCH_USE_FROM, WrenchKind, workshop_angles, workshop_wrenches, wrench_deviation};
