//! The text of a property class: lenient in, one canonical form out, never refused for being unknown.

use super::{nuts, strength};
use crate::units::TextError;
use std::borrow::Cow;
use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

/// A property class or grade, as text in its canonical form.
///
/// # Text
/// `8.8`, `10.9` (ISO 898-1), `A2-70`, `D4-80` (ISO 3506-1), `grade 5` (SAE J429), `A574` (ASTM), nut classes
/// `8`, `04`, `A4-80` (ISO 898-2, ISO 3506-2), set screws `45H` (ISO 898-5).
/// Read leniently: `8,8`, `Class 8.8`, `Grade 8.8` → `8.8`; `a2 70` → `A2-70`; `Grade 5`, `gr. 5`, `SAE 5` → `grade 5`.
/// A text that no standard has is kept as entered: the book records what was written, the audit says that it can't
/// be judged. Refused are only an empty text, more than 40 characters, and characters that can't be printed.
///
/// Ordered by the numbers in it, so that `8.8` comes before `10.9`.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct PropertyClass(Box<str>);

/// The longest text of a class, in characters.
const LENGTH_MAX: usize = 40;
/// How many classes [`PropertyClass::nearest`] offers at most.
const NEAREST_MAX: usize = 4;

impl PropertyClass {
    /// The canonical text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether a table here has the class, as a bolt, set screw or nut class.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.standard().is_some()
    }

    /// The standard that has the class: `ISO 898-1`, `SAE J429` …; bolts come before nuts where both use the name.
    #[must_use]
    pub fn standard(&self) -> Option<&'static str> {
        strength::standard_of(self).or_else(|| nuts::standard_of(self))
    }

    /// Every class of bolts and set screws that a table here has, in the order of the tables, each once.
    #[must_use]
    pub fn known() -> Vec<Self> {
        let mut known: Vec<Self> = Vec::new();
        for name in strength::classes() {
            if known.iter().all(|class| class.as_str() != name) {
                known.push(Self(name.into()));
            }
        }
        known
    }

    /// For a class that isn't known: the known classes most like it, in the order of the tables, at most four;
    /// nut classes only where no bolt class is alike. Empty for a known class, and where nothing is alike.
    #[must_use]
    pub fn nearest(&self) -> Vec<Self> {
        if self.is_known() {
            return Vec::new();
        }
        let wanted = comparable(&self.0);
        let bolts = most_alike(&wanted, strength::classes());
        if bolts.is_empty() { most_alike(&wanted, nuts::classes()) } else { bolts }
    }
}

