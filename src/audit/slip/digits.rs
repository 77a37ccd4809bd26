//! Which numbers a slip of ear, eye or hand may have turned into the one that is written.

use super::chances;
use super::kind::Slip;
use crate::units::Number;

/// A number that may have been meant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeantNumber {
    /// The number.
    pub number: Number,
    /// How it became the written one.
    pub slip: Slip,
    /// How probable it is that this slip turns it into the written one, given that some slip happens.
    pub chance: f64,
}

/// Every number that one slip of the digits turns into `written`, with the chance that it does.
/// A fraction has no digits that a slip could change one at a time: nothing for it.
#[must_use]
pub fn meant_by(written: Number) -> Vec<MeantNumber> {
    let text = written.to_string();
    if !text.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
        return Vec::new();
    }
    let mut found = Found { written: &text, meant: Vec::with_capacity(96) };
    heard(&text, &mut found);
    transposed(&text, &mut found);
    changed(&text, &mut found);
    dropped(&text, &mut found);
    doubled(&text, &mut found);
    found.meant
}

struct Found<'t> {
    written: &'t str,
    meant: Vec<MeantNumber>,
}

impl Found<'_> {
    /// Takes the text as a number unless nobody would write it so.
    fn add(&mut self, text: &str, slip: Slip, chance: f64) {
        let starts_well = !text.starts_with(['.', '0']) || text.starts_with("0.");
        let ends_well = !text.ends_with('.');
        if text == self.written || !starts_well || !ends_well {
            return;
        }
        if let Ok(number) = text.parse::<Number>()
            && number.value() > 0.0
        {
            self.meant.push(MeantNumber { number, slip, chance });
        }
    }
}

/// Thirteen and thirty, at the end of a whole number; and tens and ones swapped.
fn heard(text: &str, found: &mut Found<'_>) {
    if text.contains('.') || text.len() < 2 {
        return;
    }
    let (head, tail) = text.split_at(text.len() - 2);
    let mut tail = tail.chars();
    let (Some(tens), Some(ones)) = (tail.next(), tail.next()) else { return };
    if tens == '1' && ('3'..='9').contains(&ones) {
        found.add(&format!("{head}{ones}0"), Slip::HeardTyAsTeen, chances::HEARD);
    }
    if ones == '0' && ('3'..='9').contains(&tens) {
        found.add(&format!("{head}1{tens}"), Slip::HeardTeenAsTy, chances::HEARD);
    }
    if tens != ones && tens != '0' && ones != '0' {
        found.add(&format!("{head}{ones}{tens}"), Slip::TensAndOnesSwapped, chances::SWAPPED);
    }
}

fn transposed(text: &str, found: &mut Found<'_>) {
    let digits: Vec<char> = text.chars().collect();
    let places = digits.windows(2).filter(|pair| pair.iter().all(char::is_ascii_digit)).count().max(1);
    for i in 1..digits.len() {
        if digits[i].is_ascii_digit() && digits[i - 1].is_ascii_digit() && digits[i] != digits[i - 1] {
            let mut meant = digits.clone();
            meant.swap(i, i - 1);
            found.add(&meant.iter().collect::<String>(), Slip::DigitsTransposed, chances::TRANSPOSED / places as f64);
        }
    }
}

fn changed(text: &str, found: &mut Found<'_>) {
    let count = text.bytes().filter(u8::is_ascii_digit).count().max(1) as f64;
    for (i, seen) in text.char_indices().filter(|(_, c)| c.is_ascii_digit()) {
        for meant in ('0'..='9').filter(|meant| *meant != seen) {
            let other = format!("{}{meant}{}", &text[..i], &text[i + 1..]);
            if chances::LOOK_ALIKE.iter().any(|pair| *pair == (meant, seen) || *pair == (seen, meant)) {
                found.add(&other, Slip::DigitMisread, chances::MISREAD / count);
            } else {
                let share = if chances::keys_together(meant, seen) { 2.0 } else { 0.8 };
                found.add(&other, Slip::DigitMistyped, chances::MISTYPED / count * share / 9.0);
            }
        }
    }
}

