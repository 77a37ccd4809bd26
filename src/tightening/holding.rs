//! Whether the thread holds and the part under the head bears.

use super::answer::{Extent, PressureAnswer, StrippingAnswer, six_figures};
use super::inputs::{Inputs, Notes};
use super::request::TighteningRequest;
use crate::mechanics::{EngagedThread, OutOfRange, Stripping, pressure, stripping};
use crate::standards::material;
use crate::thread::Thread;
use crate::units::Force;

/// Stripping of the tapped thread; `None` where there is no tapped part of a known material.
pub(super) fn stripping(
    request: &TighteningRequest,
    inputs: &Inputs,
    preload: Extent,
    notes: &mut Notes,
) -> Result<Option<StrippingAnswer>, OutOfRange> {
    let Some(tapped) = &request.into else { return Ok(None) };
    let Some(words) = &tapped.material else { return Ok(None) };
    let Some(material) = material(words) else {
        notes.assume("stripping", "not judged", format!("no table here has the material \"{words}\""));
        return Ok(None);
    };
    if !material.exact {
        notes.assume("tapped material", material.name, format!("stands in for \"{words}\""));
    }
    notes.source(stripping::SOURCE);
    notes.source(material.shear_source);
    notes.source(inputs.strength.shear_ratio.source);
    let bolt_shear = inputs.strength.tensile * inputs.strength.shear_ratio.low;
    let stripping = Stripping::new(engaged(request, notes)?, bolt_shear, material.shear)?;
    let tensile_load = inputs.strength.tensile * inputs.bolt.form().stress_area();
    let engagement = tapped.engagement.map(|engagement| engagement.quantity());
    let force = match engagement {
        Some(engagement) => Some(stripping.forces(stripping.effective(engagement)?)?.weaker()),
        None => None,
    };
    Ok(Some(StrippingAnswer {
        material: material.name,
        shear_strength_mpa: six_figures(material.shear.megapascals()),
        needed_engagement_mm: six_figures(stripping.engagement_for(tensile_load)?.millimeters()),
        engagement_mm: engagement.map(|engagement| six_figures(engagement.millimeters())),
        stripping_force_n: force.map(|force| six_figures(force.newtons())),
        // An engagement of no effect holds nothing; then there is no ratio to tell.
        utilisation: force
            .map(Force::newtons)
            .filter(|force| *force > 0.0)
            .map(|force| six_figures(preload.max() / force)),
    }))
}

/// The two threads at the limits that shear first, or at their basic dimensions where no standard limits them.
fn engaged(request: &TighteningRequest, notes: &mut Notes) -> Result<EngagedThread, OutOfRange> {
    let thread = &request.thread;
    let geometry = thread.geometry().unwrap_or_else(|| unreachable!("inputs exist for threads with a geometry only"));
    let stated = request.thread_class.clone().filter(|class| class.is_external() == Some(true));
    let bolt = stated.clone().or_else(|| thread.usual_class(true));
    let tapped = thread.usual_class(false);
    let bolt_limits = bolt.as_ref().and_then(|class| thread.limits(class));
    let tapped_limits = tapped.as_ref().and_then(|class| thread.limits(class));
    let (Some(bolt_limits), Some(tapped_limits)) = (bolt_limits, tapped_limits) else {
        notes.assume("thread tolerances", "none", "no standard here limits this thread; basic dimensions are taken");
        let (major, pitch) = (geometry.major(), geometry.pitch_diameter());
        return EngagedThread::new(geometry.pitch(), major, pitch, pitch, geometry.minor_diameter_internal());
    };
    note_classes(thread, stated.is_some(), notes);
    EngagedThread::new(
        geometry.pitch(),
        bolt_limits.major().min.unwrap_or(geometry.major()),
        bolt_limits.pitch().min.unwrap_or(geometry.pitch_diameter()),
        tapped_limits.pitch().max.unwrap_or(geometry.pitch_diameter()),
        tapped_limits.minor().max.unwrap_or(geometry.minor_diameter_internal()),
    )
}

fn note_classes(thread: &Thread, bolt_is_stated: bool, notes: &mut Notes) {
    let name = |external| thread.usual_class(external).map(|class| class.to_string()).unwrap_or_default();
    let value = if bolt_is_stated { name(false) } else { format!("{}/{}", name(false), name(true)) };
    notes.assume("thread tolerances", value, "tolerance class not stated; the usual one");
}

/// Pressure under the head; `None` under a countersunk head, which bears on a cone.
pub(super) fn pressure(
    request: &TighteningRequest,
    inputs: &Inputs,
    preload: Extent,
    notes: &mut Notes,
) -> Option<PressureAnswer> {
    let face = inputs.face?;
    notes.source(pressure::SOURCE);
    let area = face.area().square_millimeters();
    let pressure = Extent::of([preload.min() / area, preload.max() / area]);
    let words = request.seat.as_ref().and_then(|seat| seat.material.as_ref());
    let material = words.and_then(|words| material(words));
    let limit = material.as_ref().and_then(|material| material.pressures.first().copied());
    if let (Some(words), Some(material)) = (words, &material)
        && !material.exact
    {
        notes.assume("material under the head", material.name, format!("stands in for \"{words}\""));
    }
    if let Some(limit) = &limit {
        notes.source(limit.source);
    }
    let limit = limit.map(|limit| limit.pressure.megapascals());
    Some(PressureAnswer {
        pressure_mpa: pressure,
        material: material.map(|material| material.name),
        limit_mpa: limit.map(six_figures),
        utilisation: limit.map(|limit| six_figures(pressure.max() / limit)),
    })
}
