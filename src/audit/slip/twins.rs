//! Coarse and fine thread of one diameter with the same figure: rounding, a habit of the document, or the row of the
//! other pitch read.
//!
//! A row that was read for another is mostly read on into the cell beside it: the same equality in the next column of
//! a document that otherwise tells the two apart speaks for a slip.

use super::chances;
use super::entry::Entry;
use super::peers::Peers;

/// An entry whose value is that of the other pitch of its diameter.
#[derive(Debug, Clone, PartialEq)]
pub struct Twin {
    /// The share of right pairs of coarse and fine that have one figure in this document.
    pub rate: f64,
    /// How much more probable a slip makes what the columns beside it show, over no slip.
    pub ratio: f64,
    /// The pairs that have one figure, in this column and those beside it: the entry of this thread, and its twin.
    pub pairs: Vec<(usize, usize)>,
    /// How much more probable it is that the twin took its value from this entry than the reverse.
    pub other_wrong: f64,
}

/// As many pairs as this is the usual rate worth beside the document's own.
const USUAL_WEIGHT: f64 = 2.0;
/// How often a slip that takes a cell of another row takes the next cell too.
const RUNS_ON: f64 = 0.5;
/// A cell has a neighbour on either side.
const BESIDE: f64 = 2.0;

impl Peers<'_> {
    /// What is known of the twin of entry `i`; nothing where its value is not that of the other pitch.
    #[must_use]
    pub fn twin(&self, i: usize) -> Option<Twin> {
        let own: Vec<usize> = self.column(&self.entries[i]);
        let twin = self.equal_pitch(i, &own)??;
        let mine = &self.entries[i];
        let (mut count, mut same) = elsewhere(self, mine, &own);
        let (mut beside, mut pairs) = (0.0, vec![(i, twin)]);
        for j in self.same_thread(i) {
            let column = self.column(&self.entries[j]);
            let Some(equal) = self.equal_pitch(j, &column) else { continue };
            beside += 1.0;
            pairs.extend(equal.map(|twin| (j, twin)));
            let others = elsewhere(self, mine, &column);
            (count, same) = (count + others.0, same + others.1);
        }
        let rate = (chances::EQUAL_PITCHES * USUAL_WEIGHT + same) / (USUAL_WEIGHT + count);
        let ratio = match (beside, pairs.len()) {
            (0.0, _) => 1.0,
            (_, 1) => 1.0 - RUNS_ON,
            _ => RUNS_ON * (BESIDE / beside).min(1.0) / rate,
        };
        Some(Twin { rate, ratio: ratio.max(1.0 - RUNS_ON), pairs, other_wrong: 0.0 })
    }

    /// The entry of the other pitch of its diameter in its column that has the figure of entry `i`, if any; nothing where
    /// there is no such pitch.
    fn equal_pitch(&self, i: usize, column: &[usize]) -> Option<Option<usize>> {
        let entry = &self.entries[i];
        let mut others = column.iter().copied().filter(|j| is_other_pitch(entry, &self.entries[*j])).peekable();
        others.peek()?;
        Some(others.find(|j| self.entries[*j].stated.equals(entry.stated)))
    }
}

fn is_other_pitch(one: &Entry, other: &Entry) -> bool {
    match (one.size, other.size) {
        (Some(a), Some(b)) => (a.diameter_mm - b.diameter_mm).abs() < 0.001 && a.pitch_mm != b.pitch_mm,
        _ => false,
    }
}

/// How many neighbouring pairs of coarse and fine the column has at other diameters, and how many of one figure.
fn elsewhere(peers: &Peers<'_>, mine: &Entry, column: &[usize]) -> (f64, f64) {
    let diameter = |entry: &Entry| entry.size.map_or(0.0, |size| size.diameter_mm);
    let mut others: Vec<&Entry> = column.iter().map(|j| &peers.entries[*j]).collect();
    others.retain(|other| (diameter(other) - diameter(mine)).abs() >= 0.001);
    others.sort_by(|a, b| diameter(a).total_cmp(&diameter(b)));
    let pairs = others.windows(2).filter(|pair| is_other_pitch(pair[0], pair[1]));
    pairs.fold((0.0, 0.0), |(count, same), pair| {
        (count + 1.0, same + f64::from(u8::from(pair[0].stated.equals(pair[1].stated))))
    })
}
