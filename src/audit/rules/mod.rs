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
    class_not_made_in_this_size,
    drive_does_not_fit,
    missing_source,
    one_time_rule_missing,
    order_not_a_permutation,
    printed_units_disagree,
    stages_not_rising,
    torque_beyond_breaking,
    torque_beyond_yield,
    torque_improbable,
    torque_out_of_series,
    torque_unlike_comparable_records,
    unchecked_entry,
    unknown_class,
    unknown_thread,
}

/// The rule of this name.
#[must_use]
pub fn rule_named(name: &str) -> Option<&'static super::rule::Rule> {
    RULES.iter().copied().find(|rule| rule.name == name)
}

#[cfg(test)]
mod tests;
