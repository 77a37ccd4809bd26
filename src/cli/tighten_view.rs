//! What `tighten` shows: a table a mechanic can read, and a bar that shows where the torque lies.

use super::layout;
use super::output::Answer;
use super::table::{self, Table};
use super::terminal;
use crate::tightening::{AngleAnswer, Extent, Standing, Tightening, YesNo, YieldVerdict};
use crate::units::{ForceUnit, LengthUnit, Number, StressUnit, TorqueUnit, Unit};
use serde::Serialize;

/// The units that people read an answer in.
#[derive(Debug, Clone, Copy)]
pub struct Units {
    torque: TorqueUnit,
    force: ForceUnit,
    length: LengthUnit,
    stress: StressUnit,
}

impl Units {
    /// The units that go with a unit of torque.
    #[must_use]
    pub fn of(torque: TorqueUnit) -> Self {
        let (force, length, stress) = match torque {
            TorqueUnit::PoundFoot | TorqueUnit::PoundInch => {
                (ForceUnit::PoundForce, LengthUnit::Inch, StressUnit::KipPerSquareInch)
            }
            TorqueUnit::KilogramMeter | TorqueUnit::KilogramCentimeter => {
                (ForceUnit::KilogramForce, LengthUnit::Millimeter, StressUnit::Megapascal)
            }
            TorqueUnit::NewtonMeter | TorqueUnit::CentinewtonMeter => {
                (ForceUnit::Kilonewton, LengthUnit::Millimeter, StressUnit::Megapascal)
            }
        };
        Self { torque, force, length, stress }
    }

    fn torque(self, newton_meters: f64) -> f64 {
        newton_meters / self.torque.in_base()
    }

    fn torques(self, extent: Extent) -> String {
        text(extent, self.torque)
    }

    fn forces(self, extent: Extent) -> String {
        text(extent, self.force)
    }

    fn lengths(self, extent: Extent) -> String {
        text(extent, self.length)
    }

    fn stresses(self, extent: Extent) -> String {
        text(extent, self.stress)
    }
}

/// An extent, given in the base unit, as text: three figures each, the unit once.
fn text<U: Unit>(extent: Extent, unit: U) -> String {
    format!("{}{}{}", figures(extent, unit.in_base()), if unit.symbol() == "°" { "" } else { " " }, unit.symbol())
}

/// The numbers of an extent over a divisor, with three figures.
fn figures(extent: Extent, divisor: f64) -> String {
    let number = |value: f64| Number::from_f64(value / divisor, 3).to_string();
    let (min, max) = (number(extent.min()), number(extent.max()));
    if min == max { min } else { format!("{min}-{max}") }
}

/// Coefficients of friction: two decimals at least.
fn coefficient(extent: Extent) -> String {
    let number = |value: f64| {
        let text = format!("{value:.3}");
        text.strip_suffix('0').map(str::to_owned).unwrap_or(text)
    };
    let (min, max) = (number(extent.min()), number(extent.max()));
    if min == max { min } else { format!("{min}-{max}") }
}

fn percent(extent: Extent) -> String {
    format!("{} %", figures(extent, 0.01))
}

/// An answer with the units to show it in.
pub struct TighteningView {
    /// The answer.
    pub answer: Tightening,
    /// The units for people.
    pub units: Units,
}

impl Answer for TighteningView {
    fn json(&self) -> impl Serialize {
        &self.answer
    }

    fn lines(&self) -> Vec<serde_json::Value> {
        serde_json::to_value(&self.answer).into_iter().collect()
    }

    fn table(&self) -> Table {
        table::of_paths(&self.answer)
    }

    fn for_people(&self, width: usize) -> String {
        let mut out = format!("{}\n\n", terminal::heading(&self.title()));
        let rows = self.rows();
        let indent = rows.iter().map(|(what, _)| what.chars().count()).max().unwrap_or(0);
        for (what, value) in &rows {
            out += &layout::fill(value, width, &format!("{what:indent$}  "), &" ".repeat(indent + 2));
        }
        out += &format!("\n{}\n", self.bar(width));
        for one in &self.answer.assumed {
            out += &layout::fill(&format!("assumed: {}: {} ({})", one.what, one.value, one.why), width, "", "  ");
        }
        out += &layout::fill(&format!("sources: {}", self.answer.sources.join("; ")), width, "", "  ");
        out
    }
}

impl TighteningView {
    fn title(&self) -> String {
        let answer = &self.answer;
        let (thread, head) = (coefficient(answer.friction_thread), coefficient(answer.friction_head));
        let friction = if thread == head { thread } else { format!("{thread} in the thread, {head} under the head") };
        format!("{}  {}  friction {friction}", answer.thread, answer.property_class)
    }