fn most_alike(wanted: &str, known: impl Iterator<Item = &'static str>) -> Vec<PropertyClass> {
    let ranked: Vec<(usize, &'static str)> =
        known.filter_map(|known| Some((unlikeness(wanted, &comparable(known))?, known))).collect();
    let best = ranked.iter().map(|(distance, _)| *distance).min();
    let mut alike: Vec<&'static str> = Vec::new();
    for (distance, known) in ranked {
        if Some(distance) == best && !alike.contains(&known) {
            alike.push(known);
        }
    }
    alike.into_iter().take(NEAREST_MAX).map(|known| PropertyClass(known.into())).collect()
}

/// Letters and digits only, in lower case.
fn comparable(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// How unlike two comparable texts are; `None` where they have nothing to do with each other.
/// `A2` is the beginning of `A2-70`; `88` is `8.8` without its point; `A2-71` has one wrong character.
fn unlikeness(wanted: &str, known: &str) -> Option<usize> {
    if wanted.is_empty() {
        return None;
    }
    if wanted == known {
        return Some(0);
    }
    if wanted.len() > 1 && known.starts_with(wanted) {
        return Some(1);
    }
    let distance = strsim::osa_distance(wanted, known);
    let allowed = wanted.chars().count().min(known.chars().count()) / 2;
    (distance <= allowed.min(2)).then_some(distance + 1)
}

impl FromStr for PropertyClass {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let entered = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if entered.is_empty() {
            return Err(TextError::new(text, 0, "a property class such as 8.8, A2-70 or grade 5"));
        }
        if let Some((at, _)) = text.char_indices().find(|(_, c)| c.is_control() && !c.is_whitespace()) {
            return Err(TextError::new(text, at, "a character that can be printed"));
        }
        if let Some((at, _)) = entered.char_indices().nth(LENGTH_MAX) {
            return Err(TextError::new(&entered, at, format!("at most {LENGTH_MAX} characters")));
        }
        Ok(Self(canonical(&entered).unwrap_or(entered).into()))
    }
}

/// What the words before the class say about its standard.
#[derive(Clone, Copy, PartialEq)]
enum Said {
    Nothing,
    Grade,
    Sae,
    Astm,
}

/// Words before a class, the longer before those that they begin with.
const WORDS: [(&str, Said); 14] = [
    ("property class", Said::Nothing),
    ("strength class", Said::Nothing),
    ("steel grade", Said::Nothing),
    ("class", Said::Nothing),
    ("cl", Said::Nothing),
    ("iso 898-1", Said::Nothing),
    ("iso 3506-1", Said::Nothing),
    ("iso", Said::Nothing),
    ("grade", Said::Grade),
    ("gr", Said::Grade),
    ("sae", Said::Sae),
    ("j429", Said::Sae),
    ("astm", Said::Astm),
    ("f3125", Said::Astm),
];

/// The canonical form, if the text has the form of any class.
fn canonical(entered: &str) -> Option<String> {
    let lower = entered.to_lowercase();
    let (rest, said) = after_words(&lower);
    let number = rest.replace(',', ".");
    match said {
        Said::Sae => sae_grade(&number),
        Said::Astm => astm(rest),
        Said::Grade => {
            sae_grade(&number).or_else(|| metric(&number)).or_else(|| stainless(rest)).or_else(|| astm(rest))
        }
        Said::Nothing => metric(&number)
            .or_else(|| stainless(rest))
            .or_else(|| set_screw(rest))
            .or_else(|| astm(rest))
            .or_else(|| nut(rest)),
    }
}

/// Takes the words before a class away.
fn after_words(lower: &str) -> (&str, Said) {
    let (mut rest, mut said) = (lower, Said::Nothing);
    while let Some((after, means)) = WORDS.iter().find_map(|(word, means)| {
        let after = rest.strip_prefix(word)?;
        let whole_word = !after.starts_with(|c: char| c.is_alphabetic()) || after.starts_with(['a', 'c', 'd', 'f']);
        whole_word.then(|| (after.trim_start_matches([' ', '.', ':', '-']), *means))
    }) {
        rest = after;
        if means != Said::Nothing && said != Said::Sae && said != Said::Astm {
            said = means;
        }
    }
    (rest.trim_end_matches(['.', ' ']), said)
}

/// `8.8`, `12.9`: one or two digits, a point, one digit.
fn metric(number: &str) -> Option<String> {
    let (tensile, ratio) = number.split_once('.')?;
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    ((1..=2).contains(&tensile.len()) && ratio.len() == 1 && digits(tensile) && digits(ratio))
        .then(|| number.to_owned())
}

/// `A2-70`, `a4 80`, `D6100`, `A4L-80`, thin nuts `A2-035`.
fn stainless(rest: &str) -> Option<String> {
    const NUMBERS: [&str; 11] = ["45", "50", "60", "70", "80", "100", "110", "025", "035", "040", "055"];
    let mut characters = rest.chars();
    let group = characters.next().filter(|c| matches!(c, 'a' | 'c' | 'd' | 'f'))?;
    let kind = characters.next().filter(char::is_ascii_digit)?;
    let after = characters.as_str();
    let (low_carbon, after) = after.strip_prefix('l').map_or(("", after), |after| ("L", after));
    let number = after.trim_start_matches([' ', '-', '/', '–']);
    let steel = format!("{}{kind}{low_carbon}", group.to_ascii_uppercase());
    if after.is_empty() {
        return Some(steel);
    }
    NUMBERS.contains(&number).then(|| format!("{steel}-{number}"))
}

/// `grade 5`, `grade 8.2`: only the grades that the standard has, since `grade 8.8` means the metric class.
fn sae_grade(number: &str) -> Option<String> {
    let grade = format!("grade {number}");
    strength::classes().any(|known| known == grade).then_some(grade)
}

/// `A574`, `A193 B7`: the specifications with a table here.
fn astm(rest: &str) -> Option<String> {
    let wanted = comparable(rest);
    strength::classes()
        .find(|known| known.len() > 3 && known.starts_with('A') && !known.contains('-') && comparable(known) == wanted)
        .map(str::to_owned)
}

/// `45H`.
fn set_screw(rest: &str) -> Option<String> {
    let upper = rest.to_uppercase();
    strength::SET_SCREW_CLASSES.contains(&upper.as_str()).then_some(upper)
}

/// `8`, `04`, also between bars as older nuts were marked.
fn nut(rest: &str) -> Option<String> {
    let number = rest.trim_matches('|');
    nuts::classes().find(|known| *known == number).map(str::to_owned)
}

impl fmt::Display for PropertyClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl PartialOrd for PropertyClass {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for PropertyClass {
    fn cmp(&self, other: &Self) -> Ordering {
        pieces(&self.0).cmp(pieces(&other.0)).then_with(|| self.0.cmp(&other.0))
    }
}

/// The text as numbers and other characters in turn, for an order by number.
fn pieces(text: &str) -> impl Iterator<Item = (u64, char)> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        let taken = if digits > 0 { digits } else { first.len_utf8() };
        let (piece, after) = rest.split_at(taken);
        rest = after;
        Some(if digits > 0 { (piece.parse().unwrap_or(u64::MAX), '0') } else { (u64::MAX, first) })
    })
}

