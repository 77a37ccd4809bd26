//! When something was printed.

/// Now, to the minute, as it stands on a printed card.
#[must_use]
pub fn printed_at() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string()
}
