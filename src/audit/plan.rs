//! The stages of a fastener as the rules look at them.

use super::assessment::{Assessment, ByFriction};
use super::rule::FastenerCase;
use crate::record::{Fastener, Setting, Stage, Start};
use crate::units::{Angle, Force, Quantity, Stated, Torque, TorqueUnit};

/// A stage that tightens to a torque.
#[derive(Debug, Clone, Copy)]
pub(super) struct TorqueStage {
    /// Which stage, counted from 0.
    pub index: usize,
    /// The torque.
    pub torque: Setting<TorqueUnit>,
    /// The turns that follow it before the next torque, the next loosening or the end, in all.
    pub turned: Angle,
}

impl TorqueStage {
    /// The field of the record: `stages[2]`.
    pub fn field(&self) -> String {
        field(self.index)
    }

    /// The value to aim at.
    pub fn middle(&self) -> Torque {
        self.torque.middle()
    }

    /// Whether an angle follows: then the torque only seats the fastener.
    pub fn is_snug(&self) -> bool {
        self.turned.degrees() > 0.0
    }
}

/// The field of a stage.
pub(super) fn field(index: usize) -> String {
    format!("stages[{index}]")
}

/// The stages that tighten to a torque, in order.
pub(super) fn torques(fastener: &Fastener) -> Vec<TorqueStage> {
    let mut found: Vec<TorqueStage> = Vec::new();
    let mut loosened = false;
    for (index, stage) in fastener.stages.iter().enumerate() {
        match stage {
            Stage::Tighten { start: Start::Torque(torque), .. } => {
                found.push(TorqueStage { index, torque: *torque, turned: stage.total_turn() });
                loosened = false;
            }
            Stage::Tighten { start: Start::AsItIs, .. } if !loosened => {
                if let Some(last) = found.last_mut() {
                    last.turned = last.turned + stage.total_turn();
                }
            }
            Stage::Tighten { .. } | Stage::BackOff(_) => loosened = true,
            Stage::Check(_) | Stage::Skip => {}
        }
    }
    found
}

/// The stage with the highest torque, the first of them.
pub(super) fn highest(fastener: &Fastener) -> Option<TorqueStage> {
    let stages = torques(fastener).into_iter();
    stages.reduce(|best, stage| if stage.middle() > best.middle() { stage } else { best })
}

/// Whether the plan turns by an angle.
pub(super) fn has_turns(fastener: &Fastener) -> bool {
    fastener.stages.iter().any(|stage| !stage.turns().is_empty())
}

/// A torque in the unit of a setting, to as many figures as a wrench is set to.
pub(super) fn in_unit(torque: Torque, unit: TorqueUnit) -> String {
    let figures = if torque.base() / crate::units::Unit::in_base(unit) >= 100.0 { 3 } else { 2 };
    Stated::<TorqueUnit>::of(torque, unit, figures).to_string()
}

/// The bolt as read aloud: `a bolt M8×1.25 of class 8.8`.
pub(super) fn bolt(fastener: &Fastener) -> String {
    let what = if matches!(fastener.role(), crate::record::Role::Nut) { "the bolt of" } else { "a bolt" };
    match &fastener.property_class {
        Some(class) if class.as_str().starts_with("grade") => format!("{what} {} of {class}", fastener.thread),
        Some(class) => format!("{what} {} of class {class}", fastener.thread),
        None => format!("{what} {}", fastener.thread),
    }
}

/// The stage with the torque that the fastener is left with, if no turn follows it.
pub(super) fn last_without_turns(fastener: &Fastener) -> Option<TorqueStage> {
    torques(fastener).pop().filter(|last| !last.is_snug() && !has_turns(fastener))
}

/// The greatest preload that the stages come to, at each friction: by torque alone never above yield, by angle as the
/// mechanics of the turn has it. `None` where there is no torque.
pub(super) fn greatest_preload(case: &FastenerCase<'_>, assessment: &Assessment) -> Option<ByFriction<Force>> {
    let by_torque = assessment.preload_at(highest(case.fastener)?.middle());
    if !has_turns(case.fastener) {
        return Some(by_torque);
    }
    let turned = case.tightening()?.preload_n;
    let force = |newtons: f64| Force::from_newtons(newtons);
    let middle = f64::midpoint(turned.min(), turned.max());
    Some(ByFriction { lowest: force(turned.max()), middle: force(middle), highest: force(turned.min()) })
}
