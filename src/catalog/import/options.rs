//! How something is to be taken in.

use super::super::Author;
use serde::{Deserialize, Serialize};

/// The form of what is taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ImportFormat {
    /// One JSON object a line.
    Ndjson,
    /// A JSON array of objects, or objects one after the other.
    Json,
    /// A table whose first row names the columns of [`crate::catalog::COLUMNS`].
    Csv,
}

/// What happens to good records when others have faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ImportMode {
    /// Nothing is stored; the report says what [`ImportMode::Whole`] would do.
    Check,
    /// All are stored, or none if there is a fault.
    #[default]
    Whole,
    /// The good ones are stored.
    Partial,
}

/// What happens to a record whose id stands in the book with another content.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OnSame {
    /// It is a fault.
    #[default]
    Refuse,
    /// The book keeps what it has.
    Skip,
    /// It becomes a new revision.
    Replace,
}

/// Who may say in an input that a record was compared with its source.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MayCheck {
    /// Whoever brings it in: the input is believed.
    #[default]
    Everybody,
    /// Nobody: that is a fault.
    Nobody,
    /// Somebody of this name, where another one stored what is in the book.
    Another(String),
}

/// The decimal sign of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decimal {
    /// `8.5`; a comma between digits is a fault, because it may part thousands.
    #[default]
    Point,
    /// `8,5`; a point between digits is a fault for the same reason.
    Comma,
}

/// How something is taken in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ImportOptions {
    /// What it is called in messages, such as `parts.csv`.
    pub name: String,
    /// Its form; absent means that its first character tells.
    pub format: Option<ImportFormat>,
    /// What happens to good records when others have faults.
    pub mode: ImportMode,
    /// What happens to a record that the book has with another content.
    pub on_same: OnSame,
    /// What parts the cells of a table; absent means a comma, or a semicolon if the first row has more of those.
    pub delimiter: Option<u8>,
    /// The decimal sign of a table.
    pub decimal: Decimal,
    /// Who stores it; not written down with the others, since whoever applies a check may be somebody else.
    #[serde(skip)]
    pub author: Author,
    /// Who may say that records were checked.
    pub may_check: MayCheck,
    /// How many records go into one batch when batches may be parted.
    pub batch: usize,
    /// How many faults are kept; the others are only counted.
    pub faults_max: usize,
}

impl Default for ImportOptions {
    fn default() -> Self {
        Self {
            name: "input".to_owned(),
            format: None,
            mode: ImportMode::default(),
            on_same: OnSame::default(),
            delimiter: None,
            decimal: Decimal::default(),
            author: Author::unknown(),
            may_check: MayCheck::default(),
            batch: 4096,
            faults_max: 10_000,
        }
    }
}

impl ImportFormat {
    /// The form that the beginning of an input tells.
    #[must_use]
    pub fn of(start: &[u8]) -> Self {
        let text = start.trim_ascii_start();
        match text.first() {
            Some(b'[') => Self::Json,
            Some(b'{') => {
                let line = text.split(|byte| *byte == b'\n').next().unwrap_or_default();
                let is_whole = serde_json::from_slice::<serde::de::IgnoredAny>(line).is_ok();
                if is_whole { Self::Ndjson } else { Self::Json }
            }
            _ => Self::Csv,
        }
    }
}
