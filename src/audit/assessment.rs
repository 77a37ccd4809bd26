//! What can be said about the strength of one fastener: worked out once for all rules that need it.
//!
//! Tables and mechanics are joined here for the audit. Nothing is guessed about strength: without a property class
//! that a standard has, there is no assessment, only the reason why. Friction and the bearing face are assumed where
//! the record is silent, widely, and [`Assessment::friction_is`] says so.

use crate::mechanics::{self, HeadBearing, ThreadForm, TorquedBolt, stress};
use crate::record::{Fastener, Role};
use crate::standards::{self, FRICTION_SOURCE, NoStrength};
use crate::thread::Geometry;
use crate::units::{Force, Stress, Torque};
use std::fmt;

/// A quantity at the lowest, the middle and the highest friction that is to be expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByFriction<T> {
    /// At the lowest friction: the most preload.
    pub lowest: T,
    /// At the middle friction.
    pub middle: T,
    /// At the highest friction: the least preload.
    pub highest: T,
}

impl<T> ByFriction<T> {
    /// Another quantity from each of the three.
    pub fn map<U>(self, change: impl Fn(T) -> U) -> ByFriction<U> {
        ByFriction { lowest: change(self.lowest), middle: change(self.middle), highest: change(self.highest) }
    }
}

/// Where the friction of an assessment comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum FrictionIs {
    /// The record states the coefficient.
    Stated,
    /// It follows from the surface and what is on it.
    FromCondition(&'static str),
    /// Nobody says: everything from lubricated to dry steel.
    Assumed,
}

/// What the audit reckons with for one fastener that is limited by the strength of its bolt.
#[derive(Debug, Clone)]
pub struct Assessment {
    bolt: TorquedBolt,
    friction: mechanics::FrictionRange,
    friction_is: FrictionIs,
    strength: standards::Strength,
    yields_from: ByFriction<Torque>,
    yield_preload: ByFriction<Force>,
}

/// Why a fastener cannot be judged by the strength of its bolt.
#[derive(Debug, Clone, PartialEq)]
pub enum Unjudged {
    /// Something other than the bolt limits it.
    NotLimitedByBolt(Role),
    /// The thread has no known dimensions.
    NoGeometry,
    /// No property class is stated.
    NoClass,
    /// The class has no strength in this size; boxed because it carries the whole reason.
    NoStrength(Box<NoStrength>),
    /// The dimensions are beyond what the formulas are meant for.
    OutOfRange,
}

impl fmt::Display for Unjudged {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotLimitedByBolt(role) => {
                write!(f, "the torque of a {} is not limited by the strength of a bolt", role.words())
            }
            Self::NoGeometry => f.write_str("the thread has no known dimensions"),
            Self::NoClass => f.write_str("the property class is not stated"),
            Self::NoStrength(reason) => reason.fmt(f),
            Self::OutOfRange => f.write_str("the thread is beyond what the formulas are meant for"),
        }
    }
}

impl Assessment {
    /// Works out what can be said about a fastener.
    ///
    /// # Errors
    /// Why nothing can be said.
    pub fn of(fastener: &Fastener) -> Result<Self, Unjudged> {
        if !fastener.role().is_limited_by_bolt() {
            return Err(Unjudged::NotLimitedByBolt(fastener.role()));
        }
        let geometry = fastener.thread.geometry().ok_or(Unjudged::NoGeometry)?;
        let class = fastener.property_class.as_ref().ok_or(Unjudged::NoClass)?;
        let strength = match standards::strength(class, geometry.major()) {
            Ok(strength) => strength,
            Err(reason) => *reason.as_if().ok_or_else(|| Unjudged::NoStrength(Box::new(reason.clone())))?,
        };
        let (friction, friction_is) = super::condition::friction(fastener);
        let bearing = super::condition::bearing(fastener, geometry.major());
        let made = bearing.and_then(|bearing| Self::new(&geometry, bearing, friction, friction_is, strength));
        made.map_err(|_| Unjudged::OutOfRange)
    }

