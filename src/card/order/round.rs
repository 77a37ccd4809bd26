//! `round`: once round the edge.

use super::layout::{Spot, steps};

/// Once round, from the lowest number towards the lower of its two neighbours.
///
/// Round the middle by bearing, then shortened wherever the way crosses itself, so that odd shapes are walked
/// along their edge.
pub(super) fn round(spots: &[Spot]) -> Vec<u32> {
    let mut tour = spots.to_vec();
    tour.sort_by(|a, b| {
        steps(a.bearing()).cmp(&steps(b.bearing())).then(a.radius().total_cmp(&b.radius())).then(a.n.cmp(&b.n))
    });
    start_at_lowest(&mut tour);
    uncross(&mut tour);
    start_at_lowest(&mut tour);
    tour.iter().map(|spot| spot.n).collect()
}

fn start_at_lowest(tour: &mut [Spot]) {
    let lowest = (0..tour.len()).min_by_key(|&i| tour[i].n).unwrap_or(0);
    tour.rotate_left(lowest);
    if tour.len() > 2 && tour[tour.len() - 1].n < tour[1].n {
        tour[1..].reverse();
    }
}

/// Turns stretches of the tour round as long as that makes it shorter.
fn uncross(tour: &mut [Spot]) {
    let count = tour.len();
    // Every turn shortens the tour, so this ends; the bound keeps drawings of hundreds of positions quick.
    for _ in 0..count {
        let mut shorter = false;
        for i in 0..count.saturating_sub(2) {
            for j in i + 2..count {
                let (a, b, c, d) = (tour[i], tour[i + 1], tour[j], tour[(j + 1) % count]);
                let gain = a.distance(b) + c.distance(d) - a.distance(c) - b.distance(d);
                if gain > 1e-9 {
                    tour[i + 1..=j].reverse();
                    shorter = true;
                }
            }
        }
        if !shorter {
            return;
        }
    }
}
