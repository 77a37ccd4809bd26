//! The stages of all fasteners of a joint, merged pass by pass.

use super::order::{self, OrderFrom};
use crate::record::{Fastener, Fits, Head, Id, Joint, Stage, Text};
use serde::Serialize;
use std::collections::BTreeSet;

/// All positions of a joint taken once: stage k of every fastener is done in pass k.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Pass {
    /// The number of the pass, from 1.
    #[schema(minimum = 1, maximum = 400)]
    pub number: u32,
    /// How the order was made, in words.
    pub order: &'static str,
    /// What is done, in order.
    pub steps: Vec<Step>,
    /// Positions that have a stage in this pass, while the order of the pass leaves them out: not touched.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub left_out: Vec<u32>,
}

/// One fastener taken once.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Step {
    /// The position; absent where the record of the fastener states none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position: Option<u32>,
    /// The id of the fastener.
    pub fastener: Id,
    /// What people call it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<Text>,
    /// What its head looks like.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub head: Option<Head>,
    /// What is done.
    pub stage: Stage,
    /// Which machines the fastener is for, where it is not for all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fits: Option<Fits>,
}

/// The passes of a joint, each with its steps in order.
///
/// Where two fasteners are said to sit at one position, both have a step there, in the order given, each with the
/// machines it fits: nothing is picked. `skip` is no step, and neither is what the order of the pass leaves out.
#[must_use]
pub fn passes(joint: &Joint, fasteners: &[&Fastener]) -> Vec<Pass> {
    let count = fasteners.iter().map(|fastener| fastener.stages.len()).max().unwrap_or(0);
    (1..).take(count).map(|number| pass(joint, fasteners, number)).collect()
}

/// The positions where these fasteners sit.
#[must_use]
pub fn positions_of(fasteners: &[&Fastener]) -> BTreeSet<u32> {
    fasteners.iter().filter_map(|fastener| fastener.positions.as_ref()).flat_map(|positions| positions.iter()).collect()
}

/// The stage of a fastener in a pass, unless there is none or it is skipped.
#[must_use]
pub fn stage_in(fastener: &Fastener, number: u32) -> Option<&Stage> {
    let index = usize::try_from(number).ok()?.checked_sub(1)?;
    fastener.stages.get(index).filter(|stage| **stage != Stage::Skip)
}

fn pass(joint: &Joint, fasteners: &[&Fastener], number: u32) -> Pass {
    let busy: Vec<(&Fastener, &Stage)> =
        fasteners.iter().filter_map(|fastener| Some((*fastener, stage_in(fastener, number)?))).collect();
    let wanted = positions_of(&busy.iter().map(|(fastener, _)| *fastener).collect::<Vec<_>>());
    let sequence = order::sequence(joint, number, &wanted);
    let mut steps = Vec::new();
    for &position in &sequence.positions {
        let here = busy.iter().filter(|(fastener, _)| sits_at(fastener, position));
        steps.extend(here.map(|(fastener, stage)| step(fastener, stage, Some(position))));
    }
    let nowhere = busy.iter().filter(|(fastener, _)| fastener.positions.is_none());
    steps.extend(nowhere.map(|(fastener, stage)| step(fastener, stage, None)));
    let from = if wanted.len() > 1 { sequence.from.words() } else { ONE_POSITION };
    Pass { number, order: from, steps, left_out: sequence.left_out }
}

const ONE_POSITION: &str = "one position";

impl Pass {
    /// Whether the record states no order for this pass, so that its steps stand by number.
    #[must_use]
    pub fn is_unordered(&self) -> bool {
        self.order == OrderFrom::Number.words()
    }

    /// The positions in the order they are taken, each once.
    #[must_use]
    pub fn positions(&self) -> Vec<u32> {
        let mut seen = BTreeSet::new();
        self.steps.iter().filter_map(|step| step.position).filter(|n| seen.insert(*n)).collect()
    }
}

/// Whether a fastener sits at a position.
#[must_use]
pub fn sits_at(fastener: &Fastener, position: u32) -> bool {
    fastener.positions.as_ref().is_some_and(|positions| positions.contains(position))
}

