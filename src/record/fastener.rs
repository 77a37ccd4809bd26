//! A fastener: one kind of fastener in a joint, at one or more positions.

use super::common::{Accepted, Fits, Source};
use super::fault::{Fault, Place};
use super::field::{fields, text_fields};
use super::friction::Friction;
use super::id::Id;
use super::kind::FastenerKind;
use super::positions::Positions;
use super::stage::Stage;
use super::text::Text;
use super::words::{DriveType, Head, Locking, ReuseRule, Role};
use crate::standards::PropertyClass;
use crate::thread::{Hand, Thread, ThreadClass};
use crate::units::{LengthUnit, StatedLength};
use std::fmt;

fields! {
    /// One kind of fastener in a joint, at one or more positions.
    pub struct Fastener {
        /// Always `fastener`.
        pub kind: FastenerKind,
        /// The name of the fastener in the book; the joint's id is a prefix of it.
        pub id: Id,
        /// The joint that it closes.
        pub joint: Id,
        /// What people call it.
        pub name: Option<Text>,
        /// What kind of fastening it is; absent means an ordinary bolt.
        pub role: Option<Role>,
        /// Which machines it is for.
        pub fits: Option<Fits>,
        /// The positions of the joint where it sits.
        pub positions: Option<Positions>,
        /// How many there are.
        #[schema(minimum = 1, maximum = 9999)]
        pub count: Option<u32>,
        /// What its head looks like.
        pub head: Option<Head>,
        /// What the tool goes on.
        pub drive: Option<Drive>,
        /// Its thread.
        pub thread: Thread,
        /// The tolerance class of the thread.
        pub thread_class: Option<ThreadClass>,
        /// Which way it is screwed in; absent means right-hand, not stated.
        pub hand: Option<Hand>,
        /// Its nominal length.
        pub length: Option<StatedLength>,
        /// Its strength class.
        pub property_class: Option<PropertyClass>,
        /// The class of the nut on it, where there is one.
        pub nut_class: Option<PropertyClass>,
        /// Its surface.
        pub finish: Option<Text>,
        /// What is on the thread and under the head when it is tightened.
        pub lubrication: Option<Text>,
        /// The coefficient of friction, where the source states it.
        pub friction: Option<Friction>,
        /// The thickness of the clamped parts.
        pub grip: Option<StatedLength>,
        /// The part that lies under the head.
        pub seat: Option<Seat>,
        /// The part that the thread goes into.
        pub into: Option<Tapped>,
        /// What is done in each pass.
        #[schema(max_items = 400)]
        pub stages: Stages,
        /// Whether it may go back.
        pub reuse: Option<Reuse>,
        /// How it is kept from coming loose.
        pub locking: Option<Locking>,
        /// Its part number.
        pub part_no: Option<Text>,
        /// What can hurt people or parts.
        #[schema(required = false, max_items = 400)]
        pub cautions: Vec<Text>,
        /// Anything else worth knowing.
        pub note: Option<Text>,
        /// Where it was read.
        pub source: Option<Source>,
        /// Findings that were accepted.
        #[schema(required = false, max_items = 400)]
        pub accepted: Vec<Accepted>,
    }
}

impl Fastener {
    /// The fastener of which only the required fields are known.
    #[must_use]
    pub fn bare(id: Id, joint: Id, thread: Thread, stages: Vec<Stage>) -> Self {
        Self {
            kind: FastenerKind,
            id,
            joint,
            name: None,
            role: None,
            fits: None,
            positions: None,
            count: None,
            head: None,
            drive: None,
            thread,
            thread_class: None,
            hand: None,
            length: None,
            property_class: None,
            nut_class: None,
            finish: None,
            lubrication: None,
            friction: None,
            grip: None,
            seat: None,
            into: None,
            stages: Stages(stages),
            reuse: None,
            locking: None,
            part_no: None,
            cautions: Vec::new(),
            note: None,
            source: None,
            accepted: Vec::new(),
        }
    }

    /// What kind of fastening it is.
    #[must_use]
    pub fn role(&self) -> Role {
        self.role.unwrap_or(Role::Bolt)
    }

    /// Which way it is screwed in.
    #[must_use]
    pub fn hand(&self) -> Hand {
        self.hand.unwrap_or(Hand::Right)
    }

    /// The reuse rule, where one is stated.
    #[must_use]
    pub fn reuse_rule(&self) -> Option<ReuseRule> {
        self.reuse.as_ref().map(|reuse| reuse.rule)
    }

    /// Whether somebody other than the one who entered it has compared it with its source.
    #[must_use]
    pub fn is_checked(&self) -> bool {
        self.source.as_ref().is_some_and(Source::is_checked)
    }
}

