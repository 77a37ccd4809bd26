//! The bench card: one joint on one page, as data for every renderer.
//!
//! [`Card`] is what the card says; [`html()`] and [`plain_text()`] say it on paper and in a terminal, and serde as JSON.
//! The card repeats records. It picks no variant, adds no value of its own, and says what is not stated.

mod build;
mod cautions;
mod html;
mod standing;
mod text;
mod way_text;

pub use build::bench_card;
pub use html::{WaySheet, html};
pub use text::plain_text;

use super::amount::Amount;
use super::kit::KitWrench;
use super::turns::LARGEST_STEP_DEGREES;
use super::wrenches::WrenchRange;
use crate::audit::{Finding, Severity};
use crate::record::{CheckItem, Drive, Fastener, Fits, Head, Id, Joint, RenewItem, Source, Text};
use crate::units::Angle;
use serde::Serialize;

/// A record with the number of the revision it is.
#[derive(Debug)]
pub struct Numbered<'r, R> {
    /// The record.
    pub record: &'r R,
    /// Its revision; none for a record that is not stored.
    pub revision: Option<u64>,
    /// Whether it has been withdrawn.
    pub is_withdrawn: bool,
}

impl<R> Clone for Numbered<'_, R> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<R> Copy for Numbered<'_, R> {}

impl<'r, R> Numbered<'r, R> {
    /// A record that is in force.
    #[must_use]
    pub fn new(record: &'r R, revision: Option<u64>) -> Self {
        Self { record, revision, is_withdrawn: false }
    }
}

/// What a card is made from.
#[derive(Debug, Clone)]
pub struct CardInput<'r> {
    /// The joint.
    pub joint: Numbered<'r, Joint>,
    /// Its fasteners.
    pub fasteners: Vec<Numbered<'r, Fastener>>,
    /// What the audit finds about them.
    pub findings: &'r [Finding],
    /// When the card is made, in words.
    pub printed_at: String,
    /// How it is made.
    pub options: CardOptions,
}

/// How a card is made.
#[derive(Debug, Clone, PartialEq)]
pub struct CardOptions {
    /// The variant of the machine; without one, every variant is shown with what tells it apart.
    pub variant: Option<String>,
    /// The torque wrenches at hand; none means the usual ones.
    pub wrenches: Vec<WrenchRange>,
    /// The largest step of a turn.
    pub largest_step: Angle,
    /// The moment that the card is about; absent means now.
    pub as_of: Option<jiff::Timestamp>,
}

impl Default for CardOptions {
    fn default() -> Self {
        let largest_step = Angle::from_degrees(LARGEST_STEP_DEGREES);
        Self { variant: None, wrenches: Vec::new(), largest_step, as_of: None }
    }
}

/// One joint on one page.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Card {
    /// The id of the joint.
    pub id: Id,
    /// Its revision.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revision: Option<u64>,
    /// What people call it.
    pub title: String,
    /// What people call the assembly.
    pub assembly_title: String,
    /// The machines it is for, where it is not for all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fits: Option<Fits>,
    /// The variant that the card was made for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variant: Option<String>,
    /// The moment that the card is about, where it is not the present; a caution says so too.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = DateTime)]
    pub as_of: Option<String>,
    /// Whether it was checked, and what the audit found.
    pub standing: Standing,
    /// Whose instructions come first.
    pub first_of_all: &'static str,
    /// What can hurt people or parts, the worst first.
    pub cautions: Vec<Caution>,
    /// The places where several kinds of fastener are said to sit.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub alternatives: Vec<Alternative>,
    /// What is to be done before the first stage.
    pub prepare: Vec<Text>,
    /// What may not go back.
    pub renew: Vec<RenewItem>,
    /// What is to be looked at.
    pub check: Vec<CheckItem>,
    /// Special tools.
    pub tools: Vec<Text>,
    /// The joints that must be opened first.
    pub behind: Vec<Id>,
    /// Work that is worth doing on the same occasion.
    pub together: Vec<Text>,
    /// The fasteners, each with a letter.
    pub fasteners: Vec<CardFastener>,
    /// What is done in each pass.
    pub passes: Vec<CardPass>,
    /// The order in which the joint is loosened.
    pub loosening: Vec<u32>,
    /// The torque wrenches that serve, with their settings.
    pub wrenches: Vec<KitWrench>,
    /// Torques that no wrench at hand serves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub unserved: Vec<String>,
    /// Where the values were read.
    pub sources: Vec<CardSource>,
    /// When the card was made.
    pub printed_at: String,
    /// The drawing; not part of the JSON, which has the joint's own address for it.
    #[serde(skip)]
    #[schema(ignore)]
    pub drawing: Option<String>,
}

impl Card {
    /// Whether some fastener is turned by an angle.
    #[must_use]
    pub fn has_turns(&self) -> bool {
        let cells = self.passes.iter().flat_map(|pass| &pass.cells);
        cells
            .flat_map(|cell| &cell.actions)
            .any(|action| matches!(action.what, ActionKind::Turn | ActionKind::BackOff) && action.amount.is_some())
    }
}

/// Whether records were checked, and what the audit found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[schema(as = CardStanding)]
pub struct Standing {
    /// Whether the joint and every fastener was compared with its source by somebody other than who entered it.
    pub is_checked: bool,
    /// The records that were not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub unchecked: Vec<Id>,
    /// Errors that nobody has accepted.
    pub errors: usize,
    /// Warnings that nobody has accepted.
    pub warnings: usize,
    /// Notes that nobody has accepted.
    pub notes: usize,
    /// The same in words.
    pub words: String,
}