    fn rows(&self) -> Vec<(String, String)> {
        let (answer, units) = (&self.answer, self.units);
        let mut rows = vec![
            (self.torque_label(), units.torques(answer.torque_nm)),
            ("preload".to_owned(), units.forces(answer.preload_n)),
            ("share of yield strength".to_owned(), percent(answer.utilisation)),
        ];
        let mut row = |what: &str, value: String| rows.push((what.to_owned(), value));
        if let Some(angle) = &answer.angle {
            angle_rows(angle, units, &mut row);
        }
        row("clamps enough from", units.torques(Extent::One(answer.range.clamps_from_nm)));
        row("yields from", units.torques(Extent::One(answer.range.yields_from_nm)));
        if let Some(standing) = answer.standing {
            row("the torque", standing_words(standing).to_owned());
        }
        if let Some(scatter) = &answer.scatter {
            let factor = figures(scatter.tightening_factor, 1.0);
            let least = units.forces(Extent::One(scatter.least_preload_n));
            row("least preload to reckon with", format!("{least} (tightening factor {factor}, {})", scatter.method));
        }
        self.holding_rows(&mut row);
        self.wrench_rows(&mut row);
        rows
    }

    fn torque_label(&self) -> String {
        let answer = &self.answer;
        if answer.standing.is_some() || answer.angle.is_some() {
            "torque".to_owned()
        } else {
            format!("torque for {} of yield", percent(answer.utilisation))
        }
    }

    fn holding_rows(&self, row: &mut impl FnMut(&str, String)) {
        let units = self.units;
        if let Some(pressure) = &self.answer.pressure {
            let limit = pressure
                .limit_mpa
                .zip(pressure.material)
                .map(|(limit, material)| format!(", limit of {material} {}", units.stresses(Extent::One(limit))));
            let verdict = pressure.utilisation.filter(|share| *share > 1.0).map_or("", |_| ": too much");
            let limit = limit.unwrap_or_default();
            row("pressure under the head", format!("{}{limit}{verdict}", units.stresses(pressure.pressure_mpa)));
        }
        if let Some(stripping) = &self.answer.stripping {
            let needed = units.lengths(Extent::One(stripping.needed_engagement_mm));
            row("engagement needed", format!("{needed} in {}, to break before it strips", stripping.material));
            if let Some(force) = stripping.stripping_force_n {
                let verdict = if stripping.utilisation.is_some_and(|share| share <= 1.0) {
                    ""
                } else {
                    ": less than the preload"
                };
                row("strips at", format!("{}{verdict}", units.forces(Extent::One(force))));
            }
        }
    }

    fn wrench_rows(&self, row: &mut impl FnMut(&str, String)) {
        let Some(wrench) = &self.answer.wrench else { return };
        let units = self.units;
        let serving: Vec<String> = wrench
            .serving
            .iter()
            .map(|one| {
                let range = Extent::Range { min: one.from_nm, max: one.to_nm };
                format!("{} (± {} %)", units.torques(range), one.accuracy_percent)
            })
            .collect();
        let serving = if serving.is_empty() { "none of them serves".to_owned() } else { serving.join(", ") };
        row("wrench", format!("set {}: {serving}", units.torques(Extent::One(wrench.setting_nm))));
        if let Some(preload) = wrench.preload_n {
            row("preload, wrench and friction", units.forces(preload));
        }
    }

    /// The bar: where the torque (or the turn) lies between too loose and yield.
    fn bar(&self, width: usize) -> String {
        let (answer, units) = (&self.answer, self.units);
        if let Some(angle) = &answer.angle {
            let to = angle.yield_angle_deg;
            return Bar { from: 0.0, to: to.min(), to_last: to.max(), marks: angle.angle_deg, unit: "°".to_owned() }
                .print(width, ["", "elastic", "beyond yield"]);
        }
        let range = &answer.range;
        let marks = match answer.torque_nm {
            Extent::One(torque) => Extent::One(units.torque(torque)),
            Extent::Range { min, max } => Extent::Range { min: units.torque(min), max: units.torque(max) },
        };
        let (from, to) = (units.torque(range.clamps_from_nm), units.torque(range.yields_from_nm));
        Bar { from, to, to_last: to, marks, unit: format!(" {}", units.torque.symbol()) }
            .print(width, ["too loose", "fits", "beyond yield"])
    }
}

fn angle_rows(angle: &AngleAnswer, units: Units, row: &mut impl FnMut(&str, String)) {
    row("turned after it", format!("{}°", figures(angle.angle_deg, 1.0)));
    row("preload before the turn", units.forces(angle.snug_preload_n));
    row("torque at the end", units.torques(angle.final_torque_nm));
    row("bolt", verdict_words(angle.yield_verdict).to_owned());
    row("yields after", format!("{}°", figures(angle.yield_angle_deg, 1.0)));
    if angle.yields.possibly() {
        let share = percent(angle.strain_share);
        row("permanent strain", format!("{}, {share} of what breaks it", percent(angle.plastic_strain)));
        row("stays longer by", units.lengths(angle.permanent_stretch_mm));
    }
    match angle.breaks {
        YesNo::One(false) => {}
        YesNo::One(true) => row("danger", "the bolt breaks".to_owned()),
        YesNo::Range { .. } => row("danger", "the bolt may break".to_owned()),
    }
    let Some(reuse) = &angle.reuse else { return };
    if let Some(times) = reuse.tightenings {
        row("tightenings within half of that", figures(times, 1.0));
    }
    if let Some(measured) = &reuse.measured {
        row("measured length", measured.verdict.replace('-', " "));
    }
}

