//! The torques in a text as a document prints them: `20 N·m (15 lbf·ft) + 90°`.
//!
//! Only torques are read; everything else is passed over. Whether two of them mean the same is decided here too,
//! because that depends on how they were rounded.

use crate::record::{Form, Setting};
use crate::units::{Number, Scanner, TorqueUnit, Unit, scan_unit};

/// How far factors of conversion that are rounded to three figures, as documents use them, may be off.
const ROUNDED_FACTOR: f64 = 0.004;
/// How far a figure that a document rounds to 5 or 10 may be off and still be called right.
const ROUNDED_TO_FIVES: f64 = 0.035;

/// One torque of a text.
#[derive(Debug, Clone, PartialEq)]
pub struct PrintedTorque<'t> {
    /// As it stands in the text.
    pub text: &'t str,
    /// Its unit.
    pub unit: TorqueUnit,
    /// The text that separates it from the torque before.
    before: &'t str,
    low: Figure,
    high: Figure,
}

/// A number as printed, in newton-metres.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Figure {
    value: f64,
    /// Half of the last digit printed.
    half: f64,
    /// How many digits it has, zeros at its ends aside.
    figures: usize,
    /// Whether its last digit may have been rounded to 5 or 10.
    fives: bool,
    /// Whether it is an end of a range, which documents round inwards.
    end: bool,
}

impl Figure {
    fn new(number: Number, unit: TorqueUnit, end: bool) -> Self {
        let (value, half) = (number.value(), number.rounding());
        let digits: String = number.to_string().chars().filter(char::is_ascii_digit).collect();
        Self {
            value: value * unit.in_base(),
            half: half * unit.in_base(),
            figures: digits.trim_matches('0').len(),
            fives: half > 0.0 && digits.ends_with(['0', '5']),
            end,
        }
    }

    /// Whether two figures can be the same torque: one converted from the other and rounded, or both rounded to 5 or 10.
    fn agrees(self, other: Self) -> bool {
        let greatest = self.value.max(other.value);
        let both_fives = self.fives && other.fives && (self.value - other.value).abs() <= ROUNDED_TO_FIVES * greatest;
        self.gives(other) || other.gives(self) || both_fives
    }

    /// Whether the other can be this one, converted and rounded or cut off at the digits that the other has. Nobody
    /// states a torque to two digits more than its conversion.
    fn gives(self, other: Self) -> bool {
        let cut_off = self.value > other.value;
        let reach = if other.end || cut_off { 2.0 * other.half } else { other.half };
        let off = (self.value - other.value).abs();
        self.figures <= other.figures + 1 && off <= reach + ROUNDED_FACTOR * other.value
    }
}

impl PrintedTorque<'_> {
    /// Whether two torques can be one, each printed in its own unit.
    #[must_use]
    pub fn agrees(&self, other: &Self) -> bool {
        let by_ends = self.low.agrees(other.low) && self.high.agrees(other.high);
        by_ends || (self.middle().agrees(other.middle()) && self.has_the_width_of(other))
    }

    /// The middle of a range: a document may convert `75 ± 10`, of which 65 and 85 are the ends.
    fn middle(&self) -> Figure {
        let value = f64::midpoint(self.low.value, self.high.value);
        let written = value / (2.0 * self.low.half.max(f64::MIN_POSITIVE));
        Figure { value, fives: (written / 5.0 - (written / 5.0).round()).abs() < 1e-6, end: false, ..self.low }
    }

    /// Whether two ranges are equally wide, each to a digit of its own.
    fn has_the_width_of(&self, other: &Self) -> bool {
        let width = |torque: &Self| torque.high.value - torque.low.value;
        (width(self) - width(other)).abs() <= 2.0 * self.low.half + 2.0 * other.low.half
    }

    /// How far apart two torques are, as a share of the greater.
    #[must_use]
    pub fn apart(&self, other: &Self) -> f64 {
        let share = |a: Figure, b: Figure| (a.value - b.value).abs() / a.value.max(b.value).max(f64::MIN_POSITIVE);
        share(self.low, other.low).max(share(self.high, other.high))
    }

    /// Whether a stated setting can be this torque: in the same unit to the digit, in another up to rounding.
    #[must_use]
    pub fn is(&self, setting: Setting<TorqueUnit>) -> bool {
        let unit = setting.unit();
        let figure = |number: Number, end| Figure::new(number, unit, end);
        match setting.form() {
            Form::Range(low, high) => {
                let (low, high) = if low.value() <= high.value() { (low, high) } else { (high, low) };
                self.is_from_to(figure(low, true), figure(high, true), unit)
            }
            Form::Exact(n) => self.is_from_to(figure(n, false), figure(n, false), unit),
            Form::PlusMinus(n, off) => self.is_around(figure(n, false), off.value() * unit.in_base(), unit),
            Form::Percent(n, percent) => {
                self.is_around(figure(n, false), n.value() * unit.in_base() * percent.value() / 100.0, unit)
            }
        }
    }

    /// Whether this is a value with a tolerance, printed with it, without it, or as a range.
    fn is_around(&self, middle: Figure, off: f64, unit: TorqueUnit) -> bool {
        let end = |value: f64| Figure { value, end: true, ..middle };
        self.is_from_to(middle, middle, unit) || self.is_from_to(end(middle.value - off), end(middle.value + off), unit)
    }

    fn is_from_to(&self, low: Figure, high: Figure, unit: TorqueUnit) -> bool {
        let same = |a: Figure, b: Figure| (a.value - b.value).abs() <= 1e-6 * b.value;
        if unit == self.unit {
            same(self.low, low) && same(self.high, high)
        } else {
            self.agrees(&Self { text: "", unit, before: "", low, high })
        }
    }
}

