//! Cards, kits and ways of the joints in the book.

use super::{AuditScope, Catalog, CatalogError, JointView, State, Stored};
use crate::card::{
    self, Card, CardInput, CardOptions, JointRecords, Kit, KitOptions, Label, LabelInput, Numbered, Way, WaySheet,
};
use crate::card::{Look, order, passes};
use crate::record::{Fastener, Id, Joint};

/// Some joints of the book, and which of the ids asked for are no joints.
#[derive(Debug, Clone, PartialEq)]
pub struct SomeJoints {
    /// The joints with their fasteners, in the order asked for.
    pub joints: Vec<JointView>,
    /// The ids that are no joints of the book.
    pub unknown: Vec<Id>,
}

/// The drawing of a joint, or why there is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum JointDrawing {
    /// It, as SVG.
    Drawn(String),
    /// The joint is not in the book.
    NoJoint,
    /// The joint has no pass of this number, but this many.
    NoPass(usize),
    /// The record draws no position.
    NoPositions,
}

impl JointView {
    /// The joint's own record; every view has one.
    #[must_use]
    pub fn joint_record(&self) -> Option<&Joint> {
        self.joint.record.as_joint()
    }

    /// The records of its fasteners.
    #[must_use]
    pub fn fastener_records(&self) -> Vec<&Fastener> {
        self.fasteners.iter().filter_map(|stored| stored.record.as_fastener()).collect()
    }

    /// The records as cards and kits take them.
    #[must_use]
    pub fn records(&self) -> Option<JointRecords<'_>> {
        Some(JointRecords { joint: self.joint_record()?, fasteners: self.fastener_records() })
    }
}

impl Catalog {
    /// The joints of these ids with their fasteners.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn some_joints(&self, ids: &[Id]) -> Result<SomeJoints, CatalogError> {
        let mut found = SomeJoints { joints: Vec::new(), unknown: Vec::new() };
        for id in ids {
            match self.joint(id)? {
                Some(view) => found.joints.push(view),
                None => found.unknown.push(id.clone()),
            }
        }
        Ok(found)
    }

    /// The bench card of a joint; nothing if the joint is not in the book (at that moment). `printed_at` is the moment in words.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn card(&self, id: &Id, options: &CardOptions, printed_at: &str) -> Result<Option<Card>, CatalogError> {
        let Some(view) = self.joint_as_of(id, options.as_of)? else { return Ok(None) };
        let shown = [&view.joint].into_iter().chain(&view.fasteners);
        let findings = match options.as_of {
            Some(_) => self.findings_about(&shown.collect::<Vec<_>>())?,
            None => self.audit(&AuditScope::Ids(shown.map(|stored| stored.record.id().clone()).collect()))?,
        };
        let Some(joint) = view.joint_record() else { return Ok(None) };
        let fasteners = view.fasteners.iter().filter_map(|stored| Some(numbered(stored, stored.record.as_fastener()?)));
        Ok(Some(card::bench_card(&CardInput {
            joint: numbered(&view.joint, joint),
            fasteners: fasteners.collect(),
            findings: &findings,
            printed_at: printed_at.to_owned(),
            options: options.clone(),
        })))
    }

    /// The drawing of a joint with the order of one pass, or of the whole joint, now or at a moment.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn joint_drawing(
        &self,
        id: &Id,
        pass: Option<u32>,
        variant: Option<&str>,
        as_of: Option<jiff::Timestamp>,
    ) -> Result<JointDrawing, CatalogError> {
        let view = self.joint_as_of(id, as_of)?;
        let Some(records) = view.as_ref().and_then(JointView::records) else { return Ok(JointDrawing::NoJoint) };
        let fasteners = records.suiting(variant);
        let look = match pass {
            None => {
                let whole = order::whole(records.joint, &passes::positions_of(&fasteners));
                Look { order: whole.positions, order_words: whole.from.words().to_owned(), ..Look::default() }
            }
            Some(number) => {
                let passes = passes::passes(records.joint, &fasteners);
                match passes.iter().find(|pass| pass.number == number) {
                    Some(pass) => {
                        Look { order: pass.positions(), order_words: pass.order.to_owned(), ..Look::default() }
                    }
                    None => return Ok(JointDrawing::NoPass(passes.len())),
                }
            }
        };
        let drawn = card::drawing(records.joint, &fasteners, &look);
        Ok(drawn.map_or(JointDrawing::NoPositions, JointDrawing::Drawn))
    }

    /// The kit for some joints of the book, and the ids that are none.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn kit(&self, ids: &[Id], options: &KitOptions) -> Result<(Kit, Vec<Id>), CatalogError> {
        let found = self.some_joints(ids)?;
        let joints: Vec<JointRecords<'_>> = found.joints.iter().filter_map(JointView::records).collect();
        Ok((card::kit(&joints, options), found.unknown))
    }

    /// What must lie on the bench for some joints and those that must be opened first, and which of the targets are none.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn kit_of_way(&self, targets: &[Id], options: &KitOptions) -> Result<(Kit, Vec<Id>), CatalogError> {
        let way = self.way(targets)?;
        Ok((self.kit(&way.open, options)?.0, way.asked_in_vain()))
    }

    /// The label for some joints of the book.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn label(&self, ids: &[Id], input: &LabelInput) -> Result<Label, CatalogError> {
        let found = self.some_joints(ids)?;
        let joints: Vec<JointRecords<'_>> = found.joints.iter().filter_map(JointView::records).collect();
        Ok(card::label(&joints, input))
    }

    /// The way in to some joints, and out again. A withdrawn joint is no joint of the way.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn way(&self, targets: &[Id]) -> Result<Way, CatalogError> {
        card::way(targets, |id| {
            let stored = self.get(id)?.filter(|stored| stored.state == State::Current);
            Ok(stored.and_then(|stored| stored.record.as_joint().map(|joint| joint.behind.clone())))
        })
    }

    /// The way to some joints with its kit and the card of every joint on it.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn way_sheet(&self, targets: &[Id], options: &CardOptions, printed_at: &str) -> Result<WaySheet, CatalogError> {
        let way = self.way(targets)?;
        let found = self.some_joints(&way.open)?;
        let joints: Vec<JointRecords<'_>> = found.joints.iter().filter_map(JointView::records).collect();
        let kit_options = KitOptions { variant: options.variant.clone(), wrenches: options.wrenches.clone() };
        let mut cards = Vec::new();
        for id in &way.open {
            cards.extend(self.card(id, options, printed_at)?);
        }
        Ok(WaySheet {
            work: card::way_work(&joints.iter().map(|joint| joint.joint).collect::<Vec<_>>()),
            kit: card::kit(&joints, &kit_options),
            cards,
            printed_at: printed_at.to_owned(),
            way,
        })
    }
}

fn numbered<'r, R>(stored: &Stored, record: &'r R) -> Numbered<'r, R> {
    Numbered { record, revision: Some(stored.revision), is_withdrawn: stored.state == State::Withdrawn }
}
