//! What closes a joint, and what sits at a position of it, now or at a moment.

use super::{Catalog, CatalogError, JointView};
use crate::card::{Apart, tell_apart, tell_first_apart};
use crate::query::{Field, State, Stored};
use crate::record::{Fastener, Head, Id};

/// A position that is asked about, and what is asked for there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PositionAsked<'a> {
    /// The number of the position.
    pub position: u32,
    /// Only fasteners with this kind of head.
    pub head: Option<Head>,
    /// Only what fits this variant of the machine.
    pub variant: Option<&'a str>,
    /// What sat there at this moment; absent means now.
    pub as_of: Option<jiff::Timestamp>,
}

/// What sits at a position of a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct PositionAnswer {
    /// The joint, if it is in the book.
    pub joint: Option<Stored>,
    /// The position that was asked about.
    pub position: u32,
    /// Every fastener that sits there and is what was asked for, by id.
    pub fasteners: Vec<Stored>,
    /// What tells them apart, if there are several; or, if there is one, what tells it from the others of its joint
    /// that look otherwise.
    pub apart: Option<Apart>,
    /// If there is none: what comes nearest, the nearest first.
    pub nearest: Vec<NearMatch>,
}

/// A fastener that is not what was asked for, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct NearMatch {
    /// The fastener.
    pub fastener: Stored,
    /// Why it is not what was asked for.
    pub reason: String,
}

/// The most near matches that are named.
const NEAREST_MAX: usize = 5;

impl Catalog {
    /// A joint and everything that closes it; nothing if the joint is not in the book.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn joint(&self, id: &Id) -> Result<Option<JointView>, CatalogError> {
        self.joint_as_of(id, None)
    }

    /// A joint and everything that closed it at a moment, or closes it now.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn joint_as_of(&self, id: &Id, as_of: Option<jiff::Timestamp>) -> Result<Option<JointView>, CatalogError> {
        let joint = match as_of {
            Some(moment) => self.get_as_of(id, moment)?,
            None => self.get(id)?,
        };
        match joint {
            Some(joint) if joint.record.as_joint().is_some() => {
                Ok(Some(JointView { joint, fasteners: self.fasteners_of(id, as_of)? }))
            }
            _ => Ok(None),
        }
    }

    /// The fasteners in force that close a joint, now or at a moment, by id, whether or not the joint itself is in the book.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn fasteners_of(&self, joint: &Id, as_of: Option<jiff::Timestamp>) -> Result<Vec<Stored>, CatalogError> {
        let closes = |stored: &Stored| {
            stored.state == State::Current
                && stored.record.as_fastener().is_some_and(|fastener| fastener.joint == *joint)
        };
        if let Some(directory) = self.store().directory().filter(|_| as_of.is_none()) {
            let mut below = self.store().records_of(&directory, directory.in_force_below(joint.as_str()))?;
            below.retain(closes);
            return Ok(below);
        }
        let mut fasteners = Vec::new();
        let sequence = as_of.map_or_else(|| Ok(self.sequence()), |moment| self.store().sequence_at(moment))?;
        self.store().walk(Some(joint.as_str()), sequence, |stored| {
            if closes(&stored) {
                fasteners.push(stored);
            }
            Ok(true)
        })?;
        Ok(fasteners)
    }

    /// What sits at a position of a joint, and what tells several kinds apart; the nearest matches if nothing does.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn at_position(&self, joint: &Id, asked: &PositionAsked<'_>) -> Result<PositionAnswer, CatalogError> {
        let view = self.joint_as_of(joint, asked.as_of)?;
        let fasteners = match &view {
            Some(view) => view.fasteners.clone(),
            None => self.fasteners_of(joint, asked.as_of)?,
        };
        Ok(PositionAnswer::of(view.map(|view| view.joint), fasteners, asked))
    }
}

impl PositionAnswer {
    /// The answer from the fasteners of a joint.
    pub(super) fn of(joint: Option<Stored>, fasteners: Vec<Stored>, asked: &PositionAsked<'_>) -> Self {
        let mut here = Vec::new();
        let mut others = Vec::new();
        for stored in fasteners {
            let reasons = stored.record.as_fastener().map(|fastener| asked.misses(fastener)).unwrap_or_default();
            if reasons.is_empty() { here.push(stored) } else { others.push((reasons, stored)) }
        }
        let apart = tell_apart(&fasteners_in(&here)).or_else(|| apart_from_neighbours(&here, &others));
        others.sort_by_key(|(reasons, _)| reasons.len());
        let near = |(reasons, fastener): (Vec<String>, Stored)| NearMatch { fastener, reason: reasons.join("; ") };
        let nearest =
            if here.is_empty() { others.into_iter().take(NEAREST_MAX).map(near).collect() } else { Vec::new() };
        Self { joint, position: asked.position, fasteners: here, apart, nearest }
    }
}

fn fasteners_in(stored: &[Stored]) -> Vec<&Fastener> {
    stored.iter().filter_map(|stored| stored.record.as_fastener()).collect()
}

/// One fastener sits here, but others of the joint have another head: the head is to be checked all the same.
fn apart_from_neighbours(here: &[Stored], others: &[(Vec<String>, Stored)]) -> Option<Apart> {
    let [one] = here else { return None };
    let one = one.record.as_fastener()?;
    let neighbours = others.iter().filter_map(|(_, stored)| stored.record.as_fastener());
    let mut kinds = vec![one];
    kinds.extend(neighbours.filter(|other| other.head != one.head));
    tell_first_apart(&kinds)
}

impl PositionAsked<'_> {
    /// Why a fastener is not what was asked for, in words; nothing if it is.
    fn misses(&self, fastener: &Fastener) -> Vec<String> {
        let mut reasons = Vec::new();
        match &fastener.positions {
            Some(positions) if positions.contains(self.position) => {}
            Some(positions) => reasons.push(format!("sits at {positions}, not at {}", self.position)),
            None => reasons.push("its positions are not stated".to_owned()),
        }
        if let Some(wanted) = self.head.filter(|_| !self.is_head(fastener.head)) {
            let head = fastener.head.map_or("not stated".to_owned(), Head::words);
            reasons.push(format!("its head is {head}, not {}", wanted.words()));
        }
        if let Some(wanted) = self.variant {
            let record = crate::record::Record::Fastener(Box::new(fastener.clone()));
            let variants = Field::Variant.values(&record);
            if !self.is_variant(variants.iter().map(String::as_str)) {
                reasons.push(format!("is for {}, not for {wanted}", variants.join(", ")));
            }
        }
        reasons
    }

    /// Whether this head is asked for, or any.
    pub(super) fn is_head(&self, head: Option<Head>) -> bool {
        self.head.is_none_or(|wanted| head == Some(wanted))
    }

    /// Whether what is for these variants only, or for all where there are none, is for the one that is asked for, if one is.
    pub(super) fn is_variant<'v>(&self, mut variants: impl Iterator<Item = &'v str>) -> bool {
        let Some(wanted) = self.variant.map(str::to_lowercase) else { return true };
        let Some(first) = variants.next() else { return true };
        first == wanted || variants.any(|variant| variant == wanted)
    }
}
