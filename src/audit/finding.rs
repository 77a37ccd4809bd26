//! What one rule says about one field of one record.

use crate::record::Id;
use serde::Serialize;
use std::fmt;

/// How bad it is. Ordered: a note is less than a warning, a warning less than an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// It could not be judged, or a courtesy.
    Note,
    /// Improbable or risky: more likely wrong than right.
    Warning,
    /// It cannot be, or it contradicts itself: near certain to be wrong.
    Error,
}

impl Severity {
    /// All of them, the least first.
    pub const ALL: &'static [Self] = &[Self::Note, Self::Warning, Self::Error];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl std::str::FromStr for Severity {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL
            .iter()
            .copied()
            .find(|severity| severity.word() == text)
            .ok_or_else(|| format!("\"{text}\" is not a severity; write note, warning or error"))
    }
}

/// What one rule says about one field of one record. Derived whenever asked for, never stored.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Finding {
    /// The rule; `explain` tells what it is about.
    pub rule: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// The id of the record.
    #[schema(value_type = Id)]
    pub record: String,
    /// The field, such as `stages[2]` (counted from 0), or empty for the whole record.
    pub field: String,
    /// What stands there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<String>,
    /// What it was compared with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<Allowed>,
    /// The finding in one sentence.
    pub message: String,
    /// The quantities that it rests on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub because: Vec<Because>,
    /// What was perhaps meant, the most probable first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub perhaps: Vec<Perhaps>,
    /// Where to look it up: the document, edition and page that the record was read from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub look_up: Option<String>,
    /// The probability that the entry is wrong, where the rule can tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1)]
    pub sure: Option<f64>,
    /// Why somebody accepted it, if somebody did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accepted: Option<String>,
}

/// What a value was compared with.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[serde(untagged)]
pub enum Allowed {
    /// From one value to another; one of them may be missing.
    Range {
        /// The least.
        #[serde(skip_serializing_if = "Option::is_none")]
        min: Option<String>,
        /// The most.
        #[serde(skip_serializing_if = "Option::is_none")]
        max: Option<String>,
    },
    /// One of several values.
    OneOf {
        /// The values.
        one_of: Vec<String>,
    },
}

impl fmt::Display for Allowed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Range { min: Some(min), max: Some(max) } => write!(f, "{min} to {max}"),
            Self::Range { min: Some(min), max: None } => write!(f, "at least {min}"),
            Self::Range { min: None, max: Some(max) } => write!(f, "at most {max}"),
            Self::Range { min: None, max: None } => f.write_str("anything"),
            Self::OneOf { one_of } => f.write_str(&one_of.join(", ")),
        }
    }
}

/// A quantity that a finding rests on, and where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Because {
    /// What it is, with its unit last: `utilisation`, `yield_mpa`.
    pub quantity: String,
    /// How much.
    pub value: Evidence,
    /// The standard, formula or record that it was taken from.
    pub source: String,
}

/// A number or a text that a finding rests on.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[serde(untagged)]
pub enum Evidence {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
}

/// What an entry was perhaps meant to be.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Perhaps {
    /// The value meant.
    pub value: String,
    /// How it became what stands there.
    pub slip: String,
    /// How probable that is, given that everything known was weighed.
    #[schema(minimum = 0, maximum = 1)]
    pub probability: f64,
}

impl Perhaps {
    /// The probability in words: `68 %`, and never a certainty that no model has.
    #[must_use]
    pub fn chance(&self) -> String {
        chance(self.probability)
    }
}

/// A probability in words. The highest that is told stands for all above it.
#[must_use]
pub fn chance(probability: f64) -> String {
    match probability {
        over if over >= 0.99 => "over 99 %".to_owned(),
        under if under < 0.01 => "under 1 %".to_owned(),
        between => format!("{:.0} %", between * 100.0),
    }
}

impl Finding {
    /// A finding about this field. Rule and record are filled in by the one who runs the rule.
    #[must_use]
    pub fn new(severity: Severity, field: impl Into<String>, message: impl Into<String>) -> Self {
        Self {
            rule: "",
            severity,
            record: String::new(),
            field: field.into(),
            found: None,
            allowed: None,
            message: message.into(),
            because: Vec::new(),
            perhaps: Vec::new(),
            look_up: None,
            sure: None,
            accepted: None,
        }
    }

    /// A finding that the entry cannot be right.
    #[must_use]
    pub fn error(field: impl Into<String>, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, field, message)
    }

    /// A finding that the entry is improbable or risky.
    #[must_use]
    pub fn warning(field: impl Into<String>, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, field, message)
    }

    /// A finding that something could not be judged, or a courtesy.
    #[must_use]
    pub fn note(field: impl Into<String>, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, field, message)
    }

    /// With what stands there.
    #[must_use]
    pub fn found(mut self, found: impl fmt::Display) -> Self {
        self.found = Some(found.to_string());
        self
    }

    /// With what it was compared with.
    #[must_use]
    pub fn allowed(mut self, allowed: Allowed) -> Self {
        self.allowed = Some(allowed);
        self
    }

    /// With the values that would be right.
    #[must_use]
    pub fn one_of<T: fmt::Display>(self, values: impl IntoIterator<Item = T>) -> Self {
        self.allowed(Allowed::OneOf { one_of: values.into_iter().map(|value| value.to_string()).collect() })
    }

    /// With a number that it rests on, rounded to four significant figures.
    #[must_use]
    pub fn because(mut self, quantity: &str, value: f64, source: impl fmt::Display) -> Self {
        let value = Evidence::Number(four_figures(value));
        self.because.push(Because { quantity: quantity.to_owned(), value, source: source.to_string() });
        self
    }

    /// With a text that it rests on.
    #[must_use]
    pub fn because_of(mut self, quantity: &str, value: impl fmt::Display, source: impl fmt::Display) -> Self {
        let value = Evidence::Text(value.to_string());
        self.because.push(Because { quantity: quantity.to_owned(), value, source: source.to_string() });
        self
    }
}

/// Rounds to four significant figures, so that findings read the same everywhere.
fn four_figures(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::chance;

    #[test]
    fn nothing_is_certain() {
        let told = [0.001, 0.01, 0.676, 0.98, 0.99, 0.999].map(chance);
        assert_eq!(told, ["under 1 %", "1 %", "68 %", "98 %", "over 99 %", "over 99 %"]);
    }
}
