//! Threads: what a fastener's thread is called, and its basic dimensions and limits.
//!
//! A [`Thread`] is a diameter with a pitch, read leniently and printed in one way. ISO metric threads and
//! unified inch threads are understood; everything else (pipe threads, trapezoidal threads, misprints) is
//! kept as entered and has no geometry. Whether a thread exists is [`Thread::is_standard`]; a thread that no
//! standard has is kept too, because the audit has to tell what it was probably meant to be.
//!
//! This module knows no property classes, no bolts and no torques.

mod class;
mod designation;
mod geometry;
mod iso965_table;
mod limits;
mod metric;
mod metric_table;
mod nearest;
mod tolerance_iso;
mod tolerance_unified;
mod unified;
mod unified_size;
mod unified_table;

pub use class::ThreadClass;
pub use designation::{Designation, Hand};
pub use geometry::Geometry;
pub use limits::{Limits, Span};

use crate::units::{Scanner, TextError};
use metric::Metric;
use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;
use std::sync::OnceLock;
use unified::{Series, Unified};

/// Signs that people use for the hyphen of a designation.
const HYPHENS: &[&str] = &["-", "‐", "‑", "‒", "–", "—", "−"];

/// The longest text that is kept as a thread though it is none that we know.
const OTHER_CHARACTERS_MAX: usize = 60;

/// Gives a type with `Display` and `FromStr` its serde and OpenAPI forms: that text.
macro_rules! text_form {
    ($name:ident, $description:literal, [$($example:literal),+]) => {
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = <std::borrow::Cow<'de, str> as serde::Deserialize>::deserialize(deserializer)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .description(Some($description))
                    .examples([$($example),+])
                    .into()
            }
        }

        impl utoipa::ToSchema for $name {}
    };
}
use text_form;

/// The two systems of threads that are understood.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum System {
    /// ISO general-purpose metric threads (ISO 261).
    Metric,
    /// Unified inch threads (ASME B1.1).
    Unified,
}

/// A thread: diameter and pitch, or a text that is neither metric nor unified.
///
/// # Text
/// Metric: `M8×1.25`; read also as `M8`, `m8x1,25`, `M 8 - 1.25`. A pitch that is not written is the coarse
/// one of ISO 261 and is always printed. Unified: `3/8-16 UNC`, `#10-24 UNC`, `1 1/4-12 UNF`; read also as
/// `3/8-16`, `No. 10-24`, `10-24`, `1-1/4-12`, `1¼-12`, `.375-16 UNC`, `3/8 UNC`. The series, or the count of a
/// series, is completed from ASME B1.1. A size that no standard has (`M9.5`, `7/17-14`) is kept. Other text
/// of at most 60 printable characters with a letter or digit among them is kept as entered, spaces tidied:
/// `G 1/2`, `Tr 40×7`. Refused: nothing, control characters, and a thread with class or hand behind it
/// (that is a [`Designation`]).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Thread(Form);

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Form {
    Metric(Metric),
    Unified(Unified),
    Other(String),
}

impl Thread {
    /// The system that the thread belongs to; `None` for one kept as entered.
    #[must_use]
    pub fn system(&self) -> Option<System> {
        match self.0 {
            Form::Metric(_) => Some(System::Metric),
            Form::Unified(_) => Some(System::Unified),
            Form::Other(_) => None,
        }
    }

    /// Whether the pair of diameter and pitch stands in ISO 261 (M1 to M300), or the size, count and series
    /// in ASME B1.1 (#0 to 6 in).
    #[must_use]
    pub fn is_standard(&self) -> bool {
        match &self.0 {
            Form::Metric(metric) => metric.is_standard(),
            Form::Unified(unified) => unified.is_standard(),
            Form::Other(_) => false,
        }
    }

    /// Whether the pitch is the coarse one of ISO 261, or the pair stands in the UNC series.
    #[must_use]
    pub fn is_coarse(&self) -> bool {
        match &self.0 {
            Form::Metric(metric) => metric.is_coarse(),
            Form::Unified(unified) => unified.is_coarse(),
            Form::Other(_) => false,
        }
    }

    /// Basic dimensions; also for a pair that no standard has. `None` if the pitch is unknown, if the thread
    /// would be deeper than the bolt, or if the thread is neither metric nor unified.
    #[must_use]
    pub fn geometry(&self) -> Option<Geometry> {
        match &self.0 {
            Form::Metric(metric) => metric.geometry(),
            Form::Unified(unified) => unified.geometry(),
            Form::Other(_) => None,
        }
    }

    /// Threads per inch of a unified thread.
    #[must_use]
    pub fn threads_per_inch(&self) -> Option<f64> {
        match &self.0 {
            Form::Unified(unified) => unified.threads_per_inch(),
            _ => None,
        }
    }

    /// At most `count` standard threads that this one may have been meant to be, the nearest first. A
    /// standard thread is nearest to itself. Empty if nothing is near, as for a pipe thread.
    #[must_use]
    pub fn nearest(&self, count: usize) -> Vec<Thread> {
        nearest::nearest(self, count)
    }

