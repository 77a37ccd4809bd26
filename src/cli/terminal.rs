//! What is known of the terminal: how wide it is, and the few styles that help the eye.
//!
//! Styles only repeat what the words say. Where output is no terminal, `NO_COLOR` is set or `TERM` is `dumb`, they
//! are taken off again before anything is written; `CLICOLOR_FORCE` leaves them everywhere.

use anstyle::{AnsiColor, Style};

/// The width to lay out for where nothing tells it.
const WIDTH: u16 = 100;

/// The width to lay out for: `COLUMNS` if it is set, else that of the terminal, else that of a page.
#[must_use]
pub fn width() -> usize {
    let told = std::env::var("COLUMNS").ok().and_then(|columns| columns.trim().parse::<u16>().ok());
    let seen = || terminal_size::terminal_size().map(|(width, _)| width.0);
    usize::from(told.or_else(seen).unwrap_or(WIDTH).clamp(40, 160))
}

/// Whether the terminal says that it understands no escape sequence.
#[must_use]
pub fn is_dumb() -> bool {
    std::env::var_os("TERM").is_some_and(|term| term == "dumb")
}

/// Keeps styles off a dumb terminal, for all that is written from now on, help and errors too. Without it a set `CI` or
/// `CLICOLOR` counts for more than what the terminal says of itself.
pub fn heed_dumb() {
    let is_forced = std::env::var_os("CLICOLOR_FORCE").is_some_and(|value| !value.is_empty());
    if is_dumb() && !is_forced {
        anstream::ColorChoice::Never.write_global();
    }
}

/// A line that stands above what belongs to it.
#[must_use]
pub fn heading(text: &str) -> String {
    styled(Style::new().bold(), text)
}

/// A severity in its colour.
#[must_use]
pub fn severity(word: &str) -> String {
    let style = match word.trim() {
        "error" => AnsiColor::Red.on_default().bold(),
        "warning" => AnsiColor::Yellow.on_default().bold(),
        _ => Style::new().bold(),
    };
    styled(style, word)
}

/// What must be looked at before anything is done.
#[must_use]
pub fn caution(text: &str) -> String {
    styled(AnsiColor::Yellow.on_default().bold(), text)
}

fn styled(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}
