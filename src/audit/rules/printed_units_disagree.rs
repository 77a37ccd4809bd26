use crate::audit::column::Column;
use crate::audit::doubt::{Ground, doubts, is_weighed};
use crate::audit::exchange::Exchange;
use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::printed::{self, PrintedTorque};
use crate::audit::rule::{FastenerCase, rule};
use crate::audit::slip::COLUMN_MIN;
use crate::record::{Fastener, Setting, Stage};
use crate::units::TorqueUnit;

rule! {
    /// Two printed units that disagree, or a stage that is not what its source prints.
    ///
    /// # Why it matters
    /// A document that prints a torque in two units says it twice. When the two differ by more than rounding, one of
    /// them is a misprint or a misreading, and nobody knows which until another document has been looked up. When the
    /// stage differs from the text that it was entered from, the entry is wrong.
    ///
    /// Where a whole column contradicts itself in the same way, that is told once (`whole-column-units-disagree`).
    ///
    /// Up to the last digit printed, a rounded factor of conversion, and rounding to 5 or 10 (up to 3.5 %) nothing is
    /// said.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["80 N·m"], "source": { "printed": "80 N·m (50 lbf·ft)" } }
    /// ```
    /// ```json
    /// { "stages": ["30 N·m"], "source": { "printed": "13 N·m (9.6 lbf·ft)" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["25 lbf·ft"], "source": { "printed": "25 lbf·ft (35 N·m)" } }
    /// ```
    /// ```json
    /// { "stages": ["hand", "8 N·m", "20 N·m + 90°"], "source": { "printed": "20 N·m (15 lbf·ft) + 90°" } }
    /// ```
    ///
    /// # Sources
    /// Exact factors of the units; that right second units differ by up to 3.3 % was found in published tables that
    /// round to 5 or 10.
    "printed-units-disagree", Fastener(check)
}

/// From here on rounding of any kind is out of the question.
const BEYOND_ROUNDING: f64 = 0.10;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    // Where it is clear which figure belongs to which stage, all evidence is weighed; else the text is compared with itself.
    let findings = if is_weighed(case) { doubts(case, Ground::Units) } else { compared(case) };
    if findings.is_empty() || !is_of_whole_column(case) { findings } else { Vec::new() }
}

/// Whether the units contradict each other as in the whole column: that is told once, by a rule of its own.
fn is_of_whole_column(case: &FastenerCase<'_>) -> bool {
    let explained = || {
        let column = Column::around(case, COLUMN_MIN)?;
        let own = column.members.iter().find(|member| member.fastener.id == case.fastener.id)?;
        Some(Exchange::of(&column)?.explains(own))
    };
    explained().unwrap_or(false)
}

fn compared(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(text) = case.fastener.source.as_ref().and_then(|source| source.printed.as_ref()) else {
        return Vec::new();
    };
    let torques = printed::torques(text);
    let disagreeing = printed::disagreeing(&torques);
    let mut findings: Vec<_> = disagreeing.into_iter().map(|(first, second)| disagreement(first, second)).collect();
    findings.extend(not_entered(case.fastener, &torques, findings.is_empty()));
    findings
}

fn disagreement(first: &PrintedTorque<'_>, second: &PrintedTorque<'_>) -> Finding {
    let apart = first.apart(second);
    let message = format!(
        "{} and {} are printed for the same torque, but they are {:.0} % apart",
        first.text,
        second.text,
        apart * 100.0
    );
    let finding = if apart > BEYOND_ROUNDING {
        Finding::error("source.printed", message)
    } else {
        Finding::warning("source.printed", message)
    };
    finding.found(format!("{} ({})", first.text, second.text)).because("apart_share", apart, "exact factors of the units")
}

/// A printed torque that no stage has: of those in the units that the stages are stated in, or of all if there are none.
/// Where two printed units disagree, it is enough that the stage has one of them.
fn not_entered(fastener: &Fastener, torques: &[PrintedTorque<'_>], units_agree: bool) -> Option<Finding> {
    let settings: Vec<_> = fastener.stages.iter().filter_map(stated).collect();
    let is_stated = |torque: &PrintedTorque<'_>| settings.iter().any(|setting| torque.is(*setting));
    let comparable = |torque: &&PrintedTorque<'_>| settings.iter().any(|setting| setting.unit() == torque.unit);
    let missing = if torques.iter().any(|torque| comparable(&torque)) {
        torques.iter().filter(comparable).find(|torque| !is_stated(torque))?
    } else {
        torques.first().filter(|_| !torques.iter().any(is_stated))?
    };
    if !units_agree && torques.iter().any(is_stated) {
        return None;
    }
    let stage = plan::highest(fastener)?;
    let message = format!("the source prints {}, but no stage has that torque", missing.text);
    Some(
        Finding::error(stage.field(), message)
            .found(stage.torque)
            .one_of([missing.text])
            .because_of("printed", missing.text, "the record's own source"),
    )
}

/// The torque that a stage states.
fn stated(stage: &Stage) -> Option<Setting<TorqueUnit>> {
    match stage {
        Stage::Check(least) => Some(Setting::exact(*least)),
        _ => stage.torque(),
    }
}
