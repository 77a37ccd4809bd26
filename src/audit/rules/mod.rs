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
    order_not_a_permutation,
    unchecked_entry,
    unknown_thread,
}

/// The rule of this name.
#[must_use]
pub fn rule_named(name: &str) -> Option<&'static super::rule::Rule> {
    RULES.iter().copied().find(|rule| rule.name == name)
}

#[cfg(test)]
mod tests;
