//! Torque and then turns, at every friction, grip and end of a stated range that is to be reckoned with.

use super::answer::{AngleAnswer, Extent, MeasuredAnswer, ReuseAnswer, YesNo, YieldVerdict, six_figures};
use super::inputs::{Inputs, Notes};
use super::joint::Joint;
use super::request::TighteningRequest;
use crate::mechanics::{
    self, Friction, FrictionRange, OutOfRange, StretchVerdict, Turned, after_over_grips, angle, reuse,
};
use crate::record::Setting;
use crate::units::{Angle, AngleUnit, Length, Torque};

/// The share of the elongation after fracture up to which tightenings are counted: necking begins at about half of it.
const REUSE_SHARE: f64 = 0.5;

/// What turns come to.
pub(super) struct Turning {
    pub(super) answer: AngleAnswer,
    pub(super) preload: Extent,
    pub(super) utilisation: Extent,
}

/// What the turns of a request come to; `None` if there are none.
pub(super) fn turning(
    request: &TighteningRequest,
    inputs: &Inputs,
    notes: &mut Notes,
) -> Result<Option<Turning>, OutOfRange> {
    if request.angles.is_empty() {
        return Ok(None);
    }
    notes.source(angle::SOURCE);
    let joint = Joint::of(request, inputs, notes)?;
    let settings = settings(request, notes);
    let mut course = Course::default();
    for friction in frictions(inputs.friction) {
        for &setting in &settings {
            course.follow(&joint, friction, setting)?;
        }
    }
    let all = &course.turned;
    let extent = |number: fn(&Turned) -> f64| Extent::of(all.iter().map(number));
    let answer = AngleAnswer {
        angle_deg: Extent::of(settings.iter().map(|(_, turn)| turn.degrees())),
        grip_mm: Extent::of([joint.grips.shortest(), joint.grips.longest()].map(Length::millimeters)),
        snug_preload_n: extent(|turned| turned.snug_preload.newtons()),
        yields: course.yields(),
        yield_verdict: course.verdict(joint.grip_is_known),
        yield_angle_deg: extent(|turned| turned.yield_angle.degrees()),
        plastic_strain: extent(|turned| turned.plastic_strain),
        strain_share: extent(|turned| turned.strain_share),
        permanent_stretch_mm: extent(|turned| turned.permanent_stretch.millimeters()),
        breaks: YesNo::of(all.iter().map(|turned| turned.breaks)),
        final_torque_nm: extent(|turned| turned.final_torque.newton_meters()),
        reuse: used_again(request, inputs, &joint, &settings, notes)?,
    };
    let preload = extent(|turned| turned.preload.newtons());
    let utilisation = extent(|turned| turned.utilisation);
    Ok(Some(Turning { answer, preload, utilisation }))
}

/// Lowest, middle and highest friction, each once.
fn frictions(range: FrictionRange) -> Vec<Friction> {
    let mut frictions = vec![range.lowest(), range.middle(), range.highest()];
    frictions.dedup();
    frictions
}

/// Torque and sum of turns, at both ends of what was stated.
fn settings(request: &TighteningRequest, notes: &mut Notes) -> Vec<(Torque, Angle)> {
    let torque = request.torque.map(Setting::ends).unwrap_or_else(|| {
        notes.assume("snug torque", "0 N·m", "none stated; by hand there is next to no preload");
        Default::default()
    });
    let sum = |end: fn((Angle, Angle)) -> Angle| {
        let ends = request.angles.iter().map(|turn: &Setting<AngleUnit>| end(turn.ends()));
        ends.fold(Angle::from_degrees(0.0), |sum, turn| sum + turn)
    };
    let mut settings = vec![(torque.0, sum(|ends| ends.0)), (torque.1, sum(|ends| ends.1))];
    settings.dedup();
    settings
}

/// What was found on the way through all cases.
#[derive(Default)]
struct Course {
    /// At the ends of the grip.
    turned: Vec<Turned>,
    /// For each friction and setting, whether the bolt yields at some grip and at every grip.
    yields: Vec<(bool, bool)>,
}

