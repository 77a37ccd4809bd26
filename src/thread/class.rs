//! Tolerance classes as text: `6g`, `4g6g`, `6H`, `2A`, `3B`.

use super::System;
use crate::units::TextError;
use std::fmt;
use std::str::FromStr;

/// The tolerance class of a thread.
///
/// # Text
/// ISO 965-1: grade and position, `6g`, `6H`; the pitch diameter's before the crest diameter's where they
/// differ, `4g6g`. ASME B1.1: `1A` to `3A` for bolts, `1B` to `3B` for nuts, also written `2a`. Anything
/// else of at most eight letters, digits and strokes is kept as entered and is not known.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ThreadClass(String);

/// Grade and position of one diameter: `6g` is 6 and `g`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    pub grade: u8,
    pub position: char,
}

/// The longest class that is kept.
const LENGTH_MAX: usize = 8;

impl ThreadClass {
    /// The class as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether one of the two standards has this class.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.unified().is_some() || self.iso().is_some()
    }

    /// Whether the class is one of this system's standard.
    #[must_use]
    pub fn belongs_to(&self, system: System) -> bool {
        match system {
            System::Metric => self.iso().is_some(),
            System::Unified => self.unified().is_some(),
        }
    }

    /// Whether the class is one of a bolt thread (`true`) or of a nut thread (`false`); `None` if unknown.
    #[must_use]
    pub fn is_external(&self) -> Option<bool> {
        let iso = || self.iso().map(|(pitch, _)| pitch.position.is_ascii_lowercase());
        self.unified().map(|(_, external)| external).or_else(iso)
    }

    /// Number of an ASME B1.1 class, and whether it is external.
    pub(super) fn unified(&self) -> Option<(u8, bool)> {
        match self.0.as_bytes() {
            [number @ b'1'..=b'3', b'A'] => Some((number - b'0', true)),
            [number @ b'1'..=b'3', b'B'] => Some((number - b'0', false)),
            _ => None,
        }
    }

    /// Pitch-diameter and crest-diameter parts of an ISO 965-1 class.
    pub(super) fn iso(&self) -> Option<(Part, Part)> {
        let part = |bytes: &[u8]| Part { grade: bytes[0].wrapping_sub(b'0'), position: char::from(bytes[1]) };
        let (pitch, crest) = match self.0.as_bytes() {
            one @ [_, _] => (part(one), part(one)),
            two @ [_, _, _, _] => (part(&two[..2]), part(&two[2..])),
            _ => return None,
        };
        let fits = match (pitch.position, crest.position) {
            // ISO 965-1:1998, 5: grades of d2 are 3 to 9, of d 4, 6 and 8; of D2 and D1 4 to 8.
            ('e'..='h', 'e'..='h') => (3..=9).contains(&pitch.grade) && [4, 6, 8].contains(&crest.grade),
            ('G' | 'H', 'G' | 'H') => (4..=8).contains(&pitch.grade) && (4..=8).contains(&crest.grade),
            _ => false,
        };
        fits.then_some((pitch, crest))
    }
}

impl FromStr for ThreadClass {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let word = text.trim();
        let allowed = |c: char| c.is_ascii_alphanumeric() || c == '/';
        if word.is_empty() || word.len() > LENGTH_MAX || !word.chars().all(allowed) {
            return Err(TextError::new(text, 0, "a thread class such as 6g, 4g6g, 6H or 2A"));
        }
        let upper = word.to_ascii_uppercase();
        let unified = Self(upper);
        if unified.unified().is_some() {
            return Ok(unified);
        }
        let (half, other) = word.split_at(word.len() / 2);
        let word = if word.len() == 4 && half == other { half } else { word };
        Ok(Self(word.to_owned()))
    }
}

impl fmt::Display for ThreadClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

super::text_form!(ThreadClass, "Tolerance class of the thread", ["6g", "6H", "2A"]);
