//! `line-out`: from the middle of a row.

use super::layout::{SAME, Spot, keep_greatest};

/// Positions that lie equally far from the middle but for this share of the radius are one step. Not quite a round
/// number: round numbers in a drawing do not fall on it.
const STEP: f64 = 0.020_1;

/// From the middle of the longest direction outwards, both sides by turns.
pub(super) fn line_out(spots: &[Spot]) -> Vec<u32> {
    let (along_x, along_y) = direction(spots);
    let along = |spot: Spot| spot.x * along_x + spot.y * along_y;
    let (low, high) = spots
        .iter()
        .map(|&spot| along(spot))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
    let middle = f64::midpoint(low, high);
    let mut left: Vec<(f64, Spot)> = spots.iter().map(|&spot| ((along(spot) - middle).abs(), spot)).collect();
    let mut order = Vec::new();
    while !left.is_empty() {
        let nearest = left.iter().map(|&(off, _)| off).fold(f64::INFINITY, f64::min);
        let (step, rest): (Vec<_>, Vec<_>) = left.into_iter().partition(|&(off, _)| off <= nearest + STEP);
        left = rest;
        order.extend(by_turns(step.into_iter().map(|(_, spot)| spot).collect()));
    }
    order
}

/// The direction in which the positions spread the most; across the drawing if none stands out.
fn direction(spots: &[Spot]) -> (f64, f64) {
    let count = spots.len().max(1) as f64;
    let (mean_x, mean_y) =
        (spots.iter().map(|s| s.x).sum::<f64>() / count, spots.iter().map(|s| s.y).sum::<f64>() / count);
    let sum = |term: fn(f64, f64) -> f64| spots.iter().map(|s| term(s.x - mean_x, s.y - mean_y)).sum::<f64>() / count;
    let (xx, yy, xy) = (sum(|x, _| x * x), sum(|_, y| y * y), sum(|x, y| x * y));
    if (xx - yy).hypot(2.0 * xy) < SAME {
        return (1.0, 0.0);
    }
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    (angle.cos(), angle.sin())
}

/// The lowest number first, then always the one farthest from the last.
fn by_turns(mut left: Vec<Spot>) -> Vec<u32> {
    left.sort_by_key(|spot| spot.n);
    let mut order: Vec<u32> = Vec::new();
    let mut last: Option<Spot> = None;
    while !left.is_empty() {
        let mut candidates = left.clone();
        if let Some(last) = last {
            keep_greatest(&mut candidates, |spot| spot.distance(last));
        }
        let next = candidates[0];
        left.retain(|spot| spot.n != next.n);
        order.push(next.n);
        last = Some(next);
    }
    order
}
