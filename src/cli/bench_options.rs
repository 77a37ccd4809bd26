//! What cards, kits and ways are made for: the machine, and the tools at hand.

use crate::card::turns::largest_step;
use crate::card::{CardOptions, WrenchRange};
use crate::units::Angle;

/// The machine and the wrenches at hand.
#[derive(Debug, Clone, clap::Args)]
pub struct BenchOptions {
    /// Only what fits this variant of the machine; without it, every variant is shown with what tells it apart.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
    /// A torque wrench at hand by its scale, such as "10-60 N·m"; once for each. Without any, the usual ones.
    #[arg(long = "wrench", value_name = "RANGE", value_parser = str::parse::<WrenchRange>)]
    wrenches: Vec<WrenchRange>,
}

/// The largest step of a turn.
#[derive(Debug, Clone, clap::Args)]
pub struct StepOption {
    /// Split turns into steps not larger than this; the sum stays the same.
    #[arg(long, value_name = "ANGLE", default_value = "90°", value_parser = largest_step)]
    step: Angle,
}

impl BenchOptions {
    /// How a kit or a label is made.
    pub fn of_kit(&self) -> CardOptions {
        CardOptions { variant: self.variant.clone(), wrenches: self.wrenches.clone(), ..CardOptions::default() }
    }

    /// How a card is made.
    pub fn of_card(&self, step: &StepOption) -> CardOptions {
        CardOptions { largest_step: step.step, ..self.of_kit() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_wrench_and_no_step_is_refused_in_words() {
        let wrench = str::parse::<WrenchRange>;
        assert_eq!(wrench("10-60 N·m").unwrap().to_string(), "10-60 N·m");
        assert!(wrench("40 N·m").unwrap_err().contains("is no range"));
        assert!(wrench("ten").is_err());
        assert_eq!(largest_step("60°").unwrap().degrees(), 60.0);
        assert_eq!(largest_step("0.5°").unwrap_err(), "a step is from 1° to 360°");
        assert!(largest_step("60").is_err(), "an angle has a unit");
    }
}
