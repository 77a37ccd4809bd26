//! The stage notation: one grammar for reading, printing, JSON and the command line.

use super::field::text_fields;
use super::setting::Setting;
use crate::units::{Angle, AngleUnit, Scanner, Stated, StatedTorque, TextError, TorqueUnit};
use std::fmt;

/// What is done to a fastener in one pass.
///
/// # Text
/// | written | meaning |
/// |---|---|
/// | `hand` | by hand until seated |
/// | `20 N·m`, `20-25 N·m`, `20 ± 2 N·m`, `20 N·m ± 10 %` | to a torque |
/// | `+ 90°`, `+ 90 ± 5°` | further by an angle |
/// | `20 N·m + 90° + 45°` | torque, then the turns, one fastener at a time |
/// | `back off 180°`, `back off` | loosen by an angle, or fully |
/// | `check ≥ 60 N·m` | the torque must have reached this after the last stage |
/// | `skip` | not touched in this pass |
///
/// Lenient in (`20Nm+90deg`, `15 ft-lb`, `8,5 N·m`), one canonical form out.
/// Not accepted: a torque without a unit, an angle without a torque and without a leading `+`.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Stage {
    /// Tighten: from somewhere, then by any number of turns.
    Tighten {
        /// Where the turns begin.
        start: Start,
        /// The turns, in order.
        turns: Vec<Setting<AngleUnit>>,
    },
    /// Loosen, by an angle or fully.
    BackOff(Option<Setting<AngleUnit>>),
    /// The torque must have reached this after the last stage.
    Check(StatedTorque),
    /// Not touched in this pass.
    Skip,
}

/// Where the turns of a tightening stage begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Start {
    /// Where the stage before left the fastener.
    AsItIs,
    /// Seated by hand.
    Hand,
    /// At a torque.
    Torque(Setting<TorqueUnit>),
}

/// The most turns in one stage.
const TURNS_MAX: usize = 12;

impl Stage {
    /// The torque that the stage tightens to, before any turns.
    #[must_use]
    pub fn torque(&self) -> Option<Setting<TorqueUnit>> {
        match self {
            Self::Tighten { start: Start::Torque(torque), .. } => Some(*torque),
            _ => None,
        }
    }

    /// The turns of a tightening stage.
    #[must_use]
    pub fn turns(&self) -> &[Setting<AngleUnit>] {
        match self {
            Self::Tighten { turns, .. } => turns,
            _ => &[],
        }
    }

    /// The sum of the turns.
    #[must_use]
    pub fn total_turn(&self) -> Angle {
        self.turns().iter().fold(Angle::from_degrees(0.0), |sum, turn| sum + turn.middle())
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Skip => f.write_str("skip"),
            Self::Check(torque) => write!(f, "check ≥ {torque}"),
            Self::BackOff(None) => f.write_str("back off"),
            Self::BackOff(Some(angle)) => write!(f, "back off {angle}"),
            Self::Tighten { start, turns } => {
                match start {
                    Start::AsItIs => {}
                    Start::Hand => f.write_str("hand")?,
                    Start::Torque(torque) => write!(f, "{torque}")?,
                }
                for (i, turn) in turns.iter().enumerate() {
                    let space = if i == 0 && *start == Start::AsItIs { "" } else { " " };
                    write!(f, "{space}+ {turn}")?;
                }
                Ok(())
            }
        }
    }
}

impl std::str::FromStr for Stage {
    type Err = TextError;
    fn from_str(text: &str) -> Result<Self, TextError> {
        let mut scanner = Scanner::new(text);
        scanner.skip_spaces();
        let stage = scan_stage(&mut scanner)?;
        scanner.finish()?;
        Ok(stage)
    }
}

const EXPECTED: &str = "a stage: hand, skip, back off, check ≥ …, a torque with its unit, or + and an angle";

fn scan_stage(scanner: &mut Scanner<'_>) -> Result<Stage, TextError> {
    if take_word(scanner, &["skip"]) {
        return Ok(Stage::Skip);
    }
    if take_word(scanner, &["back off", "back-off", "backoff", "loosen"]) {
        scanner.skip_spaces();
        return if scanner.is_done() {
            Ok(Stage::BackOff(None))
        } else {
            Ok(Stage::BackOff(Some(Setting::scan(scanner)?)))
        };
    }
    if take_word(scanner, &["check"]) {
        scanner.skip_spaces();
        scanner.take_any(&["≥", ">=", "at least", ">"]);
        return Ok(Stage::Check(Stated::scan(scanner)?));
    }
    let start = if take_word(scanner, &["hand", "hand-tight", "hand tight", "by hand"]) {
        Start::Hand
    } else if scanner.peek() == Some('+') {
        Start::AsItIs
    } else if scanner.peek().is_some_and(|c| c.is_ascii_digit() || matches!(c, '.' | ',')) {
        Start::Torque(Setting::scan(scanner)?)
    } else {
        return Err(scanner.error(EXPECTED));
    };
    Ok(Stage::Tighten { start, turns: scan_turns(scanner)? })
}

