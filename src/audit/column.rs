//! A column of a table as the rules see it: the fasteners of one joint that have one class and condition and were read
//! from one page.

use super::book::JOINT_MAX;
use super::rule::FastenerCase;
use super::slip::{Entry, Part};
use crate::record::{Fastener, Source, Text};
use std::collections::BTreeSet;

/// The fasteners of a column that state the torque that they are left at.
pub(super) struct Column<'b> {
    /// The members, in the order of the book.
    pub members: Vec<Member<'b>>,
}

/// A fastener of the column with the torque that it is left at.
pub(super) struct Member<'b> {
    /// The fastener.
    pub fastener: &'b Fastener,
    /// The index of the stage that states the torque.
    pub stage: usize,
    /// The torque as the model of slips sees it.
    pub entry: &'b Entry,
}

impl<'b> Column<'b> {
    /// The column that this fastener is the first of: what is to be said of the whole is said there. Nothing where there
    /// are fewer than `least` fasteners in the joint.
    pub fn beginning_with(case: &FastenerCase<'b>, least: usize) -> Option<Self> {
        let fasteners = fasteners(case, least)?;
        (fasteners.clone().next()?.id == case.fastener.id).then(|| Self::new(case, fasteners))
    }

    /// The column that this fastener stands in.
    pub fn around(case: &FastenerCase<'b>, least: usize) -> Option<Self> {
        Some(Self::new(case, fasteners(case, least)?))
    }

    fn new(case: &FastenerCase<'b>, fasteners: impl Iterator<Item = &'b Fastener>) -> Self {
        Self { members: fasteners.filter_map(|fastener| member(case, fastener)).collect() }
    }

    /// How many different threads the members have.
    pub fn sizes(&self) -> usize {
        self.members.iter().map(|member| member.fastener.thread.size_key()).collect::<BTreeSet<_>>().len()
    }

    /// The column in words: `the 12 torques of this column, 9 N·m for M6×1 to 44 N·m for M10×1.5,`.
    pub fn words(&self) -> String {
        let (Some(first), Some(last)) = (self.members.first(), self.members.last()) else { return String::new() };
        format!(
            "the {} torques of this column, {} for {} to {} for {},",
            self.members.len(),
            first.entry.stated,
            first.fastener.thread,
            last.entry.stated,
            last.fastener.thread
        )
    }
}

/// The fasteners of the joint that stand in one column with this one.
fn fasteners<'c, 'b>(
    case: &'c FastenerCase<'b>,
    least: usize,
) -> Option<impl Iterator<Item = &'b Fastener> + Clone + use<'c, 'b>> {
    let beside = case.book.fasteners_of(&case.fastener.joint);
    let column = beside.iter().copied().take(JOINT_MAX).filter(|other| is_of_column(case.fastener, other));
    (beside.len() >= least).then_some(column)
}

fn member<'b>(case: &FastenerCase<'b>, fastener: &'b Fastener) -> Option<Member<'b>> {
    let mut torques = case.book.torques().of_fastener(fastener.id.as_str());
    let last = torques.find(|torque| torque.entry.part == Part::Final)?;
    Some(Member { fastener, stage: last.stage, entry: last.entry })
}

/// Whether two fasteners of a joint stand in one column: the same class and condition, read from the same page.
fn is_of_column(one: &Fastener, other: &Fastener) -> bool {
    one.property_class == other.property_class
        && one.role() == other.role()
        && one.finish == other.finish
        && one.lubrication == other.lubrication
        && one.friction == other.friction
        && material(one) == material(other)
        && is_same_page(one.source.as_ref(), other.source.as_ref())
}

fn material(fastener: &Fastener) -> Option<&Text> {
    fastener.into.as_ref()?.material.as_ref()
}

fn is_same_page(one: Option<&Source>, other: Option<&Source>) -> bool {
    fn place(source: Option<&Source>) -> Option<(&Text, Option<&Text>, Option<&Text>)> {
        let source = source?;
        Some((source.document.as_ref()?, source.edition.as_ref(), source.page.as_ref()))
    }
    place(one) == place(other)
}
