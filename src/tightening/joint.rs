//! A joint that can be turned: put together from what is stated, what the tables say and what is plausible.

use super::inputs::{Inputs, elongation};
use super::request::TighteningRequest;
use crate::mechanics::{
    AngleModel, BoltShape, ClampedParts, Counterpart, Friction, GripRange, HeadShape, JointKind, Layer, OutOfRange,
    Strength, TorquedBolt, clamped, grips, resilience,
};
use crate::record::Text;
use crate::standards::{HeadForm, MaterialGroup, material};
use crate::units::{Length, Stress};

use super::inputs::Notes;

/// How far the clamped parts reach around the bolt, over the bearing diameter (common practice, no source: what is
/// wider than that hardly gives).
const PART_OVER_BEARING: f64 = 3.0;

/// A joint at any friction, grip and form of shank that is plausible.
pub(super) struct Joint {
    bolt: TorquedBolt,
    strength: Strength,
    counterpart: Counterpart,
    parts: ClampedParts,
    parts_modulus: Stress,
    head: HeadShape,
    modulus: Stress,
    length: Option<Length>,
    /// The clamped lengths that are plausible; of no width if it was stated.
    pub(super) grips: GripRange,
    /// Whether the grip was stated.
    pub(super) grip_is_known: bool,
    /// Whether the bolt is threaded up to its head, has a shank, or may be either.
    pub(super) shanks: &'static [Shank],
}

/// How far the thread of a bolt reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shank {
    /// Up to the head, ISO 4017.
    None,
    /// As ISO 4014 and ISO 4762 have it for the length.
    Standard,
}

impl Joint {
    pub(super) fn of(request: &TighteningRequest, inputs: &Inputs, notes: &mut Notes) -> Result<Self, OutOfRange> {
        notes.source(resilience::SOURCE);
        notes.source(clamped::SOURCE);
        let diameter = inputs.bolt.form().major();
        let kind = if request.into.is_some() { JointKind::Tapped } else { JointKind::ThroughBolted };
        let length = request.length.map(|length| length.quantity());
        let (grips, shanks) = grips_and_shanks(request, kind, diameter, notes)?;
        let part = inputs.bearing_diameter * PART_OVER_BEARING;
        notes.assume("width of the parts", format!("{:.0} mm", part.millimeters()), "three times the bearing face");
        let strength = &inputs.strength;
        let is_stainless = request.property_class.standard().is_some_and(|standard| standard.starts_with("ISO 3506"));
        let group = if is_stainless { MaterialGroup::Stainless } else { MaterialGroup::Steel };
        Ok(Self {
            bolt: inputs.bolt,
            strength: Strength::new(strength.yield_, strength.tensile, elongation(strength, notes))?,
            counterpart: counterpart(request, notes),
            parts: ClampedParts::new(kind, inputs.bearing_diameter, inputs.hole, part)?,
            parts_modulus: modulus("material of the clamped parts", seat_material(request), notes),
            head: head_shape(inputs.head.map(|head| head.form)),
            modulus: group.modulus().0,
            length,
            grips,
            grip_is_known: request.grip.is_some(),
            shanks,
        })
    }

    /// The joint at one friction, with one grip and form of shank.
    pub(super) fn model(&self, friction: Friction, grip: Length, shank: Shank) -> Result<AngleModel, OutOfRange> {
        let form = *self.bolt.form();
        let mut shape = BoltShape::threaded(form, self.head, grip, self.counterpart)?.with_modulus(self.modulus)?;
        if shank == Shank::Standard {
            let length = self.length.unwrap_or(grip + form.major());
            shape = shape.with_shank(shank_length(length, form.major()), form.major())?;
        }
        let parts = self.parts.resilience(&[Layer::new(grip, self.parts_modulus)?]);
        AngleModel::new(self.bolt.with_friction(friction), shape, parts, self.strength)
    }

    /// The joint with its shortest and its longest grip, in every form of shank.
    pub(super) fn at_ends(&self, friction: Friction) -> impl Iterator<Item = Result<AngleModel, OutOfRange>> {
        let ends = [self.grips.shortest(), self.grips.longest()];
        let ends = if self.grip_is_known { &ends[..1] } else { &ends[..] }.to_vec();
        self.shanks
            .iter()
            .flat_map(move |shank| ends.clone().into_iter().map(move |grip| self.model(friction, grip, *shank)))
    }
}

