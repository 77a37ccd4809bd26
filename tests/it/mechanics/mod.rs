//! The mechanics against published tables, worked examples, general properties and a numerical integration.
//!
//! - `tables`: every row of the published torque tables
//! - `examples`: worked examples of named textbooks and documents
//! - `properties`: what must hold for any bolt
//! - `elastic_plastic`: an elastic-plastic bolt integrated step by step, against the model of torque and angle

mod elastic_plastic;
mod examples;
mod properties;
mod tables;

use clampbook::mechanics::{Friction, HeadBearing, ThreadForm, TorquedBolt};
use clampbook::thread::Thread;
use clampbook::units::{Force, Length, Stress, Torque};

pub fn mm(value: f64) -> Length {
    Length::from_millimeters(value)
}

pub fn inches(value: f64) -> Length {
    Length::from_inches(value)
}

pub fn mpa(value: f64) -> Stress {
    Stress::from_megapascals(value)
}

pub fn newtons(value: f64) -> Force {
    Force::from_newtons(value)
}

pub fn newton_meters(value: f64) -> Torque {
    Torque::from_newton_meters(value)
}

/// The form of a thread by its designation.
#[track_caller]
pub fn form(designation: &str) -> ThreadForm {
    let thread: Thread = designation.parse().unwrap_or_else(|error| panic!("{designation}: {error}"));
    let geometry = thread.geometry().unwrap_or_else(|| panic!("{designation} has no dimensions"));
    ThreadForm::try_from(&geometry).unwrap_or_else(|error| panic!("{designation}: {error}"))
}

/// A bolt with one friction in the thread and under a head of mean friction diameter `dkm` in mm.
#[track_caller]
pub fn bolt(form: ThreadForm, dkm: f64, friction: f64) -> TorquedBolt {
    let bearing = HeadBearing::of_mean_diameter(mm(dkm)).unwrap();
    TorquedBolt::new(form, bearing, Friction::same(friction).unwrap())
}

/// Fails unless a number is within a tolerance of what is expected.
#[track_caller]
pub fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!((got - expected).abs() <= tolerance, "{what}: {got}, expected {expected} ± {tolerance}");
}
