use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Form, Setting};
use crate::standards::{WrenchKind, wrench_deviation};
use crate::units::{Quantity, Unit};

rule! {
    /// A range far wider than a wrench.
    ///
    /// # Why it matters
    /// A torque wrench is right to 4 or 6 %. A range whose upper end is more than twice the lower one says nothing any
    /// more: at its lower end the bolt has less than half of the preload of its upper end. Mostly a digit of one end
    /// was misread, dropped or doubled: `17-55` for `47-55`.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["2-25 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["20 ± 9 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20-25 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m ± 10 %"] }
    /// ```
    ///
    /// # Sources
    /// ISO 6789-1 (deviation of wrenches); that half of the preload is the least that clamps enough is common practice,
    /// no source.
    "range-too-wide", Fastener(check)
}

/// The upper end over the lower end.
const RATIO_MAX: f64 = 2.0;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        findings.extend(stage.torque().and_then(|torque| {
            let (deviation, source) = wrench_deviation(WrenchKind::Setting, torque.ends().1);
            Some(judge(index, torque)?.because("wrench_deviation_share", deviation, source))
        }));
        findings.extend(stage.turns().iter().filter_map(|turn| judge(index, *turn)));
    }
    findings
}

fn judge<U: Unit>(index: usize, setting: Setting<U>) -> Option<Finding> {
    // A range that goes down has a rule of its own.
    if matches!(setting.form(), Form::Range(from, to) if from.value() > to.value()) {
        return None;
    }
    let (low, high) = setting.ends();
    let (low, high) = (low.base(), high.base());
    if high <= low * RATIO_MAX {
        return None;
    }
    let message = if low > 0.0 {
        format!("the upper end of {setting} is {:.1} times the lower end", high / low)
    } else {
        format!("{setting} begins at nothing")
    };
    Some(Finding::warning(plan::field(index), message).found(setting))
}
