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
    /// Whether it may have been rounded to 5 or 10.
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
            fives: half >= 0.5 && value % 5.0 == 0.0,
            end,
        }
    }

    /// Whether two figures can be the same torque: one converted from the other and rounded, or both rounded to 5 or 10.
    fn agrees(self, other: Self) -> bool {
        let off = (self.value - other.value).abs();
        let greatest = self.value.max(other.value);
        self.gives(other, off)
            || other.gives(self, off)
            || ((self.fives || other.fives) && off <= ROUNDED_TO_FIVES * greatest)
    }

    /// Whether the other can be this one, converted and rounded to the digits that the other has. Nobody states a torque
    /// to two digits more than its conversion.
    fn gives(self, other: Self, off: f64) -> bool {
        let reach = if other.end { 2.0 * other.half } else { other.half };
        self.figures <= other.figures + 1 && off <= reach + ROUNDED_FACTOR * other.value
    }
}

impl PrintedTorque<'_> {
    /// Whether two torques can be one, each printed in its own unit.
    #[must_use]
    pub fn agrees(&self, other: &Self) -> bool {
        self.low.agrees(other.low) && self.high.agrees(other.high)
    }

    /// How far apart two torques are, as a share of the greater.
    #[must_use]
    pub fn apart(&self, other: &Self) -> f64 {
        let share = |a: Figure, b: Figure| (a.value - b.value).abs() / a.value.max(b.value).max(f64::MIN_POSITIVE);
        share(self.low, other.low).max(share(self.high, other.high))
    }

    /// Whether a stated setting can be this torque.
    #[must_use]
    pub fn is(&self, setting: Setting<TorqueUnit>) -> bool {
        let unit = setting.unit();
        let figure = |number: Number, end| Figure::new(number, unit, end);
        match setting.form() {
            Form::Range(low, high) => {
                let (low, high) = if low.value() <= high.value() { (low, high) } else { (high, low) };
                self.low.agrees(figure(low, true)) && self.high.agrees(figure(high, true))
            }
            Form::Exact(n) => self.low.agrees(figure(n, false)) && self.high.agrees(figure(n, false)),
            Form::PlusMinus(n, off) => self.is_around(figure(n, false), off.value() * unit.in_base()),
            Form::Percent(n, percent) => {
                self.is_around(figure(n, false), n.value() * unit.in_base() * percent.value() / 100.0)
            }
        }
    }

    /// Whether this is a value with a tolerance, printed with it, without it, or as a range.
    fn is_around(&self, middle: Figure, off: f64) -> bool {
        let end = |value: f64| Figure { value, end: true, ..middle };
        let as_one = self.low.agrees(middle) && self.high.agrees(middle);
        as_one || (self.low.agrees(end(middle.value - off)) && self.high.agrees(end(middle.value + off)))
    }
}

/// The torques of a text, in its order.
#[must_use]
pub fn torques(text: &str) -> Vec<PrintedTorque<'_>> {
    let mut scanner = Scanner::new(text);
    let mut found = Vec::new();
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
                found.push(PrintedTorque { text: text[start..scanner.at()].trim(), unit, low, high });
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

/// The pairs of a text that state one torque in two units: the first with the second, in the order of the text.
#[must_use]
pub fn pairs<'p, 't>(torques: &'p [PrintedTorque<'t>]) -> Vec<(&'p PrintedTorque<'t>, &'p PrintedTorque<'t>)> {
    let Some(first) = torques.first() else { return Vec::new() };
    let of_first: Vec<_> = torques.iter().filter(|torque| torque.unit == first.unit).collect();
    let mut pairs = Vec::new();
    for unit in TorqueUnit::ALL.iter().filter(|unit| **unit != first.unit) {
        let others: Vec<_> = torques.iter().filter(|torque| torque.unit == *unit).collect();
        if others.len() == of_first.len() {
            pairs.extend(of_first.iter().copied().zip(others));
        } else {
            let neighbours = torques.windows(2).filter(|two| two[0].unit == first.unit && two[1].unit == *unit);
            pairs.extend(neighbours.map(|two| (&two[0], &two[1])));
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn disagreeing(text: &str) -> Vec<(&str, &str)> {
        let torques = torques(text);
        let pairs = pairs(&torques);
        assert!(!pairs.is_empty(), "no pair in {text}");
        pairs.into_iter().filter(|(a, b)| !a.agrees(b)).map(|(a, b)| (a.text, b.text)).collect()
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
        ] {
            assert_eq!(disagreeing(text).len(), 1, "{text}");
        }
    }
}
