//! A whole column that lies where no table of its class lies: read in another unit, under another class, or with its
//! point moved. Its values stand in line with each other, so that no value of it is conspicuous by itself.

use super::alone::by_class;
use super::chances;
use super::entry::{Entry, Value};
use super::kind::Slip;
use super::priors::Priors;
use super::smooth::median;
use super::suspect::suspects;
use super::unit_habit::UnitHabit;
use crate::units::TorqueUnit;

/// What a whole column may have been meant to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ColumnMeant {
    /// The same numbers in another unit.
    Unit(TorqueUnit),
    /// The point of every number elsewhere.
    PointMoved(Slip),
    /// The column of another class: its place in the list that was asked about.
    Class(usize),
}

/// What the level of a column says.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// The middle of its torques over those for 90 % of the yield strength at friction 0.12.
    pub share: f64,
    /// Probability that the column is not what it is stated to be.
    pub wrong: f64,
    /// What it may have been meant to be, the most probable first, with its probability.
    pub meant: Vec<(ColumnMeant, f64)>,
}

/// The fewest values whose common level says something.
pub const COLUMN_MIN: usize = 4;
/// Columns whose values scatter by more than this around their middle, on a logarithmic scale, are no tables.
const SCATTER_MAX: f64 = 0.15;
/// How often a whole column was taken in under a wrong unit, under a wrong class, with every point moved (judgement, no
/// source: of hundreds of columns in print none was; at typing, the heading of the next column is read).
const UNIT: f64 = 0.01;
const CLASS: f64 = 0.006;
const POINT: f64 = 0.002;
/// Another printed unit that agrees bears witness against a wrong unit: the whole column would have been converted.
const CONVERTED_AFTERWARDS: f64 = 0.05;

/// Within this, tables of one class lie, whatever they are for: nothing there asks for a closer look.
const USUAL: std::ops::RangeInclusive<f64> = 0.45..=2.2;

/// What the level of these values of one column says; nothing where it cannot be known, or is no table. `classes` gives
/// the yield strengths in megapascals, value by value, that the column would have in other classes.
#[must_use]
pub fn level(column: &[&Entry], classes: impl Fn() -> Vec<Vec<f64>>, priors: &Priors) -> Option<Level> {
    if column.len() < COLUMN_MIN {
        return None;
    }
    let shares: Option<Vec<f64>> = column.iter().map(|entry| ln_share(entry)).collect();
    let shares = shares?;
    let middle = median(shares.clone());
    if median(shares.iter().map(|share| (share - middle).abs()).collect()) > SCATTER_MAX {
        return None;
    }
    let share = middle.exp();
    if USUAL.contains(&share) {
        return Some(Level { share, wrong: 0.0, meant: Vec::new() });
    }
    let nearest = |a: &usize, b: &usize| (shares[*a] - middle).abs().total_cmp(&(shares[*b] - middle).abs());
    let at = (0..column.len()).min_by(nearest)?;
    let (wrong, meant) = weighed(column, at, &classes(), priors)?;
    Some(Level { share, wrong, meant })
}

/// The probability that the column is wrong, and what was meant, as the value in its middle shows it.
fn weighed(
    column: &[&Entry],
    at: usize,
    classes: &[Vec<f64>],
    priors: &Priors,
) -> Option<(f64, Vec<(ColumnMeant, f64)>)> {
    let entry = column[at];
    let expected = by_class(entry, priors)?;
    let habit = UnitHabit::of_thread(entry.size);
    let density = |value: Value| Some(expected.density(value.ln_newton_meters()?) * habit.share(value));
    let right = density(entry.stated)?;
    let witness = if has_witness(column) { CONVERTED_AFTERWARDS } else { 1.0 };
    let mut meant: Vec<(ColumnMeant, f64)> = Vec::new();
    for suspect in suspects(entry.stated) {
        let ratio = suspect.value.ln_newton_meters()? - entry.stated.ln_newton_meters()?;
        match suspect.slip {
            Slip::WrongUnit => {
                let chance = UNIT * suspect.chance / chances::UNIT * witness;
                meant.push((ColumnMeant::Unit(suspect.value.unit), chance * density(suspect.value)?));
            }
            Slip::PointLost | Slip::PointGained if ratio.abs() < POINT_ONCE => {
                meant.push((ColumnMeant::PointMoved(suspect.slip), POINT * density(suspect.value)?));
            }
            _ => {}
        }
    }
    for (i, yields) in classes.iter().enumerate() {
        let ratio = (entry.yield_mpa? / yields.get(at)?).ln();
        let torque = entry.stated.ln_newton_meters()?;
        // A column of a stronger class lies as much higher, so the torque is held against that class.
        let weight = CLASS / classes.len() as f64 * expected.density(torque + ratio) * habit.share(entry.stated);
        meant.push((ColumnMeant::Class(i), weight));
    }
    let sum = right + meant.iter().map(|(_, weight)| weight).sum::<f64>();
    meant.iter_mut().for_each(|(_, weight)| *weight /= sum);
    meant.sort_by(|a, b| b.1.total_cmp(&a.1));
    Some((1.0 - right / sum, meant))
}

/// How probable a torque is for the bolt of an entry, as its class, its part of the plan and the system of its thread let
/// expect it, per unit of the logarithm; one where nothing lets expect anything.
#[must_use]
pub fn fits_class(entry: &Entry, value: Value, priors: &Priors) -> f64 {
    let density = || Some(by_class(entry, priors)?.density(value.ln_newton_meters()?));
    density().unwrap_or(1.0) * UnitHabit::of_thread(entry.size).share(value)
}

/// One place of the point, as a logarithm, and a little more.
const POINT_ONCE: f64 = 2.4;

/// ln(torque over that for 90 % of the yield strength).
fn ln_share(entry: &Entry) -> Option<f64> {
    let full = entry.size?.torque_per_mpa * entry.friction_ratio * 0.9 * entry.yield_mpa?;
    Some(entry.stated.ln_newton_meters()? - full.ln())
}

/// Does most of the column print the same torque in another unit?
fn has_witness(column: &[&Entry]) -> bool {
    const SAME: f64 = 0.1;
    let agrees = |entry: &&&Entry| {
        entry.printed.iter().filter(|other| other.unit != entry.stated.unit).any(|other| {
            let both = other.ln_newton_meters().zip(entry.stated.ln_newton_meters());
            both.is_some_and(|(a, b)| (a - b).abs() < SAME)
        })
    };
    2 * column.iter().filter(agrees).count() > column.len()
}
