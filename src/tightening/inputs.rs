//! From words to numbers: what the tables say about a request, and what had to be assumed.

use super::answer::Assumed;
use super::request::{TighteningRequest, TorsionForm, WasherSeries};
use crate::mechanics::{
    BearingFace, Friction, FrictionRange, HeadBearing, OutOfRange, ThreadForm, TorquedBolt, Torsion, scatter, stress,
    torque,
};
use crate::record::{self, DriveType, Head};
use crate::standards::{
    Elongation, HeadForm, HeadSize, NoStrength, Strength, Washer, friction_for, head, holes, strength, washers,
};
use crate::thread::{System, Thread};
use crate::units::{Angle, Length};

/// Why a request has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoTightening {
    /// Nothing is known about the thread's size.
    #[error("the size of {0} is not known, so nothing can be computed for it")]
    NoGeometry(Thread),
    /// The class has no strengths.
    #[error(transparent)]
    NoStrength(#[from] NoStrength),
    /// A number is beyond what the formulas are for.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
}

impl NoTightening {
    /// The field of the request that is at fault, as a JSON pointer; `""` where it is not one field alone.
    #[must_use]
    pub fn pointer(&self) -> &'static str {
        match self {
            Self::NoGeometry(_) => "/thread",
            Self::NoStrength(_) => "/property_class",
            Self::OutOfRange(_) => "",
        }
    }
}

/// What was assumed and what was looked up, collected on the way.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Notes {
    /// What was assumed.
    pub assumed: Vec<Assumed>,
    /// Tables and formulas that were used, each once.
    pub sources: Vec<String>,
}

impl Notes {
    pub(super) fn assume(&mut self, what: &'static str, value: impl Into<String>, why: impl Into<String>) {
        self.assumed.push(Assumed { what, value: value.into(), why: why.into() });
    }

    pub(super) fn source(&mut self, source: impl ToString) {
        let source = source.to_string();
        if !self.sources.contains(&source) {
            self.sources.push(source);
        }
    }
}

/// A bolt as the mechanics takes it, with everything that was looked up for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Inputs {
    /// The bolt at the middle of its friction.
    pub bolt: TorquedBolt,
    /// Its friction.
    pub friction: FrictionRange,
    /// Its strength.
    pub strength: Strength,
    /// The face that presses on the part; `None` under a countersunk head.
    pub face: Option<BearingFace>,
    /// Outer diameter of the bearing face.
    pub bearing_diameter: Length,
    /// The hole in the part under the head.
    pub hole: Length,
    /// The head in the tables, if it is there.
    pub head: Option<HeadSize>,
    /// What was assumed and looked up.
    pub notes: Notes,
}

impl Inputs {
    /// Looks up what a request needs.
    ///
    /// # Errors
    /// If the thread has no known size, the class no strength, or a number is beyond its range.
    pub fn of(request: &TighteningRequest) -> Result<Self, NoTightening> {
        let thread = &request.thread;
        let geometry = thread.geometry().ok_or_else(|| NoTightening::NoGeometry(thread.clone()))?;
        let form = ThreadForm::try_from(&geometry)?;
        let mut notes = Notes::default();
        notes.source(torque::SOURCE);
        notes.source(stress::SOURCE);
        notes.source(scatter::SOURCE);
        let strength = strength_of(request, form.major(), &mut notes)?;
        let friction = friction_of(request, &mut notes)?;
        let under_head = UnderHead::of(request, thread, form.major(), &mut notes)?;
        let mut bolt = TorquedBolt::new(form, under_head.bearing, friction.middle());
        if let Some(prevailing) = request.prevailing_torque {
            bolt = bolt.with_prevailing_torque(prevailing.quantity())?;
        }
        if request.torsion == Some(TorsionForm::Elastic) {
            bolt = bolt.with_torsion(Torsion::Elastic);
        }
        Ok(Self {
            bolt,
            friction,
            strength,
            face: under_head.face,
            bearing_diameter: under_head.outer,
            hole: under_head.hole,
            head: under_head.head,
            notes,
        })
    }
}

