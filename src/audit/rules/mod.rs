//! The rules, one to a file. Adding a rule is two edits: its file, and its line in the list below.

macro_rules! rules {
    ($($file:ident),* $(,)?) => {
        $( mod $file; )*

        /// Every rule, in the order of the list.
        pub static RULES: &[&super::rule::Rule] = &[$( &$file::RULE ),*];
    };
}

rules! {
    acceptance_excuses_nothing,
    angle_not_a_workshop_angle,
    angle_typed_as_torque,
    check_below_snug_torque,
    checked_by_the_same_hand,
    class_not_made_in_this_size,
    class_of_another_kind,
    count_disagrees_with_positions,
    drive_does_not_fit,
    engagement_too_short,
    grip_missing,
    hand_in_doubt,
    head_sinks_in,
    joint_not_in_the_book,
    length_limit_cannot_be,
    locking_reused_without_limit,
    missing_source,
    neighbours_differ,
    no_common_wrench,
    nut_class_too_weak,
    one_time_rule_missing,
    order_missing,
    order_not_a_permutation,
    position_not_drawn,
    position_without_fastener,
    printed_units_disagree,
    range_ends_swapped,
    range_too_wide,
    renew_count_disagrees,
    reused_beyond_yield,
    same_part_different_torque,
    snug_torque_too_high,
    stages_not_rising,
    stainless_on_stainless_dry,
    thread_class_of_the_other_system,
    thread_strips_first,
    threadlocker_on_a_dry_thread,
    torque_beyond_breaking,
    torque_beyond_yield,
    torque_clamps_nothing,
    torque_improbable,
    torque_not_judged,
    torque_out_of_series,
    torque_typed_as_angle,
    torque_unlike_comparable_records,
    turn_beyond_half_a_revolution,
    turns_beyond_elongation,
    two_at_one_position,
    unchecked_entry,
    unknown_class,
    unknown_thread,
    way_in_a_ring,
    way_leads_nowhere,
    whole_column_improbable,
    whole_column_units_disagree,
}

use crate::record::Locking;

/// The rule of this name.
#[must_use]
pub fn rule_named(name: &str) -> Option<&'static super::rule::Rule> {
    RULES.iter().copied().find(|rule| rule.name == name)
}

/// Positions as read aloud: `position 2`, `positions 2, 4`.
fn positions<'n>(numbers: impl IntoIterator<Item = &'n u32>) -> String {
    let numbers: Vec<_> = numbers.into_iter().map(ToString::to_string).collect();
    let word = if numbers.len() == 1 { "position" } else { "positions" };
    format!("{word} {}", numbers.join(", "))
}

/// Whether a liquid is on the thread that locks it.
fn is_liquid(locking: Locking) -> bool {
    matches!(locking, Locking::Threadlocker | Locking::ThreadSealant)
}

/// Whether words about lubrication say that there is none.
fn is_dry(words: &str) -> bool {
    let words = words.to_lowercase();
    let has_lubricant = ["film", "oil", "grease", "paste", "wax"].iter().any(|word| words.contains(word));
    let says_dry = ["dry", "unlubricated", "no lubric", "degreased", "none"].iter().any(|word| words.contains(word));
    says_dry && (!has_lubricant || words.contains("oil free") || words.contains("oil-free"))
}

#[cfg(test)]
mod tests;
