//! The parts of a kit, summed by part number and size.

use super::KitPart;
use crate::card::fits::fits_words;
use crate::card::shapes::head_words;
use crate::record::{Fastener, Id, Joint, Locking, RenewItem, Reuse, ReuseRule};

/// The parts so far.
#[derive(Debug, Default)]
pub(super) struct Parts {
    pub renew: Vec<KitPart>,
    pub conditional: Vec<KitPart>,
    pub not_stated: Vec<String>,
}

impl Parts {
    /// Adds what one joint needs.
    pub fn add(&mut self, joint: &Joint, fasteners: &[&Fastener]) {
        for item in &joint.renew {
            if !is_a_renewed_fastener(item, fasteners) {
                sum(&mut self.renew, renew_item(item, joint));
            }
        }
        for fastener in fasteners {
            self.add_fastener(fastener);
        }
    }

    fn add_fastener(&mut self, fastener: &Fastener) {
        if let Some(part) = locking_part(fastener) {
            sum(&mut self.renew, part);
        }
        let Some(reuse) = &fastener.reuse else {
            self.not_stated.push(format!("{}: no reuse rule", fastener.id));
            return;
        };
        match reuse.rule {
            ReuseRule::Reuse => return,
            ReuseRule::Renew => sum(&mut self.renew, part(fastener, None)),
            ReuseRule::ReuseUpTo | ReuseRule::Measure | ReuseRule::Inspect => {
                sum(&mut self.conditional, part(fastener, Some(reuse)));
            }
        }
        if count_of(fastener).is_none() {
            self.not_stated.push(format!("{}: how many there are", fastener.id));
        }
    }
}

/// How many there are: the positions, or else the count stated.
pub(in crate::card) fn count_of(fastener: &Fastener) -> Option<u32> {
    let positions = fastener.positions.as_ref().map(|positions| {
        let mut positions: Vec<u32> = positions.iter().collect();
        positions.sort_unstable();
        positions.dedup();
        u32::try_from(positions.len()).unwrap_or(u32::MAX)
    });
    positions.or(fastener.count)
}

/// A joint may name a bolt among its parts that is also a fastener with the rule to renew it: it counts once.
fn is_a_renewed_fastener(item: &RenewItem, fasteners: &[&Fastener]) -> bool {
    item.part_no.is_some()
        && fasteners
            .iter()
            .any(|fastener| fastener.part_no == item.part_no && fastener.reuse_rule() == Some(ReuseRule::Renew))
}

fn renew_item(item: &RenewItem, joint: &Joint) -> KitPart {
    KitPart {
        item: item.item.to_string(),
        size: None,
        part_no: item.part_no.as_ref().map(ToString::to_string),
        count: item.count,
        rule: None,
        fits: joint.fits.as_ref().filter(|fits| !fits.variants.is_empty()).map(fits_words),
        joints: vec![joint.id.clone()],
    }
}

fn part(fastener: &Fastener, reuse: Option<&Reuse>) -> KitPart {
    KitPart {
        item: name_of(fastener),
        size: Some(size_of(fastener)),
        part_no: fastener.part_no.as_ref().map(ToString::to_string),
        count: count_of(fastener),
        rule: reuse.map(ToString::to_string),
        fits: fastener.fits.as_ref().map(fits_words),
        joints: vec![fastener.joint.clone()],
    }
}

/// What people call a fastener, or what it looks like.
fn name_of(fastener: &Fastener) -> String {
    fastener.name.as_ref().map_or_else(|| head_words(fastener.head, fastener.drive.as_ref()), ToString::to_string)
}

/// Thread, length and class, as far as they are stated.
pub(in crate::card) fn size_of(fastener: &Fastener) -> String {
    let mut size = fastener.thread.to_string();
    if let Some(length) = &fastener.length {
        size.push_str(&format!(" × {length}"));
    }
    if let Some(class) = &fastener.property_class {
        size.push_str(&format!(", {class}"));
    }
    size
}

/// The part that locks a fastener and is used once (practice: split pins, tab washers and lock wire are renewed).
fn locking_part(fastener: &Fastener) -> Option<KitPart> {
    let item = match fastener.locking? {
        Locking::SplitPin => "Split pin",
        Locking::TabWasher => "Tab washer",
        Locking::LockWire => "Lock wire",
        _ => return None,
    };
    Some(KitPart {
        item: item.to_owned(),
        size: Some(format!("for {}", fastener.thread)),
        part_no: None,
        count: count_of(fastener),
        rule: None,
        fits: fastener.fits.as_ref().map(fits_words),
        joints: vec![fastener.joint.clone()],
    })
}

/// Adds a part to the one that it is the same as, or as a new one.
fn sum(parts: &mut Vec<KitPart>, part: KitPart) {
    match parts.iter_mut().find(|known| is_same(known, &part)) {
        Some(known) => {
            known.count = known.count.zip(part.count).map(|(a, b)| a.saturating_add(b));
            if known.item != part.item && !known.item.contains(&part.item) {
                known.item = format!("{} / {}", known.item, part.item);
            }
            add_joints(&mut known.joints, part.joints);
        }
        None => parts.push(part),
    }
}

/// The same part number in the same size; without a number the same name and size. Parts for other machines or with
/// another rule are other lines.
fn is_same(a: &KitPart, b: &KitPart) -> bool {
    let same_part = match (&a.part_no, &b.part_no) {
        (Some(a_no), Some(b_no)) => a_no == b_no && (a.size == b.size || a.size.is_none() || b.size.is_none()),
        (None, None) => a.item == b.item && a.size == b.size,
        _ => false,
    };
    same_part && a.fits == b.fits && a.rule == b.rule
}

pub(super) fn add_joints(known: &mut Vec<Id>, more: Vec<Id>) {
    for id in more {
        if !known.contains(&id) {
            known.push(id);
        }
    }
}
