use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::thread::{System, Thread};

rule! {
    /// A thread that no standard has, or whose pitch is not stated.
    ///
    /// # Why it matters
    /// A size that does not exist was misread or misheard, and nothing else about the fastener can be judged by it.
    /// Cutting or forcing the wrong thread ruins the part. A size without its pitch, and a thread of another kind (a
    /// pipe thread, a trapezoidal thread), may well be right, but cannot be judged: that is a `note`. So is a small screw
    /// in thirty-seconds of an inch, as they were made before the numbered sizes.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "7/17-14" }
    /// ```
    /// ```json
    /// { "thread": "M9.5" }
    /// ```
    /// ```json
    /// { "thread": "3/8" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M8" }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC" }
    /// ```
    ///
    /// # Sources
    /// ISO 261, ISO 262 (choice of diameters and pitches); ASME B1.1 (UNC, UNF, UN series).
    "unknown-thread", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let thread = &case.fastener.thread;
    if thread.is_standard() {
        return Vec::new();
    }
    let in_a_system = thread.system().is_some();
    if in_a_system && thread.geometry().is_none() && is_a_size(thread) {
        let message = format!("the pitch of {thread} is not stated");
        return vec![Finding::note("thread", message).found(thread).one_of(case.book.near_threads(thread))];
    }
    let nearest = if in_a_system || has_digit(thread) { case.book.near_threads(thread) } else { &[] };
    if nearest.is_empty() {
        let message = format!("{thread} is no metric or unified thread, so nothing can be judged by it");
        return vec![Finding::note("thread", message).found(thread)];
    }
    let message = format!("{thread} is in no list of standard threads");
    if is_old_fraction(thread) {
        let message = format!("{message}: such fractional sizes were made before the numbered ones");
        return vec![Finding::note("thread", message).found(thread).one_of(nearest)];
    }
    vec![Finding::warning("thread", message).found(thread).one_of(nearest)]
}

/// Whether a standard has the diameter.
fn is_a_size(thread: &Thread) -> bool {
    let (diameter, _) = thread.size_key();
    Thread::standards().any(|other| other.size_key().0 == diameter)
}

/// Whether it is one of the machine screws in thirty-seconds of an inch that the numbered sizes have replaced: 3/32-48,
/// 5/32-32, 3/16-24, 7/32-24 and the like (common practice, from memory).
fn is_old_fraction(thread: &Thread) -> bool {
    const THREADS_PER_INCH: [f64; 11] = [20.0, 22.0, 24.0, 28.0, 30.0, 32.0, 36.0, 40.0, 44.0, 48.0, 50.0];
    const LARGEST: f64 = 7.0;
    let Some(geometry) = thread.geometry().filter(|_| thread.system() == Some(System::Unified)) else { return false };
    let thirty_seconds = geometry.major().inches() * 32.0;
    let is_whole = (thirty_seconds - thirty_seconds.round()).abs() < 1e-6;
    let per_inch = geometry.pitch().inches().recip();
    is_whole && thirty_seconds <= LARGEST + 0.5 && THREADS_PER_INCH.iter().any(|n| (n - per_inch).abs() < 0.01)
}

fn has_digit(thread: &Thread) -> bool {
    thread.to_string().contains(|c: char| c.is_ascii_digit())
}
