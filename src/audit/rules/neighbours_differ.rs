use crate::audit::finding::Finding;
use crate::audit::plan::{self, TorqueStage};
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Fastener;
use crate::units::Angle;

rule! {
    /// A fastener tightened otherwise than its neighbour of the same thread, class and role.
    ///
    /// # Why it matters
    /// The bolts of one joint share the load: with the same thread and class they are tightened alike, whatever their
    /// length. Where they are not, one of the values is mostly the wrong one: of the row below, of the other head, or
    /// misheard. The one that stands alone against others that agree is told, or of two the one that the strength of its
    /// class, its source or other records speak against. It is a `note` where nothing says which of two is wrong, where
    /// neither a class nor a place is stated, so that they may be rows of any strength, where head, lubrication, locking or
    /// the part differ and may be the reason, and for less than one and a half times the torque.
    ///
    /// # Flagged
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["13 N·m"] }, { "property_class": "8.8", "stages": ["13 N·m"] },
    ///   { "property_class": "8.8", "stages": ["30 N·m"] } ]
    /// ```
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["10 N·m + 90°"], "reuse": { "rule": "renew" } },
    ///   { "property_class": "8.8", "stages": ["10 N·m + 60°"], "reuse": { "rule": "renew" } } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["20 N·m"] }, { "property_class": "8.8", "stages": ["hand", "20 N·m"] } ]
    /// ```
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["13 N·m"] }, { "property_class": "10.9", "stages": ["30 N·m"] } ]
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "neighbours-differ", Fastener(check)
}

/// From this ratio on the difference is too large for another head or another length.
const APART: f64 = 1.5;
/// Up to this ratio two torques are the same, rounded in different units.
const SAME: f64 = 1.035;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(own) = End::of(case.fastener) else { return Vec::new() };
    let others: Vec<(&Fastener, End)> =
        case.alike_in_joint().filter_map(|other| Some((other, End::of(other)?))).collect();
    let (same, different): (Vec<_>, Vec<_>) = others.into_iter().partition(|(_, end)| end.is(&own));
    // The one that stands alone is told, not the many that agree.
    if different.is_empty() || same.len() >= different.len() && !same.is_empty() {
        return Vec::new();
    }
    let agreeing = different.iter().filter(|(_, end)| end.is(&different[0].1)).count();
    let (other, end) = different[0];
    let message = format!(
        "{} here, but {} at {}, with the same thread, class and role",
        own.words(),
        end.words(),
        other.id.last()
    );
    let far = own.ratio(&end) >= APART || own.turned != end.turned;
    let stands_alone = agreeing > 1 && same.is_empty();
    let doubted = doubt_of(case, case.fastener) > doubt_of(case, other) + DOUBT_STEP;
    let finding = if far && (stands_alone || doubted) && is_alike(case.fastener, other) {
        Finding::warning(own.stage.field(), message)
    } else {
        Finding::note(own.stage.field(), message)
    };
    let values: Vec<String> = different.iter().map(|(_, end)| end.words()).collect();
    let finding = finding.found(own.words()).because_of("neighbour", &other.id, "the same joint");
    vec![finding.one_of(deduplicated(values))]
}

/// How much more probable it must be that this one is wrong than that the other is.
const DOUBT_STEP: f64 = 0.2;

/// How probable it is that one of the torques of a fastener is wrong, as the slip model weighs it.
fn doubt_of(case: &FastenerCase<'_>, fastener: &Fastener) -> f64 {
    let torques = case.book.torques().of_fastener(fastener.id.as_str());
    torques.filter_map(|torque| torque.judged).map(|judged| judged.verdict.wrong).fold(0.0, f64::max)
}

/// What a fastener is tightened to in the end.
#[derive(Clone, Copy)]
struct End {
    stage: TorqueStage,
    turned: Angle,
}

impl End {
    fn of(fastener: &Fastener) -> Option<Self> {
        let stage = plan::torques(fastener).pop()?;
        Some(Self { stage, turned: stage.turned })
    }

    fn is(&self, other: &Self) -> bool {
        self.ratio(other) <= SAME && self.turned == other.turned
    }

    fn ratio(&self, other: &Self) -> f64 {
        let ratio = self.stage.middle() / other.stage.middle();
        if ratio < 1.0 { 1.0 / ratio } else { ratio }
    }

    fn words(&self) -> String {
        let torque = self.stage.torque;
        if self.turned.degrees() > 0.0 { format!("{torque} + {:.0}°", self.turned.degrees()) } else { torque.to_string() }
    }
}

/// Whether nothing that is stated explains a difference, and enough is stated.
fn is_alike(one: &Fastener, other: &Fastener) -> bool {
    let is_known = one.property_class.is_some() || one.positions.is_some() || one.count.is_some();
    let part = |fastener: &Fastener| {
        let into = fastener.into.as_ref().and_then(|into| into.material.clone());
        let seat = fastener.seat.as_ref().and_then(|seat| seat.material.clone());
        (into, seat, fastener.lubrication.clone(), fastener.finish.clone())
    };
    is_known
        && one.head == other.head
        && one.locking == other.locking
        && one.friction == other.friction
        && one.fits == other.fits
        && part(one) == part(other)
}

fn deduplicated(mut values: Vec<String>) -> Vec<String> {
    let mut seen = std::collections::HashSet::new();
    values.retain(|value| seen.insert(value.clone()));
    values
}
