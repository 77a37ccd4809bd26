//! Records: joints and fasteners, the one catalogue type from seed file to HTTP answer.
//!
//! A [`Record`] is read once, at the edge, with all its faults at once, and is whole from then on. What is
//! merely missing is no fault: the audit says what is missing. This module judges no number.

mod common;
mod fastener;
mod fault;
pub mod field;
mod friction;
mod id;
mod joint;
mod json;
mod kind;
mod positions;
mod setting;
mod stage;
mod text;
mod words;

pub use common::{Accepted, Fits, Source};
pub use fastener::{Drive, DriveSize, Fastener, Reuse, Seat, Stages, Tapped};
pub use fault::{Fault, Place, Refused, did_you_mean, near_words};
pub use friction::Friction;
pub use id::{ID_MAX, Id, NotAnId};
pub use joint::{CheckItem, Joint, Landmark, Order, Position, RenewItem};
pub use json::{DEPTH_MAX, read_json};
pub use kind::{FastenerKind, JointKind, Kind};
pub use positions::{POSITION_MAX, Positions};
pub use setting::{AngleSetting, Form, Setting, TorqueSetting};
pub use stage::{Stage, Start};
pub use text::{TEXT_MAX, Text, UnfitText};
pub(crate) use words::words;
pub use words::{DriveType, Head, Locking, Pattern, ReuseRule, Role, UnknownWord};

use crate::standards::PropertyClass;
use crate::thread::{Designation, Hand, Thread, ThreadClass};
use crate::units::{AngleUnit, LengthUnit, Stated, TorqueUnit};
use field::{Field, text_fields};
use serde::ser::{Serialize, Serializer};
use serde_json::Value;

/// Makes a type that has a text form appear as that text in JSON and in the API's document.
macro_rules! shown_as_text {
    ($type:ty, $description:literal, $example:literal, $max:literal) => {
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }
        impl utoipa::PartialSchema for $type {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .description(Some($description))
                    .examples([serde_json::json!($example)])
                    .min_length(Some(1))
                    .max_length(Some($max))
                    .build()
                    .into()
            }
        }
        impl utoipa::ToSchema for $type {}
    };
}
pub(crate) use shown_as_text;

text_fields!(PropertyClass, Hand, ThreadClass, Stated<LengthUnit>, Stated<TorqueUnit>, Stated<AngleUnit>);

impl Field for Thread {
    fn read(value: &Value, place: &Place, faults: &mut Vec<Fault>) -> Option<Self> {
        field::read_text::<Designation>(value, place, faults).map(|designation| designation.thread)
    }
}

/// The member with what the book knows about a record that was shown; readers of records pass over it, so that
/// what was shown can be put back.
const BOOK: &str = "book";

/// What the book holds: a joint or a fastener.
#[derive(Debug, Clone, PartialEq)]
pub enum Record {
    /// A joint.
    Joint(Box<Joint>),
    /// A fastener.
    Fastener(Box<Fastener>),
}

impl Record {
    /// Reads a record from its JSON value.
    ///
    /// # Errors
    /// All faults at once, each with its place.
    pub fn from_json(value: &Value) -> Result<Self, Refused> {
        let mut faults = Vec::new();
        let record = Self::read(value, &mut faults);
        match record {
            Some(record) if faults.is_empty() => Ok(record),
            _ => Err(Refused(faults)),
        }
    }

    /// Reads a record from JSON text.
    ///
    /// # Errors
    /// One fault if it is not JSON, else all faults of the record at once.
    pub fn from_json_text(bytes: &[u8]) -> Result<Self, Refused> {
        let value = read_json(bytes)?;
        Self::from_json(&value)
    }

    /// Writes the fields that are there into a map.
    pub(crate) fn write_members<M: serde::ser::SerializeMap>(&self, map: &mut M) -> Result<(), M::Error> {
        match self {
            Self::Joint(joint) => joint.write_members(map),
            Self::Fastener(fastener) => fastener.write_members(map),
        }
    }

    fn read(value: &Value, faults: &mut Vec<Fault>) -> Option<Self> {
        let root = Place::root();
        let Value::Object(members) = value else {
            faults.push(field::wrong_kind(value, &root, "an object"));
            return None;
        };
        if members.contains_key(BOOK) {
            let mut members = members.clone();
            members.shift_remove(BOOK);
            return Self::read(&Value::Object(members), faults);
        }
        let kind = kind_of_record(members, faults)?;
        match kind {
            Kind::Joint => Joint::read(value, &root, faults).map(|joint| Self::Joint(Box::new(joint))),
            Kind::Fastener => {
                let designation = designation(members, faults);
                let mut fastener = Fastener::read(value, &root, faults)?;
                if let Some(designation) = designation {
                    fastener.thread_class = fastener.thread_class.or(designation.class);
                    fastener.hand = fastener.hand.or(designation.hand);
                }
                check_prefix(&fastener, faults);
                Some(Self::Fastener(Box::new(fastener)))
            }
        }
    }

    /// The record's id.
    #[must_use]
    pub fn id(&self) -> &Id {
        match self {
            Self::Joint(joint) => &joint.id,
            Self::Fastener(fastener) => &fastener.id,
        }
    }