/// The strength of the class in this size, or in the nearest size that the standard has.
fn strength_of(request: &TighteningRequest, diameter: Length, notes: &mut Notes) -> Result<Strength, NoTightening> {
    let found = match strength(&request.property_class, diameter) {
        Ok(found) => found,
        Err(reason) => {
            let nearest = *reason.as_if().ok_or_else(|| reason.clone())?;
            notes.assume("strength", format!("that of {}", nearest.sizes), reason.to_string());
            nearest
        }
    };
    notes.source(found.source);
    Ok(found)
}

/// Elongation after fracture as a strain. Stainless classes state it as an extension of the whole bolt: it is spread
/// over two diameters of thread.
pub(super) fn elongation(strength: &Strength, notes: &mut Notes) -> f64 {
    const THREAD_LENGTH: f64 = 2.0;
    const UNKNOWN: f64 = 0.08;
    match strength.elongation {
        Some(Elongation::TestPiece(strain) | Elongation::FullSize(strain)) => strain,
        Some(Elongation::Diameters(multiple)) => {
            let strain = multiple / THREAD_LENGTH;
            let why = format!("the standard states an extension of {multiple} d; taken over 2 d of thread");
            notes.assume("elongation after fracture", format!("{:.0} %", strain * 100.0), why);
            strain
        }
        None => {
            notes.assume("elongation after fracture", "8 %", "the standard states none; that of class 12.9");
            UNKNOWN
        }
    }
}

/// Friction in thread and under the head: stated, or from finish and lubrication.
fn friction_of(request: &TighteningRequest, notes: &mut Notes) -> Result<FrictionRange, OutOfRange> {
    let thread = request.friction_thread.or(request.friction);
    let head = request.friction_head.or(request.friction);
    let ends = |friction: record::Friction| (friction.low(), friction.high());
    let (thread, head) = match (thread, head) {
        (Some(thread), Some(head)) => (ends(thread), ends(head)),
        _ => {
            let finish = request.finish.as_deref();
            let estimate = friction_for(finish, request.lubrication.as_deref());
            let value = format!("{:.2}-{:.2}", estimate.low, estimate.high);
            notes.assume("friction", value, estimate.because);
            notes.source(estimate.source);
            let estimated = (estimate.low, estimate.high);
            (thread.map_or(estimated, ends), head.map_or(estimated, ends))
        }
    };
    FrictionRange::new(Friction::new(thread.0, head.0)?, Friction::new(thread.1, head.1)?)
}

/// What lies under the head.
struct UnderHead {
    bearing: HeadBearing,
    face: Option<BearingFace>,
    outer: Length,
    hole: Length,
    head: Option<HeadSize>,
}

/// Bearing diameter over d where no table has the head: about that of a hexagon.
const BEARING_OVER_D: f64 = 1.5;
/// Hole over d where no table has one.
const HOLE_OVER_D: f64 = 1.1;
/// Angle of countersunk heads: ISO 10642, and ASME B18.3 for inch threads.
const COUNTERSINK: (f64, f64) = (90.0, 82.0);

impl UnderHead {
    fn of(
        request: &TighteningRequest,
        thread: &Thread,
        diameter: Length,
        notes: &mut Notes,
    ) -> Result<Self, OutOfRange> {
        let form = head_form(request, notes);
        let head = head(form, diameter);
        let outer = bearing_diameter(head.as_ref(), form, diameter, notes);
        let hole = hole(request, diameter, notes);
        if form == HeadForm::Countersunk {
            let is_unified = thread.system() == Some(System::Unified);
            let cone = if is_unified { COUNTERSINK.1 } else { COUNTERSINK.0 };
            let bearing = HeadBearing::cone(outer, hole, Angle::from_degrees(cone))?;
            return Ok(Self { bearing, face: None, outer, hole, head });
        }
        let washer = washer(request, diameter, notes);
        let rubs_on = washer.as_ref().map_or(hole, |washer| washer.hole);
        let face = match &washer {
            Some(washer) => {
                let hole = if washer.hole > hole { washer.hole } else { hole };
                BearingFace::under_washer(outer, washer.outside, washer.thickness, hole)?
            }
            None => BearingFace::new(outer, hole)?,
        };
        Ok(Self { bearing: HeadBearing::flat(outer, rubs_on)?, face: Some(face), outer, hole, head })
    }
}