/// The torques of a text, in its order.
#[must_use]
pub fn torques(text: &str) -> Vec<PrintedTorque<'_>> {
    let mut scanner = Scanner::new(text);
    let (mut found, mut end) = (Vec::new(), 0);
    loop {
        scanner.take_while(|c| !c.is_ascii_digit());
        if scanner.is_done() {
            return found;
        }
        let start = scanner.at();
        let glued = text[..start].chars().next_back().is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | ','));
        match scan(&mut scanner).filter(|_| !glued) {
            Some((unit, low, high)) => {
                let range = low != high;
                let (low, high) = (Figure::new(low, unit, range), Figure::new(high, unit, range));
                found.push(PrintedTorque {
                    text: text[start..scanner.at()].trim(),
                    unit,
                    before: &text[end..start],
                    low,
                    high,
                });
                end = scanner.at();
            }
            None => {
                scanner.go_to(start);
                scanner.take_while(|c| c.is_ascii_digit());
            }
        }
    }
}

/// Reads `20 N·m`, `20-25 N·m`, `20 ± 2 N·m` (of which the tolerance is passed over).
fn scan(scanner: &mut Scanner<'_>) -> Option<(TorqueUnit, Number, Number)> {
    let first = scan_number(scanner)?;
    scanner.skip_spaces();
    if scanner.take_any(&["±", "+/-", "+-"]) {
        scanner.skip_spaces();
        scan_number(scanner)?;
        return Some((scan_unit(scanner).ok()?, first, first));
    }
    let place = scanner.at();
    if scanner.take_any(&["-", "–", "…", "..", "to "]) {
        scanner.skip_spaces();
        if let Some(last) = scan_number(scanner)
            && let Ok(unit) = scan_unit(scanner)
        {
            return Some((unit, first, last));
        }
        scanner.go_to(place);
    }
    Some((scan_unit(scanner).ok()?, first, first))
}

/// Reads a number, also one with a comma between its thousands: `1,085` is no decimal fraction in a torque.
fn scan_number(scanner: &mut Scanner<'_>) -> Option<Number> {
    let start = scanner.at();
    let whole = scanner.take_while(|c| c.is_ascii_digit());
    if (1..=3).contains(&whole.len()) && !whole.starts_with('0') && scanner.take_any(&[","]) {
        let thousands = scanner.take_while(|c| c.is_ascii_digit());
        if thousands.len() == 3 && !matches!(scanner.peek(), Some('.' | ',')) {
            return format!("{whole}{thousands}").parse().ok();
        }
    }
    scanner.go_to(start);
    Number::scan(scanner).ok()
}

