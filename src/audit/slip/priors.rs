//! What published tables teach: how columns wander, how far values scatter, how numbers are rounded.
//!
//! [`Priors::LEARNED`] was found by `learn` (run by `cargo bench --bench audit_truth -- learn`) from the published
//! tables in `tests/it/corpus`; the bench learns it anew without each source to judge that source.

use super::grain::LEVELS;
use super::printed::WAYS;
use super::smooth::Shape;

/// A middle and a scale on a logarithmic scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// The middle.
    pub mean: f64,
    /// The scale.
    pub scale: f64,
}

/// Everything that is learned from tables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Priors {
    /// How a column of tightening torques wanders over size.
    pub torque: Shape,
    /// How the width of a column's ranges wanders over size.
    pub width: Shape,
    /// Share of right rows that leave their column for a reason of their own.
    pub aside: f64,
    /// How far such rows go.
    pub aside_scale: f64,
    /// Logarithm of torque over the torque of 90 % utilisation at friction 0.12, in general tables.
    pub tables: Spread,
    /// Logarithm of the ratio of a range's ends.
    pub range: Spread,
    /// How often values are rounded to steps of which size; see `grain`.
    pub grain: [f64; LEVELS],
    /// How figures in two units go together; see `printed`.
    pub agreement: [f64; WAYS],
}

impl Priors {
    /// Learned from all right rows of the tables of the corpus.
    pub const LEARNED: Self = Self {
        torque: Shape {
            wander: 6.0,
            reach: 2.2,
            fine_wander: 2.2,
            fine_reach: 2.7,
            scale: 0.0075,
            scale_weight: 1.0,
            tail: 4.0,
        },
        width: Shape {
            wander: 10.0,
            reach: 1.7,
            fine_wander: 1.4,
            fine_reach: 1.0,
            scale: 0.0068,
            scale_weight: 1.0,
            tail: 4.0,
        },
        aside: 0.01,
        aside_scale: 0.15,
        tables: Spread { mean: 0.031, scale: 0.17 },
        range: Spread { mean: 0.18, scale: 0.11 },
        grain: [0.036, 0.025, 0.14, 0.22, 0.29, 0.23, 0.062],
        agreement: [0.91, 0.07, 0.005, 0.005, 0.0079, 0.002],
    };

    /// What was held before any table was looked at: where learning begins.
    pub(super) const BEFORE: Self = Self {
        torque: Shape {
            wander: 6.0,
            reach: 3.0,
            fine_wander: 3.0,
            fine_reach: 4.0,
            scale: 0.01,
            scale_weight: 2.0,
            tail: 4.0,
        },
        width: Shape {
            wander: 2.0,
            reach: 3.0,
            fine_wander: 1.0,
            fine_reach: 4.0,
            scale: 0.05,
            scale_weight: 2.0,
            tail: 4.0,
        },
        aside: 0.01,
        aside_scale: 0.15,
        tables: Spread { mean: 0.0, scale: 0.16 },
        range: Spread { mean: 0.16, scale: 0.13 },
        grain: [0.10, 0.15, 0.20, 0.20, 0.20, 0.10, 0.05],
        agreement: [0.76, 0.12, 0.06, 0.05, 0.008, 0.002],
    };
}
