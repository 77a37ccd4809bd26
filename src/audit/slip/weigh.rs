//! How probable it is that a number is wrong, and what it was meant to be.
//!
//! `P(meant v | seen x) ∝ P(slip turns v into x) · P(v is a tightening value here)`, with the number being right as
//! one of the candidates. The second factor is the expectation (series, comparable records, class), the habits of
//! rounding, and how well the other printed unit agrees.

use super::chances;
use super::entry::{Figures, Value};
use super::expect::Expectation;
use super::grain::Grain;
use super::kind::Slip;
use super::printed::Agreement;
use super::suspect::{Suspect, suspects};
use super::twins::Twin;
use super::unit_habit::UnitHabit;
use super::verdict::{Scale, Verdict};
use crate::units::{Number, TorqueUnit, Unit};

/// All evidence about one value.
#[derive(Debug, Clone)]
pub struct Evidence<'e> {
    /// The value as stated.
    pub stated: Value,
    /// The same value as the source prints it, in other units or in the same.
    pub printed: &'e [Value],
    /// What is expected of ln(torque in newton-metres); nothing where nothing can be said.
    pub torque: Option<&'e Expectation>,
    /// What is expected of the width of the range.
    pub width: Option<&'e Expectation>,
    /// How the numbers around it are rounded.
    pub grain: Grain,
    /// Which units the values around it are stated in.
    pub units: UnitHabit,
    /// How the two units of the document agree.
    pub agreement: Agreement,
    /// Other values that may have been taken for this one, with the chance that such a slip takes this one.
    pub takeable: &'e [Suspect],
    /// What is known where the value is that of the other pitch of its diameter.
    pub twin: Option<Twin>,
    /// How probable it is that its column is no table but a set of assorted joints.
    pub assorted: f64,
    /// The distinct values that copies of the same column have at this place.
    pub copies: &'e [Value],
    /// Does a torque of an earlier stage come before it?
    pub follows_torque: bool,
    /// Values that others have at this place, and that may have been meant.
    pub elsewhere: &'e [Value],
}

/// A slip of the digits comes before the conversion as often as this: both units repeat it.
const BEFORE_CONVERSION: f64 = 0.25;
/// Who reads the wrong row reads both units of it as often as this.
pub(super) const WHOLE_ROW: f64 = 0.5;
/// Below this share of the highest density the number is looked at more closely.
const CLOSE_LOOK: f64 = 0.1;

/// Weighs the evidence.
#[must_use]
pub fn weigh(evidence: &Evidence<'_>) -> Verdict {
    if evidence.torque.is_none() && evidence.printed.is_empty() {
        return Verdict::default();
    }
    let mut scale = Scale::of((1.0 - chances::WRONG) * evidence.right());
    let twin = evidence.twin.as_ref();
    for suspect in suspects(evidence.stated) {
        scale.add(&suspect, chances::WRONG * suspect.chance * evidence.meant(suspect.value));
    }
    let (likely, others) = evidence.likely_values();
    let taken = evidence.takeable.iter().filter(|other| other.value.equals(evidence.stated));
    let unexplained = Suspect { value: evidence.stated, slip: Slip::Unexplained, chance: chances::UNEXPLAINED };
    for (other, is_taken) in taken.map(|other| (other, true)).chain(std::iter::once((&unexplained, false))) {
        let twin = twin.filter(|_| other.slip == Slip::OtherPitch);
        let runs_on = twin.map_or(1.0, |twin| twin.ratio);
        let other_wrong = twin.map_or(0.0, |twin| twin.other_wrong);
        for (value, share) in &likely {
            let landing = if is_taken { 1.0 } else { evidence.landing(*value) };
            let before = if is_taken { WHOLE_ROW } else { BEFORE_CONVERSION };
            let weight = chances::WRONG * other.chance * runs_on * share * landing * evidence.support(*value, before);
            scale.add(&Suspect { value: *value, ..*other }, weight);
            // One of the two took the other's value: as the one is wrong, so the other is right.
            scale.add_right(weight * other_wrong);
        }
        // A value with odd figures would have its own second unit and copies: where those are known, it is named.
        if evidence.printed.is_empty() && evidence.copies.is_empty() {
            let landing = if is_taken { 1.0 } else { evidence.landing_anywhere() };
            scale.add_unnamed(chances::WRONG * other.chance * others * landing);
        }
    }
    for (suspect, weight) in evidence.printed_suspects() {
        scale.add_printed(&suspect, weight);
    }
    if let Some((degrees, chance)) = evidence.turn() {
        scale.add_turn(degrees, chances::WRONG * chance * evidence.printed_with(evidence.stated));
    }
    scale.verdict()
}

