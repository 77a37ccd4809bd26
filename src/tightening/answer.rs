//! What a tightening comes to, as numbers for people and programs.

use crate::units::Number;
use serde::Serialize;
use utoipa::ToSchema;

/// A number, or the least and the greatest where friction, torque or grip is known as a range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
#[serde(untagged)]
pub enum Extent {
    /// One number.
    One(f64),
    /// A range.
    Range {
        /// The least.
        min: f64,
        /// The greatest.
        max: f64,
    },
}

impl Extent {
    /// The extent of some numbers, rounded to six figures; of none it is 0.
    #[must_use]
    pub fn of(numbers: impl IntoIterator<Item = f64>) -> Self {
        let mut numbers = numbers.into_iter().map(six_figures);
        let first = numbers.next().unwrap_or(0.0);
        let (min, max) = numbers.fold((first, first), |(min, max), number| (number.min(min), number.max(max)));
        if min < max { Self::Range { min, max } } else { Self::One(min) }
    }

    /// The least.
    #[must_use]
    pub fn min(self) -> f64 {
        match self {
            Self::One(number) => number,
            Self::Range { min, .. } => min,
        }
    }

    /// The greatest.
    #[must_use]
    pub fn max(self) -> f64 {
        match self {
            Self::One(number) => number,
            Self::Range { max, .. } => max,
        }
    }
}

/// A number rounded to six significant figures.
pub(super) fn six_figures(value: f64) -> f64 {
    let rounded = Number::from_f64(value, 6).value();
    if value < 0.0 { -rounded } else { rounded }
}

/// Yes or no, or both where friction, torque or grip decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(untagged)]
pub enum YesNo {
    /// The same everywhere in the range.
    One(bool),
    /// No at one end, yes at the other.
    Range {
        /// `false`.
        min: bool,
        /// `true`.
        max: bool,
    },
}

impl YesNo {
    pub(super) fn of(answers: impl IntoIterator<Item = bool>) -> Self {
        let (mut min, mut max) = (true, false);
        for answer in answers {
            min &= answer;
            max |= answer;
        }
        if min == max { Self::One(max) } else { Self::Range { min: false, max: true } }
    }

    /// Whether it may be so.
    #[must_use]
    pub fn possibly(self) -> bool {
        self != Self::One(false)
    }

    /// Whether it is so in any case.
    #[must_use]
    pub fn surely(self) -> bool {
        self == Self::One(true)
    }
}

/// Something that was not stated and had to be taken from somewhere.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Assumed {
    /// What was not stated.
    pub what: &'static str,
    /// What was taken.
    pub value: String,
    /// Why that.
    pub why: String,
}

/// What a bolt is tightened to: the torques that fit, and what a torque and angles come to.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Tightening {
    /// The thread.
    pub thread: String,
    /// The property class.
    pub property_class: String,
    /// Coefficient of friction in the thread.
    pub friction_thread: Extent,
    /// Coefficient of friction under the head.
    pub friction_head: Extent,
    /// Combined stress over yield strength at the end, while the wrench pulls.
    pub utilisation: Extent,
    /// Preload at the end.
    pub preload_n: Extent,
    /// Tightening torque: the one that was given (before any turn), or the one that gives the utilisation.
    pub torque_nm: Extent,
    /// Stress area of the thread.
    pub stress_area_mm2: f64,
    /// Least yield strength of the class.
    pub yield_strength_mpa: f64,
    /// Mean friction diameter under the head.
    pub friction_diameter_mm: f64,
    /// The torques between too loose and yield.
    pub range: RangeAnswer,
    /// Where the given torque lies in the range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
    /// What the turns come to.
    #[serde(flatten)]
    pub angle: Option<AngleAnswer>,
    /// Whether the thread holds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stripping: Option<StrippingAnswer>,
    /// Pressure under the head.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure: Option<PressureAnswer>,
    /// The scatter that the way of tightening has by the tables.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scatter: Option<ScatterAnswer>,
    /// The torque wrenches that serve.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wrench: Option<WrenchAnswer>,
    /// What was not stated and had to be assumed.
    pub assumed: Vec<Assumed>,
    /// The tables and formulas that were used.
    pub sources: Vec<String>,
}

/// The torques between too loose and yield.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct RangeAnswer {
    /// From this torque on the bolt clamps enough, even at the highest friction.
    pub clamps_from_nm: f64,
    /// At this torque the bolt yields if friction is lowest.
    pub yields_from_nm: f64,
    /// The share of the reference preload that counts as clamping enough.
    pub least_share: f64,
    /// Preload at utilisation 0.9 and middle friction.
    pub reference_preload_n: f64,
    /// Whether friction is known too poorly for any torque to be right.
    pub is_empty: bool,
}

/// Where a torque lies in the range.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// It may clamp less than enough.
    TooLoose,
    /// It clamps enough and does not yield.
    Within,
    /// It may take the bolt beyond yield.
    BeyondYield,
}

