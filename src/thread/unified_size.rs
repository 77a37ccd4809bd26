//! Sizes of inch threads: `#10`, `3/8`, `1 1/4`, `.250`.

use crate::units::{MILLIMETERS_PER_INCH, Scanner};
use std::fmt;

/// Nanometres in an inch.
const NANOMETERS_PER_INCH: u64 = 25_400_000;

/// The nominal size of an inch thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Size {
    /// A numbered size: 0.060 in + 0.013 in for each number (ASME B1.1, section 2).
    Number(u8),
    /// Inches, whole and a proper fraction; lowest terms unless no standard could have the fraction.
    Inches { whole: u8, over: u8, under: u8 },
    /// Ten-thousandths of an inch that are no numbered size and no fraction of 64.
    Decimal(u32),
}

/// The largest numbered size of ASME B1.1.
const NUMBER_MAX: u8 = 12;
/// The largest size in inches that is read as a thread; ASME B1.1 ends at 6 in.
const INCHES_MAX: u8 = 12;

impl Size {
    /// A size as the table writes it.
    pub fn of_table(text: &str) -> Self {
        let mut scanner = Scanner::new(text);
        Self::scan(&mut scanner).expect("the sizes of the table are well formed")
    }

    pub fn nanometers(self) -> u64 {
        match self {
            Self::Number(number) => (60 + 13 * u64::from(number)) * NANOMETERS_PER_INCH / 1000,
            Self::Inches { whole, over, under } => {
                u64::from(whole) * NANOMETERS_PER_INCH + u64::from(over) * NANOMETERS_PER_INCH / u64::from(under)
            }
            Self::Decimal(tenthous) => u64::from(tenthous) * NANOMETERS_PER_INCH / 10_000,
        }
    }

    pub fn millimeters(self) -> f64 {
        self.inches() * MILLIMETERS_PER_INCH
    }

    pub fn inches(self) -> f64 {
        match self {
            Self::Number(number) => f64::from(60 + 13 * u32::from(number)) / 1000.0,
            Self::Inches { whole, over, under } => f64::from(whole) + f64::from(over) / f64::from(under),
            Self::Decimal(tenthous) => f64::from(tenthous) / 10_000.0,
        }
    }

    pub fn is_numbered(self) -> bool {
        matches!(self, Self::Number(_))
    }

    /// Whether the size alone says that an inch thread is meant: a number sign or a fraction does.
    pub fn is_telling(self) -> bool {
        matches!(self, Self::Number(_) | Self::Inches { over: 1.., .. })
    }

    /// Whether the fraction is none of halves, quarters, eighths … of an inch.
    pub fn is_misprint(self) -> bool {
        matches!(self, Self::Inches { under, .. } if !under.is_power_of_two())
    }

    /// The same digits with or without the number sign.
    pub fn other_reading(self) -> Option<Self> {
        match self {
            Self::Number(number @ 1..) => Some(Self::Inches { whole: number, over: 0, under: 1 }),
            Self::Inches { whole: number @ 1..=NUMBER_MAX, over: 0, .. } => Some(Self::Number(number)),
            _ => None,
        }
    }

    /// Reads a size and an inch sign behind it.
    pub fn scan(scanner: &mut Scanner<'_>) -> Option<Self> {
        if scanner.take_any(&["#", "no.", "no", "nr.", "nr", "№"]) {
            scanner.skip_spaces();
            let number = digits(scanner).parse().ok()?;
            return (number <= NUMBER_MAX).then_some(Self::Number(number));
        }
        let whole = digits(scanner);
        let size = if scanner.take_any(&[".", ","]) {
            Self::decimal(whole, digits(scanner))?
        } else {
            Self::scan_inches(scanner, whole)?
        };
        let place = scanner.at();
        scanner.skip_spaces();
        let inch = scanner.take_any(&["\"", "″", "''", "inch", "in.", "in"]);
        if !inch || scanner.peek().is_some_and(char::is_alphanumeric) {
            scanner.go_to(place);
        }
        Some(size)
    }

    /// Reads `/8`, ` 1/4`, `-1/4` behind the first digits.
    fn scan_inches(scanner: &mut Scanner<'_>, first: &str) -> Option<Self> {
        let first: u8 = first.parse().ok()?;
        let place = scanner.at();
        if scanner.take_any(&["/", "⁄"]) {
            return Self::fraction(0, first, digits(scanner).parse().ok()?);
        }
        scanner.skip_spaces();
        scanner.take_any(super::HYPHENS);
        scanner.skip_spaces();
        let over = digits(scanner);
        if scanner.at() > place && !over.is_empty() && scanner.take_any(&["/", "⁄"]) {
            return Self::fraction(first, over.parse().ok()?, digits(scanner).parse().ok()?);
        }
        scanner.go_to(place);
        (1..=INCHES_MAX).contains(&first).then_some(Self::Inches { whole: first, over: 0, under: 1 })
    }

    fn fraction(whole: u8, over: u8, under: u8) -> Option<Self> {
        if over == 0 || over >= under || under > 128 || whole > INCHES_MAX {
            return None;
        }
        let (mut over, mut under) = (over, under);
        while under.is_power_of_two() && over % 2 == 0 {
            (over, under) = (over / 2, under / 2);
        }
        Some(Self::Inches { whole, over, under })
    }

    /// A decimal size of three or four places is the numbered size or the fraction of 64 that it rounds.
    fn decimal(whole: &str, decimals: &str) -> Option<Self> {
        if decimals.is_empty() || decimals.len() > 4 || whole.len() > 2 {
            return None;
        }
        let inches: f64 = format!("0{whole}.{decimals}").parse().ok()?;
        if inches <= 0.0 || inches > f64::from(INCHES_MAX) {
            return None;
        }
        let rounding = 0.5 * 10_f64.powi(-(decimals.len().max(3) as i32)) + 1e-9;
        let is = |size: &Self| (size.inches() - inches).abs() <= rounding;
        let numbered = (0..=NUMBER_MAX).map(Self::Number).find(is);
        let sixty_fourths = (inches * 64.0).round() as u32;
        let (whole, over) = (u8::try_from(sixty_fourths / 64).ok()?, (sixty_fourths % 64) as u8);
        let fraction = if over == 0 {
            Some(Self::Inches { whole, over: 0, under: 1 }).filter(|_| whole > 0)
        } else {
            Self::fraction(whole, over, 64)
        };
        numbered.or(fraction.filter(is)).or(Some(Self::Decimal((inches * 10_000.0).round() as u32)))
    }
}

fn digits<'t>(scanner: &mut Scanner<'t>) -> &'t str {
    scanner.take_while(|c| c.is_ascii_digit())
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Number(number) => write!(f, "#{number}"),
            Self::Inches { whole, over: 0, .. } => write!(f, "{whole}"),
            Self::Inches { whole: 0, over, under } => write!(f, "{over}/{under}"),
            Self::Inches { whole, over, under } => write!(f, "{whole} {over}/{under}"),
            // All four places: 0.406 would be read back as 13/32, which 0.4060 is not.
            Self::Decimal(tenthous) => write!(f, "{}.{:04}", tenthous / 10_000, tenthous % 10_000),
        }
    }
}