    fn new(
        geometry: &Geometry,
        bearing: HeadBearing,
        friction: mechanics::FrictionRange,
        friction_is: FrictionIs,
        strength: standards::Strength,
    ) -> Result<Self, mechanics::OutOfRange> {
        let form = ThreadForm::try_from(geometry)?;
        let bolt = TorquedBolt::new(form, bearing, friction.middle());
        let at = |friction| bolt.with_friction(friction).torque_at(1.0, strength.yield_);
        let yields_from = ByFriction {
            lowest: at(friction.lowest())?,
            middle: at(friction.middle())?,
            highest: at(friction.highest())?,
        };
        let preload_at = |friction| bolt.with_friction(friction).preload_at(1.0, strength.yield_);
        let yield_preload = ByFriction {
            lowest: preload_at(friction.lowest())?,
            middle: preload_at(friction.middle())?,
            highest: preload_at(friction.highest())?,
        };
        Ok(Self { bolt, friction, friction_is, strength, yields_from, yield_preload })
    }

    /// The bolt at the middle friction.
    #[must_use]
    pub fn bolt(&self) -> &TorquedBolt {
        &self.bolt
    }

    /// The friction that is to be expected.
    #[must_use]
    pub fn friction(&self) -> mechanics::FrictionRange {
        self.friction
    }

    /// Where the friction comes from.
    #[must_use]
    pub fn friction_is(&self) -> &FrictionIs {
        &self.friction_is
    }

    /// The least strength of the class in this size.
    #[must_use]
    pub fn strength(&self) -> &standards::Strength {
        &self.strength
    }

    /// The torques at which the bolt yields.
    #[must_use]
    pub fn yields_from(&self) -> ByFriction<Torque> {
        self.yields_from
    }

    /// The torques at which the combined stress reaches the tensile strength.
    #[must_use]
    pub fn breaks_from(&self) -> ByFriction<Torque> {
        let ratio = self.strength.tensile / self.strength.yield_;
        self.yields_from.map(|torque| torque * ratio)
    }

    /// Combined stress over yield strength at a torque: 1 where the bolt yields.
    #[must_use]
    pub fn utilisation(&self, torque: Torque) -> ByFriction<f64> {
        self.yields_from.map(|yields_from| torque / yields_from)
    }

    /// The preload at which the bolt yields while it is tightened, at the middle friction.
    #[must_use]
    pub fn yield_preload(&self) -> Force {
        self.yield_preload.middle
    }

    /// The preloads that a torque gives at the lowest, the middle and the highest friction, none above yield.
    #[must_use]
    pub fn preload_at(&self, torque: Torque) -> ByFriction<Force> {
        let share = |yields_from: Torque| (torque / yields_from).min(1.0);
        ByFriction {
            lowest: self.yield_preload.lowest * share(self.yields_from.lowest),
            middle: self.yield_preload.middle * share(self.yields_from.middle),
            highest: self.yield_preload.highest * share(self.yields_from.highest),
        }
    }

    /// Combined stress at a torque and the highest friction.
    #[must_use]
    pub fn least_stress(&self, torque: Torque) -> Stress {
        self.strength.yield_ * self.utilisation(torque).highest
    }

    /// Where the friction stands.
    #[must_use]
    pub fn friction_source(&self) -> String {
        if self.friction_is == FrictionIs::Stated { "the record".to_owned() } else { FRICTION_SOURCE.to_string() }
    }

    /// The friction as read aloud: `0.10 to 0.16, stated`.
    #[must_use]
    pub fn friction_words(&self) -> String {
        let (low, high) = (self.friction.lowest().thread(), self.friction.highest().thread());
        let range = if low < high { format!("{low:.2} to {high:.2}") } else { format!("{low:.2}") };
        match self.friction_is {
            FrictionIs::Stated => format!("{range}, stated"),
            FrictionIs::FromCondition(words) => format!("{range}, {words}"),
            FrictionIs::Assumed => format!("{range}, assumed"),
        }
    }
}

/// Where the stresses of an assessment stand.
pub const SOURCE: &str = stress::SOURCE;
