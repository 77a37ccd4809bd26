//! `spiral-out`: from the centre outwards.

use super::layout::{Spot, keep_greatest, steps, whole_turn};

/// How thick a ring of the spiral is, as a share of the radius of the whole. Not quite a round number: round numbers
/// in a drawing do not fall on it.
const RING: f64 = 0.150_1;

/// Ring by ring from the centre, clockwise as drawn, each ring begun where the last one ended.
pub(super) fn spiral_out(spots: &[Spot]) -> Vec<u32> {
    let mut order = Vec::new();
    let mut bearing = None;
    for ring in rings(spots) {
        let start = bearing.unwrap_or_else(|| innermost(&ring).map_or(0.0, Spot::bearing));
        let first = if bearing.is_none() { innermost(&ring).map(|spot| spot.n) } else { None };
        let mut ring = ring;
        let round = |spot: Spot| steps(whole_turn(spot.bearing() - start));
        ring.sort_by(|&a, &b| {
            let begins = (Some(b.n) == first).cmp(&(Some(a.n) == first));
            begins.then(round(a).cmp(&round(b))).then(a.radius().total_cmp(&b.radius())).then(a.n.cmp(&b.n))
        });
        bearing = ring.last().map(|spot| spot.bearing());
        order.extend(ring.iter().map(|spot| spot.n));
    }
    order
}

/// The spots in rings about the centre, the innermost first.
fn rings(spots: &[Spot]) -> Vec<Vec<Spot>> {
    let mut outwards = spots.to_vec();
    outwards.sort_by(|a, b| a.radius().total_cmp(&b.radius()).then(a.n.cmp(&b.n)));
    let mut rings: Vec<Vec<Spot>> = Vec::new();
    for spot in outwards {
        match rings.last_mut() {
            Some(ring) if spot.radius() <= ring[0].radius() + RING => ring.push(spot),
            _ => rings.push(vec![spot]),
        }
    }
    rings
}

/// The spot nearest to the centre, of equal ones the lowest number.
fn innermost(ring: &[Spot]) -> Option<Spot> {
    let mut candidates = ring.to_vec();
    keep_greatest(&mut candidates, |spot| -spot.radius());
    candidates.into_iter().min_by_key(|spot| spot.n)
}
