//! Coefficients of friction that a record names among its words: `zinc-plated, µ 0.14`, `K = 0.20`.
//!
//! Tables of torques are headed so. Only a coefficient that is called one is read; everything else is passed over.

use crate::record::Fastener;
use crate::thread::Geometry;

/// What stands before a coefficient of friction.
const FRICTION: [&str; 5] = ["µ", "μ", "mu", "friction", "coefficient"];
/// What stands before a nut factor: torque over preload and diameter.
const NUT_FACTOR: [&str; 2] = ["nut factor", "k"];
/// What either may be.
const POSSIBLE: std::ops::RangeInclusive<f64> = 0.03..=0.6;

/// The friction that a record states, in its own field or among the words about its surface: from, to.
pub(super) fn stated_friction(fastener: &Fastener) -> Option<(f64, f64)> {
    if let Some(stated) = fastener.friction {
        return Some((stated.low(), stated.high()));
    }
    let mut texts = [fastener.lubrication.as_ref(), fastener.finish.as_ref()].into_iter().flatten();
    texts.find_map(|text| {
        // Hardly any text has a digit at all.
        if !text.as_str().contains(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let text = text.as_str().to_lowercase();
        FRICTION.iter().find_map(|word| after(&text, word)).or_else(|| {
            let (low, high) = NUT_FACTOR.iter().find_map(|word| after(&text, word))?;
            let geometry = fastener.thread.geometry()?;
            Some((of_nut_factor(low, &geometry)?, of_nut_factor(high, &geometry)?))
        })
    })
}

/// The number, or the range, that follows a word.
fn after(text: &str, word: &str) -> Option<(f64, f64)> {
    let places = text.match_indices(word).map(|(at, _)| (text[..at].chars().next_back(), &text[at + word.len()..]));
    let whole = |(before, rest): &(Option<char>, &str)| {
        let is_letter = |c: char| c.is_alphabetic();
        !before.is_some_and(is_letter) && !rest.starts_with(is_letter)
    };
    places.filter(whole).find_map(|(_, rest)| {
        let rest = rest.trim_start_matches([' ', '=', ':', '≈', '~']).replace(',', ".");
        let (low, rest) = number(&rest)?;
        let high = ["-", "–", "…", " to "].iter().find_map(|dash| number(rest.trim_start().strip_prefix(dash.trim())?));
        let high = high.map_or(low, |(high, _)| high);
        let possible = POSSIBLE.contains(&low) && POSSIBLE.contains(&high) && low <= high;
        possible.then_some((low, high))
    })
}

/// The number at the start of a text, and what follows it.
fn number(text: &str) -> Option<(f64, &str)> {
    let text = text.trim_start();
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    Some((text[..end].trim_end_matches('.').parse().ok()?, &text[end..]))
}

/// The coefficient, alike in the thread and under the head, that a nut factor comes from: `K·d = 0.159·P + µ·(0.577·d2 +
/// DKm/2)`, VDI 2230-1 5.4.3 made linear, with the usual bearing face of 1.3 diameters.
fn of_nut_factor(factor: f64, geometry: &Geometry) -> Option<f64> {
    let (major, pitch) = (geometry.major().millimeters(), geometry.pitch().millimeters());
    let pitch_diameter = major - 0.649_519 * pitch;
    let friction = (factor * major - 0.159 * pitch) / (0.577 * pitch_diameter + 0.65 * major);
    POSSIBLE.contains(&friction).then_some(friction)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Record;

    fn of(field: &str, words: &str) -> Option<(f64, f64)> {
        let record = serde_json::json!({ "kind": "fastener", "id": "skua.a.b.c", "joint": "skua.a.b", "thread": "M10",
            "stages": ["40 N·m"], field: words });
        stated_friction(Record::from_json(&record).expect(words).as_fastener().expect("a fastener"))
    }

    #[test]
    fn a_coefficient_among_the_words_is_read() {
        assert_eq!(of("lubrication", "µ 0.14"), Some((0.14, 0.14)));
        assert_eq!(of("lubrication", "mu=0.10 to 0.16"), Some((0.10, 0.16)));
        assert_eq!(of("finish", "zinc, friction 0,12-0,18"), Some((0.12, 0.18)));
        let (low, high) = of("lubrication", "plated, K = 0.20").expect("a nut factor");
        assert!((low - 0.15).abs() < 0.01 && low == high, "{low}");
    }

    #[test]
    fn other_numbers_are_not() {
        for words in ["oiled", "MoS2 paste", "Mukden 7", "zinc 8 µm", "friction class B", "K 14", "black 0.2"] {
            assert_eq!(of("lubrication", words), None, "{words}");
        }
    }
}
