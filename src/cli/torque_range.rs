//! A range of torque as it is written on the command line.

use super::failure::Failure;

/// `20..40 lbf.ft` or `20-40 lbf.ft` as the parameters torque.min, torque.max and torque.unit.
///
/// # Errors
/// If it is no range.
pub fn torque_pairs(text: &str) -> Result<Vec<(String, String)>, Failure> {
    let refused = || {
        Failure::usage(format!("--torque \"{text}\" is no range. Write 20..40, 20.. or ..40, with a unit if not N·m"))
    };
    let is_sign = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | ' ' | '-' | '–');
    let whole = text.trim();
    let (range, unit) = whole.split_at(whole.find(|c| !is_sign(c)).unwrap_or(whole.len()));
    let ends = ["..", "-", "–"].into_iter().find_map(|sign| range.split_once(sign));
    let (min, max) = ends.map_or((range.trim(), range.trim()), |(min, max)| (min.trim(), max.trim()));
    let is_number =
        |text: &str| text.is_empty() || (!text.starts_with('.') && text.parse::<crate::units::Number>().is_ok());
    if (min.is_empty() && max.is_empty()) || !is_number(min) || !is_number(max) {
        return Err(refused());
    }
    let pairs = [("torque.min", min), ("torque.max", max), ("torque.unit", unit.trim())];
    let given = pairs.into_iter().filter(|(_, value)| !value.is_empty());
    Ok(given.map(|(key, value)| (key.to_owned(), value.to_owned())).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(text: &str, pairs: &[(&str, &str)]) {
        let read = torque_pairs(text).unwrap();
        let read: Vec<_> = read.iter().map(|(key, value)| (key.as_str(), value.as_str())).collect();
        assert_eq!(read, pairs);
    }

    #[test]
    fn a_range_of_torque_is_three_parameters() {
        reads("20..40", &[("torque.min", "20"), ("torque.max", "40")]);
        reads("20..", &[("torque.min", "20")]);
        reads("..40 lbf.ft", &[("torque.max", "40"), ("torque.unit", "lbf.ft")]);
        reads("8.5..9.5 N·m", &[("torque.min", "8.5"), ("torque.max", "9.5"), ("torque.unit", "N·m")]);
        reads("20-25 N·m", &[("torque.min", "20"), ("torque.max", "25"), ("torque.unit", "N·m")]);
        reads("30", &[("torque.min", "30"), ("torque.max", "30")]);
        reads("8,5 .. 9", &[("torque.min", "8,5"), ("torque.max", "9")]);
    }

    #[test]
    fn what_is_no_range_is_refused() {
        for text in ["", "..", "N·m", "a..b", "1.2.3", "20...40", "20..40..60"] {
            assert!(torque_pairs(text).is_err(), "{text}");
        }
    }
}
