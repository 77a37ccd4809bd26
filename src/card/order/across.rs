//! Going from side to side: what `star` and `diagonal` have in common.

use super::layout::{SAME, Spot, keep_greatest};

/// What "opposite" and "apart" mean for a pattern.
pub(super) struct Measure {
    /// How nearly the second lies opposite the first; greater is nearer.
    pub oppositeness: fn(Spot, Spot) -> f64,
    /// How far apart two positions are.
    pub apart: fn(Spot, Spot) -> f64,
}

/// How many of the nearest tightened positions are compared when the next pair is chosen.
const NEAREST: usize = 4;

/// The spots from side to side: each pair opposite, the next pair where the joint is still the most open.
///
/// What lies in the middle comes first. Equal choices go to the lowest number.
pub(super) fn across(spots: &[Spot], measure: &Measure) -> Vec<u32> {
    let (middle, mut left): (Vec<Spot>, Vec<Spot>) = spots.iter().partition(|spot| spot.radius() < 1e-3);
    let all = left.clone();
    let mut order: Vec<u32> = middle.iter().map(|spot| spot.n).collect();
    let mut nearest: Vec<Nearest> = left.iter().map(|&spot| Nearest::new(spot)).collect();
    while let Some(first) = most_open(&nearest) {
        let mut last = take(&mut left, &mut nearest, &mut order, first, measure);
        if let Some(second) = most_opposite(last, &left, measure) {
            last = take(&mut left, &mut nearest, &mut order, second, measure);
        }
        while let Some(next) = truly_opposite(last, &left, &all, measure) {
            last = take(&mut left, &mut nearest, &mut order, next, measure);
        }
    }
    order
}

/// A position that waits, with the distances to the nearest tightened ones.
struct Nearest {
    spot: Spot,
    distances: Vec<f64>,
}

impl Nearest {
    fn new(spot: Spot) -> Self {
        Self { spot, distances: Vec::new() }
    }

    fn add(&mut self, distance: f64) {
        let at = self.distances.partition_point(|&d| d < distance);
        self.distances.insert(at, distance);
        self.distances.truncate(NEAREST);
    }
}

/// Tightens one position.
fn take(left: &mut Vec<Spot>, nearest: &mut Vec<Nearest>, order: &mut Vec<u32>, spot: Spot, measure: &Measure) -> Spot {
    left.retain(|other| other.n != spot.n);
    nearest.retain(|waiting| waiting.spot.n != spot.n);
    for waiting in nearest {
        waiting.add((measure.apart)(waiting.spot, spot));
    }
    order.push(spot.n);
    spot
}

/// The position farthest from all that are tightened: by the nearest of them, then by the next nearest.
fn most_open(nearest: &[Nearest]) -> Option<Spot> {
    let mut candidates: Vec<&Nearest> = nearest.iter().collect();
    for i in 0..NEAREST {
        keep_greatest(&mut candidates, |waiting| waiting.distances.get(i).copied().unwrap_or(0.0));
    }
    candidates.first().map(|waiting| waiting.spot)
}

fn most_opposite(spot: Spot, left: &[Spot], measure: &Measure) -> Option<Spot> {
    let mut candidates = left.to_vec();
    keep_greatest(&mut candidates, |other| (measure.oppositeness)(spot, other));
    candidates.first().copied()
}

/// A waiting position that none in the whole joint lies more opposite than: a ring with an odd number goes on so.
fn truly_opposite(spot: Spot, left: &[Spot], all: &[Spot], measure: &Measure) -> Option<Spot> {
    let next = most_opposite(spot, left, measure)?;
    let most = all.iter().map(|&other| (measure.oppositeness)(spot, other)).fold(f64::NEG_INFINITY, f64::max);
    ((measure.oppositeness)(spot, next) >= most - SAME).then_some(next)
}