/// A zero at the end and one of two equal digits are left out more easily than others.
fn dropped(text: &str, found: &mut Found<'_>) {
    let count = text.bytes().filter(u8::is_ascii_digit).count() as f64 + 1.0;
    for i in (0..=text.len()).filter(|i| text.is_char_boundary(*i)) {
        let before = text[..i].chars().next_back();
        for digit in '0'..='9' {
            // The same number results wherever the double of a digit is put: once is enough.
            if before == Some(digit) && i < text.len() && text[i..].starts_with(digit) {
                continue;
            }
            let easy = before == Some(digit) || (digit == '0' && i == text.len() && !text.contains('.'));
            let share = if easy { 1.0 } else { 0.1 };
            let meant = format!("{}{digit}{}", &text[..i], &text[i..]);
            found.add(&meant, Slip::DigitDropped, chances::DROPPED / count * share);
        }
    }
}

fn doubled(text: &str, found: &mut Found<'_>) {
    let count = text.bytes().filter(u8::is_ascii_digit).count().max(1) as f64;
    for (i, digit) in text.char_indices().filter(|(_, c)| c.is_ascii_digit()) {
        let doubled = text[..i].ends_with(digit) || digit == '0';
        if text[i + 1..].starts_with(digit) {
            continue;
        }
        let share = if doubled { 1.0 } else { 0.1 };
        let meant = format!("{}{}", &text[..i], &text[i + 1..]);
        found.add(&meant, Slip::DigitDoubled, chances::DOUBLED / count * share);
    }
}

/// The number with its point `places` further right (left where negative), or nothing where nobody writes it so.
#[must_use]
pub fn with_point_moved(written: Number, places: i32) -> Option<Number> {
    let text = written.to_string();
    if text.contains('/') {
        return None;
    }
    let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
    let digits: u64 = text.replace('.', "").parse().ok()?;
    let decimals = i32::try_from(decimals).ok()? - places;
    let (mut digits, mut decimals) =
        if decimals < 0 { (digits.checked_mul(10_u64.pow(decimals.unsigned_abs()))?, 0) } else { (digits, decimals) };
    while decimals > 0 && digits % 10 == 0 {
        digits /= 10;
        decimals -= 1;
    }
    let places = u8::try_from(decimals).ok()?;
    (digits > 0 && digits < 10_u64.pow(12) && places <= 6).then(|| Number::decimal(digits, places))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn has(written: &str, meant: &str, slip: Slip) {
        let found = meant_by(written.parse().expect(written));
        let hit = found.iter().find(|found| found.number.to_string() == meant && found.slip == slip);
        assert!(hit.is_some_and(|hit| hit.chance > 0.0), "{written} for {meant}: {slip}");
    }

    #[test]
    fn known_slips_are_found() {
        has("60", "16", Slip::HeardTeenAsTy);
        has("113", "130", Slip::HeardTyAsTeen);
        has("54", "45", Slip::TensAndOnesSwapped);
        has("2270", "2720", Slip::DigitsTransposed);
        has("75", "15", Slip::DigitMisread);
        has("2913", "2313", Slip::DigitMistyped);
        has("185", "1085", Slip::DigitDropped);
        has("82", "820", Slip::DigitDropped);
        has("110", "10", Slip::DigitDoubled);
        has("1.25", "1.52", Slip::DigitsTransposed);
    }

    #[test]
    fn no_number_means_itself_and_chances_stay_below_one() {
        for written in ["5", "13", "100", "1000", "8.5", "0.5", "12.75"] {
            let written: Number = written.parse().expect("a number");
            let found = meant_by(written);
            assert!(found.iter().all(|meant| meant.number != written && meant.number.value() > 0.0));
            assert!(found.iter().all(|meant| meant.chance < 0.2));
        }
        assert!(meant_by("1/2".parse().expect("a fraction")).is_empty());
    }

    #[test]
    fn the_point_moves_and_the_number_is_written_as_people_write_it() {
        let moved = |text: &str, places| with_point_moved(text.parse().expect(text), places).map(|n| n.to_string());
        assert_eq!(moved("12", 1).as_deref(), Some("120"));
        assert_eq!(moved("120", -1).as_deref(), Some("12"));
        assert_eq!(moved("12", -1).as_deref(), Some("1.2"));
        assert_eq!(moved("0.8", 1).as_deref(), Some("8"));
        assert_eq!(moved("1.25", 3).as_deref(), Some("1250"));
        assert_eq!(moved("1/2", 1), None);
    }
}