/// The form of head in the tables, from the head or else the drive.
fn head_form(request: &TighteningRequest, notes: &mut Notes) -> HeadForm {
    let drive = request.drive.as_ref().map(|drive| drive.kind);
    let hexalobular = drive == Some(DriveType::HexalobularSocket);
    if let Some(head) = request.head {
        let (form, stands_in) = match head {
            Head::Hexagon => (HeadForm::Hexagon, false),
            Head::HexagonFlange => (HeadForm::HexagonFlange, false),
            Head::SocketCap if hexalobular => (HeadForm::HexalobularCap, false),
            Head::SocketCap => (HeadForm::SocketCap, false),
            Head::Button => (HeadForm::Button, false),
            Head::Countersunk => (HeadForm::Countersunk, false),
            Head::Pan if hexalobular => (HeadForm::HexalobularPan, false),
            Head::Pan => (HeadForm::CrossPan, false),
            Head::HexagonNut => (HeadForm::HexagonNut, false),
            Head::FlangeNut => (HeadForm::FlangeNut, false),
            Head::Cheese => (HeadForm::SocketCap, true),
            Head::TwelvePointFlange | Head::ExternalHexalobularFlange => (HeadForm::HexagonFlange, true),
            Head::Square | Head::Round => (HeadForm::Hexagon, true),
            Head::None => (HeadForm::HexagonNut, true),
        };
        if stands_in {
            let why = format!("no table here has the bearing face of the head \"{head}\"");
            notes.assume("bearing face", form_name(form), why);
        }
        return form;
    }
    let form = match drive {
        Some(DriveType::HexagonSocket) => HeadForm::SocketCap,
        Some(DriveType::HexalobularSocket) => HeadForm::HexalobularCap,
        Some(DriveType::ExternalHexalobular | DriveType::TwelvePoint) => HeadForm::HexagonFlange,
        Some(DriveType::CrossRecess | DriveType::Slot) => HeadForm::CrossPan,
        Some(DriveType::Hexagon | DriveType::Square | DriveType::None) | None => HeadForm::Hexagon,
    };
    let why =
        drive.map_or_else(|| "neither head nor drive stated".to_owned(), |drive| format!("from the drive, {drive}"));
    notes.assume("head", form_name(form), why);
    form
}

fn form_name(form: HeadForm) -> String {
    serde_json::to_value(form).ok().and_then(|value| value.as_str().map(str::to_owned)).unwrap_or_default()
}

/// The outer diameter of the face that the head bears on.
fn bearing_diameter(head: Option<&HeadSize>, form: HeadForm, diameter: Length, notes: &mut Notes) -> Length {
    if let Some((head, bearing)) = head.and_then(|head| Some((head, head.bearing_or_head_diameter()?))) {
        notes.source(head.source);
        return bearing;
    }
    let bearing = diameter * BEARING_OVER_D;
    let why = format!("no table here has the head \"{}\" in this size", form_name(form));
    notes.assume("bearing face", format!("1.5 d, {:.1} mm", bearing.millimeters()), why);
    bearing
}

/// The hole in the part under the head.
fn hole(request: &TighteningRequest, diameter: Length, notes: &mut Notes) -> Length {
    if let Some(stated) = request.seat.as_ref().and_then(|seat| seat.hole) {
        return stated.quantity();
    }
    let (hole, value, why) = match holes(diameter) {
        Some(holes) => {
            notes.source(holes.source);
            (holes.medium, "medium series", "hole not stated")
        }
        None => (diameter * HOLE_OVER_D, "1.1 d", "hole not stated, and no table here has this size"),
    };
    notes.assume("hole", format!("{value}, {:.1} mm", hole.millimeters()), why);
    hole
}

/// The washer under the head, where one was stated.
fn washer(request: &TighteningRequest, diameter: Length, notes: &mut Notes) -> Option<Washer> {
    let place = match request.washer? {
        WasherSeries::None => return None,
        WasherSeries::Normal => 0,
        WasherSeries::Large => 1,
    };
    let washer = washers(diameter).into_iter().nth(place);
    match &washer {
        Some(washer) => notes.source(washer.source),
        None => notes.assume("washer", "none", "no table here has this washer in this size"),
    }
    washer
}
