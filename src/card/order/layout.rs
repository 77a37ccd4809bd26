//! The drawn positions of a pass, seen from their middle and without their size.

use crate::record::Position;
use std::collections::BTreeSet;
use std::f64::consts::TAU;

/// Differences below this share of the radius, or of a turn, come from calculating and not from the drawing.
pub(super) const SAME: f64 = 1e-6;

/// A position relative to the middle of the smallest circle round all of them; the radius of that circle is 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    /// The number of the position.
    pub n: u32,
    /// To the right.
    pub x: f64,
    /// Upwards.
    pub y: f64,
}

impl Spot {
    /// How far from the middle, 0 to 1.
    pub fn radius(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// Where it lies clockwise from the top, in turns, 0 to 1; 0 in the middle.
    pub fn bearing(self) -> f64 {
        if self.radius() < SAME { 0.0 } else { whole_turn(self.x.atan2(self.y) / TAU) }
    }

    /// How far from another position.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// How far round from another position, in turns, 0 to ½.
    pub fn turn_between(self, other: Self) -> f64 {
        let turn = (self.bearing() - other.bearing()).abs();
        turn.min(1.0 - turn)
    }

    /// The place opposite, on the other side of the middle.
    pub fn opposite(self) -> Self {
        Self { x: -self.x, y: -self.y, ..self }
    }
}

/// A turn as 0 to 1, with what is a full turn but for calculating taken as 0.
pub(super) fn whole_turn(turn: f64) -> f64 {
    let turn = turn.rem_euclid(1.0);
    if turn > 1.0 - SAME { 0.0 } else { turn }
}

/// A turn as a whole number that is the same for bearings which differ by calculating alone.
///
/// The steps are no simple part of a turn, so that no bearing that is one lies between two of them.
pub(super) fn steps(turn: f64) -> i64 {
    (turn * std::f64::consts::E / SAME).round() as i64
}

/// The positions as spots, each number once, the lowest first.
pub(super) fn spots(positions: &[Position]) -> Vec<Spot> {
    let points: Vec<(f64, f64)> = positions.iter().map(|p| (p.x_mm, p.y_mm)).collect();
    let circle = Circle::around(&points);
    let size = if circle.radius > 0.0 { circle.radius } else { 1.0 };
    let mut seen = BTreeSet::new();
    let mut spots: Vec<Spot> = positions
        .iter()
        .filter(|position| seen.insert(position.n))
        .map(|p| Spot { n: p.n, x: (p.x_mm - circle.x) / size, y: (p.y_mm - circle.y) / size })
        .collect();
    spots.sort_by_key(|spot| spot.n);
    spots
}

/// The smallest circle round some points: its middle does not move when many positions crowd on one side.
#[derive(Debug, Clone, Copy)]
struct Circle {
    x: f64,
    y: f64,
    radius: f64,
}

impl Circle {
    /// The circle, built up point by point: a point outside lies on the edge of the next circle.
    fn around(points: &[(f64, f64)]) -> Self {
        let mut circle = Self::across((0.0, 0.0), (0.0, 0.0));
        for (i, &a) in points.iter().enumerate() {
            if i == 0 {
                circle = Self::across(a, a);
            } else if !circle.holds(a) {
                circle = Self::through(a, &points[..i]);
            }
        }
        circle
    }

    /// The smallest circle round `points` with `a` on its edge.
    fn through(a: (f64, f64), points: &[(f64, f64)]) -> Self {
        let mut circle = Self::across(a, a);
        for (j, &b) in points.iter().enumerate() {
            if circle.holds(b) {
                continue;
            }
            circle = Self::across(a, b);
            for &c in &points[..j] {
                if !circle.holds(c) {
                    circle = Self::of_three(a, b, c);
                }
            }
        }
        circle
    }

    fn across(a: (f64, f64), b: (f64, f64)) -> Self {
        let (x, y) = (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1));
        Self { x, y, radius: (a.0 - x).hypot(a.1 - y) }
    }

    /// The circle through three points; for points in a row, the one across the farthest two.
    fn of_three(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> Self {
        let (bx, by, cx, cy) = (b.0 - a.0, b.1 - a.1, c.0 - a.0, c.1 - a.1);
        let area = 2.0 * (bx * cy - by * cx);
        let (b2, c2) = (bx * bx + by * by, cx * cx + cy * cy);
        if area.abs() <= 1e-9 * b2.max(c2) {
            let pairs = [Self::across(a, b), Self::across(a, c), Self::across(b, c)];
            return pairs.into_iter().fold(pairs[0], |most, pair| if pair.radius > most.radius { pair } else { most });
        }
        let (x, y) = ((cy * b2 - by * c2) / area, (bx * c2 - cx * b2) / area);
        Self { x: a.0 + x, y: a.1 + y, radius: x.hypot(y) }
    }

    fn holds(self, point: (f64, f64)) -> bool {
        (point.0 - self.x).hypot(point.1 - self.y) <= self.radius * (1.0 + 1e-9) + f64::MIN_POSITIVE
    }
}

/// Keeps the candidates whose measure is the greatest, equal ones all.
pub(super) fn keep_greatest<T: Copy>(candidates: &mut Vec<T>, measure: impl Fn(T) -> f64) {
    let greatest = candidates.iter().map(|&c| measure(c)).fold(f64::NEG_INFINITY, f64::max);
    candidates.retain(|&c| measure(c) >= greatest - SAME);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_a_ring_with_a_gap_is_still_its_middle() {
        let ring: Vec<_> = (0..8).map(|i| f64::from(i) * TAU / 9.0).map(|a| (70.0 * a.cos(), 70.0 * a.sin())).collect();
        let circle = Circle::around(&ring);
        assert!(circle.x.abs() < 1e-6 && circle.y.abs() < 1e-6 && (circle.radius - 70.0).abs() < 1e-6);
    }

    #[test]
    fn the_middle_of_a_row_is_half_way() {
        let circle = Circle::around(&[(0.0, 0.0), (1.0, 0.0), (10.0, 0.0), (4.0, 0.0)]);
        assert!((circle.x - 5.0).abs() < 1e-9 && (circle.radius - 5.0).abs() < 1e-9);
    }

    #[test]
    fn bearings_go_clockwise_from_the_top() {
        let at = |x, y| Spot { n: 1, x, y }.bearing();
        assert_eq!([at(0.0, 1.0), at(1.0, 0.0), at(0.0, -1.0), at(-1.0, 0.0)], [0.0, 0.25, 0.5, 0.75]);
    }
}
