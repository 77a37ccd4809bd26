//! Labels: numbers that compare like the ids, so that records are put in the order of their ids without reading those.

use super::{Directory, Entry};

/// How far the label of a new id is from the one before, where there is room: ids are often made one after the other.
const STEP: u64 = 1 << 24;

impl Directory {
    /// Takes a new id into the order; its slot is the next one.
    pub(super) fn push(&mut self, id: &str) {
        let Ok(slot) = u32::try_from(self.ids.len()) else { return };
        self.ids.push(id);
        self.entries.push(Entry::default());
        if id.is_empty() {
            return;
        }
        let place = self.order.seek(|other| self.ids.get(other) < id);
        let before = self.order.previous(place).and_then(|place| self.order.at(place));
        let before = before.map_or(0, |slot| self.label(slot));
        let after = self.order.at(place).map_or(u64::MAX, |slot| self.label(slot));
        self.order.insert(place, slot);
        let step = ((after - before) / 2).min(STEP);
        if step == 0 {
            self.label_anew();
        } else if let Some(entry) = self.entries.get_mut(slot as usize) {
            entry.label = before + step;
        }
    }

    /// Gives all ids labels that are equally far apart.
    pub(super) fn label_anew(&mut self) {
        let count = self.order.iter().count() as u64;
        let apart = u64::MAX / (count + 1);
        let mut label = 0;
        for slot in self.order.iter() {
            label += apart;
            if let Some(entry) = self.entries.get_mut(slot as usize) {
                entry.label = label;
            }
        }
    }

    /// The slots of records in force whose ids begin with a path and a point, in order.
    pub fn in_force_below<'d>(&'d self, path: &str) -> impl Iterator<Item = u32> + 'd {
        let start = format!("{path}.");
        let mut place = self.order.seek(|slot| self.ids.get(slot) < start.as_str());
        let below = std::iter::from_fn(move || {
            let slot = self.order.at(place)?;
            place = self.order.next(place);
            self.ids.get(slot).starts_with(&start).then_some(slot)
        });
        below.filter(|slot| self.entry(*slot).is_some_and(|entry| entry.family().is_some()))
    }
}
