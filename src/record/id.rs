//! Names of records: dotted paths.

use super::field::text_fields;
use std::fmt;
use std::sync::Arc;

/// The id of a record: two to eight segments of `a-z 0-9 -` joined by dots, at most 160 bytes.
///
/// # Text
/// `skua.diesel.raw-water-pump.cover`. Not accepted: capitals, spaces, empty segments, a `-` at a segment's end.
///
/// Cheap to clone: all clones share one text.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Id(Arc<str>);

/// The most bytes in an id.
pub const ID_MAX: usize = 160;

impl Id {
    /// The id as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The same id with a text of its own, for one who keeps it when all that it came with is let go: small pieces that stay
    /// hold the memory around them.
    #[must_use]
    pub fn apart(&self) -> Self {
        Self(Arc::from(&*self.0))
    }

    /// The dotted path without its last segment: the assembly of a joint.
    #[must_use]
    pub fn parent(&self) -> &str {
        self.0.rsplit_once('.').map_or("", |(parent, _)| parent)
    }

    /// The last segment.
    #[must_use]
    pub fn last(&self) -> &str {
        self.0.rsplit_once('.').map_or(&self.0, |(_, last)| last)
    }

    /// Whether this id is `path` or lies below it.
    #[must_use]
    pub fn is_within(&self, path: &str) -> bool {
        self.0.strip_prefix(path).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl std::borrow::Borrow<str> for Id {
    fn borrow(&self) -> &str {
        &self.0
    }
}

/// Why a text is not an id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAnId {
    /// Too long.
    #[error("an id has at most {ID_MAX} bytes, this one has {0}")]
    Long(usize),
    /// Too few or too many segments.
    #[error("an id has two to eight segments joined by dots, \"{text}\" has {count}")]
    Segments {
        /// The text.
        text: String,
        /// How many segments it has.
        count: usize,
    },
    /// A segment that has other characters, is empty, or begins or ends with a hyphen.
    #[error("the segment \"{segment}\" of \"{text}\" is not made of a-z, 0-9 and inner hyphens")]
    Segment {
        /// The text.
        text: String,
        /// The segment.
        segment: String,
    },
}

impl std::str::FromStr for Id {
    type Err = NotAnId;
    fn from_str(text: &str) -> Result<Self, NotAnId> {
        if text.len() > ID_MAX {
            return Err(NotAnId::Long(text.len()));
        }
        let count = text.split('.').count();
        if !(2..=8).contains(&count) {
            return Err(NotAnId::Segments { text: text.to_owned(), count });
        }
        match text.split('.').find(|segment| !is_segment(segment)) {
            Some(segment) => Err(NotAnId::Segment { text: text.to_owned(), segment: segment.to_owned() }),
            None => Ok(Self(text.into())),
        }
    }
}

fn is_segment(segment: &str) -> bool {
    !segment.is_empty()
        && !segment.starts_with('-')
        && !segment.ends_with('-')
        && segment.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

text_fields!(Id);
super::shown_as_text!(
    Id,
    "dotted path of two to eight segments of a-z, 0-9 and hyphens",
    "skua.diesel.raw-water-pump.cover",
    160
);
