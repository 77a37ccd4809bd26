//! The unified inch thread: size, threads per inch and series, read and printed.

use super::geometry::Geometry;
use super::unified_size::Size;
use super::unified_table::{ASME_B1_1, Row};
use crate::units::{MILLIMETERS_PER_INCH, Scanner};
use std::fmt;
use std::sync::OnceLock;

/// A series of ASME B1.1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Series {
    Coarse,
    Fine,
    ExtraFine,
    /// Constant pitch: 4-UN, 6-UN, 8-UN …
    Constant,
    Special,
}

impl Series {
    /// The series written at the scanner's place. A UNR form (rounded root, external threads only) reads as
    /// its UN series: diameter, pitch and stress area are the same.
    fn scan(scanner: &mut Scanner<'_>) -> Option<Self> {
        let place = scanner.at();
        let word = scanner.take_while(|c| c.is_ascii_alphabetic()).to_ascii_uppercase();
        let series = match word.as_str() {
            "UNC" | "UNRC" => Some(Self::Coarse),
            "UNF" | "UNRF" => Some(Self::Fine),
            "UNEF" | "UNREF" => Some(Self::ExtraFine),
            "UN" | "UNR" => Some(Self::Constant),
            "UNS" | "UNRS" => Some(Self::Special),
            _ => None,
        };
        if series.is_none() {
            scanner.go_to(place);
        }
        series
    }

    fn symbol(self) -> &'static str {
        match self {
            Self::Coarse => "UNC",
            Self::Fine => "UNF",
            Self::ExtraFine => "UNEF",
            Self::Constant => "UN",
            Self::Special => "UNS",
        }
    }
}

/// Size, count and series as written, completed from the standard where it is unambiguous.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Unified {
    size: Size,
    /// Threads per inch in tenths: 45 is 4 1/2.
    tenths: Option<u16>,
    series: Option<Series>,
}

/// Every pair of the table, in its order.
fn table() -> &'static [Unified] {
    static TABLE: OnceLock<Vec<Unified>> = OnceLock::new();
    TABLE.get_or_init(|| ASME_B1_1.iter().flat_map(pairs).collect())
}

fn pairs(row: &'static Row) -> Vec<Unified> {
    let size = Size::of_table(row.size);
    let cells = [(row.coarse, Series::Coarse), (row.fine, Series::Fine), (row.extra_fine, Series::ExtraFine)];
    let named = cells.into_iter().filter_map(|(tenths, series)| tenths.map(|tenths| (tenths, series)));
    let constant = row.constant.iter().map(|&tenths| (tenths, Series::Constant));
    let special = row.special.iter().map(|&tenths| (tenths, Series::Special));
    named
        .chain(constant)
        .chain(special)
        .map(|(tenths, series)| Unified { size, tenths: Some(tenths), series: Some(series) })
        .collect()
}

impl Unified {
    /// Every pair of ASME B1.1 that the table holds, in its order.
    pub fn standard() -> impl Iterator<Item = Self> {
        table().iter().copied()
    }

    /// Whether the size has this count in this series.
    pub fn is_standard(self) -> bool {
        table().contains(&self)
    }

    pub fn is_coarse(self) -> bool {
        self.series == Some(Series::Coarse) && self.is_standard()
    }

    pub fn series(self) -> Option<Series> {
        self.series
    }

    pub fn diameter_in(self) -> f64 {
        self.size.inches()
    }

    /// Whether the size can't be one: inch sizes are divided in halves only.
    pub fn is_misprint(self) -> bool {
        self.size.is_misprint()
    }

    pub fn geometry(self) -> Option<Geometry> {
        Geometry::unified(self.size.millimeters(), MILLIMETERS_PER_INCH / self.threads_per_inch()?)
    }

    pub fn threads_per_inch(self) -> Option<f64> {
        self.tenths.map(|tenths| f64::from(tenths) / 10.0)
    }

    pub fn diameter_nm(self) -> u64 {
        self.size.nanometers()
    }

    pub fn pitch_nm(self) -> Option<u64> {
        self.tenths.map(|tenths| 254_000_000 / u64::from(tenths))
    }

