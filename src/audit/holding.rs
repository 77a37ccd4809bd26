//! What holds the bolt: the tapped thread and the face under the head.

use super::assessment::Assessment;
use super::condition;
use super::rule::FastenerCase;
use crate::mechanics::{BearingFace, EngagedThread, OutOfRange, Stripping};
use crate::record::Fastener;
use crate::standards::{self, Citation, HeadForm, Material, material};
use crate::units::{Force, LengthUnit, Stated, StatedLength};

/// A tapped thread and what it holds.
pub(super) struct Hold {
    /// The material as the table has it.
    pub material: Material,
    /// The engagement stated.
    pub engagement: StatedLength,
    /// The force that strips the weaker thread.
    pub force: Force,
    /// The engagement at which the bolt breaks first.
    pub needed: String,
}

/// What the tapped part holds; `None` where material or engagement is not known.
pub(super) fn hold(case: &FastenerCase<'_>, assessment: &Assessment) -> Option<Hold> {
    let into = case.fastener.into.as_ref()?;
    let engagement = into.engagement?;
    let material = material(into.material.as_ref()?)?;
    let strength = assessment.strength();
    let bolt_shear = strength.tensile * strength.shear_ratio.low;
    let stripping = Stripping::new(engaged(case.fastener)?.ok()?, bolt_shear, material.shear).ok()?;
    let forces = stripping.forces(stripping.effective(engagement.quantity()).ok()?).ok()?;
    let tensile_load = strength.tensile * assessment.bolt().form().stress_area();
    let needed = stripping.engagement_for(tensile_load).ok()?;
    let needed = Stated::<LengthUnit>::of(needed, engagement.unit(), 2).to_string();
    Some(Hold { material, engagement, force: forces.weaker(), needed })
}

/// The two threads at the limits of their usual classes, or at their basic dimensions where no standard limits them.
fn engaged(fastener: &Fastener) -> Option<Result<EngagedThread, OutOfRange>> {
    let thread = &fastener.thread;
    let geometry = thread.geometry()?;
    let stated = fastener.thread_class.clone().filter(|class| class.is_external() == Some(true));
    let bolt = stated.or_else(|| thread.usual_class(true)).and_then(|class| thread.limits(&class));
    let tapped = thread.usual_class(false).and_then(|class| thread.limits(&class));
    let (major, pitch) = (geometry.major(), geometry.pitch_diameter());
    let bolt_limit = |limit: fn(&crate::thread::Limits) -> crate::thread::Span| bolt.as_ref().map(limit);
    let tapped_limit = |limit: fn(&crate::thread::Limits) -> crate::thread::Span| tapped.as_ref().map(limit);
    Some(EngagedThread::new(
        geometry.pitch(),
        bolt_limit(|limits| limits.major()).and_then(|span| span.min).unwrap_or(major),
        bolt_limit(|limits| limits.pitch()).and_then(|span| span.min).unwrap_or(pitch),
        tapped_limit(|limits| limits.pitch()).and_then(|span| span.max).unwrap_or(pitch),
        tapped_limit(|limits| limits.minor()).and_then(|span| span.max).unwrap_or(geometry.minor_diameter_internal()),
    ))
}

/// The face that the head bears on, and where its size stands. `None` where no table has the head, or where it is
/// countersunk and bears on a cone.
pub(super) fn bearing_face(fastener: &Fastener) -> Option<(BearingFace, Citation)> {
    let diameter = fastener.thread.geometry()?.major();
    // A head that is not stated may have a flange: nothing is guessed.
    fastener.head?;
    let form = condition::head_form(fastener.head, fastener.drive.as_ref())?;
    if form == HeadForm::Countersunk {
        return None;
    }
    let head = standards::head(form, diameter)?;
    let hole = condition::hole(fastener, diameter)?;
    let face = BearingFace::new(head.bearing_or_head_diameter()?, hole).ok()?;
    Some((face, head.source))
}