    /// Every thread of one system's standard, in the order of its table.
    pub fn standard(system: System) -> impl Iterator<Item = &'static Thread> {
        Self::standards().filter(move |thread| thread.system() == Some(system))
    }

    /// Every thread of both standards, in the order of their tables, metric first.
    pub fn standards() -> impl Iterator<Item = &'static Thread> {
        static ALL: OnceLock<Vec<Thread>> = OnceLock::new();
        let metric = || Metric::standard().map(Form::Metric);
        let unified = || Unified::standard().map(Form::Unified);
        ALL.get_or_init(|| metric().chain(unified()).map(Thread).collect()).iter()
    }

    /// The designation for addresses: lower case, `-` for what an address can't hold. `m8x1.25`,
    /// `3-8-16-unc`, `no10-24-unc`. Two threads of the standards never share one.
    #[must_use]
    pub fn slug(&self) -> String {
        let text = self.to_string().to_lowercase().replace('×', "x").replace('#', "no");
        let kept = |c: char| match c {
            'a'..='z' | '0'..='9' | '.' => c.to_string(),
            _ if c.is_alphanumeric() => format!("u{:x}", u32::from(c)),
            _ => "-".to_owned(),
        };
        let text: String = text.chars().map(kept).collect();
        text.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-")
    }

    /// Sorts threads of both systems by physical size: diameter, then pitch, in nanometres. What is unknown
    /// comes last.
    #[must_use]
    pub fn size_key(&self) -> (u64, u64) {
        let (diameter, pitch) = self.sizes();
        (diameter, pitch.unwrap_or(u64::MAX))
    }

    /// Diameter and pitch in nanometres.
    fn sizes(&self) -> (u64, Option<u64>) {
        match &self.0 {
            Form::Metric(metric) => (metric.diameter_nm(), metric.pitch_nm()),
            Form::Unified(unified) => (unified.diameter_nm(), unified.pitch_nm()),
            Form::Other(_) => (u64::MAX, None),
        }
    }

    /// How seldom a workshop meets the pair: 0 for coarse threads, 1 for fine threads of the first two
    /// columns of ISO 261 and for UNF, 2 for other metric threads and UNEF, 3 for the rest.
    fn rarity(&self) -> u8 {
        match &self.0 {
            _ if self.is_coarse() => 0,
            Form::Metric(metric) if metric.choice().is_some_and(|choice| choice < 3) => 1,
            Form::Metric(_) => 2,
            Form::Unified(unified) => match unified.series() {
                Some(Series::Fine) => 1,
                Some(Series::ExtraFine) => 2,
                _ => 3,
            },
            Form::Other(_) => 3,
        }
    }

    /// Reads a metric or unified thread from the scanner's place; `None` leaves it where it is.
    fn scan(scanner: &mut Scanner<'_>) -> Option<Self> {
        let metric = Metric::scan(scanner).map(Form::Metric);
        metric.or_else(|| Unified::scan(scanner).map(Form::Unified)).map(Self)
    }

    /// Keeps a text that is no metric or unified thread.
    fn other(text: &str) -> Result<Self, TextError> {
        let wanted = "a thread such as M8×1.25, 3/8-16 UNC or G 1/2";
        let tidy = tidied(text);
        if let Some(at) = text.find(|c: char| c.is_control() && !c.is_whitespace()) {
            return Err(TextError::new(text, at, wanted));
        }
        if !tidy.chars().any(char::is_alphanumeric) || tidy.chars().count() > OTHER_CHARACTERS_MAX {
            return Err(TextError::new(text, 0, format!("{wanted}, of at most {OTHER_CHARACTERS_MAX} characters")));
        }
        Ok(Self(Form::Other(tidy)))
    }
}

/// The text without spaces at its ends, with single spaces inside, and `½` written `1/2`.
fn tidied(text: &str) -> String {
    let mut spelled = String::with_capacity(text.len());
    for c in text.chars() {
        match fraction(c) {
            Some(three) => spelled.push_str(three),
            None => spelled.push(c),
        }
    }
    spelled.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A fraction of one character as three, set off from a whole number before it.
fn fraction(c: char) -> Option<&'static str> {
    Some(match c {
        '½' => " 1/2",
        '¼' => " 1/4",
        '¾' => " 3/4",
        '⅛' => " 1/8",
        '⅜' => " 3/8",
        '⅝' => " 5/8",
        '⅞' => " 7/8",
        _ => return None,
    })
}

impl FromStr for Thread {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let tidy = tidied(text);
        match Designation::read(&tidy) {
            Some(Designation { thread, class: None, hand: None }) => Ok(thread),
            Some(Designation { thread, .. }) => {
                let wanted = format!("the thread alone ({thread}): class and hand have places of their own");
                Err(TextError::new(text, 0, wanted))
            }
            None => Self::other(text),
        }
    }
}

impl fmt::Display for Thread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Form::Metric(metric) => write!(f, "{metric}"),
            Form::Unified(unified) => write!(f, "{unified}"),
            Form::Other(text) => f.write_str(text),
        }
    }
}

impl PartialOrd for Thread {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// By physical size, then by text.
impl Ord for Thread {
    fn cmp(&self, other: &Self) -> Ordering {
        let size = self.size_key().cmp(&other.size_key());
        size.then_with(|| self.to_string().cmp(&other.to_string()))
    }
}

text_form!(Thread, "Thread: diameter and pitch", ["M8×1.25", "3/8-16 UNC", "#10-24 UNC"]);

#[cfg(test)]
mod tests;
