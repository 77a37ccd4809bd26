//! Where numbers and words find room between the heads.

use super::plan::Plan;
use std::f64::consts::TAU;

/// A box that something takes up: its middle and half its size.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    x: f64,
    y: f64,
    half_width: f64,
    half_height: f64,
}

impl Taken {
    /// The box of a text of this size about its middle.
    fn text(x: f64, y: f64, size: f64, text: &str) -> Self {
        // Digits and letters of the common faces are a little over half as wide as they are high.
        let width = text.chars().count() as f64 * size * 0.58;
        Self { x, y, half_width: width / 2.0 + 1.0, half_height: size * 0.45 }
    }

    fn overlap(self, other: Self) -> f64 {
        let across = self.half_width + other.half_width - (self.x - other.x).abs();
        let down = self.half_height + other.half_height - (self.y - other.y).abs();
        if across > 0.0 && down > 0.0 { across * down } else { 0.0 }
    }

    fn outside(self, width: f64, height: f64) -> f64 {
        let beyond = |at: f64, half: f64, size: f64| (half - at).max(0.0) + (at + half - size).max(0.0);
        beyond(self.x, self.half_width, width) + beyond(self.y, self.half_height, height)
    }
}

/// The room on a picture.
#[derive(Debug)]
pub(super) struct Room {
    taken: Vec<Taken>,
    centre: (f64, f64),
    size: (f64, f64),
}

impl Room {
    /// The room round the heads of a plan.
    pub fn new(plan: &Plan) -> Self {
        let half = plan.radius + 1.0;
        let taken = plan.places.iter().map(|p| Taken { x: p.x, y: p.y, half_width: half, half_height: half }).collect();
        let count = plan.places.len() as f64;
        let centre = (
            plan.places.iter().map(|p| p.x).sum::<f64>() / count,
            plan.places.iter().map(|p| p.y).sum::<f64>() / count,
        );
        Self { taken, centre, size: (plan.width, plan.height) }
    }

    /// The middle of a text beside something of radius `around` at a point: where it covers the least, rather
    /// outwards than inwards and rather near than far.
    pub fn place(&mut self, at: (f64, f64), around: f64, size: f64, text: &str) -> (f64, f64) {
        let outward = (at.1 - self.centre.1).atan2(at.0 - self.centre.0);
        let mut best: Option<(f64, Taken)> = None;
        for ring in 0..3 {
            for sixteenth in 0..16 {
                let turn = f64::from(sixteenth) / 16.0 * TAU;
                let taken = beside(at, around, size, text, outward + turn, f64::from(ring) * size * 0.9);
                let cost = self.cost(taken) + (1.0 - turn.cos()) * 6.0 + f64::from(ring) * 8.0;
                if best.is_none_or(|(least, _)| cost < least - 1e-6) {
                    best = Some((cost, taken));
                }
            }
        }
        let taken = best.map_or(Taken::text(at.0, at.1, size, text), |(_, taken)| taken);
        self.taken.push(taken);
        (taken.x, taken.y)
    }

    fn cost(&self, taken: Taken) -> f64 {
        let covered: f64 = self.taken.iter().map(|&other| taken.overlap(other)).sum();
        covered * 2.0 + taken.outside(self.size.0, self.size.1) * 50.0
    }
}

/// The box of a text that touches a circle from this direction.
fn beside(at: (f64, f64), around: f64, size: f64, text: &str, direction: f64, farther: f64) -> Taken {
    let (sin, cos) = direction.sin_cos();
    let text = Taken::text(0.0, 0.0, size, text);
    let reach = (text.half_width * cos).hypot(text.half_height * sin);
    let far = around + reach + 2.0 + farther;
    Taken { x: at.0 + far * cos, y: at.1 + far * sin, ..text }
}

#[cfg(test)]
mod tests {
    use super::super::plan::plan;
    use super::*;
    use crate::record::{Joint, Position};

    #[test]
    fn numbers_round_a_crowded_ring_do_not_cover_each_other() {
        for count in [1_u32, 2, 12, 24, 40, 60] {
            let positions = (0..count).map(|i| {
                let (y_mm, x_mm) = (f64::from(i) / f64::from(count) * TAU).sin_cos();
                Position { n: i + 1, x_mm: 100.0 * x_mm, y_mm: 100.0 * y_mm }
            });
            let joint = Joint { positions: positions.collect(), ..Joint::bare("a.b".parse().unwrap()) };
            let plan = plan(&joint).unwrap();
            let mut room = Room::new(&plan);
            for place in &plan.places {
                room.place((place.x, place.y), plan.radius, 20.5, &place.n.to_string());
            }
            for (i, &a) in room.taken.iter().enumerate() {
                for &b in &room.taken[i + 1..] {
                    let small = 4.0 * a.half_width.min(b.half_width) * a.half_height.min(b.half_height);
                    assert!(a.overlap(b) < 0.25 * small, "{count}: {a:?} {b:?}");
                }
            }
        }
    }
}
