//! A moment that a question is about.

use std::fmt;
use std::str::FromStr;

/// A moment in the history of the book.
///
/// # Text
///
/// `2026-03-01T08:00:00Z`, or a day, `2026-03-01`, which is its first moment in UTC. `yesterday` is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(pub jiff::Timestamp);

impl FromStr for Moment {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let moment = text.parse().ok().or_else(|| {
            let day = text.parse::<jiff::civil::Date>().ok().filter(|day| day.to_string() == text)?;
            format!("{day}T00:00:00Z").parse().ok()
        });
        moment.map(Self).ok_or_else(|| format!("\"{text}\" is not a moment such as 2026-03-01T00:00:00Z, nor a day"))
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_its_first_moment() {
        let read = |text: &str| text.parse::<Moment>().map(|moment| moment.to_string());
        assert_eq!(read("2026-03-01").unwrap(), "2026-03-01T00:00:00Z");
        assert_eq!(read(" 2026-03-01T09:00:00+01:00").unwrap(), "2026-03-01T08:00:00Z");
        for wrong in ["yesterday", "", "2026-03-01T08:00:00", "2026-02-30", "2026-03"] {
            assert!(read(wrong).unwrap_err().contains(wrong), "{wrong}");
        }
    }
}