impl serde::Serialize for PropertyClass {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0)
    }
}

impl<'de> serde::Deserialize<'de> for PropertyClass {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl utoipa::PartialSchema for PropertyClass {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{ObjectBuilder, Type};
        ObjectBuilder::new()
            .schema_type(Type::String)
            .description(Some(
                "Property class or grade: 8.8, A2-70, grade 5, A574; kept as entered if no standard has it",
            ))
            .min_length(Some(1))
            .max_length(Some(LENGTH_MAX))
            .examples([serde_json::json!("8.8"), serde_json::json!("A2-70"), serde_json::json!("grade 5")])
            .into()
    }
}

impl utoipa::ToSchema for PropertyClass {}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn class(text: &str) -> PropertyClass {
        text.parse().unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn lenient_in_canonical_out() {
        let same = [
            ("8.8", &["8,8", " 8.8 ", "Class 8.8", "property class 8.8", "Grade 8.8", "cl. 8.8", "ISO 898-1 8.8"][..]),
            ("10.9", &["10,9", "gr 10.9", "grade 10,9"]),
            ("A2-70", &["a2-70", "A2 70", "A270", "a2/70", "Class A2-70", "grade A2-70"]),
            ("A4-100", &["a4 100", "A4100"]),
            ("A4L-80", &["a4l 80"]),
            ("D4-70", &["d4-70", "D4 70"]),
            ("A2", &["a2", "grade A2"]),
            ("grade 5", &["Grade 5", "gr. 5", "gr5", "SAE 5", "SAE grade 5", "SAE J429 grade 5", "J429 gr.5"]),
            ("grade 8.2", &["SAE 8,2", "Grade 8.2"]),
            ("A574", &["ASTM A574", "a574", "A 574"]),
            ("A193 B7", &["A193-B7", "ASTM A193 b7"]),
            ("A325", &["F3125 A325", "astm f3125 grade a325"]),
            ("8", &["|8|", "class 8"]),
            ("04", &["04"]),
            ("45H", &["45h", "class 45H"]),
        ];
        for (canonical, texts) in same {
            for text in texts.iter().chain([&canonical]) {
                assert_eq!(class(text).as_str(), canonical, "{text}");
            }
        }
    }

    #[test]
    fn keeps_what_no_standard_has() {
        for text in ["8.7", "hard steel", "A9-77", "grade 12", "Ti-6Al-4V", "µ ÷ ×"] {
            let class = class(text);
            assert_eq!(class.as_str(), text);
            assert!(!class.is_known(), "{text}");
        }
    }

    #[test]
    fn refuses_only_what_cannot_be_shown() {
        for text in ["", "   ", "8.8\u{7}", &"x".repeat(41)] {
            assert!(text.parse::<PropertyClass>().is_err(), "{text:?}");
        }
        assert!("x".repeat(40).parse::<PropertyClass>().is_ok());
    }

    #[test]
    fn knows_whose_class_it_is() {
        let standards = [
            ("8.8", "ISO 898-1"),
            ("A2-70", "ISO 3506-1"),
            ("grade 8", "SAE J429"),
            ("A574", "ASTM A574"),
            ("10", "ISO 898-2"),
            ("45H", "ISO 898-5"),
        ];
        for (text, standard) in standards {
            assert_eq!(class(text).standard(), Some(standard), "{text}");
        }
    }

    #[test]
    fn offers_the_classes_most_alike() {
        let nearest = |text: &str| class(text).nearest().iter().map(PropertyClass::to_string).collect::<Vec<_>>();
        assert_eq!(nearest("88"), ["8.8"]);
        assert_eq!(nearest("109"), ["10.9"]);
        assert_eq!(nearest("A2"), ["A2-50", "A2-70", "A2-80"]);
        assert_eq!(nearest("hard steel"), [""; 0]);
        assert_eq!(nearest("8.8"), [""; 0]);
    }

    #[test]
    fn orders_by_number() {
        let mut classes: Vec<PropertyClass> = ["grade 8", "12.9", "A2-70", "10.9", "8.8", "A2-100"].map(class).into();
        classes.sort();
        let sorted: Vec<&str> = classes.iter().map(PropertyClass::as_str).collect();
        assert_eq!(sorted, ["8.8", "10.9", "12.9", "A2-70", "A2-100", "grade 8"]);
    }

    #[test]
    fn every_known_class_is_canonical() {
        for known in strength::classes().chain(nuts::classes()) {
            assert_eq!(class(known).as_str(), known);
            assert!(class(known).is_known());
        }
    }
}