impl Evidence<'_> {
    /// Nothing about it asks for a closer look: it lies where it is expected, and the printed units agree. What may
    /// have been taken for it need not be known for that.
    #[must_use]
    pub fn is_unsuspicious(&self) -> bool {
        let usual = |expectation: Option<&Expectation>, at: Option<f64>| match (expectation, at) {
            (Some(expectation), Some(at)) => expectation.density(at) > CLOSE_LOOK * expectation.peak(),
            _ => true,
        };
        usual(self.torque, self.stated.ln_newton_meters())
            && usual(self.width, self.stated.figures.width())
            && self.stated.figures.width().is_none_or(|width| width >= 0.0)
            && self.printed.iter().all(|second| self.agreement.likelihood(self.stated, *second) > 1.0)
            && self.copies.iter().all(|copy| copy.equals(self.stated))
            && self.twin.as_ref().is_none_or(|twin| twin.ratio <= 1.0)
            // Without an expectation another unit than the usual one has nothing to be measured by.
            && (self.torque.is_none() || self.units.is_usual(self.stated.unit))
    }

    /// How probable the value is as a tightening value here, without the printed units.
    pub(super) fn plausible(&self, value: Value) -> f64 {
        let Some(at) = value.ln_newton_meters() else { return 0.0 };
        /// Torques of fasteners spread over about eight units of the natural logarithm.
        const ANYWHERE: f64 = 1.0 / 8.0;
        let torque = self.torque.map_or(ANYWHERE, |expectation| expectation.density(at));
        let width = match (self.width, value.figures.width()) {
            (_, Some(width)) if width < 0.0 => 1e-6,
            (Some(expectation), Some(width)) => expectation.density(width),
            _ => 1.0,
        };
        torque * width * self.rounded(value.figures) * self.units.share(value)
    }

    fn rounded(&self, figures: Figures) -> f64 {
        figures.numbers().map(|number| self.grain.mass(number)).product()
    }

    /// How probable the other printed units are where they belong to `value`.
    fn printed_with(&self, value: Value) -> f64 {
        self.printed.iter().map(|second| self.agreement.likelihood(value, *second)).product()
    }

    /// How probable it is that the other printed units and the copies stand as they do where `value` was meant and
    /// the stated value is wrong. A share of slips comes before the conversion, so that both units repeat it.
    pub(super) fn support(&self, value: Value, before: f64) -> f64 {
        let printed = (1.0 - before) * self.printed_with(value) + before * self.printed_with(self.stated);
        printed * self.copied(value)
    }

    fn copied(&self, value: Value) -> f64 {
        self.copies.iter().map(|copy| self.copied_as(value, *copy)).product()
    }

    /// How probable it is that a copy of the column has this figure where `value` was meant.
    fn copied_as(&self, value: Value, copy: Value) -> f64 {
        /// A copy repeats the slip of its ancestor as often as not.
        const INHERITED: f64 = 0.5;
        if copy.equals(value) {
            return 1.0 - chances::WRONG;
        }
        if copy.equals(self.stated) {
            return INHERITED;
        }
        // What may be taken for this value here may have been taken for it there.
        let taken = self.takeable.iter().filter(|other| other.value.equals(copy)).map(|other| other.chance);
        let slips = suspects(copy).into_iter().filter(|slip| slip.value.equals(value)).map(|slip| slip.chance);
        let known: f64 = slips.chain(taken).sum();
        let landing = self.landing_between(value, copy) * self.rounded(copy.figures);
        chances::WRONG * (known + chances::UNEXPLAINED * landing)
    }

    /// The weight of the stated value being right, with the printed figures right too.
    fn right(&self) -> f64 {
        (self.plausible(self.stated) + self.rightly_equal()) * self.support(self.stated, 0.0)
    }

    /// How probable it is that the value is rightly the same as another that it may have been taken from: some tables give
    /// the coarse and the fine thread one figure on purpose, and assorted joints have one figure for many bolts.
    fn rightly_equal(&self) -> f64 {
        let (Some(at), Some(bell)) = (self.stated.ln_newton_meters(), self.torque.and_then(Expectation::main)) else {
            return 0.0;
        };
        /// In a table within about this much of what is expected.
        const WITHIN: f64 = 0.1;
        let near = |within: f64| (-((at - bell.mean) / within).powi(2) / 2.0).exp();
        let in_table = self.twin.as_ref().map_or(0.0, |twin| twin.rate * near(WITHIN));
        let is_anothers = || self.takeable.iter().any(|other| other.value.equals(self.stated));
        let assorted = if self.assorted > 0.0 && is_anothers() {
            self.assorted * chances::EQUAL_ASSORTED * near(bell.scale.max(WITHIN))
        } else {
            0.0
        };
        in_table + assorted
    }

    /// The weight of another value having been meant.
    fn meant(&self, value: Value) -> f64 {
        self.plausible(value) * self.support(value, BEFORE_CONVERSION)
    }

    /// How probable it is that an unexplained slip lands on the stated value: near by, or anywhere.
    fn landing(&self, from: Value) -> f64 {
        self.landing_between(from, self.stated) * self.rounded(self.stated.figures) * self.units.share(self.stated)
    }

    /// The angle that may have been typed as this torque, with the chance of that.
    fn turn(&self) -> Option<(Number, f64)> {
        let Figures::One(number) = self.stated.figures else { return None };
        let usual = chances::TURNS.iter().find(|(degrees, _)| *degrees == number.value())?;
        self.follows_torque.then_some((number, chances::ANGLE * usual.1))
    }

    /// What the figures in other units may have been meant to be where the stated value is right.
    fn printed_suspects(&self) -> Vec<(Suspect, f64)> {
        let mut found = Vec::new();
        let stated = (1.0 - chances::WRONG) * self.plausible(self.stated);
        for (i, second) in self.printed.iter().enumerate() {
            if self.agreement.likelihood(self.stated, *second) > 1.0 {
                continue;
            }
            let others: f64 = self
                .printed
                .iter()
                .enumerate()
                .filter(|(j, _)| *j != i)
                .map(|(_, other)| self.agreement.likelihood(self.stated, *other))
                .product();
            let base = stated * others * chances::WRONG;
            // Per unit of the logarithm, as the agreement is: the seen figure stands for its own share of it.
            let seen = self.rounded(second.figures).max(1e-6);
            for suspect in suspects(*second) {
                let fits = self.agreement.likelihood(self.stated, suspect.value) * self.rounded(suspect.value.figures);
                found.push((suspect, base * suspect.chance * fits / seen));
            }
            let right = (2..=4).find_map(|figures| converted(self.stated, second.unit, figures));
            if let Some(value) = right {
                let suspect = Suspect { value, slip: Slip::Unexplained, chance: chances::UNEXPLAINED };
                let near = self.landing_between(value, *second);
                found.push((suspect, base * chances::UNEXPLAINED * near));
            }
        }
        found
    }

    /// How probable it is that an unexplained slip of an odd value near the middle lands on the stated value.
    fn landing_anywhere(&self) -> f64 {
        let (Some(bell), Some(seen)) = (self.torque.and_then(Expectation::main), self.stated.ln_newton_meters()) else {
            return 0.0;
        };
        landing_at(seen - bell.mean) * self.rounded(self.stated.figures) * self.unit_share(self.stated.unit)
    }

    /// How probable a unit is here.
    pub(super) fn unit_share(&self, unit: TorqueUnit) -> f64 {
        self.units.share(Value { unit, ..self.stated })
    }

    fn landing_between(&self, from: Value, to: Value) -> f64 {
        let (Some(a), Some(b)) = (from.ln_newton_meters(), to.ln_newton_meters()) else { return 0.0 };
        landing_at(a - b)
    }
}

/// How probable it is that an unexplained slip goes this far, per unit of the logarithm: near by, or anywhere.
fn landing_at(distance: f64) -> f64 {
    const NEAR: f64 = 0.2;
    const ANYWHERE: f64 = 6.0;
    0.5 / (2.0 * NEAR) * (-distance.abs() / NEAR).exp() + 0.5 / ANYWHERE
}

/// The value in another unit, rounded to so many figures.
pub(super) fn converted(value: Value, unit: TorqueUnit, figures: u8) -> Option<Value> {
    let factor = value.unit.in_base() / unit.in_base();
    let figures = value.figures.map(|number| {
        let number = Number::from_f64(number.value() * factor, figures);
        (number.value() > 0.0).then_some(number)
    });
    Some(Value { figures: figures?, unit })
}