/// The grips to reckon with, and the forms of shank.
fn grips_and_shanks(
    request: &TighteningRequest,
    kind: JointKind,
    diameter: Length,
    notes: &mut Notes,
) -> Result<(GripRange, &'static [Shank]), OutOfRange> {
    let length = request.length.map(|length| length.quantity());
    if let Some(grip) = request.grip.map(|grip| grip.quantity()) {
        let grips = GripRange::new(grip, grip)?;
        if length.is_some() {
            notes.assume("thread length", "as ISO 4014 for this length", "thread length not stated");
            return Ok((grips, &[Shank::Standard]));
        }
        notes.assume("thread length", "up to the head", "length not stated");
        return Ok((grips, &[Shank::None]));
    }
    let grips = GripRange::plausible(kind, diameter, length)?;
    notes.source(grips::SOURCE);
    let value = format!("{:.1}-{:.1} mm", grips.shortest().millimeters(), grips.longest().millimeters());
    let why = match (length, kind) {
        (None, _) => "neither grip nor length stated: 1 to 10 d",
        (Some(_), JointKind::ThroughBolted) => "grip not stated: the length less a nut",
        (Some(_), JointKind::Tapped) => "grip not stated: the length less 0.8 to 2.5 d of engagement",
    };
    notes.assume("grip", value, why);
    notes.assume(
        "thread length",
        "up to the head, and as ISO 4014",
        "thread length not stated; both are reckoned with",
    );
    Ok((grips, &[Shank::None, Shank::Standard]))
}

/// Length of the shank without thread of a bolt of ISO 4014: the thread is 2 d + 6 mm long up to 125 mm, 2 d + 12 mm up
/// to 200 mm, 2 d + 25 mm beyond (ISO 888).
fn shank_length(length: Length, diameter: Length) -> Length {
    let l = length.millimeters();
    let more = if l <= 125.0 {
        6.0
    } else if l <= 200.0 {
        12.0
    } else {
        25.0
    };
    let shank = l - 2.0 * diameter.millimeters() - more;
    Length::from_millimeters(shank.max(0.0))
}

fn seat_material(request: &TighteningRequest) -> Option<&Text> {
    request.seat.as_ref().and_then(|seat| seat.material.as_ref())
}

/// What the thread is screwed into, as it gives way.
fn counterpart(request: &TighteningRequest, notes: &mut Notes) -> Counterpart {
    match &request.into {
        Some(tapped) => Counterpart::Tapped(modulus("material of the tapped part", tapped.material.as_ref(), notes)),
        None => {
            notes.assume("joint", "through-bolted with a steel nut", "no tapped part stated");
            Counterpart::Nut(MaterialGroup::Steel.modulus().0)
        }
    }
}

/// Modulus of elasticity of a stated material, or of steel.
fn modulus(what: &'static str, words: Option<&Text>, notes: &mut Notes) -> Stress {
    let Some(words) = words else {
        notes.assume(what, "steel", "not stated");
        return MaterialGroup::Steel.modulus().0;
    };
    let Some(material) = material(words) else {
        notes.assume(what, "steel", format!("no table here has \"{words}\""));
        return MaterialGroup::Steel.modulus().0;
    };
    let (modulus, source) = material.group.modulus();
    notes.source(source);
    modulus
}

fn head_shape(form: Option<HeadForm>) -> HeadShape {
    match form {
        Some(
            HeadForm::SocketCap
            | HeadForm::Button
            | HeadForm::ButtonFlange
            | HeadForm::Countersunk
            | HeadForm::HexalobularCap
            | HeadForm::HexalobularPan
            | HeadForm::CrossPan,
        ) => HeadShape::Cylindrical,
        _ => HeadShape::Hexagon,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn threads_of_iso_4014() {
        let mm = Length::from_millimeters;
        assert_eq!(shank_length(mm(60.0), mm(10.0)), mm(34.0));
        assert_eq!(shank_length(mm(150.0), mm(16.0)), mm(106.0));
        assert_eq!(shank_length(mm(20.0), mm(10.0)), mm(0.0));
    }
}
