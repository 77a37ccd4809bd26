//! The table that is printed.

use std::time::Duration;

/// What a ratio is held to.
#[derive(Debug, Clone, Copy)]
pub enum Wanted {
    /// At least this.
    AtLeast(f64),
    /// At most this.
    AtMost(f64),
    /// Nothing was said about it.
    Nothing,
}

/// What was measured, line by line as it comes.
pub struct Report {
    met: usize,
    missed: Vec<String>,
}

impl Report {
    /// Begins the table.
    pub fn new(about: &str) -> Self {
        println!("{about}");
        println!();
        println!("| what | clampbook | beside it | ratio | wanted | met |");
        println!("|---|---|---|---|---|---|");
        Self { met: 0, missed: Vec::new() }
    }

    /// A line that is no comparison.
    pub fn say(&mut self, text: &str) {
        println!("| {text} | | | | | |");
    }

    /// A line of the table.
    pub fn row(&mut self, what: &str, ours: &str, other: &str, ratio: f64, wanted: Wanted) {
        let (words, met) = match wanted {
            Wanted::AtLeast(least) => (format!("≥ {least:.2}"), Some(ratio >= least)),
            Wanted::AtMost(most) => (format!("≤ {most:.2}"), Some(ratio <= most)),
            Wanted::Nothing => (String::new(), None),
        };
        let met = match met {
            Some(true) => {
                self.met += 1;
                "yes"
            }
            Some(false) => {
                self.missed.push(what.to_owned());
                "NO"
            }
            None => "",
        };
        println!("| {what} | {ours} | {other} | {ratio:.2} | {words} | {met} |");
    }

    /// Ends the table.
    pub fn end(self) {
        println!();
        println!("{} met, {} missed{}", self.met, self.missed.len(), if self.missed.is_empty() { "" } else { ":" });
        for what in self.missed {
            println!("- {what}");
        }
    }
}

/// A time in a few characters.
pub fn time(time: Duration) -> String {
    format!("{time:.1?}")
}

/// The time at a share of all of them: 0.5 for the middle one.
pub fn at_share(times: &mut [Duration], share: f64) -> Duration {
    times.sort_unstable();
    let last = times.len().saturating_sub(1);
    times.get((last as f64 * share).round() as usize).copied().unwrap_or_default()
}

/// How many times longer the second took than the first.
pub fn times_faster(ours: Duration, other: Duration) -> f64 {
    other.as_secs_f64() / ours.as_secs_f64().max(1e-9)
}
