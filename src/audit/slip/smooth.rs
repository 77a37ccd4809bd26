//! What the other points of a column say about each one: a smooth curve over size with coarse and fine apart.
//!
//! A published column of torques, divided by what the thread bears, changes slowly with size. The curve is a
//! Gaussian process (a wandering level, and a wandering distance between coarse and fine threads) whose overall
//! scale is estimated from the column itself, with noise of heavy tails so that one wrong row does not pull its
//! neighbours. This module knows no torque, no table and no slip: it takes numbers and gives numbers.

use super::matrix::inverse;

/// One point of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Natural logarithm of the nominal diameter.
    pub ln_size: f64,
    /// Is the thread finer than the coarse series?
    pub fine: bool,
    /// The value, a natural logarithm.
    pub value: f64,
    /// Standard deviation that rounding alone gives the value.
    pub rounding: f64,
}

/// How a kind of column wanders; every length in the table is in units of the column's own scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    /// Wandering of the level over a long way.
    pub wander: f64,
    /// The way in ln(size) over which the level forgets.
    pub reach: f64,
    /// Wandering of the distance between fine and coarse.
    pub fine_wander: f64,
    /// The way in ln(size) over which that distance forgets.
    pub fine_reach: f64,
    /// The scale expected before the column is seen.
    pub scale: f64,
    /// How many points that expectation is worth.
    pub scale_weight: f64,
    /// Degrees of freedom of the noise: few give heavy tails.
    pub tail: f64,
}

/// What the other points expect at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Middle of the expectation.
    pub mean: f64,
    /// Scale of the expectation, the point's own noise included.
    pub scale: f64,
}

/// The level of a column is unknown before it is seen: so many scales wide.
const LEVEL: f64 = 30.0;
/// Rounds of reweighting; the weights settle within three.
const ROUNDS: usize = 4;
/// Longer columns are cut into runs of neighbouring sizes: a far row says nothing that a near one does not.
pub const RUN_MAX: usize = 28;

/// For each point, what the others expect there. Points must be sorted by size.
#[must_use]
pub fn leave_one_out(points: &[Point], shape: &Shape) -> Vec<Expected> {
    if points.len() <= RUN_MAX {
        return one_run(points, shape);
    }
    let runs = points.len().div_ceil(RUN_MAX);
    let length = points.len().div_ceil(runs);
    points.chunks(length).flat_map(|run| one_run(run, shape)).collect()
}

fn one_run(points: &[Point], shape: &Shape) -> Vec<Expected> {
    let count = points.len();
    let covariance = covariance(points, shape);
    let middle = median(points.iter().map(|point| point.value).collect());
    let centred: Vec<f64> = points.iter().map(|point| point.value - middle).collect();
    let mut weights = vec![1.0; count];
    let mut variance = shape.scale * shape.scale;
    let mut left = vec![(0.0, 1.0); count];
    for _ in 0..ROUNDS {
        left = residuals(&covariance, &centred, points, &weights, variance);
        for (weight, (residual, spread)) in weights.iter_mut().zip(&left) {
            let square = residual * residual / (spread * variance);
            *weight = ((shape.tail + 1.0) / (shape.tail + square)).min(1.0);
        }
        let sum: f64 = weights.iter().zip(&left).map(|(w, (r, spread))| w * r * r / spread).sum();
        variance = (shape.scale_weight * shape.scale * shape.scale + sum) / (shape.scale_weight + count as f64);
    }
    let total = variance * (shape.scale_weight + count as f64);
    let own = weights.iter().zip(&left).map(|(w, (r, spread))| w * r * r / spread);
    let expected = points.iter().zip(&left).zip(own).map(|((point, (residual, spread)), own)| {
        let without_it = (total - own) / (shape.scale_weight + count as f64 - 1.0);
        Expected { mean: point.value - residual, scale: (spread * without_it).sqrt() }
    });
    expected.collect()
}

/// The covariance of the curve, without noise, in units of the column's variance.
fn covariance(points: &[Point], shape: &Shape) -> Vec<f64> {
    let count = points.len();
    let side = |point: &Point| if point.fine { 0.5 } else { -0.5 };
    let mut matrix = vec![0.0; count * count];
    for (i, a) in points.iter().enumerate() {
        for (j, b) in points.iter().enumerate().take(i + 1) {
            let way = (a.ln_size - b.ln_size).abs();
            let level = shape.wander * shape.wander * (-way / shape.reach).exp();
            let apart = shape.fine_wander * shape.fine_wander * (-way / shape.fine_reach).exp();
            let value = LEVEL * LEVEL + level + apart * side(a) * side(b);
            matrix[i * count + j] = value;
            matrix[j * count + i] = value;
        }
    }
    matrix
}

/// For each point the distance from what the others expect, and the variance of that expectation in units of the
/// column's variance with the point's full noise.
fn residuals(covariance: &[f64], centred: &[f64], points: &[Point], weights: &[f64], variance: f64) -> Vec<(f64, f64)> {
    let count = points.len();
    let mut matrix = covariance.to_vec();
    for i in 0..count {
        matrix[i * count + i] += 1.0 / weights[i] + points[i].rounding * points[i].rounding / variance;
    }
    let inverse = inverse(&matrix, count);
    let residual = |i: usize| {
        let row = &inverse[i * count..(i + 1) * count];
        let pulled: f64 = row.iter().zip(centred).map(|(a, b)| a * b).sum();
        (pulled / row[i], 1.0 / row[i] - 1.0 / weights[i] + 1.0)
    };
    (0..count).map(residual).collect()
}

/// The middle of some numbers; zero of none.
#[must_use]
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    match values.len() {
        0 => 0.0,
        n if n % 2 == 1 => values[n / 2],
        n => f64::midpoint(values[n / 2 - 1], values[n / 2]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPE: Shape =
        Shape { wander: 6.0, reach: 3.0, fine_wander: 3.0, fine_reach: 4.0, scale: 0.01, scale_weight: 2.0, tail: 4.0 };

    fn line(count: usize) -> Vec<Point> {
        let point = |i: usize| Point {
            ln_size: 1.5 + 0.15 * i as f64,
            fine: false,
            value: 6.0 + 0.01 * i as f64,
            rounding: 0.002,
        };
        (0..count).map(point).collect()
    }

    #[test]
    fn a_smooth_column_expects_each_of_its_points() {
        let points = line(12);
        for (point, expected) in points.iter().zip(leave_one_out(&points, &SHAPE)) {
            assert!((point.value - expected.mean).abs() < 3.0 * expected.scale, "{point:?} {expected:?}");
            assert!(expected.scale < 0.06, "{expected:?}");
        }
    }

    #[test]
    fn one_wrong_point_stands_out_and_does_not_pull_its_neighbours() {
        let mut points = line(12);
        points[5].value += 0.7;
        let expected = leave_one_out(&points, &SHAPE);
        assert!((expected[5].mean - 6.05).abs() < 0.03, "{:?}", expected[5]);
        assert!(0.7 > 8.0 * expected[5].scale, "{:?}", expected[5]);
        for i in [3, 4, 6, 7] {
            assert!((expected[i].mean - points[i].value).abs() < 0.05, "{i} {:?}", expected[i]);
        }
    }

    #[test]
    fn a_long_column_is_cut_into_runs() {
        let points = line(70);
        assert_eq!(leave_one_out(&points, &SHAPE).len(), 70);
    }
}
