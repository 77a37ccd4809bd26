//! A joint: one set of faces clamped together inside an assembly.

use super::common::{Accepted, Fits, Source};
use super::fault::{Fault, Place};
use super::field::{self, Field, fields, wrong_kind};
use super::id::Id;
use super::kind::JointKind;
use super::text::Text;
use super::words::Pattern;
use serde_json::Value;
use std::collections::BTreeMap;

fields! {
    /// One set of faces clamped together; owns positions, order, preparation and the items to renew.
    pub struct Joint {
        /// Always `joint`.
        pub kind: JointKind,
        /// The name of the joint in the book; without its last segment it is the assembly.
        pub id: Id,
        /// What people call it.
        pub title: Option<Text>,
        /// What people call the assembly.
        pub assembly_title: Option<Text>,
        /// Which machines it is for.
        pub fits: Option<Fits>,
        /// Its places, numbered from 1, drawn in millimetres as seen from `view`, y upwards.
        #[schema(required = false, max_items = 400)]
        pub positions: Vec<Position>,
        /// From where the drawing is seen.
        pub view: Option<Text>,
        /// A mark on the part that shows which way round the drawing lies.
        pub landmark: Option<Landmark>,
        /// In which sequence the positions are tightened.
        pub order: Option<Order>,
        /// What is to be done before the first stage.
        #[schema(required = false, max_items = 400)]
        pub prepare: Vec<Text>,
        /// What may not go back.
        #[schema(required = false, max_items = 400)]
        pub renew: Vec<RenewItem>,
        /// What is to be looked at.
        #[schema(required = false, max_items = 400)]
        pub check: Vec<CheckItem>,
        /// Special tools.
        #[schema(required = false, max_items = 400)]
        pub tools: Vec<Text>,
        /// The joints that must be opened first.
        #[schema(required = false, max_items = 400)]
        pub behind: Vec<Id>,
        /// Work that is worth doing on the same occasion.
        #[schema(required = false, max_items = 400)]
        pub together: Vec<Text>,
        /// What can hurt people or parts.
        #[schema(required = false, max_items = 400)]
        pub cautions: Vec<Text>,
        /// Where it was read.
        pub source: Option<Source>,
        /// Findings that were accepted.
        #[schema(required = false, max_items = 400)]
        pub accepted: Vec<Accepted>,
    }
}

impl Joint {
    /// The joint that is nothing but its id.
    #[must_use]
    pub fn bare(id: Id) -> Self {
        Self {
            kind: JointKind,
            id,
            title: None,
            assembly_title: None,
            fits: None,
            positions: Vec::new(),
            view: None,
            landmark: None,
            order: None,
            prepare: Vec::new(),
            renew: Vec::new(),
            check: Vec::new(),
            tools: Vec::new(),
            behind: Vec::new(),
            together: Vec::new(),
            cautions: Vec::new(),
            source: None,
            accepted: Vec::new(),
        }
    }

    /// The assembly that the joint belongs to.
    #[must_use]
    pub fn assembly(&self) -> &str {
        self.id.parent()
    }
}

fields! {
    /// A place of the joint and where it is drawn.
    pub struct Position {
        /// Its number, from 1.
        #[schema(minimum = 1, maximum = 9999)]
        pub n: u32,
        /// To the right, in millimetres.
        #[schema(minimum = -100_000.0, maximum = 100_000.0)]
        pub x_mm: f64,
        /// Upwards, in millimetres.
        #[schema(minimum = -100_000.0, maximum = 100_000.0)]
        pub y_mm: f64,
    }
}

fields! {
    /// A mark that shows which way round the drawing lies.
    pub struct Landmark {
        /// What is there: `inlet`, `forward`.
        pub text: Text,
        /// To the right, in millimetres.
        #[schema(minimum = -100_000.0, maximum = 100_000.0)]
        pub x_mm: f64,
        /// Upwards, in millimetres.
        #[schema(minimum = -100_000.0, maximum = 100_000.0)]
        pub y_mm: f64,
    }
}

fields! {
    /// A part that is renewed whenever the joint is opened.
    pub struct RenewItem {
        /// What it is, with its size.
        pub item: Text,
        /// How many.
        #[schema(minimum = 1, maximum = 9999)]
        pub count: Option<u32>,
        /// Its part number.
        pub part_no: Option<Text>,
    }
}

fields! {
    /// Something to look at before the joint is closed.
    pub struct CheckItem {
        /// What is to be true.
        pub item: Text,
        /// At how many places.
        #[schema(minimum = 1, maximum = 9999)]
        pub count: Option<u32>,
    }
}

/// The sequence of positions: a pattern made from the drawing, or a list; and other sequences for single passes.
#[derive(Debug, Clone, PartialEq, Default, utoipa::ToSchema)]
pub struct Order {
    /// How the sequence is made from the drawn positions.
    pub pattern: Option<Pattern>,
    /// The sequence itself. A bare list in place of the whole object means this.
    #[schema(required = false, max_items = 400)]
    pub positions: Vec<u32>,
    /// The sequence of single passes, by the number of the pass; positions left out are not touched in it.
    #[schema(required = false)]
    pub passes: BTreeMap<u32, Vec<u32>>,
}

impl Order {
    const FIELDS: &'static [&'static str] = &["pattern", "positions", "passes"];
}

impl Field for Order {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        if value.is_array() {
            return Some(Self { positions: Vec::read(value, place, faults)?, ..Self::default() });
        }
        if !value.is_object() {
            faults.push(wrong_kind(value, place, "an object or a list of positions"));
            return None;
        }
        let members = field::members(value, place, Self::FIELDS, faults)?;
        let pattern: Option<Option<Pattern>> = field::member(members, "pattern", place, faults);
        let positions: Option<Vec<u32>> = field::member(members, "positions", place, faults);
        let passes = field::member(members, "passes", place, faults);
        let order = Self { pattern: pattern?, positions: positions?, passes: passes? };
        if order.pattern.is_some() && !order.positions.is_empty() {
            let detail = "the order is given twice, as a pattern and as a list";
            faults.push(Fault::new("contradiction", place, detail).hint("Keep one of \"pattern\" and \"positions\""));
            return None;
        }
        Some(order)
    }
}

impl serde::Serialize for Order {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeMap;
        let mut map = serializer.serialize_map(None)?;
        if let Some(pattern) = &self.pattern {
            map.serialize_entry("pattern", pattern)?;
        }
        if !self.positions.is_empty() {
            map.serialize_entry("positions", &self.positions)?;
        }
        if !self.passes.is_empty() {
            map.serialize_entry("passes", &self.passes)?;
        }
        map.end()
    }
}
