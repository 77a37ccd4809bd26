//! What its series says of each entry of a book, in little room. Most columns are looked at only at a glance, and then all but
//! the middle is the same for each of their entries.

use super::series::InSeries;
use super::smooth::Expected;

/// What was said of each entry, by its place.
#[derive(Debug)]
pub struct Said {
    /// The middle of what is expected of the torque.
    means: Vec<f64>,
    /// Where in the list the rest is.
    rests: Vec<u32>,
    list: Vec<Rest>,
    /// How long the list may become before what nobody has any more is taken out.
    most: usize,
}

/// All that was said but the middle.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Rest {
    scale: f64,
    width: Option<Expected>,
    smooth: f64,
    others: u32,
}

/// Nothing was said.
const NOTHING: u32 = u32::MAX;
/// A list that is shorter is left alone.
const SHORT: usize = 1024;

impl Said {
    /// Nothing yet, of so many entries.
    pub fn of(count: usize) -> Self {
        Self { means: vec![0.0; count], rests: vec![NOTHING; count], list: Vec::new(), most: SHORT.max(2 * count) }
    }

    /// Makes room for so many entries.
    pub fn grow(&mut self, count: usize) {
        self.means.resize(count, 0.0);
        self.rests.resize(count, NOTHING);
    }

    /// What was said of the entry at a place.
    pub fn get(&self, i: usize) -> Option<InSeries> {
        let Rest { scale, width, smooth, others } = *self.list.get(self.rests[i] as usize)?;
        let torque = Expected { mean: self.means[i], scale };
        Some(InSeries { torque, width, smooth, others: others as usize })
    }

    /// Notes what is said of it now. Entries of one column come one behind the other.
    pub fn set(&mut self, i: usize, answer: Option<InSeries>) {
        let Some(InSeries { torque, width, smooth, others }) = answer else {
            self.rests[i] = NOTHING;
            return;
        };
        let others = u32::try_from(others).unwrap_or(u32::MAX);
        let rest = Rest { scale: torque.scale, width, smooth, others };
        if self.list.last() != Some(&rest) {
            self.list.push(rest);
        }
        self.means[i] = torque.mean;
        self.rests[i] = (self.list.len() - 1) as u32;
    }

    /// Takes out of the list what nobody has any more, if it has become long.
    pub fn tidy(&mut self) {
        if self.list.len() <= self.most {
            return;
        }
        let mut new = vec![NOTHING; self.list.len()];
        let mut list = Vec::new();
        for rest in self.rests.iter_mut().filter(|rest| **rest != NOTHING) {
            let place = &mut new[*rest as usize];
            if *place == NOTHING {
                *place = list.len() as u32;
                list.push(self.list[*rest as usize]);
            }
            *rest = *place;
        }
        self.most = SHORT.max(2 * list.len());
        self.list = list;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answer(number: usize) -> InSeries {
        let torque = Expected { mean: number as f64 / 7.0, scale: (number / 3) as f64 };
        let width = number.is_multiple_of(2).then_some(Expected { mean: 0.5, scale: number as f64 });
        InSeries { torque, width, smooth: 0.25, others: number / 5 }
    }

    #[test]
    fn what_was_said_is_said_again_however_often_it_was_changed() {
        let mut said = Said::of(40);
        let mut plain: Vec<Option<InSeries>> = vec![None; 40];
        for step in 0..6 * SHORT {
            let i = step * 31 % 50;
            if i >= plain.len() {
                plain.resize(i + 1, None);
                said.grow(i + 1);
            }
            let answer = (step % 11 != 0).then(|| answer(step % 97));
            plain[i] = answer;
            said.set(i, answer);
            said.tidy();
        }
        assert!((0..plain.len()).all(|i| said.get(i) == plain[i]));
        assert!(said.list.len() <= SHORT + 1, "{} in the list", said.list.len());
    }
}