fn step(fastener: &Fastener, stage: &Stage, position: Option<u32>) -> Step {
    Step {
        position,
        fastener: fastener.id.clone(),
        name: fastener.name.clone(),
        head: fastener.head,
        stage: stage.clone(),
        fits: fastener.fits.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Order, Pattern, Position};

    fn joint(order: Option<Order>) -> Joint {
        let corners = [(1, -30.0, 20.0), (2, 30.0, 20.0), (3, 30.0, -20.0), (4, -30.0, -20.0), (5, 0.0, 34.0)];
        let positions = corners.iter().map(|&(n, x_mm, y_mm)| Position { n, x_mm, y_mm }).collect();
        Joint { positions, order, ..Joint::bare("skua.test.cover".parse().unwrap()) }
    }

    fn fastener(name: &str, positions: Option<&str>, stages: &[&str]) -> Fastener {
        let joint: Id = "skua.test.cover".parse().unwrap();
        let stages = stages.iter().map(|stage| stage.parse().unwrap()).collect();
        let id = format!("{joint}.{name}").parse().unwrap();
        let positions = positions.map(|positions| positions.parse().unwrap());
        Fastener {
            positions,
            ..Fastener::bare(
                id,
                joint,
                "M8×1.25".parse().map(|d: crate::thread::Designation| d.thread).unwrap(),
                stages,
            )
        }
    }

    fn shown(pass: &Pass) -> String {
        let steps = pass.steps.iter().map(|step| {
            let position = step.position.map_or("?".to_owned(), |n| n.to_string());
            format!("{position} {} {}", step.fastener.last(), step.stage)
        });
        steps.collect::<Vec<_>>().join("; ")
    }

    #[test]
    fn stages_are_merged_pass_by_pass() {
        let order = Order { pattern: Some(Pattern::Diagonal), ..Order::default() };
        let (corner, top) = (
            fastener("hex", Some("1-4"), &["hand", "8 N·m", "20 N·m + 90°"]),
            fastener("cap", Some("5"), &["skip", "5 N·m"]),
        );
        let passes = passes(&joint(Some(order)), &[&corner, &top]);
        assert_eq!(passes.len(), 3);
        assert_eq!(shown(&passes[0]), "1 hex hand; 3 hex hand; 2 hex hand; 4 hex hand");
        assert_eq!(shown(&passes[1]), "1 hex 8 N·m; 3 hex 8 N·m; 2 hex 8 N·m; 4 hex 8 N·m; 5 cap 5 N·m");
        assert_eq!(passes[2].steps.len(), 4);
        assert_eq!(passes[0].order, "diagonally, opposite corners");
    }

    #[test]
    fn a_list_for_one_pass_says_what_is_touched_and_what_it_leaves_out_is_told() {
        let order = Order { pattern: Some(Pattern::Round), passes: [(2, vec![4, 2])].into(), ..Order::default() };
        let corner = fastener("hex", Some("1-4"), &["8 N·m", "20 N·m"]);
        let passes = passes(&joint(Some(order)), &[&corner]);
        assert_eq!(shown(&passes[0]), "1 hex 8 N·m; 2 hex 8 N·m; 3 hex 8 N·m; 4 hex 8 N·m");
        assert_eq!(
            (shown(&passes[1]), &passes[1].left_out[..]),
            ("4 hex 20 N·m; 2 hex 20 N·m".to_owned(), &[1, 3][..])
        );
    }

    #[test]
    fn two_variants_at_one_position_both_stand_there() {
        let mut early = fastener("early", Some("1,2"), &["18 N·m"]);
        early.fits = Some(Fits { variants: vec!["round-lid".parse().unwrap()], serials: None });
        let late = fastener("late", Some("1,2"), &["20 N·m"]);
        let passes = passes(&joint(None), &[&early, &late]);
        assert_eq!(shown(&passes[0]), "1 early 18 N·m; 1 late 20 N·m; 2 early 18 N·m; 2 late 20 N·m");
        assert!(passes[0].steps[0].fits.is_some() && passes[0].is_unordered());
    }

    #[test]
    fn a_fastener_without_positions_is_not_lost() {
        let (placed, loose) = (fastener("hex", Some("1"), &["8 N·m"]), fastener("nut", None, &["9 N·m"]));
        let passes = passes(&joint(None), &[&placed, &loose]);
        assert_eq!(shown(&passes[0]), "1 hex 8 N·m; ? nut 9 N·m");
        assert_eq!(passes[0].order, "one position");
        assert!(super::passes(&joint(None), &[]).is_empty());
    }
}