fn scan_turns(scanner: &mut Scanner<'_>) -> Result<Vec<Setting<AngleUnit>>, TextError> {
    let mut turns = Vec::new();
    loop {
        scanner.skip_spaces();
        if !scanner.take_any(&["+"]) {
            return Ok(turns);
        }
        if turns.len() == TURNS_MAX {
            return Err(scanner.error(format!("at most {TURNS_MAX} turns in one stage")));
        }
        turns.push(Setting::scan(scanner)?);
    }
}

/// Reads one of the words if it stands alone, not as the beginning of another.
fn take_word(scanner: &mut Scanner<'_>, words: &[&str]) -> bool {
    let place = scanner.at();
    let taken = scanner.take_any(words) && !scanner.peek().is_some_and(char::is_alphabetic);
    if !taken {
        scanner.go_to(place);
    }
    taken
}

text_fields!(Stage);
super::shown_as_text!(Stage, "stage notation: hand, skip, back off, check, torque, turns", "20 N·m + 90°", 300);

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn reads(text: &str, canonical: &str) {
        let stage: Stage = text.parse().unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(stage.to_string(), canonical);
        assert_eq!(canonical.parse::<Stage>().as_ref(), Ok(&stage));
    }

    #[test]
    fn lenient_in_canonical_out() {
        reads("hand", "hand");
        reads("Hand tight + 3/4 turn", "hand + 3/4 turn");
        reads("20Nm+90deg", "20 N·m + 90°");
        reads("20 Nm + 90° +45 deg", "20 N·m + 90° + 45°");
        reads("15 ft-lb", "15 lbf·ft");
        reads("8,5 N·m", "8.5 N·m");
        reads("20-25 N·m", "20-25 N·m");
        reads("20 to 25 Nm", "20-25 N·m");
        reads("20 N·m - 25 N·m", "20-25 N·m");
        reads("20 ± 2 N·m", "20 ± 2 N·m");
        reads("20 N·m +/- 2 N·m", "20 ± 2 N·m");
        reads("20 N·m ± 10%", "20 N·m ± 10 %");
        reads("+90deg", "+ 90°");
    }

    #[test]
    fn loosening_checking_skipping() {
        reads("back off 180 deg", "back off 180°");
        reads("loosen", "back off");
        reads("check >= 60Nm", "check ≥ 60 N·m");
        reads("skip", "skip");
        reads("+ 90 ± 5°", "+ 90 ± 5°");
    }

    #[test]
    fn says_what_it_wanted() {
        let error = "95".parse::<Stage>().unwrap_err().to_string();
        assert!(error.starts_with("expected a unit of torque"), "{error}");
        let error = "tight".parse::<Stage>().unwrap_err().to_string();
        assert_eq!(error, format!("expected {EXPECTED}, found \"tight\" at character 1 of \"tight\""));
    }

    fn number() -> impl Strategy<Value = crate::units::Number> {
        (0_u64..100_000, 0_u8..4).prop_map(|(digits, places)| crate::units::Number::decimal(digits, places))
    }

    fn setting<U: crate::units::Unit>() -> impl Strategy<Value = Setting<U>> {
        use super::super::setting::Form;
        let form = prop_oneof![
            number().prop_map(Form::Exact),
            (number(), number()).prop_map(|(a, b)| Form::Range(a, b)),
            (number(), number()).prop_map(|(a, b)| Form::PlusMinus(a, b)),
            (number(), number()).prop_map(|(a, b)| Form::Percent(a, b)),
        ];
        (form, 0..U::ALL.len()).prop_map(|(form, unit)| Setting::new(form, U::ALL[unit]))
    }

    fn stage() -> impl Strategy<Value = Stage> {
        let start = prop_oneof![Just(Start::Hand), setting().prop_map(Start::Torque)];
        prop_oneof![
            Just(Stage::Skip),
            prop::option::of(setting()).prop_map(Stage::BackOff),
            (number(), 0..TorqueUnit::ALL.len())
                .prop_map(|(n, unit)| Stage::Check(Stated::new(n, TorqueUnit::ALL[unit]))),
            (start, prop::collection::vec(setting(), 0..4)).prop_map(|(start, turns)| Stage::Tighten { start, turns }),
            prop::collection::vec(setting(), 1..4).prop_map(|turns| Stage::Tighten { start: Start::AsItIs, turns }),
        ]
    }

    use crate::units::Unit as _;

    proptest! {
        #[test]
        fn what_is_printed_reads_back_the_same(stage in stage()) {
            prop_assert_eq!(stage.to_string().parse::<Stage>(), Ok(stage));
        }

        #[test]
        fn any_text_is_read_or_explained(text in "\\PC{0,40}") {
            if let Err(error) = text.parse::<Stage>() {
                prop_assert!(error.to_string().contains("expected "));
                prop_assert!(error.character() <= text.chars().count() + 1);
            }
        }

        #[test]
        fn any_text_of_the_alphabet_is_read_or_explained(text in "[0-9 .,+±%°/NmftlbinkgcdeoBbackhskip·-]{0,30}") {
            if let Ok(stage) = text.parse::<Stage>() {
                prop_assert_eq!(stage.to_string().parse::<Stage>(), Ok(stage));
            }
        }
    }
}
