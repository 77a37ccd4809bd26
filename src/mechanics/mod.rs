//! The mechanics of the bolt: numbers in, numbers out, with the standard's formulas in the standard's order.
//!
//! | file | subject | standard |
//! |---|---|---|
//! | `form` | the thread's dimensions | ISO 68-1 |
//! | `friction` | friction pair and range | VDI 2230-1, table A5 (values are given) |
//! | `torque` | torque ⇄ preload, loosening, nut factor | VDI 2230-1, 5.4.3 |
//! | `stress` | combined stress, utilisation | VDI 2230-1, 5.5.1 |
//! | `scatter` | tightening range, preload scatter | VDI 2230-1, 5.4.3.3 |
//! | `resilience`, `clamped` | what the bolt and the parts give | VDI 2230-1, 5.1 |
//! | `strength`, `flow` | the bolt beyond yield | own model |
//! | `reuse` | permanent stretch, measured length | own model |
//! | `stripping` | shear areas, stripping force, engagement | VDI 2230-1, 5.5.5; FED-STD-H28 |
//! | `pressure` | pressure under the head | VDI 2230-1, 5.5.4 |
//! | `wrench` | setting, range, accuracy | ISO 6789-1 |
//! | `load` | joint constant, separation, embedding | VDI 2230-1, 5.3 |
//! | `angle`, `grips` | torque and angle, known or unknown grip | VDI 2230-1, 5.4.3 |
//!
//! Quantities are those of [`crate::units`]; a bare number is always without dimension. This module knows no table
//! of any standard: strengths, sizes and friction are given, and whoever looked them up says which were assumed.

pub mod angle;
pub mod clamped;
mod flow;
mod form;
mod friction;
pub mod grips;
mod limit;
pub mod load;
pub mod pressure;
pub mod resilience;
pub mod reuse;
pub mod scatter;
mod strength;
pub mod stress;
pub mod stripping;
pub mod torque;
pub mod wrench;

pub use angle::{AngleModel, Turned, TurnedOver};
pub use clamped::{ClampedParts, JointKind, Layer};
pub use form::ThreadForm;
pub use friction::{Friction, FrictionRange};
pub use grips::{GripRange, TurnedOverGrips, YieldVerdict, after_over_grips};
pub use limit::OutOfRange;
pub use load::{LoadedJoint, embedding_loss};
pub use pressure::{BearingFace, BearingPressure};
pub use resilience::{BoltShape, Counterpart, HeadShape, Resilience};
pub use reuse::{MeasuredStretch, StretchVerdict};
pub use scatter::{LEAST_SHARE, PreloadRange, TighteningFactor, TighteningRange, preload_over, tightening_range};
pub use strength::Strength;
pub use stress::{CombinedStress, TABLE_UTILISATION, Torsion};
pub use stripping::{EngagedThread, Stripping, StrippingForces};
pub use torque::{HeadBearing, TorquedBolt, torque_by_nut_factor};
pub use wrench::{Adapter, Wrench, WrenchScatter, WrenchUse, preload_scatter};
