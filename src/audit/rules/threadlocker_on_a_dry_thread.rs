use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Locking;

rule! {
    /// A liquid threadlocker or sealant together with a figure for dry threads.
    ///
    /// # Why it matters
    /// Wet threadlocker and sealant lubricate much as a light oil does. A torque that was found on dry threads then gives
    /// more preload than was meant, up to twice as much. Either the thread is not dry, or the torque is not the one for
    /// it.
    ///
    /// # Flagged
    /// ```json
    /// { "locking": "threadlocker", "lubrication": "dry" }
    /// ```
    /// ```json
    /// { "locking": "thread-sealant", "friction": "0.25" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "locking": "threadlocker", "friction": "0.12-0.18" }
    /// ```
    /// ```json
    /// { "locking": "none", "lubrication": "dry" }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source; VDI 2230-1:2015, table A5 has adhesives in class C, up to 0.24.
    "threadlocker-on-a-dry-thread", Fastener(check)
}

/// Above the class of friction that adhesives are in.
const DRY_FROM: f64 = 0.24;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    let Some(locking) = fastener.locking.filter(|locking| super::is_liquid(*locking)) else { return Vec::new() };
    let liquid = if locking == Locking::Threadlocker { "threadlocker" } else { "sealant" };
    if let Some(words) = fastener.lubrication.as_ref().filter(|words| super::is_dry(words)) {
        let message = format!("{liquid} lubricates while it is wet, but the thread is stated as \"{words}\"");
        return vec![Finding::warning("lubrication", message).found(words)];
    }
    if let Some(friction) = fastener.friction.filter(|friction| friction.low() > DRY_FROM) {
        let message = format!("{liquid} lubricates while it is wet, but friction {friction} is that of a dry thread");
        return vec![Finding::warning("friction", message).found(friction)];
    }
    Vec::new()
}
