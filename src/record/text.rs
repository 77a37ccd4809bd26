//! Plain text in a record.

use super::field::text_fields;
use std::fmt;

/// One line of plain text: not empty, no control characters, at most 500 characters, no spaces at its ends.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Text(String);

/// The most characters in a line of text.
pub const TEXT_MAX: usize = 500;

impl Text {
    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::ops::Deref for Text {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// Why a text was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UnfitText {
    /// Nothing but spaces.
    #[error("the text is empty; leave the field out instead")]
    Empty,
    /// Too many characters.
    #[error("the text has {0} characters, at most {TEXT_MAX} are kept")]
    Long(usize),
    /// A control character: line breaks belong in separate entries.
    #[error("the text holds the control character U+{0:04X}; write one line without it")]
    Control(u32),
}

impl std::str::FromStr for Text {
    type Err = UnfitText;
    fn from_str(text: &str) -> Result<Self, UnfitText> {
        let text = text.trim();
        let length = text.chars().count();
        if text.is_empty() {
            return Err(UnfitText::Empty);
        }
        if length > TEXT_MAX {
            return Err(UnfitText::Long(length));
        }
        match text.chars().find(|c| c.is_control()) {
            Some(c) => Err(UnfitText::Control(u32::from(c))),
            None => Ok(Self(text.to_owned())),
        }
    }
}

text_fields!(Text);
super::shown_as_text!(Text, "plain text of one line", "Clean both faces; no sealant", 500);