/// Something that can hurt people or parts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Caution {
    /// Where it comes from.
    pub from: CautionFrom,
    /// The letter of the fastener that it is about, if it is about one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// What it says.
    pub text: String,
}

/// Where a caution comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CautionFrom {
    /// The records say so.
    Record,
    /// Several kinds of fastener can be mistaken for each other.
    Lookalike,
    /// The audit found it.
    Audit,
    /// Something is not stated, or not checked.
    Gap,
}

/// Places where several kinds of fastener are said to sit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Alternative {
    /// The positions.
    pub positions: Vec<u32>,
    /// The letters of the fasteners.
    pub letters: Vec<String>,
    /// Whether one of them is said to be for some machines only, so that it is one or the other.
    pub depends_on_machine: bool,
    /// What tells them apart.
    pub told_apart: String,
}

/// One kind of fastener on a card.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct CardFastener {
    /// The letter that stands for it on the card.
    pub letter: String,
    /// Its id.
    pub id: Id,
    /// Its revision.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revision: Option<u64>,
    /// What people call it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<Text>,
    /// Head and drive in words.
    pub head_words: String,
    /// The kind of head.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub head: Option<Head>,
    /// The drive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drive: Option<Drive>,
    /// Thread, length and class in words.
    pub size: String,
    /// Where it sits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub positions: Option<String>,
    /// How many there are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// Whether it may go back, in words.
    pub reuse: String,
    /// Whether it must be renewed in any case.
    pub is_renewed: bool,
    /// What is on thread and head, in words.
    pub lubrication: String,
    /// How it is kept from coming loose, where that is stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub locking: Option<String>,
    /// Whether its thread is left-hand.
    pub is_left_hand: bool,
    /// The machines it is for, where it is not for all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fits: Option<String>,
    /// Its part number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_no: Option<Text>,
    /// Anything else worth knowing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
    /// Whether it was compared with its source by somebody other than who entered it.
    pub is_checked: bool,
    /// The worst that the audit says about it, accepted findings left out; absent when nothing was found, which does not mean
    /// that all is right.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worst: Option<Severity>,
    /// How many findings that is.
    pub findings: usize,
    /// Where its values were read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

/// A pass on a card.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct CardPass {
    /// Its number, from 1.
    pub number: u32,
    /// How the order was made, in words.
    pub order: &'static str,
    /// What is done to each kind of fastener.
    pub cells: Vec<CardCell>,
    /// One box to tick for each position, in order.
    pub boxes: Vec<CardBox>,
    /// Positions that have a stage in this pass but are left out of its order: not touched.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub left_out: Vec<u32>,
}

/// What is done to one kind of fastener in a pass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct CardCell {
    /// The letter of the fastener.
    pub letter: String,
    /// What is done, in order.
    pub actions: Vec<Action>,
}

/// One thing done to a fastener.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Action {
    /// What is done.
    pub what: ActionKind,
    /// How far, where there is a value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    /// A turn in steps that the wrench can swing, with the same sum; empty if one step does it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub steps: Vec<String>,
}

/// What is done to a fastener.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ActionKind {
    /// By hand until seated.
    Hand,
    /// Tighten to a torque.
    Torque,
    /// Turn further by an angle.
    Turn,
    /// Loosen by an angle, or fully.
    BackOff,
    /// The torque must have reached this.
    Check,
}

impl ActionKind {
    /// The kind of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let all = [Self::Hand, Self::Torque, Self::Turn, Self::BackOff, Self::Check];
        all.into_iter().find(|kind| kind.name() == name)
    }

    fn name(self) -> &'static str {
        match self {
            Self::Hand => "hand",
            Self::Torque => "torque",
            Self::Turn => "turn",
            Self::BackOff => "back-off",
            Self::Check => "check",
        }
    }

    /// It with an amount, which is empty where there is none: `by hand`, `20 N·m`, `+ 90°`, `back off 180°`.
    #[must_use]
    pub fn words(self, amount: &str) -> String {
        match self {
            Self::Hand => "by hand".to_owned(),
            Self::Torque => amount.to_owned(),
            Self::Turn => format!("+ {amount}"),
            Self::BackOff if amount.is_empty() => "back off fully".to_owned(),
            Self::BackOff => format!("back off {amount}"),
            Self::Check => format!("check ≥ {amount}"),
        }
    }
}

impl Action {
    /// The action as it stands in a cell: `by hand`, `20 N·m`, `+ 90°`, `back off 180°`, `check ≥ 60 N·m`.
    #[must_use]
    pub fn words(&self) -> String {
        self.what.words(self.amount.as_ref().map_or("", |amount| amount.stated.as_str()))
    }

    /// What stands small beside it: the converted value, or the steps of a turn.
    #[must_use]
    pub fn aside(&self) -> Option<String> {
        if !self.steps.is_empty() {
            return Some(format!("as {}", self.steps.join(" + ")));
        }
        let converted = self.amount.as_ref()?.converted.as_ref()?;
        Some(format!("≈ {converted} converted"))
    }
}

/// A box to tick.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct CardBox {
    /// The position; absent where the record states none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position: Option<u32>,
    /// The letter of the fastener.
    pub letter: String,
}

/// Where values on a card were read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct CardSource {
    /// Document, edition and page in words.
    pub source: String,
    /// What was read there: the letters of the fasteners, or `joint`.
    pub about: Vec<String>,
}

#[cfg(test)]
mod tests;
