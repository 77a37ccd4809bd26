//! One wrong entry among right ones: what the model says of it.

use crate::corpus::{Published, entries};
use clampbook::audit::slip::{Entry, Judged, Priors, Value, judge, learn};
use clampbook::units::Unit;
use std::collections::BTreeMap;

/// The model says that a number is wrong where it holds that for more likely than not.
pub const SAYS_WRONG: f64 = 0.5;
/// Slips that change a value by less are counted apart.
pub const CHANGE_MIN: f64 = 1.15;
/// Between these shares of the torque for 90 % of yield at friction 0.12 right values are known to lie, in tables and
/// in particular joints: what a slip leaves there is impossible to see without a second witness. Fixed beforehand.
pub const PLAUSIBLE: (f64, f64) = (0.3, 1.8);

/// The priors for each source, learned from all the others.
pub fn folds(tables: &[Published]) -> BTreeMap<String, Priors> {
    let mut sources: Vec<&str> = tables.iter().map(|row| row.source.as_str()).collect();
    sources.sort_unstable();
    sources.dedup();
    let one = |source: &str| {
        let others = tables.iter().filter(|row| row.source != source && row.misprint.is_none());
        (source.to_owned(), learn(&entries(others)))
    };
    sources.into_iter().map(one).collect()
}

/// The verdict on entry `at` of a list where it was replaced by `seen`.
pub fn with_slip(list: &[Entry], at: usize, seen: Value, priors: &Priors) -> Option<Judged> {
    let mut list = list.to_vec();
    list[at].stated = seen;
    judge(&list, priors).swap_remove(at)
}

/// By how much a slip changes a value: the greater ratio of its ends.
pub fn change(seen: Value, meant: Value) -> f64 {
    let ends = |value: Value| {
        let (low, high) = value.figures.ends();
        (low * value.unit.in_base(), high * value.unit.in_base())
    };
    let ((a, b), (c, d)) = (ends(seen), ends(meant));
    let ratio = |a: f64, b: f64| (a / b).max(b / a);
    ratio(a, c).max(ratio(b, d))
}

/// Does the value lie where right values lie, so that alone nobody could tell?
pub fn is_plausible(entry: &Entry, seen: Value) -> bool {
    let (Some(size), Some(strength)) = (entry.size, entry.yield_mpa) else { return true };
    let full = size.torque_per_mpa * 0.9 * strength;
    let (low, high) = seen.figures.ends();
    let share = |end: f64| end * seen.unit.in_base() / full;
    low <= high && [low, high].into_iter().all(|end| (PLAUSIBLE.0..=PLAUSIBLE.1).contains(&share(end)))
}
