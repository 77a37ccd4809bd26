//! Which places of a joint a fastener sits at.

use super::field::text_fields;
use crate::units::{Scanner, TextError};
use std::fmt;

/// Positions of a joint, kept in the order and grouping they were written in.
///
/// # Text
/// `1-4,6`: runs and single numbers from 1 to 999, joined by commas. A position written twice is kept:
/// the audit flags it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Positions(Vec<(u32, u32)>);

/// The highest number of a position.
pub const POSITION_MAX: u32 = 999;

impl Positions {
    /// The runs as they were written, each with its first and its last position.
    pub fn runs(&self) -> impl Iterator<Item = (u32, u32)> + '_ {
        self.0.iter().copied()
    }

    /// Every position in the order written, doubled ones twice.
    pub fn iter(&self) -> impl Iterator<Item = u32> + '_ {
        self.0.iter().flat_map(|&(first, last)| first..=last)
    }

    /// Whether the fastener sits at this position.
    #[must_use]
    pub fn contains(&self, position: u32) -> bool {
        self.0.iter().any(|&(first, last)| (first..=last).contains(&position))
    }

    /// How many positions were written, doubled ones counted twice.
    #[must_use]
    pub fn count(&self) -> usize {
        self.0.iter().map(|&(first, last)| (last - first + 1) as usize).sum()
    }
}

impl fmt::Display for Positions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, (first, last)) in self.0.iter().enumerate() {
            let comma = if i == 0 { "" } else { "," };
            if first == last {
                write!(f, "{comma}{first}")?;
            } else {
                write!(f, "{comma}{first}-{last}")?;
            }
        }
        Ok(())
    }
}

impl std::str::FromStr for Positions {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        let mut runs = Vec::new();
        loop {
            let first = scan_position(&mut scanner)?;
            scanner.skip_spaces();
            let last = if scanner.take_any(&["-", "–", ".."]) { scan_position(&mut scanner)? } else { first };
            if last < first {
                return Err(scanner.error(format!("the end of a run that begins at {first} to be no smaller")));
            }
            runs.push((first, last));
            if runs.len() > 200 {
                return Err(scanner.error("at most 200 runs of positions"));
            }
            scanner.skip_spaces();
            if !scanner.take_any(&[",", ";"]) {
                scanner.finish()?;
                return Ok(Self(runs));
            }
        }
    }
}

fn scan_position(scanner: &mut Scanner<'_>) -> Result<u32, TextError> {
    scanner.skip_spaces();
    let start = scanner.at();
    let number = scanner.take_while(|c| c.is_ascii_digit()).parse().ok();
    number.filter(|n| (1..=POSITION_MAX).contains(n)).ok_or_else(|| {
        scanner.go_to(start);
        scanner.error(format!("the number of a position, 1 to {POSITION_MAX}"))
    })
}

text_fields!(Positions);
super::shown_as_text!(Positions, "numbers of positions and runs of them", "1-4,6", 1600);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_runs_and_keeps_doubles() {
        let positions: Positions = " 1-4, 6,6".parse().unwrap();
        assert_eq!(positions.to_string(), "1-4,6,6");
        assert_eq!(positions.iter().collect::<Vec<_>>(), [1, 2, 3, 4, 6, 6]);
        assert_eq!(positions.count(), 6);
        for text in ["", "0", "4-1", "1,", "a", "1000"] {
            assert!(text.parse::<Positions>().is_err(), "{text}");
        }
    }
}