/// Whether a turn takes the bolt beyond yield.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum YieldVerdict {
    /// It does.
    Yields,
    /// It does not.
    DoesNotYield,
    /// It does at some friction (or end of a stated range) and not at other.
    DependsOnFriction,
    /// The grip is not known: it does at every plausible one.
    YieldsAtEveryGrip,
    /// The grip is not known: it does at none that is plausible.
    YieldsAtNoGrip,
    /// The grip is not known, and it decides.
    DependsOnGrip,
}

/// What the turns after the torque come to.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AngleAnswer {
    /// All turns together.
    pub angle_deg: Extent,
    /// The clamped length, or what is plausible.
    pub grip_mm: Extent,
    /// Preload after the torque, before the turns.
    pub snug_preload_n: Extent,
    /// Whether the bolt is taken beyond yield.
    pub yields: YesNo,
    /// The same in a word, also where the grip is not known.
    pub yield_verdict: YieldVerdict,
    /// The turn at which the bolt yields, whether or not it is turned so far.
    pub yield_angle_deg: Extent,
    /// Permanent strain in the weakest section; 0.01 is 1 %.
    pub plastic_strain: Extent,
    /// Plastic strain over elongation after fracture.
    pub strain_share: Extent,
    /// How much longer the bolt stays.
    pub permanent_stretch_mm: Extent,
    /// Whether the bolt breaks.
    pub breaks: YesNo,
    /// Torque at the end of the turns.
    pub final_torque_nm: Extent,
    /// Whether it may go back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reuse: Option<ReuseAnswer>,
}

/// What a tightening beyond yield means for using the bolt again.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReuseAnswer {
    /// How many tightenings of this kind keep the plastic strain below half of the elongation after fracture; left out
    /// if the bolt stays elastic.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tightenings: Option<Extent>,
    /// What the measured length says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<MeasuredAnswer>,
}

/// What a measured length says.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MeasuredAnswer {
    /// How much longer than its nominal length the bolt is.
    pub stretch_mm: f64,
    /// Strain of the part that stretches.
    pub plastic_strain: Extent,
    /// In a word: `as-new`, `stretched`, `necking`.
    pub verdict: &'static str,
}

/// Whether the tapped thread holds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StrippingAnswer {
    /// The tapped material as the table names it.
    pub material: &'static str,
    /// Shear strength of the tapped material.
    pub shear_strength_mpa: f64,
    /// The engagement at which the bolt breaks before the thread strips.
    pub needed_engagement_mm: f64,
    /// The engagement stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engagement_mm: Option<f64>,
    /// The force that strips the weaker thread at this engagement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stripping_force_n: Option<f64>,
    /// Greatest preload over that force: above 1 the thread strips while being tightened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub utilisation: Option<f64>,
}

/// Pressure under the head.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PressureAnswer {
    /// Pressure at the preload.
    pub pressure_mpa: Extent,
    /// The material under the head as the table names it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub material: Option<&'static str>,
    /// The limit of that material.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit_mpa: Option<f64>,
    /// Greatest pressure over the limit: above 1 the part creeps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub utilisation: Option<f64>,
}

/// The scatter of the preload that a way of tightening has.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ScatterAnswer {
    /// The way of tightening, as the table names it.
    pub method: &'static str,
    /// Tightening factor αA of the table: greatest over least preload.
    pub tightening_factor: Extent,
    /// The least preload to reckon with: the greatest one over the greatest factor.
    pub least_preload_n: f64,
}

/// The torque wrenches that serve, and what they do to the preload.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WrenchAnswer {
    /// The torque at the fastener.
    pub torque_nm: f64,
    /// The setting of the wrench: the torque, or less behind an adapter.
    pub setting_nm: f64,
    /// The wrenches whose range of use has the setting.
    pub serving: Vec<ServingWrench>,
    /// The preloads to reckon with, from friction and the accuracy of the first of these wrenches together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub preload_n: Option<Extent>,
    /// Greatest over least of these preloads.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tightening_factor: Option<f64>,
}

/// A wrench that serves.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ServingWrench {
    /// The beginning of its scale.
    pub from_nm: f64,
    /// The end of its scale.
    pub to_nm: f64,
    /// Its permitted deviation, ± per cent.
    pub accuracy_percent: f64,
    /// Where in its range the setting lies, per cent of its end.
    pub percent_of_range: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_number_where_all_agree() {
        assert_eq!(Extent::of([0.9, 0.9]), Extent::One(0.9));
        assert_eq!(Extent::of([3.0, 1.0, 2.0]), Extent::Range { min: 1.0, max: 3.0 });
        assert_eq!(serde_json::to_string(&Extent::of([1.0, 2.0])).unwrap(), r#"{"min":1.0,"max":2.0}"#);
        assert_eq!(serde_json::to_string(&YesNo::of([true, false])).unwrap(), r#"{"min":false,"max":true}"#);
        assert_eq!(YesNo::of([true, true]), YesNo::One(true));
    }
}