    /// Whether it is a joint or a fastener.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match self {
            Self::Joint(_) => Kind::Joint,
            Self::Fastener(_) => Kind::Fastener,
        }
    }

    /// The joint, if it is one.
    #[must_use]
    pub fn as_joint(&self) -> Option<&Joint> {
        match self {
            Self::Joint(joint) => Some(joint),
            Self::Fastener(_) => None,
        }
    }

    /// The fastener, if it is one.
    #[must_use]
    pub fn as_fastener(&self) -> Option<&Fastener> {
        match self {
            Self::Fastener(fastener) => Some(fastener),
            Self::Joint(_) => None,
        }
    }

    /// Where it was read.
    #[must_use]
    pub fn source(&self) -> Option<&Source> {
        match self {
            Self::Joint(joint) => joint.source.as_ref(),
            Self::Fastener(fastener) => fastener.source.as_ref(),
        }
    }

    /// The findings that were accepted.
    #[must_use]
    pub fn accepted(&self) -> &[Accepted] {
        match self {
            Self::Joint(joint) => &joint.accepted,
            Self::Fastener(fastener) => &fastener.accepted,
        }
    }
}

impl Serialize for Record {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Joint(joint) => joint.serialize(serializer),
            Self::Fastener(fastener) => fastener.serialize(serializer),
        }
    }
}

fn kind_of_record(members: &serde_json::Map<String, Value>, faults: &mut Vec<Fault>) -> Option<Kind> {
    let place = Place::root().below("kind");
    if let Some(kind) = members.get("kind") {
        return field::read_text(kind, &place, faults);
    }
    faults.push(Fault::new("missing", &place, "\"kind\" must say what the record is").allowed("joint, fastener"));
    None
}

/// The full designation (`M8×1.25-6g LH`) that a record's thread may be written as; `thread` keeps the thread alone.
fn designation(members: &serde_json::Map<String, Value>, faults: &mut Vec<Fault>) -> Option<Designation> {
    let designation: Designation = members.get("thread")?.as_str()?.parse().ok()?;
    let mut contradiction = |key: &str, given: &Value, said: String| {
        let detail = format!("the thread says {said}, {key} says something else");
        faults.push(
            Fault::new("contradiction", &Place::root().below(key), detail)
                .given(given)
                .hint("Keep the one that the source states"),
        );
    };
    if let (Some(class), Some(given)) = (&designation.class, members.get("thread_class"))
        && given.as_str().and_then(|text| text.parse().ok()).as_ref() != Some(class)
    {
        contradiction("thread_class", given, class.to_string());
    }
    if let (Some(hand), Some(given)) = (&designation.hand, members.get("hand"))
        && given.as_str().and_then(|text| text.parse().ok()).as_ref() != Some(hand)
    {
        contradiction("hand", given, hand.to_string());
    }
    Some(designation)
}

fn check_prefix(fastener: &Fastener, faults: &mut Vec<Fault>) {
    let (id, joint) = (fastener.id.as_str(), fastener.joint.as_str());
    if id == joint || !fastener.id.is_within(joint) {
        let detail = format!("the id of a fastener begins with the id of its joint, \"{joint}.\"");
        faults.push(
            Fault::new("contradiction", &Place::root().below("id"), detail)
                .given(id)
                .hint(format!("Write {joint}.{} or correct \"joint\"", fastener.id.last())),
        );
    }
}

/// The unit of torque that a record's first torque is stated in.
#[must_use]
pub fn stated_unit(fastener: &Fastener) -> Option<TorqueUnit> {
    fastener.stages.iter().find_map(Stage::torque).map(Setting::unit)
}

