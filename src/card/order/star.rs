//! `star`: across a bolt circle.

use super::across::{Measure, across};
use super::layout::Spot;

/// How much larger the next bolt circle must be to be tightened as a circle of its own.
const NEXT_CIRCLE: f64 = 1.499_9;

/// Across the bolt circle by bearing alone; of circles inside one another, the inner first.
pub(super) fn star(spots: &[Spot]) -> Vec<u32> {
    let measure = Measure { oppositeness: |a, b| a.turn_between(b), apart: |a, b| a.turn_between(b) };
    circles(spots).iter().flat_map(|circle| across(circle, &measure)).collect()
}

/// The bolt circles, the inner first: parted where the radius jumps and both sides close round the middle.
fn circles(spots: &[Spot]) -> Vec<Vec<Spot>> {
    let mut outwards = spots.to_vec();
    outwards.sort_by(|a, b| a.radius().total_cmp(&b.radius()).then(a.n.cmp(&b.n)));
    let mut circles = Vec::new();
    let mut start = 0;
    for i in 1..outwards.len() {
        let jump = outwards[i].radius() > outwards[i - 1].radius() * NEXT_CIRCLE;
        if jump && closes(&outwards[start..i]) && closes(&outwards[i..]) {
            circles.push(outwards[start..i].to_vec());
            start = i;
        }
    }
    circles.push(outwards[start..].to_vec());
    for circle in &mut circles {
        circle.sort_by_key(|spot| spot.n);
    }
    circles
}

/// Whether the spots lie on all sides of the middle.
fn closes(spots: &[Spot]) -> bool {
    let mut bearings: Vec<f64> = spots.iter().map(|spot| spot.bearing()).collect();
    bearings.sort_by(f64::total_cmp);
    bearings.dedup_by(|a, b| (*a - *b).abs() < 1e-3);
    let gaps = bearings.windows(2).map(|pair| pair[1] - pair[0]);
    let last = bearings.first().zip(bearings.last()).map_or(1.0, |(first, last)| 1.0 + first - last);
    bearings.len() >= 3 && gaps.chain([last]).all(|gap| gap < 0.499_9)
}