fn verdict_words(verdict: YieldVerdict) -> &'static str {
    match verdict {
        YieldVerdict::Yields => "yields",
        YieldVerdict::DoesNotYield => "does not yield",
        YieldVerdict::DependsOnFriction => "yields or not, by the friction",
        YieldVerdict::YieldsAtEveryGrip => "yields at every plausible grip",
        YieldVerdict::YieldsAtNoGrip => "yields at no plausible grip",
        YieldVerdict::DependsOnGrip => "yields or not, by the grip: state it",
    }
}

fn standing_words(standing: Standing) -> &'static str {
    match standing {
        Standing::TooLoose => "may clamp too little",
        Standing::Within => "clamps enough and does not yield",
        Standing::BeyondYield => "may take the bolt beyond yield",
    }
}

/// A scale from nothing to a little beyond yield, with three parts and marks. The parts differ by their characters, so
/// that no colour is needed.
struct Bar {
    from: f64,
    to: f64,
    /// Where the last of what yields does, if that is not known exactly: between, it may or may not.
    to_last: f64,
    marks: Extent,
    unit: String,
}

/// Characters of the parts: below, within, perhaps beyond, beyond.
const PARTS: [char; 4] = ['·', '=', '?', '!'];

impl Bar {
    fn print(&self, width: usize, [below, within, beyond]: [&str; 3]) -> String {
        let width = width.saturating_sub(16).clamp(24, 72);
        let end = 1.2 * self.to_last.max(self.marks.max()).max(self.from);
        let end = if end > 0.0 { end } else { 1.0 };
        let at = |value: f64| ((value / end * width as f64).round() as usize).min(width - 1);
        let (low, high) = (at(self.from.min(self.to)), at(self.from.max(self.to_last)));
        let (from, to) = (at(self.from), at(self.to));
        let part = |place: usize| match place {
            place if place < low => PARTS[0],
            place if place >= high => PARTS[3],
            place if place >= from && place < to => PARTS[1],
            _ => PARTS[2],
        };
        let scale: String = (0..width).map(part).collect();
        let number = |value: f64| Number::from_f64(value, 3);
        let mut pointer = vec![' '; width];
        pointer[at(self.marks.min())] = '^';
        pointer[at(self.marks.max())] = '^';
        let pointer: String = pointer.into_iter().collect();
        let unit = &self.unit;
        let legend: Vec<String> = [
            (PARTS[0], below, scale.contains(PARTS[0])),
            (PARTS[1], within, scale.contains(PARTS[1])),
            (PARTS[2], "perhaps beyond yield", scale.contains(PARTS[2])),
            (PARTS[3], beyond, true),
        ]
        .iter()
        .filter(|(_, words, is_there)| *is_there && !words.is_empty())
        .map(|(part, words, _)| format!("{part} {words}"))
        .collect();
        format!(
            "0 {scale} {}{unit}\n  {} {}{unit}\n  {}\n",
            number(end),
            pointer.trim_end(),
            figures(self.marks, 1.0),
            legend.join("   ")
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(from: f64, to: f64, marks: Extent) -> String {
        Bar { from, to, to_last: to, marks, unit: " N·m".to_owned() }.print(40, ["too loose", "fits", "beyond yield"])
    }

    #[test]
    fn the_bar_shows_where_a_torque_lies() {
        assert_eq!(
            bar(10.0, 20.0, Extent::One(15.0)),
            "0 ··········==========!!!! 24 N·m\n                 ^ 15 N·m\n  · too loose   = fits   ! beyond yield\n"
        );
    }

    #[test]
    fn a_range_that_is_empty_shows_no_torque_that_fits() {
        let bar = bar(20.0, 10.0, Extent::Range { min: 8.0, max: 15.0 });
        assert!(bar.contains("··········??????????!!!!") && bar.contains("8-15 N·m"), "{bar}");
        assert!(!bar.contains("fits"));
    }

    #[test]
    fn an_extent_has_its_unit_once() {
        assert_eq!(text(Extent::Range { min: 17_100.0, max: 24_300.0 }, ForceUnit::Kilonewton), "17.1-24.3 kN");
        assert_eq!(text(Extent::One(25.4), LengthUnit::Inch), "1 in");
        assert_eq!(text(Extent::of([1000.0, 1000.1]), ForceUnit::Kilonewton), "1 kN");
        assert_eq!(text(Extent::One(640.0), StressUnit::Megapascal), "640 MPa");
    }
}