/// The turns of all stages of a fastener in the order they are done.
pub fn all_turns(fastener: &Fastener) -> impl Iterator<Item = Setting<AngleUnit>> + '_ {
    fastener.stages.iter().flat_map(|stage| stage.turns().iter().copied())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn full_fastener() -> Value {
        json!({ "kind": "fastener", "id": "skua.diesel.raw-water-pump.cover.hex",
            "joint": "skua.diesel.raw-water-pump.cover", "name": "Cover bolt, short", "role": "bolt",
            "fits": { "variants": ["bronze-housing"], "serials": "0120-0480" },
            "positions": "1-4,6", "count": 5, "head": "hexagon-flange",
            "drive": { "type": "hexagon", "size": "13 mm" },
            "thread": "M8×1.25", "thread_class": "6g", "hand": "right", "length": "35 mm",
            "property_class": "8.8", "nut_class": "8", "finish": "zinc-plated", "lubrication": "oiled",
            "friction": "0.10-0.16", "grip": "22 mm",
            "seat": { "material": "EN AC-46000", "hole": "9 mm" },
            "into": { "material": "EN AC-46000", "engagement": "16 mm" },
            "stages": ["hand", "8 N·m", "20 N·m + 90°"],
            "reuse": { "rule": "reuse-up-to", "times": 3 }, "locking": "none", "part_no": "SY-08035",
            "cautions": ["Left-hand thread at position 2"], "note": "Longer one at position 5",
            "source": { "document": "Skerry Yard workshop book", "edition": "3", "page": "41",
                "printed": "20 N·m (15 lbf·ft) + 90°", "entered_by": "mo", "checked_by": "ines" },
            "accepted": [ { "rule": "grip-missing", "reason": "cast boss, not measurable" } ] })
    }

    fn full_joint() -> Value {
        json!({ "kind": "joint", "id": "skua.diesel.raw-water-pump.cover",
            "title": "Raw-water pump cover", "assembly_title": "Raw-water pump",
            "fits": { "variants": ["bronze-housing"] },
            "positions": [ { "n": 1, "x_mm": -30.0, "y_mm": 20.0 }, { "n": 2, "x_mm": 30.0, "y_mm": 20.0 } ],
            "view": "from the port side", "landmark": { "text": "inlet", "x_mm": 0.0, "y_mm": 40.0 },
            "order": { "pattern": "diagonal", "passes": { "2": [2, 1] } },
            "prepare": ["Clean both faces; no sealant"],
            "renew": [ { "item": "O-ring 48 × 2", "count": 1, "part_no": "SY-10482" } ],
            "check": [ { "item": "Dowel pins seated", "count": 2 } ],
            "tools": ["Strap wrench for the pulley"],
            "behind": ["skua.diesel.intake-trunk.flange"], "together": ["Consider renewing the impeller"],
            "cautions": ["Left-hand thread at position 2"],
            "source": { "document": "Skerry Yard workshop book", "edition": "3", "page": "41" },
            "accepted": [ { "rule": "order-missing", "reason": "one position" } ] })
    }

    #[test]
    fn every_field_goes_in_and_comes_out_again() {
        for (value, fields) in [(full_fastener(), Fastener::FIELDS), (full_joint(), Joint::FIELDS)] {
            let record = Record::from_json(&value).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(serde_json::to_value(&record).unwrap(), value);
            for field in fields {
                assert!(value.get(field).is_some(), "the example leaves out {field}");
            }
        }
    }

    #[test]
    fn what_is_merely_missing_is_accepted() {
        let value =
            json!({ "kind": "fastener", "id": "a.b.c", "joint": "a.b", "thread": "M8×1.25", "stages": ["20 N·m"] });
        let record = Record::from_json(&value).unwrap();
        assert_eq!(serde_json::to_value(&record).unwrap(), value);
    }

    #[test]
    fn all_faults_come_at_once_each_with_its_place() {
        let mut value = full_fastener();
        value["torqe"] = json!("20 N·m");
        value["head"] = json!("hexagonal");
        value["stages"][1] = json!("95");
        value["count"] = json!(0);
        value["source"]["pages"] = json!("4");
        value["id"] = json!("skua.other.hex");
        let Refused(faults) = Record::from_json(&value).unwrap_err();
        let pointers: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(pointers, ["/torqe", "/count", "/head", "/stages/1", "/source/pages"]);
        assert_eq!(
            faults[2].to_string(),
            "/head: \"hexagonal\" is not a kind of head (did you mean hexagon, hexagon-flange or hexagon-nut?); known are \
             hexagon, hexagon-flange, socket-cap, button, countersunk, pan, cheese, twelve-point-flange, \
             external-hexalobular-flange, square, round, hexagon-nut, flange-nut, none."
        );
        assert_eq!(faults[4].hint.as_deref(), Some("Did you mean page"));
    }

    #[test]
    fn a_fastener_lies_below_its_joint() {
        let mut value = full_fastener();
        value["joint"] = json!("skua.diesel.raw-water-pump.lid");
        let Refused(faults) = Record::from_json(&value).unwrap_err();
        assert_eq!(faults[0].pointer, "/id");
        assert_eq!(faults[0].hint.as_deref(), Some("Write skua.diesel.raw-water-pump.lid.hex or correct \"joint\""));
    }

    #[test]
    fn an_order_may_be_written_as_a_bare_list() {
        let mut value = full_joint();
        value["order"] = json!([2, 1]);
        let record = Record::from_json(&value).unwrap();
        assert_eq!(serde_json::to_value(&record).unwrap()["order"], json!({ "positions": [2, 1] }));
        value["order"] = json!({ "pattern": "star", "positions": [1] });
        assert_eq!(Record::from_json(&value).unwrap_err().0[0].code, "contradiction");
    }

    #[test]
    fn a_full_designation_is_taken_apart() {
        let mut value = full_fastener();
        value["thread"] = json!("M8-6g-LH");
        let members = value.as_object_mut().unwrap();
        members.remove("thread_class");
        members.remove("hand");
        let record = Record::from_json(&value).unwrap();
        let fastener = record.as_fastener().unwrap();
        assert_eq!(fastener.thread.to_string(), "M8×1.25");
        assert_eq!(fastener.thread_class.as_ref().unwrap().to_string(), "6g");
        assert_eq!(fastener.hand(), Hand::Left);
        value["hand"] = json!("right");
        assert_eq!(Record::from_json(&value).unwrap_err().0[0].pointer, "/hand");
    }
}