    /// Reads `3/8-16 UNC`, `#10-24`, `No. 10-24`, `1-1/4-12`, `.250-20 UNC` from the scanner's place;
    /// `None` leaves it where it is.
    pub fn scan(scanner: &mut Scanner<'_>) -> Option<Self> {
        let start = scanner.at();
        let found = Self::scan_parts(scanner);
        if found.is_none() {
            scanner.go_to(start);
        }
        found
    }

    fn scan_parts(scanner: &mut Scanner<'_>) -> Option<Self> {
        let size = Size::scan(scanner)?;
        let tenths = scan_count(scanner);
        let place = scanner.at();
        scanner.skip_spaces();
        scanner.take_any(super::HYPHENS);
        scanner.skip_spaces();
        let series = Series::scan(scanner);
        if series.is_none() {
            scanner.go_to(place);
        }
        // A bare "12" or "2.56" could be anything.
        if tenths.is_none() && series.is_none() && !size.is_telling() {
            return None;
        }
        Some(Self { size, tenths, series }.settled().completed())
    }

    /// Decides what a size without a number sign means. `10-24` is #10 where the standard has that pair;
    /// `#1-8` is 1 in, because a #1 thread of that pitch would be deeper than the bolt.
    fn settled(self) -> Self {
        let listed = |size: Size| table().iter().any(|row| row.size == size && row.tenths == self.tenths);
        match self.size.other_reading() {
            Some(other) if listed(other) && !listed(self.size) => {
                let size = if self.size.is_numbered() && self.geometry().is_some() { self.size } else { other };
                Self { size, ..self }
            }
            _ => self,
        }
    }

    /// Fills in the series of a listed pair, or the count of a listed size and series.
    fn completed(self) -> Self {
        let same_size = table().iter().filter(|row| row.size == self.size);
        match (self.tenths, self.series) {
            (Some(_), None) => same_size.into_iter().find(|row| row.tenths == self.tenths).copied().unwrap_or(self),
            (None, Some(Series::Coarse | Series::Fine | Series::ExtraFine)) => {
                same_size.into_iter().find(|row| row.series == self.series).copied().unwrap_or(self)
            }
            _ => self,
        }
    }
}

/// Reads the threads per inch behind a size: a number after a hyphen, or after a space if a series follows.
fn scan_count(scanner: &mut Scanner<'_>) -> Option<u16> {
    let start = scanner.at();
    scanner.skip_spaces();
    let hyphen = scanner.take_any(super::HYPHENS);
    scanner.skip_spaces();
    let count = scan_tenths(scanner).filter(|_| {
        let mut ahead = *scanner;
        ahead.skip_spaces();
        ahead.take_any(super::HYPHENS);
        let series_follows = Series::scan(&mut ahead).is_some();
        // "#10-2A": a class, not a count.
        let letter_follows = scanner.peek().is_some_and(char::is_alphanumeric);
        series_follows || (hyphen && !letter_follows)
    });
    if count.is_none() {
        scanner.go_to(start);
    }
    count
}

/// Reads `16`, `4.5`, `4 1/2` as tenths of a thread; at most 200 threads.
fn scan_tenths(scanner: &mut Scanner<'_>) -> Option<u16> {
    let whole: u16 = scanner.take_while(|c| c.is_ascii_digit()).parse().ok()?;
    let place = scanner.at();
    let mut tenth = 0;
    if scanner.take_any(&[".", ","]) {
        let digit = scanner.take_while(|c| c.is_ascii_digit());
        if digit.len() != 1 {
            return None;
        }
        tenth = digit.parse().ok()?;
    } else if scanner.take_any(&[" 1/2", "-1/2"]) {
        tenth = 5;
    } else {
        scanner.go_to(place);
    }
    (1..=200).contains(&whole).then(|| whole * 10 + tenth)
}

impl fmt::Display for Unified {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.size)?;
        if let Some(tenths) = self.tenths {
            write!(f, "-{}", tenths / 10)?;
            if tenths % 10 > 0 {
                write!(f, ".{}", tenths % 10)?;
            }
        }
        self.series.map_or(Ok(()), |series| write!(f, " {}", series.symbol()))
    }
}
