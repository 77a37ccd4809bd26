//! Which threads of the standards are nearest to one that is not in them.

use super::{Form, Thread};
use crate::units::Scanner;

/// How much one changed character counts against a change of size: as much as a size 10 % larger.
const CHARACTER: f64 = 0.1;
/// The same for a size that nobody can have measured, such as 5/6: its characters say more than its value.
const CHARACTER_OF_MISPRINT: f64 = 0.3;
/// A pair that workshops meet less often counts as this much further away, for each step of
/// [`Thread::rarity`].
const RARITY: f64 = 0.025;
/// The same where no pitch is written, because then the usual one is meant.
const RARITY_WITHOUT_PITCH: f64 = 0.1;
/// A pair of another series than the one written: size and series alone name a thread.
const OTHER_SERIES: f64 = 0.4;
/// A text that is no thread at all is compared by its characters, up to this many of them changed.
const CHARACTERS_MAX: usize = 2;

/// At most `count` threads of the standards, the nearest first. A thread is near if its diameter and pitch
/// are, and if few characters of its designation differ.
pub(super) fn nearest(thread: &Thread, count: usize) -> Vec<Thread> {
    if let Some(thread) = before_length(thread) {
        return nearest(&thread, count);
    }
    let with_pitch = thread.sizes().1.is_some() || thread.system().is_none();
    let written = folded(thread, with_pitch);
    let distances = Thread::standards().filter_map(|other| {
        let characters = strsim::osa_distance(&written, &folded(other, with_pitch));
        Some((distance(thread, other, characters)?, other))
    });
    let mut near: Vec<(f64, &Thread)> = distances.collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(b.1)));
    near.into_iter().take(count).map(|(_, other)| other.clone()).collect()
}

/// The thread of a text that goes on with a length: `M8×1.25×30`, `1/4-20 x 1`.
fn before_length(thread: &Thread) -> Option<Thread> {
    let Form::Other(text) = &thread.0 else { return None };
    let mut scanner = Scanner::new(text);
    let found = Thread::scan(&mut scanner)?;
    scanner.skip_spaces();
    let times = scanner.take_any(&["×", "x", "*"]);
    scanner.skip_spaces();
    (times && scanner.peek().is_some_and(|c| c.is_ascii_digit()) && found.is_standard()).then_some(found)
}

fn distance(thread: &Thread, other: &Thread, characters: usize) -> Option<f64> {
    let (mut character, mut series) = (CHARACTER, 0.0);
    let physical = match (&thread.0, &other.0) {
        (Form::Metric(_), Form::Metric(_)) => apart(thread, other),
        (Form::Unified(a), Form::Unified(b)) => {
            if a.is_misprint() {
                character = CHARACTER_OF_MISPRINT;
            }
            if a.series().is_some() && a.series() != b.series() {
                series = OTHER_SERIES;
            }
            apart(thread, other)
        }
        (Form::Other(_), _) if characters <= CHARACTERS_MAX => 0.0,
        _ => return None,
    };
    let rarity = if thread.system().is_some() && thread.sizes().1.is_none() { RARITY_WITHOUT_PITCH } else { RARITY };
    Some(physical + character * characters as f64 + series + rarity * f64::from(other.rarity()))
}

/// Difference of two threads' sizes, as a ratio: of the diameters, and half of that of the pitches.
fn apart(thread: &Thread, other: &Thread) -> f64 {
    let ratio = |a: u64, b: u64| (a as f64 / b as f64).ln().abs();
    let (a, b) = (thread.sizes(), other.sizes());
    let pitch = a.1.zip(b.1).map_or(0.0, |(a, b)| ratio(a, b) / 2.0);
    ratio(a.0, b.0) + pitch
}

/// The designation without what does not tell two sizes apart: series, number sign, case, spelling of signs;
/// without the pitch too, where the thread to compare with has none.
fn folded(thread: &Thread, with_pitch: bool) -> String {
    let text = thread.to_string().to_lowercase();
    let text = text.split(" un").next().unwrap_or_default();
    let size = if with_pitch || thread.sizes().1.is_none() { None } else { text.rsplit_once(['-', '×']) };
    let text = size.map_or(text, |(size, _)| size);
    text.chars().filter(|&c| c != '#').map(|c| if matches!(c, 'x' | '*') { '×' } else { c }).collect()
}