impl Course {
    fn follow(&mut self, joint: &Joint, friction: Friction, (torque, turn): (Torque, Angle)) -> Result<(), OutOfRange> {
        let (mut some, mut every) = (false, true);
        for &shank in joint.shanks {
            let model = |grip| joint.model(friction, grip, shank);
            if joint.grip_is_known {
                let turned = model(joint.grips.shortest())?.after(torque, turn)?;
                (some, every) = (some | turned.yields, every & turned.yields);
                self.turned.push(turned);
            } else {
                let over = after_over_grips(joint.grips, torque, turn, model)?;
                some |= over.verdict != mechanics::YieldVerdict::YieldsAtNone;
                every &= over.verdict == mechanics::YieldVerdict::YieldsAtEvery;
                self.turned.extend([over.shortest, over.longest]);
            }
        }
        self.yields.push((some, every));
        Ok(())
    }

    fn yields(&self) -> YesNo {
        YesNo::of(self.yields.iter().flat_map(|&(some, every)| [some, every]))
    }

    fn verdict(&self, grip_is_known: bool) -> YieldVerdict {
        let grip_decides = self.yields.iter().any(|(some, every)| some != every);
        match (self.yields(), grip_is_known) {
            (YesNo::One(true), true) => YieldVerdict::Yields,
            (YesNo::One(false), true) => YieldVerdict::DoesNotYield,
            (YesNo::One(true), false) => YieldVerdict::YieldsAtEveryGrip,
            (YesNo::One(false), false) => YieldVerdict::YieldsAtNoGrip,
            (YesNo::Range { .. }, false) if grip_decides => YieldVerdict::DependsOnGrip,
            (YesNo::Range { .. }, _) => YieldVerdict::DependsOnFriction,
        }
    }
}

/// Whether the bolt may be used again, at middle friction; `None` if there is nothing to say.
fn used_again(
    request: &TighteningRequest,
    inputs: &Inputs,
    joint: &Joint,
    settings: &[(Torque, Angle)],
    notes: &mut Notes,
) -> Result<Option<ReuseAnswer>, OutOfRange> {
    let mut counts = Vec::new();
    let mut strains = Vec::new();
    let mut verdict = None;
    for model in joint.at_ends(inputs.friction.middle()) {
        let model = model?;
        for &(torque, turn) in settings {
            counts.extend(model.tightenings_within(torque, turn, REUSE_SHARE)?.map(f64::from));
        }
        if let (Some(new), Some(now)) = (request.length, request.measured_length) {
            let new = new.quantity();
            let measured = model.measured_stretch(new, length_tolerance(new), now.quantity())?;
            strains.push(measured.plastic_strain);
            // The worst that it can mean.
            let worse = |before: StretchVerdict| before == StretchVerdict::Necking;
            if !verdict.is_some_and(worse) {
                verdict = Some(measured.verdict);
            }
        }
    }
    let measured = verdict.map(|verdict| {
        notes.assume("tolerance of the length", "js15", "length when new not measured; ISO 4759-1, product grade A");
        measured_answer(request, verdict, &strains)
    });
    if counts.is_empty() && measured.is_none() {
        return Ok(None);
    }
    notes.source(reuse::SOURCE);
    let tightenings = (!counts.is_empty()).then(|| Extent::of(counts));
    Ok(Some(ReuseAnswer { tightenings, measured }))
}

fn measured_answer(request: &TighteningRequest, verdict: StretchVerdict, strains: &[f64]) -> MeasuredAnswer {
    let length =
        |stated: Option<crate::units::StatedLength>| stated.map_or(0.0, |stated| stated.quantity().millimeters());
    MeasuredAnswer {
        stretch_mm: six_figures(length(request.measured_length) - length(request.length)),
        plastic_strain: Extent::of(strains.iter().copied()),
        verdict: match verdict {
            StretchVerdict::AsNew => "as-new",
            StretchVerdict::Stretched => "stretched",
            StretchVerdict::Necking => "necking",
        },
    }
}

/// Half of the tolerance grade IT15, by the formula of ISO 286-1: 640 i with i = 0.45 ∛D + 0.001 D, in micrometres.
fn length_tolerance(length: Length) -> Length {
    let mm = length.millimeters();
    Length::from_millimeters(0.32 * (0.45 * mm.cbrt() + 0.001 * mm))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn js15_is_about_as_published() {
        // ISO 286-1:2010, table 1: IT15 is 1.0 mm for 30 to 50 mm and 1.2 mm for 50 to 80 mm.
        for (length, half) in [(39.0, 0.5), (63.0, 0.6)] {
            let tolerance = length_tolerance(Length::from_millimeters(length)).millimeters();
            assert!((tolerance - half).abs() < 0.02, "{tolerance}");
        }
    }
}
