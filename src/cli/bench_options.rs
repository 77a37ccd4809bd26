//! What cards, kits and ways are made for: the machine, and the tools at hand.

use crate::card::WrenchRange;
use crate::card::{CardOptions, KitOptions};
use crate::record::TorqueSetting;
use crate::units::{Angle, AngleUnit, Stated};

/// The machine and the wrenches at hand.
#[derive(Debug, Clone, clap::Args)]
pub struct BenchOptions {
    /// Only what fits this variant of the machine; without it, every variant is shown with what tells it apart.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
    /// A torque wrench at hand by its scale, such as "10-60 N·m"; once for each. Without any, the usual ones.
    #[arg(long = "wrench", value_name = "RANGE", value_parser = wrench)]
    wrenches: Vec<WrenchRange>,
}

/// The largest step of a turn.
#[derive(Debug, Clone, clap::Args)]
pub struct StepOption {
    /// Split turns into steps not larger than this; the sum stays the same.
    #[arg(long, value_name = "ANGLE", default_value = "90°", value_parser = step)]
    step: Angle,
}

impl BenchOptions {
    /// The variant that was named.
    pub fn variant(&self) -> Option<String> {
        self.variant.clone()
    }

    /// How a kit is made.
    pub fn of_kit(&self) -> KitOptions {
        KitOptions { variant: self.variant(), wrenches: self.wrenches.clone() }
    }

    /// How a card is made.
    pub fn of_card(&self, step: &StepOption) -> CardOptions {
        CardOptions { variant: self.variant(), wrenches: self.wrenches.clone(), largest_step: step.step }
    }
}

fn wrench(text: &str) -> Result<WrenchRange, String> {
    let scale: TorqueSetting = text.parse().map_err(|error| format!("{error}"))?;
    WrenchRange::new(scale)
        .ok_or_else(|| format!("\"{text}\" is no range. Write from where to where, such as 10-60 N·m"))
}

fn step(text: &str) -> Result<Angle, String> {
    let angle: Stated<AngleUnit> = text.parse().map_err(|error| format!("{error}"))?;
    let angle = angle.quantity();
    if (1.0..=360.0).contains(&angle.degrees()) { Ok(angle) } else { Err("a step is from 1° to 360°".to_owned()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_wrench_and_no_step_is_refused_in_words() {
        assert_eq!(wrench("10-60 N·m").unwrap().to_string(), "10-60 N·m");
        assert!(wrench("40 N·m").unwrap_err().contains("is no range"));
        assert!(wrench("ten").is_err());
        assert_eq!(step("60°").unwrap().degrees(), 60.0);
        assert_eq!(step("0.5°").unwrap_err(), "a step is from 1° to 360°");
        assert!(step("60").is_err(), "an angle has a unit");
    }
}
