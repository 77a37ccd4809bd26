//! A thread with its tolerance class and hand, as one text.

use super::{HYPHENS, Thread, ThreadClass};
use crate::units::{Scanner, TextError};
use std::fmt;
use std::str::FromStr;

/// Which way a thread tightens.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Hand {
    /// Tightens clockwise: what is meant when nothing is written.
    Right,
    /// Tightens anticlockwise.
    Left,
}

impl Hand {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("LEFT-HAND", Self::Left),
        ("LEFT HAND", Self::Left),
        ("LEFT", Self::Left),
        ("L.H.", Self::Left),
        ("LH", Self::Left),
        ("RIGHT-HAND", Self::Right),
        ("RIGHT HAND", Self::Right),
        ("RIGHT", Self::Right),
        ("R.H.", Self::Right),
        ("RH", Self::Right),
    ];

    fn scan(scanner: &mut Scanner<'_>) -> Option<Self> {
        Self::WORDS.iter().find_map(|&(word, hand)| {
            let mut ahead = *scanner;
            let found = ahead.take_any(&[word]) && !ahead.peek().is_some_and(char::is_alphanumeric);
            found.then(|| *scanner = ahead)?;
            Some(hand)
        })
    }
}

impl fmt::Display for Hand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Right => "right",
            Self::Left => "left",
        })
    }
}

impl FromStr for Hand {
    type Err = TextError;
    /// `right` or `left`, also as `RH`, `left-hand` and the like.
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        scanner.skip_spaces();
        let hand = Self::scan(&mut scanner).ok_or_else(|| scanner.error("right or left"))?;
        scanner.finish()?;
        Ok(hand)
    }
}

/// A thread as a drawing names it: thread, class, hand.
///
/// # Text
/// `M10×1.5-6g-LH`, `3/8-16 UNC-2A`; read also with spaces for the hyphens and with `left` for `LH`. A text
/// that does not end in a class and hand is all thread, under the rules of [`Thread`].
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Designation {
    /// The thread alone.
    pub thread: Thread,
    /// The tolerance class, if one is written.
    pub class: Option<ThreadClass>,
    /// The hand, if one is written.
    pub hand: Option<Hand>,
}

impl Designation {
    /// Thread, class and hand, if the whole text is a metric or unified thread with what may follow one.
    pub(super) fn read(text: &str) -> Option<Self> {
        let mut scanner = Scanner::new(text);
        let thread = Thread::scan(&mut scanner)?;
        let (mut class, mut hand) = (None, None);
        while !scanner.is_done() {
            let place = scanner.at();
            scanner.skip_spaces();
            scanner.take_any(HYPHENS);
            scanner.take_any(&[","]);
            scanner.skip_spaces();
            if scanner.at() == place {
                return None;
            }
            if hand.is_none()
                && let Some(found) = Hand::scan(&mut scanner)
            {
                hand = Some(found);
                continue;
            }
            let word = scanner.take_while(|c| c.is_ascii_alphanumeric() || c == '/');
            let looks_like_class = word.starts_with(|c: char| c.is_ascii_digit())
                && word.ends_with(|c: char| c.is_ascii_alphabetic())
                && class.is_none();
            class = Some(word.parse().ok().filter(|_| looks_like_class)?);
        }
        Some(Self { thread, class, hand })
    }
}

impl FromStr for Designation {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let read = Self::read(&super::tidied(text));
        read.map_or_else(|| Ok(Self { thread: text.parse()?, class: None, hand: None }), Ok)
    }
}

impl From<Thread> for Designation {
    fn from(thread: Thread) -> Self {
        Self { thread, class: None, hand: None }
    }
}

impl fmt::Display for Designation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.thread)?;
        if let Some(class) = &self.class {
            write!(f, "-{class}")?;
        }
        match self.hand {
            Some(Hand::Left) => f.write_str("-LH"),
            Some(Hand::Right) => f.write_str("-RH"),
            None => Ok(()),
        }
    }
}

super::text_form!(Designation, "Thread with its class and hand", ["M10×1.5-6g-LH", "3/8-16 UNC-2A"]);
