//! What a bolt is tightened to: tables and mechanics joined.
//!
//! [`tightening`] takes what is known about a bolt and its joint, looks up what the tables say, assumes what is missing
//! (and says so), and gives the torques that fit and what a torque and turns come to. The command line, the HTTP API, the
//! audit and the card all use it. It computes nothing itself: the formulas are in [`crate::mechanics`], the numbers in
//! [`crate::standards`]. It stores nothing and judges no record.

mod answer;
mod holding;
mod inputs;
mod joint;
mod request;
mod turning;
mod wrenching;

pub use answer::{
    AngleAnswer, Assumed, Extent, MeasuredAnswer, PressureAnswer, RangeAnswer, ReuseAnswer, ScatterAnswer,
    ServingWrench, Standing, StrippingAnswer, Tightening, WrenchAnswer, YesNo, YieldVerdict,
};
pub use inputs::{Inputs, NoTightening, Notes};
pub use request::{AdapterSize, TighteningRequest, TorsionForm, WasherSeries, last_torque_and_turns};

use crate::mechanics::{LEAST_SHARE, OutOfRange, TABLE_UTILISATION, TighteningRange, TorquedBolt, tightening_range};
use crate::record::Setting;
use crate::units::Torque;
use answer::six_figures;

/// Answers a question about a tightening.
///
/// # Errors
/// If the thread has no known size, the class no strength, or a number is beyond what the formulas are for.
pub fn tightening(request: &TighteningRequest) -> Result<Tightening, NoTightening> {
    let inputs = Inputs::of(request)?;
    let mut notes = inputs.notes.clone();
    let range = tightening_range(
        &inputs.bolt,
        inputs.friction,
        inputs.strength.yield_,
        request.least_share.unwrap_or(LEAST_SHARE),
    )?;
    let reached = Reached::of(request, &inputs)?;
    let turning = turning::turning(request, &inputs, &mut notes)?;
    let preload = turning.as_ref().map_or(reached.preload, |turning| turning.preload);
    let form = inputs.bolt.form();
    Ok(Tightening {
        thread: request.thread.to_string(),
        property_class: request.property_class.to_string(),
        friction_thread: Extent::of([inputs.friction.lowest().thread(), inputs.friction.highest().thread()]),
        friction_head: Extent::of([inputs.friction.lowest().head(), inputs.friction.highest().head()]),
        utilisation: turning.as_ref().map_or(reached.utilisation, |turning| turning.utilisation),
        preload_n: preload,
        torque_nm: reached.torque,
        stress_area_mm2: six_figures(form.stress_area().square_millimeters()),
        yield_strength_mpa: six_figures(inputs.strength.yield_.megapascals()),
        friction_diameter_mm: six_figures(inputs.bolt.bearing().mean_diameter().millimeters()),
        range: RangeAnswer {
            clamps_from_nm: six_figures(range.clamps_from.newton_meters()),
            yields_from_nm: six_figures(range.yields_from.newton_meters()),
            least_share: range.least_share,
            reference_preload_n: six_figures(range.reference_preload.newtons()),
            is_empty: range.is_empty(),
        },
        standing: standing(request, &range),
        stripping: holding::stripping(request, &inputs, preload, &mut notes)?,
        pressure: holding::pressure(request, &inputs, preload, &mut notes),
        scatter: wrenching::scatter(request, preload, &mut notes)?,
        wrench: match reached.for_wrench {
            Some(torque) => Some(wrenching::wrenches(request, &inputs, torque, &mut notes)?),
            None => None,
        },
        angle: turning.map(|turning| turning.answer),
        assumed: notes.assumed,
        sources: notes.sources,
    })
}

/// What the turns of a request come to, and nothing else of the answer; `None` if there are none.
///
/// # Errors
/// As [`tightening`].
pub fn turned(request: &TighteningRequest) -> Result<Option<AngleAnswer>, NoTightening> {
    if request.angles.is_empty() {
        return Ok(None);
    }
    let inputs = Inputs::of(request)?;
    let mut notes = Notes::default();
    Ok(turning::turning(request, &inputs, &mut notes)?.map(|turning| turning.answer))
}

/// What the torque alone comes to: the one given, or the one that gives the utilisation.
struct Reached {
    torque: Extent,
    preload: Extent,
    utilisation: Extent,
    /// The torque to set a wrench to, if there is one.
    for_wrench: Option<Torque>,
}

impl Reached {
    fn of(request: &TighteningRequest, inputs: &Inputs) -> Result<Self, OutOfRange> {
        let low = inputs.bolt.with_friction(inputs.friction.lowest());
        let high = inputs.bolt.with_friction(inputs.friction.highest());
        match request.torque {
            Some(torque) => Self::by_torque(torque.ends(), Some(torque.middle()), inputs, [high, low]),
            // Turns from where the bolt was seated by hand.
            None if !request.angles.is_empty() => Self::by_torque(<_>::default(), None, inputs, [high, low]),
            None => Self::by_utilisation(request.utilisation.unwrap_or(TABLE_UTILISATION), inputs, [high, low]),
        }
    }

    /// Least preload: the lower end of the torque at the highest friction; greatest: the other ends.
    fn by_torque(
        (from, to): (Torque, Torque),
        middle: Option<Torque>,
        inputs: &Inputs,
        [high, low]: [TorquedBolt; 2],
    ) -> Result<Self, OutOfRange> {
        let least = high.preload_for(from)?;
        let greatest = low.preload_for(to)?;
        let strength = inputs.strength.yield_;
        Ok(Self {
            torque: Extent::of([from, to].map(Torque::newton_meters)),
            preload: Extent::of([least.newtons(), greatest.newtons()]),
            utilisation: Extent::of([high.utilisation(least, strength)?, low.utilisation(greatest, strength)?]),
            for_wrench: middle,
        })
    }

    /// The wrench is set to the least of the torques, so that the bolt does not yield at the lowest friction.
    fn by_utilisation(utilisation: f64, inputs: &Inputs, [high, low]: [TorquedBolt; 2]) -> Result<Self, OutOfRange> {
        let strength = inputs.strength.yield_;
        let (at_high, at_low) = (high.torque_at(utilisation, strength)?, low.torque_at(utilisation, strength)?);
        let preload = [high.preload_at(utilisation, strength)?, low.preload_at(utilisation, strength)?];
        Ok(Self {
            torque: Extent::of([at_high, at_low].map(Torque::newton_meters)),
            preload: Extent::of(preload.map(|preload| preload.newtons())),
            utilisation: Extent::One(utilisation),
            for_wrench: Some(if at_low < at_high { at_low } else { at_high }),
        })
    }
}

/// Where a torque without turns lies.
fn standing(request: &TighteningRequest, range: &TighteningRange) -> Option<Standing> {
    if !request.angles.is_empty() {
        return None;
    }
    let (from, to) = Setting::ends(request.torque?);
    Some(if to > range.yields_from {
        Standing::BeyondYield
    } else if from < range.clamps_from {
        Standing::TooLoose
    } else {
        Standing::Within
    })
}

#[cfg(test)]
mod tests;