/// What is done in each pass, in order: at least one stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stages(Vec<Stage>);

impl std::ops::Deref for Stages {
    type Target = [Stage];
    fn deref(&self) -> &[Stage] {
        &self.0
    }
}

impl super::field::Field for Stages {
    fn read(value: &serde_json::Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        let stages = Vec::<Stage>::read(value, place, faults)?;
        if stages.is_empty() {
            faults.push(Fault::new("missing", place, "at least one stage must be given"));
            return None;
        }
        Some(Self(stages))
    }
}

impl serde::Serialize for Stages {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}

impl utoipa::PartialSchema for Stages {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::schema::ArrayBuilder::new()
            .items(Stage::schema())
            .min_items(Some(1))
            .max_items(Some(super::field::LIST_MAX))
            .build()
            .into()
    }
}
impl utoipa::ToSchema for Stages {}

impl fmt::Display for Stages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, stage) in self.0.iter().enumerate() {
            let arrow = if i == 0 { "" } else { " → " };
            write!(f, "{arrow}{stage}")?;
        }
        Ok(())
    }
}

fields! {
    /// What the tool goes on, and its size.
    pub struct Drive {
        /// The kind of drive.
        pub kind ("type"): DriveType,
        /// Its size.
        pub size: Option<DriveSize>,
    }
}

impl fmt::Display for Drive {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.size {
            Some(size) => write!(f, "{} {size}", self.kind.words()),
            None => f.write_str(&self.kind.words()),
        }
    }
}

/// The size of a drive: a width across flats, or the number of a socket.
///
/// # Text
/// `13 mm`, `1/2 in`; `T30`, `E10` (hexalobular, internal and external); `H2`, `Z2` (cross recess, ISO 4757).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum DriveSize {
    /// Across flats.
    Flats(StatedLength),
    /// The number of the drive, letters in capitals.
    Number(String),
}

impl fmt::Display for DriveSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flats(length) => length.fmt(f),
            Self::Number(number) => f.write_str(number),
        }
    }
}

impl std::str::FromStr for DriveSize {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let text = text.trim();
        if let Ok(length) = text.parse::<StatedLength>()
            && matches!(length.unit(), LengthUnit::Millimeter | LengthUnit::Inch)
        {
            return Ok(Self::Flats(length));
        }
        let compact = text.to_uppercase().replace([' ', '-'], "");
        let number = compact.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let letters = compact.len() - number.len();
        if letters <= 2 && (1..=3).contains(&number.len()) && number.bytes().all(|b| b.is_ascii_digit()) {
            return Ok(Self::Number(compact));
        }
        Err(format!("expected a size of a drive such as 13 mm, 1/2 in, T30 or E10, found \"{text}\""))
    }
}

text_fields!(DriveSize);
super::shown_as_text!(DriveSize, "width across flats, or the number of the drive", "13 mm", 20);

fields! {
    /// The part that lies under the head.
    pub struct Seat {
        /// Its material.
        pub material: Option<Text>,
        /// The diameter of the hole in it.
        pub hole: Option<StatedLength>,
    }
}

fields! {
    /// The part that the thread goes into.
    pub struct Tapped {
        /// Its material.
        pub material: Option<Text>,
        /// How far the thread reaches into it.
        pub engagement: Option<StatedLength>,
    }
}

fields! {
    /// May the fastener go back?
    pub struct Reuse {
        /// The rule.
        pub rule: ReuseRule,
        /// How many times it may be used again, with `reuse-up-to`.
        #[schema(minimum = 1, maximum = 9999)]
        pub times: Option<u32>,
        /// The length beyond which it is renewed, with `measure`.
        pub limit: Option<StatedLength>,
        /// What is to be looked at, with `inspect`.
        pub what: Option<Text>,
    }
}

impl fmt::Display for Reuse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.rule, self.times, &self.limit) {
            (ReuseRule::Renew, ..) => f.write_str("always renew"),
            (ReuseRule::Reuse, ..) => f.write_str("may be used again"),
            (ReuseRule::ReuseUpTo, Some(times), _) => write!(f, "may be used again {times} times"),
            (ReuseRule::ReuseUpTo, None, _) => f.write_str("may be used again a number of times that is not stated"),
            (ReuseRule::Measure, _, Some(limit)) => write!(f, "measure; renew if longer than {limit}"),
            (ReuseRule::Measure, _, None) => f.write_str("measure; the limit is not stated"),
            (ReuseRule::Inspect, ..) => match &self.what {
                Some(what) => write!(f, "inspect: {what}"),
                None => f.write_str("inspect"),
            },
        }
    }
}
