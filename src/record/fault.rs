//! What is wrong with a text that should have been a record: every fault with its place.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::fmt::{self, Write as _};

/// One fault of a record: what, where, what was given, what would be right.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Fault {
    /// What kind of fault, a word for programs: `unknown-field`, `missing`, `wrong-type`, `unreadable`, `contradiction`.
    pub code: Cow<'static, str>,
    /// The place as a JSON pointer (RFC 6901), `""` for the whole.
    pub pointer: String,
    /// What stood there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub given: Option<String>,
    /// What may stand there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<String>,
    /// The fault in one sentence.
    pub detail: String,
    /// What to do about it, where that can be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hint: Option<String>,
}

impl Fault {
    /// A fault of this kind at this place.
    #[must_use]
    pub fn new(code: &'static str, place: &Place, detail: impl Into<String>) -> Self {
        Self {
            code: code.into(),
            pointer: place.to_string(),
            given: None,
            allowed: None,
            detail: detail.into(),
            hint: None,
        }
    }

    /// With what stood there, cut to a length that fits a message.
    #[must_use]
    pub fn given(mut self, given: impl fmt::Display) -> Self {
        let text = given.to_string();
        let cut: String = text.chars().take(80).collect();
        self.given = Some(if cut.len() < text.len() { format!("{cut}…") } else { cut });
        self
    }

    /// With what may stand there.
    #[must_use]
    pub fn allowed(mut self, allowed: impl Into<String>) -> Self {
        self.allowed = Some(allowed.into());
        self
    }

    /// With what to do about it.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = if self.pointer.is_empty() { "record" } else { &self.pointer };
        write!(f, "{place}: {}.", self.detail)?;
        match &self.hint {
            Some(hint) => write!(f, " {hint}."),
            None => Ok(()),
        }
    }
}

/// A place inside a JSON value.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Place(String);

impl Place {
    /// The whole value.
    #[must_use]
    pub fn root() -> Self {
        Self::default()
    }

    /// The place of a member or an element below this one.
    #[must_use]
    pub fn below(&self, key: impl fmt::Display) -> Self {
        /// Room for most steps, so that a place is made at once: every field that is read has one.
        const STEP: usize = 24;
        let mut path = String::with_capacity(self.0.len() + STEP);
        path.push_str(&self.0);
        path.push('/');
        // Writing into a text does not fail.
        let _ = write!(Escaped(&mut path), "{key}");
        Self(path)
    }
}

/// Writes a step of a JSON pointer, in which `~` and `/` have another spelling (RFC 6901).
struct Escaped<'t>(&'t mut String);

impl fmt::Write for Escaped<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        if !text.contains(['~', '/']) {
            self.0.push_str(text);
            return Ok(());
        }
        for character in text.chars() {
            match character {
                '~' => self.0.push_str("~0"),
                '/' => self.0.push_str("~1"),
                other => self.0.push(other),
            }
        }
        Ok(())
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// All faults of a record that was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct Refused(pub Vec<Fault>);

/// Up to three of `known` that look like `word`, the nearest first.
#[must_use]
pub fn near_words<'k>(word: &str, known: impl IntoIterator<Item = &'k str>) -> Vec<&'k str> {
    let word = word.to_lowercase();
    let mut scored: Vec<(f64, &str)> =
        known.into_iter().map(|name| (strsim::jaro_winkler(&word, &name.to_lowercase()), name)).collect();
    scored.retain(|(score, _)| *score > 0.78);
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(b.1)));
    scored.into_iter().take(3).map(|(_, name)| name).collect()
}

/// `Did you mean a, b or c?` without the question mark, or nothing when nothing is near.
#[must_use]
pub fn did_you_mean(word: &str, known: &[&str]) -> Option<String> {
    let near = near_words(word, known.iter().copied());
    let (last, before) = near.split_last()?;
    Some(if before.is_empty() {
        format!("Did you mean {last}")
    } else {
        format!("Did you mean {} or {last}", before.join(", "))
    })
}
