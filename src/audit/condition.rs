//! What a record's words about its surface mean for friction.

use super::assessment::FrictionIs;
use crate::mechanics::{Friction, FrictionRange};
use crate::record::Fastener;

/// Mean friction diameter of a hexagon head over the thread's diameter: 1.24 to 1.29 in ISO 4014 with the medium holes
/// of ISO 273. Stands in for heads of other shapes too.
pub(super) const BEARING_OVER_DIAMETER: f64 = 1.27;

/// A class of friction by words that stand for it. VDI 2230-1:2015, table A5, limits and conditions from memory.
struct Class {
    words: &'static [&'static str],
    range: (f64, f64),
    name: &'static str,
}

/// The slippery first: a paste on a dry surface is a paste.
const STEEL: &[Class] = &[
    Class {
        words: &["paste", "anti-seize", "molybdenum", "mos2", "graphite", "ptfe", "wax"],
        range: (0.04, 0.10),
        name: "class A",
    },
    Class {
        words: &["dry", "oil free", "oil-free", "unlubricated", "degreased"],
        range: (0.14, 0.24),
        name: "class C",
    },
    Class { words: &["oil", "grease", "lubricat", "threadlocker", "sealant"], range: (0.08, 0.16), name: "class B" },
];

/// The same for stainless steel, which rubs more.
const STAINLESS: &[Class] = &[
    Class {
        words: &["paste", "anti-seize", "molybdenum", "mos2", "graphite", "ptfe", "wax"],
        range: (0.14, 0.24),
        name: "class C",
    },
    Class {
        words: &["dry", "oil free", "oil-free", "unlubricated", "degreased"],
        range: (0.20, 0.40),
        name: "class D to E",
    },
    Class { words: &["oil", "grease", "lubricat", "threadlocker", "sealant"], range: (0.10, 0.24), name: "class C" },
];

/// Lubricated to dry, where nobody says which.
const UNKNOWN: (f64, f64) = (0.08, 0.24);
const UNKNOWN_STAINLESS: (f64, f64) = (0.10, 0.40);

/// The friction to reckon with: the record's own, or what its words mean, or a wide assumption.
pub(super) fn friction(fastener: &Fastener) -> (FrictionRange, FrictionIs) {
    if let Some(stated) = fastener.friction {
        return (range((stated.low(), stated.high())), FrictionIs::Stated);
    }
    let stainless = is_stainless(fastener);
    let (classes, unknown) = if stainless { (STAINLESS, UNKNOWN_STAINLESS) } else { (STEEL, UNKNOWN) };
    let words = [&fastener.lubrication, &fastener.finish];
    let found = words.into_iter().flatten().find_map(|text| class_of(&text.to_lowercase(), classes));
    match found {
        Some(class) => (range(class.range), FrictionIs::FromCondition(class.name)),
        None => (range(unknown), FrictionIs::Assumed),
    }
}

fn class_of(text: &str, classes: &'static [Class]) -> Option<&'static Class> {
    classes.iter().find(|class| class.words.iter().any(|word| text.contains(word)))
}

/// Whether the class is one of stainless steel.
pub(super) fn is_stainless(fastener: &Fastener) -> bool {
    fastener.property_class.as_ref().and_then(|class| class.standard()) == Some("ISO 3506-1")
}

/// A range of friction, the same in the thread and under the head. Coefficients of records are from 0.01 to 1.
fn range((low, high): (f64, f64)) -> FrictionRange {
    let same = |friction| Friction::same(friction).unwrap_or_else(|_| unreachable!("coefficients are from 0 to 1"));
    FrictionRange::new(same(low), same(high)).unwrap_or_else(|_| unreachable!("a range goes upwards"))
}
