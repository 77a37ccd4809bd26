//! The ISO metric thread: diameter and pitch, read and printed.

use super::geometry::Geometry;
use super::metric_table::ISO_261;
use crate::units::Scanner;
use std::fmt;

/// Diameter and pitch in micrometres, so that equal threads are equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Metric {
    diameter_um: u32,
    /// `None` where no pitch was written and the standard has no coarse one for the diameter.
    pitch_um: Option<u32>,
}

/// The largest diameter that is read as a metric thread; ISO 261 ends at 300 mm.
const DIAMETER_UM_MAX: u32 = 1_000_000;

fn micrometers(millimeters: f64) -> u32 {
    (millimeters * 1000.0).round() as u32
}

impl Metric {
    /// Every pair of ISO 261, in the table's order, the coarse pitch of a diameter first.
    pub fn standard() -> impl Iterator<Item = Self> {
        ISO_261.iter().flat_map(|row| {
            let pitches = row.coarse_mm.into_iter().chain(row.fine_mm.iter().copied());
            pitches.map(|pitch| Self { diameter_um: micrometers(row.diameter_mm), pitch_um: Some(micrometers(pitch)) })
        })
    }

    fn row(self) -> Option<&'static super::metric_table::Row> {
        ISO_261.iter().find(|row| micrometers(row.diameter_mm) == self.diameter_um)
    }

    pub fn is_coarse(self) -> bool {
        self.pitch_um.is_some() && self.pitch_um == self.row().and_then(|row| row.coarse_mm).map(micrometers)
    }

    pub fn is_standard(self) -> bool {
        let Some(pitch) = self.pitch_um else { return false };
        self.is_coarse() || self.row().is_some_and(|row| row.fine_mm.iter().any(|&fine| micrometers(fine) == pitch))
    }

    /// Which column of ISO 261 the diameter stands in, 1 to 3.
    pub fn choice(self) -> Option<u8> {
        self.row().map(|row| row.choice)
    }

    pub fn geometry(self) -> Option<Geometry> {
        Geometry::metric(self.diameter_mm(), self.pitch_mm()?)
    }

    pub fn diameter_mm(self) -> f64 {
        f64::from(self.diameter_um) / 1000.0
    }

    pub fn pitch_mm(self) -> Option<f64> {
        self.pitch_um.map(|pitch| f64::from(pitch) / 1000.0)
    }

    pub fn diameter_nm(self) -> u64 {
        u64::from(self.diameter_um) * 1000
    }

    pub fn pitch_nm(self) -> Option<u64> {
        self.pitch_um.map(|pitch| u64::from(pitch) * 1000)
    }

    /// Reads `M8`, `m8x1,25`, `M 10 - 1.5` from the scanner's place; `None` leaves it where it is.
    pub fn scan(scanner: &mut Scanner<'_>) -> Option<Self> {
        let start = scanner.at();
        let found = Self::scan_after_letter(scanner);
        if found.is_none() {
            scanner.go_to(start);
        }
        found
    }

    fn scan_after_letter(scanner: &mut Scanner<'_>) -> Option<Self> {
        if !scanner.take_any(&["M"]) {
            return None;
        }
        scanner.skip_spaces();
        let diameter_um = scan_micrometers(scanner).filter(|&um| um <= DIAMETER_UM_MAX)?;
        let pitch_um = scan_pitch(scanner, diameter_um);
        let without = Self { diameter_um, pitch_um };
        let coarse = || without.row().and_then(|row| row.coarse_mm).map(micrometers);
        Some(Self { diameter_um, pitch_um: pitch_um.or_else(coarse) })
    }
}

/// Reads the pitch behind a diameter, if one follows: a number after a sign of multiplication, or after a
/// hyphen if no letter follows it (`M10-6g` has a tolerance class there). A number as large as the diameter
/// is no pitch but a bolt's length (`M8×35`) and is left alone.
fn scan_pitch(scanner: &mut Scanner<'_>, diameter_um: u32) -> Option<u32> {
    let start = scanner.at();
    let pitch = scan_separated(scanner).filter(|&pitch| pitch < diameter_um);
    if pitch.is_none() {
        scanner.go_to(start);
        return None;
    }
    let end = scanner.at();
    scanner.skip_spaces();
    if !scanner.take_any(&["mm"]) {
        scanner.go_to(end);
    }
    pitch
}

fn scan_separated(scanner: &mut Scanner<'_>) -> Option<u32> {
    scanner.skip_spaces();
    let hyphen = scanner.take_any(super::HYPHENS);
    if !hyphen && !scanner.take_any(&["×", "x", "*", "✕", "⨯"]) {
        return None;
    }
    scanner.skip_spaces();
    let pitch = scan_micrometers(scanner)?;
    if hyphen && scanner.peek().is_some_and(char::is_alphabetic) && !scanner.rest().starts_with("mm") {
        return None;
    }
    Some(pitch)
}

/// Reads a positive number of millimetres with at most four digits before and three behind the decimal sign.
fn scan_micrometers(scanner: &mut Scanner<'_>) -> Option<u32> {
    let whole = scanner.take_while(|c| c.is_ascii_digit());
    let mut decimals = "";
    let place = scanner.at();
    if scanner.take_any(&[".", ","]) {
        decimals = scanner.take_while(|c| c.is_ascii_digit());
        if decimals.is_empty() {
            scanner.go_to(place);
        }
    }
    if whole.len() > 4 || decimals.len() > 3 {
        return None;
    }
    let um: u32 = format!("{whole}{decimals:0<3}").parse().ok()?;
    (um > 0).then_some(um)
}

impl fmt::Display for Metric {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "M{}", Millimeters(self.diameter_um))?;
        self.pitch_um.map_or(Ok(()), |pitch| write!(f, "×{}", Millimeters(pitch)))
    }
}

/// Micrometres printed in millimetres without needless zeros.
struct Millimeters(u32);

impl fmt::Display for Millimeters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0 / 1000)?;
        let decimals = format!("{:03}", self.0 % 1000);
        match decimals.trim_end_matches('0') {
            "" => Ok(()),
            decimals => write!(f, ".{decimals}"),
        }
    }
}
