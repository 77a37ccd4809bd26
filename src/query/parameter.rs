//! The list of parameters that a question may be written with.

use super::field::Field;

/// What a parameter asks of its field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Test {
    /// One of these values.
    Any,
    /// None of these values.
    Not,
    /// There or not.
    Has,
    /// Beginning with this.
    Starts,
}

/// What a parameter is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum About {
    Field(Field, Test),
    Words,
    Ids,
    TorqueMin,
    TorqueMax,
    TorqueUnit,
    TorqueHas,
    AsOf,
    Sort,
    Take,
    After,
    Count,
    Facets,
    Members,
}

/// A parameter of a question.
#[derive(Debug, Clone, Copy)]
pub struct Parameter {
    /// Its name, `field` or `field.test`.
    pub name: &'static str,
    /// What it asks for, in one line.
    pub description: &'static str,
    /// A value as it may be written.
    pub example: &'static str,
    pub(super) about: About,
}

macro_rules! parameters {
    ($( $name:literal = $about:expr, $description:literal, $example:literal; )*) => {
        /// Every parameter that a question may be written with.
        pub const PARAMETERS: &[Parameter] =
            &[$( Parameter { name: $name, description: $description, example: $example, about: $about } ),*];
    };
}

use About::Field as F;
use Test::{Any, Has, Not, Starts};

parameters! {
    "q" = About::Words, "Words: each must begin a word of the record; one wrong letter is forgiven", "pump cover";
    "id" = About::Ids, "These records, in this order; up to 100", "skua.diesel.raw-water-pump.cover";
    "kind" = F(Field::Kind, Any), "joint or fastener", "fastener";
    "head" = F(Field::Head, Any), "What the head looks like", "hexagon,hexagon-flange";
    "head.not" = F(Field::Head, Not), "What the head must not look like", "countersunk";
    "head.has" = F(Field::Head, Has), "Whether the head is known", "true";
    "drive" = F(Field::Drive, Any), "What the tool goes on", "hexagon-socket";
    "drive.not" = F(Field::Drive, Not), "What the tool must not go on", "slot";
    "drive.has" = F(Field::Drive, Has), "Whether the drive is known", "true";
    "thread" = F(Field::Thread, Any), "The thread", "M8";
    "thread.not" = F(Field::Thread, Not), "Not this thread", "M6";
    "property_class" = F(Field::PropertyClass, Any), "The strength class", "8.8,10.9";
    "property_class.not" = F(Field::PropertyClass, Not), "Not this strength class", "4.6";
    "property_class.has" = F(Field::PropertyClass, Has), "Whether the strength class is known", "false";
    "within" = F(Field::Within, Any), "The assembly: a path that the id begins with", "skua.diesel";
    "within.not" = F(Field::Within, Not), "Outside this path", "skua.deck-winch";
    "joint" = F(Field::Joint, Any), "The joint", "skua.diesel.raw-water-pump.cover";
    "position" = F(Field::Position, Any), "A position where the fastener sits", "4";
    "position.has" = F(Field::Position, Has), "Whether the positions are known", "true";
    "role" = F(Field::Role, Any), "What kind of fastening it is", "plug";
    "role.not" = F(Field::Role, Not), "Not this kind of fastening", "sensor";
    "reuse" = F(Field::Reuse, Any), "The reuse rule", "renew";
    "reuse.not" = F(Field::Reuse, Not), "Not this reuse rule", "reuse";
    "reuse.has" = F(Field::Reuse, Has), "Whether a reuse rule is stated", "false";
    "locking" = F(Field::Locking, Any), "How it is kept from coming loose", "threadlocker";
    "locking.not" = F(Field::Locking, Not), "Not kept like this", "none";
    "locking.has" = F(Field::Locking, Has), "Whether the locking is stated", "true";
    "hand" = F(Field::Hand, Any), "Which way it is screwed in", "left";
    "torque.min" = About::TorqueMin, "The final torque is at least this, in torque.unit", "30";
    "torque.max" = About::TorqueMax, "The final torque is at most this, in torque.unit", "60";
    "torque.unit" = About::TorqueUnit, "The unit of torque.min and torque.max; N·m if it is not given", "lbf.ft";
    "torque.has" = About::TorqueHas, "Whether a torque is stated", "true";
    "angle.has" = F(Field::Angle, Has), "Whether a stage turns by an angle", "true";
    "variant" = F(Field::Variant, Any), "The variant of the machine; what names none is for all", "bronze-housing";
    "variant.has" = F(Field::Variant, Has), "Whether it is for some variants only", "true";
    "checked" = F(Field::Checked, Any), "Whether a second person compared it with its source", "false";
    "part_no" = F(Field::PartNo, Any), "The part number", "SY-08035";
    "part_no.starts" = F(Field::PartNo, Starts), "What the part number begins with", "SY-08";
    "part_no.has" = F(Field::PartNo, Has), "Whether a part number is known", "true";
    "document" = F(Field::Document, Any), "The document it was read from", "Skerry Yard workshop book";
    "document.has" = F(Field::Document, Has), "Whether the source is named", "false";
    "as_of" = About::AsOf, "The book as it was at this moment", "2026-03-01T00:00:00Z";
    "sort" = About::Sort, "The order; a minus turns it round", "thread,-torque";
    "take" = About::Take, "How many records a page holds, 1 to 500", "50";
    "after" = About::After, "The cursor of the page before", "";
    "count" = About::Count, "exact: count every match", "exact";
    "facets" = About::Facets, "Fields whose values are to be counted", "thread,head,property_class";
    "fields" = About::Members, "The members to show of each record, besides those that it always has", "name,positions";
}

/// The parameter of this name.
pub(super) fn parameter(name: &str) -> Option<&'static Parameter> {
    PARAMETERS.iter().find(|parameter| parameter.name == name)
}
