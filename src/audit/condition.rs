//! What a record's words about its surface and its head mean for friction.

use super::assessment::FrictionIs;
use super::friction_words::stated_friction;
use crate::mechanics::{Friction, FrictionRange, HeadBearing, OutOfRange};
use crate::record::{Drive, DriveType, Fastener, Head};
use crate::standards::{self, HeadForm, HoleFit, friction_for};
use crate::units::{Angle, Length};

/// Mean friction diameter over the thread's diameter where no table has the head: 1.24 to 1.29 for the hexagon heads of
/// ISO 4014 on the medium holes of ISO 273.
const BEARING_OVER_DIAMETER: f64 = 1.27;
/// The angle of a countersunk head, ISO 10642.
const COUNTERSUNK_DEGREES: f64 = 90.0;

/// The friction to reckon with: the record's own, or what its words make probable.
pub(super) fn friction(fastener: &Fastener) -> (FrictionRange, FrictionIs) {
    if let Some((low, high)) = stated_friction(fastener) {
        return (range(low, high), FrictionIs::Stated);
    }
    let stainless = is_stainless(fastener).then_some("stainless");
    let finish = stainless.or(fastener.finish.as_deref());
    let estimate = friction_for(finish, fastener.lubrication.as_deref());
    // A surface that is not stated is plain steel; only without a word about lubrication it is anybody's guess.
    let is = if fastener.lubrication.is_none() && estimate.assumed {
        FrictionIs::Assumed
    } else {
        FrictionIs::FromCondition(estimate.because)
    };
    (range(estimate.low, estimate.high), is)
}

/// Whether the class is one of stainless steel.
pub(super) fn is_stainless(fastener: &Fastener) -> bool {
    fastener.property_class.as_ref().and_then(|class| class.standard()) == Some("ISO 3506-1")
}

/// A range of friction, the same in the thread and under the head. Coefficients of records are from 0.01 to 1.
fn range(low: f64, high: f64) -> FrictionRange {
    let same = |friction| Friction::same(friction).unwrap_or_else(|_| unreachable!("coefficients are from 0 to 1"));
    FrictionRange::new(same(low), same(high)).unwrap_or_else(|_| unreachable!("a range goes upwards"))
}

/// The form of head that the tables have for a record's head and drive; a hexagon where nothing is known.
pub(super) fn head_form(head: Option<Head>, drive: Option<&Drive>) -> Option<HeadForm> {
    let hexalobular = drive.is_some_and(|drive| drive.kind == DriveType::HexalobularSocket);
    Some(match head.unwrap_or(Head::Hexagon) {
        Head::Hexagon => HeadForm::Hexagon,
        Head::HexagonFlange => HeadForm::HexagonFlange,
        Head::SocketCap if hexalobular => HeadForm::HexalobularCap,
        Head::SocketCap => HeadForm::SocketCap,
        Head::Button => HeadForm::Button,
        Head::Countersunk => HeadForm::Countersunk,
        Head::Pan if hexalobular => HeadForm::HexalobularPan,
        Head::Pan => HeadForm::CrossPan,
        Head::ExternalHexalobularFlange => HeadForm::ExternalHexalobularFlange,
        Head::HexagonNut => HeadForm::HexagonNut,
        Head::FlangeNut => HeadForm::FlangeNut,
        Head::Cheese | Head::TwelvePointFlange | Head::Square | Head::Round | Head::None => return None,
    })
}

/// The ring that the head rubs on, from the tables of heads and holes, or a usual one.
pub(super) fn bearing(fastener: &Fastener, diameter: Length) -> Result<HeadBearing, OutOfRange> {
    let usual = || HeadBearing::of_mean_diameter(diameter * BEARING_OVER_DIAMETER);
    let form = head_form(fastener.head, fastener.drive.as_ref());
    let outer = form.and_then(|form| standards::head(form, diameter)?.bearing_or_head_diameter());
    let Some((outer, inner)) = outer.zip(hole(fastener, diameter)) else { return usual() };
    if inner >= outer {
        return usual();
    }
    if form == Some(HeadForm::Countersunk) {
        return HeadBearing::cone(outer, inner, Angle::from_degrees(COUNTERSUNK_DEGREES));
    }
    HeadBearing::flat(outer, inner)
}

/// The hole under the head: the record's, or the medium one of the tables.
pub(super) fn hole(fastener: &Fastener, diameter: Length) -> Option<Length> {
    let stated = fastener.seat.as_ref().and_then(|seat| seat.hole).map(|hole| hole.quantity());
    stated.or_else(|| Some(standards::holes(diameter)?.of(HoleFit::Medium)))
}