/// The pairs of a text that state one torque in two units and disagree, in the order of the text.
#[must_use]
pub fn disagreeing<'p, 't>(torques: &'p [PrintedTorque<'t>]) -> Vec<(&'p PrintedTorque<'t>, &'p PrintedTorque<'t>)> {
    let Some(first) = torques.first() else { return Vec::new() };
    let of_first: Vec<_> = torques.iter().filter(|torque| torque.unit == first.unit).collect();
    let mut found = Vec::new();
    for unit in TorqueUnit::ALL.iter().filter(|unit| **unit != first.unit) {
        let others: Vec<_> = torques.iter().filter(|torque| torque.unit == *unit).collect();
        if others.len() == of_first.len() {
            found.extend(of_first.iter().copied().zip(others).filter(|(one, other)| !one.agrees(other)));
        } else {
            found.extend(others.into_iter().filter_map(|other| Some((partner(other, torques, &of_first)?, other))));
        }
    }
    found
}

/// The torque right before one in a second unit, with nothing but a bracket between them; unless any in the first unit
/// agrees with it, for a document may print the second unit for some stages only.
fn partner<'p, 't>(
    other: &PrintedTorque<'t>,
    torques: &'p [PrintedTorque<'t>],
    of_first: &[&'p PrintedTorque<'t>],
) -> Option<&'p PrintedTorque<'t>> {
    if of_first.iter().any(|one| one.agrees(other)) || other.before.contains(char::is_alphanumeric) {
        return None;
    }
    let place = torques.iter().position(|torque| std::ptr::eq(torque, other))?;
    torques[..place].last().filter(|torque| torque.unit == of_first[0].unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disagreeing(text: &str) -> Vec<(&str, &str)> {
        let torques = torques(text);
        super::disagreeing(&torques).into_iter().map(|(a, b)| (a.text, b.text)).collect()
    }

    #[test]
    fn reads_torques_among_other_things() {
        let texts = |text| torques(text).iter().map(|torque| torque.text).collect::<Vec<_>>();
        assert_eq!(texts("20 N·m (15 lbf·ft) + 90°"), ["20 N·m", "15 lbf·ft"]);
        assert_eq!(texts("M10x1.5: 1,085 N·m, 800 ft-lb"), ["1,085 N·m", "800 ft-lb"]);
        assert_eq!(texts("8.5-10.2 N.m (75 to 90 in-lb)"), ["8.5-10.2 N.m", "75 to 90 in-lb"]);
        assert_eq!(texts("20 N·m - 15 lbf·ft"), ["20 N·m", "15 lbf·ft"]);
        assert_eq!(texts("4 bolts, 3/8-16, 2 passes"), [""; 0]);
    }

    #[test]
    fn rounding_is_no_disagreement() {
        for text in [
            "20 N·m (15 lbf·ft)",
            "25 lbf·ft (35 N·m)",
            "113 lbf·in (12.8 N·m, 1.30 kgf·m)",
            "12-14 lbf·ft (15.3-18.7 N·m)",
            "25 lbf·ft; 50 lbf·ft; 65-85 lbf·ft (35 N·m; 70 N·m; 86-114 N·m)",
            "28 lbf·ft (3.8724 kgf·m)",
            "27 ± 3 lbf·ft (36 ± 4 N·m)",
            "1.45-1.95 N·m (13-17 lbf·in)",
            "20 lbf·in (2.2 N·m)",
            "20 lbf·ft; 30 lbf·ft; 90 lbf·ft (27 N·m; 122 N·m)",
            "20 lbf·ft; 30 lbf·ft; 40 lbf·ft; 90 lbf·ft (27 N·m; steps of 14 N·m; 122 N·m)",
            "50 lbf·in (5.5 N·m)",
            "65-85 lbf·ft (86-114 N·m)",
        ] {
            assert_eq!(disagreeing(text), [("", ""); 0], "{text}");
        }
    }

    #[test]
    fn a_wrong_digit_is() {
        for text in [
            "800 lbf·ft (185 N·m)",
            "110 lbf·ft (141 N·m)",
            "1080 lbf·ft (1404 N·m)",
            "28 lbf·ft (3.8132 kgf·m)",
            "20 ± 1 lbf·ft (25 ± 1 N·m)",
            "20 N·m (20 lbf·ft)",
            "85-115 lbf·ft (113-153 N·m)",
            "20 N·m; 60 N·m (40 lbf·ft)",
        ] {
            assert_eq!(disagreeing(text).len(), 1, "{text}");
        }
    }
}
