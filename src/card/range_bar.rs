//! The tightening range as a bar: too loose, plausible by the mechanics, yields, with what friction makes of it and
//! the torque entered. It says what a torque was compared with, never that it is right.
//!
//! The numbers come from [`crate::tightening`]; nothing is computed here but the ends of the friction band. A torque
//! that more turns follow does not belong on the bar.

use super::svg::{Short, Svg};
use crate::mechanics::{LEAST_SHARE, tightening_range};
use crate::record::{Fastener, Setting, stated_unit};
use crate::tightening::{Inputs, NoTightening, TighteningRequest};
use crate::units::{Number, Quantity, Torque, TorqueUnit, Unit};

/// What a bar shows.
#[derive(Debug, Clone)]
pub struct RangeBar {
    /// What is tightened, such as `M8×1.25, 8.8`.
    pub subject: String,
    /// The unit that the bar is marked in.
    pub unit: TorqueUnit,
    /// The lowest and the highest coefficient of friction that were reckoned with.
    pub friction: (f64, f64),
    /// The torque from which it clamps enough, at the lowest and at the highest friction.
    pub clamps: (Torque, Torque),
    /// The torque at which it yields, at the lowest and at the highest friction.
    pub yields: (Torque, Torque),
    /// The torque that is entered, if one is.
    pub entered: Option<Setting<TorqueUnit>>,
}

const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 210.0;
const LEFT: f64 = 10.0;
const BAR_TOP: f64 = 52.0;
const BAR_HEIGHT: f64 = 30.0;
/// Where the keys of the zones begin.
const KEYS_TOP: f64 = 158.0;
/// Still 18 CSS pixels where the picture is as wide as the narrowest screen.
const TEXT: f64 = 20.5;

impl RangeBar {
    /// The bar for what is known about a bolt, marked in `unit`. A torque that turns follow is not entered: it only
    /// seats the bolt.
    ///
    /// # Errors
    /// If the range cannot be computed.
    pub fn of_request(request: &TighteningRequest, unit: TorqueUnit) -> Result<Self, NoTightening> {
        let inputs = Inputs::of(request)?;
        let (friction, strength) = (inputs.friction, inputs.strength.yield_);
        let least_share = request.least_share.unwrap_or(LEAST_SHARE);
        let range = tightening_range(&inputs.bolt, friction, strength, least_share)?;
        let (low, high) = (inputs.bolt.with_friction(friction.lowest()), inputs.bolt.with_friction(friction.highest()));
        Ok(Self {
            subject: format!("{}, {}", request.thread, request.property_class),
            unit,
            friction: (friction.lowest().thread(), friction.highest().thread()),
            clamps: (low.torque_for(range.least_preload)?, range.clamps_from),
            yields: (range.yields_from, high.torque_at(1.0, strength)?),
            entered: request.torque.filter(|_| request.angles.is_empty()),
        })
    }

    /// The bar of a fastener; nothing if its class is not stated, its role is not limited by the bolt, or the range
    /// cannot be computed.
    #[must_use]
    pub fn of_fastener(fastener: &Fastener) -> Option<Self> {
        if !fastener.role().is_limited_by_bolt() {
            return None;
        }
        let request = TighteningRequest::of_fastener(fastener)?;
        Self::of_request(&request, stated_unit(fastener).unwrap_or(TorqueUnit::NewtonMeter)).ok()
    }
}

/// Draws the bar.
#[must_use]
pub fn range_bar(bar: &RangeBar) -> String {
    let id = super::svg::id_of(&format!("range {}", bar.subject));
    let mut svg = Svg::begin(WIDTH, HEIGHT, &id, &format!("Tightening range of {}", bar.subject), &described(bar));
    let scale = Scale::of(bar);
    draw_zones(&mut svg, bar, scale);
    draw_marks(&mut svg, bar, scale);
    draw_entered(&mut svg, bar, scale);
    draw_names(&mut svg, bar, scale);
    draw_keys(&mut svg, bar);
    svg.text(
        WIDTH / 2.0,
        KEYS_TOP - 12.0,
        TEXT,
        "middle",
        "",
        &format!("{} at friction {}", bar.unit, friction_words(bar)),
    );
    svg.end()
}

/// The bar in words.
#[must_use]
pub fn described(bar: &RangeBar) -> String {
    let (from, to) = (bar.clamps.1, bar.yields.0);
    let plausible = if from < to {
        let (from, to) = (stated(from, bar.unit), stated(to, bar.unit));
        format!("Plausible by the mechanics from {from} to {to} at any friction")
    } else {
        "No torque is plausible at every friction".to_owned()
    };
    let entered =
        bar.entered.map_or(String::new(), |setting| format!(" Entered: {setting}, {}.", verdict(bar, setting)));
    format!(
        "{plausible}; too loose below {}, yields above {}. Friction {}.{entered}",
        stated(bar.clamps.0, bar.unit),
        stated(bar.yields.1, bar.unit),
        friction_words(bar)
    )
}

/// Where a torque lies on the bar, in words.
#[must_use]
pub fn verdict(bar: &RangeBar, setting: Setting<TorqueUnit>) -> &'static str {
    let (low, high) = setting.ends();
    match (low, high) {
        (_, high) if high < bar.clamps.0 => "too loose",
        (low, _) if low > bar.yields.1 => "yields",
        (low, high) if low >= bar.clamps.1 && high <= bar.yields.0 => "plausible by the mechanics",
        (_, high) if high > bar.yields.0 => "yields if friction is low",
        _ => "too loose if friction is high",
    }
}

fn friction_words(bar: &RangeBar) -> String {
    let (low, high) = bar.friction;
    if low == high { format!("{low:.2}") } else { format!("{low:.2} to {high:.2}") }
}

fn stated(torque: Torque, unit: TorqueUnit) -> String {
    format!("{} {unit}", number(torque, unit))
}

/// A torque in a unit, as short as it can be read: three figures, never more than two decimals.
fn number(torque: Torque, unit: TorqueUnit) -> Number {
    let value = torque.base() / unit.in_base();
    if value >= 100.0 { Number::from_f64(value.round(), 6) } else { Number::from_f64(value, 2.max(figures(value))) }
}

fn figures(value: f64) -> u8 {
    if value >= 10.0 { 3 } else { 2 }
}

/// From torque to place.
#[derive(Clone, Copy)]
struct Scale {
    newton_meters_max: f64,
}

impl Scale {
    fn of(bar: &RangeBar) -> Self {
        let entered = bar.entered.map_or(0.0, |setting| setting.ends().1.newton_meters());
        let most = (bar.yields.1.newton_meters() * 1.25).max(entered * 1.1);
        // An entry many times too high must not squeeze the range into nothing; it is drawn at the edge.
        Self { newton_meters_max: most.min(bar.yields.1.newton_meters() * 4.0).max(1e-9) }
    }

    fn x(self, torque: Torque) -> f64 {
        let share = (torque.newton_meters() / self.newton_meters_max).clamp(0.0, 1.0);
        LEFT + share * (WIDTH - 2.0 * LEFT)
    }

    fn end(self) -> f64 {
        WIDTH - LEFT
    }
}

fn draw_zones(svg: &mut Svg, bar: &RangeBar, scale: Scale) {
    let (loose, plausible_from) = (scale.x(bar.clamps.0), scale.x(bar.clamps.1));
    let (plausible_to, yields) = (scale.x(bar.yields.0), scale.x(bar.yields.1));
    svg.raw(format_args!("<g stroke=\"currentColor\" stroke-width=\"1\">"));
    hatch(svg, (loose, plausible_from.max(loose)), ON_BAR, 10.0, false);
    hatch(svg, (plausible_to, yields), ON_BAR, 10.0, true);
    hatch(svg, (yields, scale.end()), ON_BAR, 5.0, true);
    svg.raw(format_args!("</g>"));
    if plausible_to > plausible_from {
        plausible(svg, (plausible_from, plausible_to), ON_BAR);
    }
    svg.raw(format_args!(
        "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" stroke=\"currentColor\"/>",
        Short(LEFT),
        Short(BAR_TOP),
        Short(scale.end() - LEFT),
        Short(BAR_HEIGHT)
    ));
}

/// From top to bottom of something that is filled.
type Rows = (f64, f64);

const ON_BAR: Rows = (BAR_TOP, BAR_TOP + BAR_HEIGHT);

/// The box with a thick edge.
fn plausible(svg: &mut Svg, (from, to): (f64, f64), (top, bottom): Rows) {
    svg.raw(format_args!(
        "<rect class=\"plausible\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" stroke=\"currentColor\" \
         stroke-width=\"4\" fill=\"currentColor\" fill-opacity=\"0.12\"/>",
        Short(from),
        Short(top),
        Short(to - from),
        Short(bottom - top)
    ));
}

/// What the fillings mean, each with a small box of it.
fn draw_keys(svg: &mut Svg, bar: &RangeBar) {
    let has_plausible = bar.yields.0 > bar.clamps.1;
    let keys: [(f64, f64, &str); 4] = [
        (10.0, 0.0, "too loose"),
        (176.0, 0.0, "plausible"),
        (10.0, 26.0, "friction decides"),
        (240.0, 26.0, "yields"),
    ];
    svg.raw(format_args!("<g class=\"keys\" stroke=\"currentColor\" stroke-width=\"1\">"));
    for (i, (x, down, name)) in keys.into_iter().enumerate().filter(|(i, _)| *i != 1 || has_plausible) {
        let (box_, rows) = ((x, x + 18.0), (KEYS_TOP + down, KEYS_TOP + down + 18.0));
        match i {
            1 => plausible(svg, box_, rows),
            2 => hatch(svg, box_, rows, 10.0, true),
            3 => hatch(svg, box_, rows, 5.0, true),
            _ => {}
        }
        if i != 1 {
            let (x, y) = (Short(x), Short(rows.0));
            svg.raw(format_args!("<rect x=\"{x}\" y=\"{y}\" width=\"18\" height=\"18\"/>"));
        }
        svg.text(x + 25.0, rows.1 - 2.0, TEXT, "start", " stroke=\"none\"", name);
    }
    svg.raw(format_args!("</g>"));
}

fn draw_names(svg: &mut Svg, bar: &RangeBar, scale: Scale) {
    let entered = bar.entered.map(|setting| (scale.x(setting.ends().0), scale.x(setting.ends().1)));
    name_zone(svg, (LEFT, scale.x(bar.clamps.0)), entered, "too loose");
    name_zone(svg, (scale.x(bar.clamps.1), scale.x(bar.yields.0)), entered, "plausible");
    name_zone(svg, (scale.x(bar.yields.1), scale.end()), entered, "yields");
}

/// A name in a zone that has room for it, beside the entry where that leaves room.
fn name_zone(svg: &mut Svg, zone: (f64, f64), entered: Option<(f64, f64)>, name: &str) {
    let room = name.chars().count() as f64 * TEXT * 0.58;
    let mut parts = vec![zone];
    if let Some((from, to)) = entered.filter(|(from, to)| *from < zone.1 && *to > zone.0) {
        parts = vec![(zone.0, from - 4.0), (to + 4.0, zone.1), zone];
    }
    if let Some((from, to)) = parts.into_iter().find(|(from, to)| to - from > room) {
        let halo = " class=\"halo\" stroke=\"white\" stroke-width=\"5\" paint-order=\"stroke\" font-weight=\"700\"";
        svg.text(f64::midpoint(from, to), BAR_TOP + BAR_HEIGHT / 2.0 + 7.0, TEXT, "middle", halo, name);
    }
}

/// Slanted lines from `from` to `to`, cut at the edges.
fn hatch(svg: &mut Svg, (from, to): (f64, f64), (top, bottom): Rows, step: f64, rising: bool) {
    let height = bottom - top;
    let mut foot = from - height;
    let mut path = String::new();
    while foot < to {
        let (a, b) = (foot.max(from), (foot + height).min(to));
        if b > a {
            let y = |x: f64| if rising { bottom - (x - foot) } else { top + (x - foot) };
            path.push_str(&format!("M{} {}L{} {}", Short(a), Short(y(a)), Short(b), Short(y(b))));
        }
        foot += step;
    }
    if !path.is_empty() {
        svg.raw(format_args!("<path d=\"{path}\"/>"));
    }
}

/// The torques at the edges of the zones, two rows so that close ones do not touch.
fn draw_marks(svg: &mut Svg, bar: &RangeBar, scale: Scale) {
    let mut edges = vec![bar.clamps.1, bar.yields.0];
    if bar.friction.0 != bar.friction.1 {
        edges.extend([bar.clamps.0, bar.yields.1]);
    }
    edges.sort_by(|a, b| a.newton_meters().total_cmp(&b.newton_meters()));
    let mut row_ends = [f64::NEG_INFINITY; 2];
    for torque in edges {
        let (x, text) = (scale.x(torque), number(torque, bar.unit).to_string());
        let half = text.chars().count() as f64 * TEXT * 0.3 + 3.0;
        let row = usize::from(x - half < row_ends[0]);
        if row == 1 && x - half < row_ends[1] {
            continue;
        }
        row_ends[row] = x + half;
        let y = BAR_TOP + BAR_HEIGHT + 20.0 + row as f64 * 20.0;
        svg.raw(format_args!(
            "<path d=\"M{} {}V{}\" stroke=\"currentColor\"/>",
            Short(x),
            Short(BAR_TOP + BAR_HEIGHT),
            Short(y - 16.0)
        ));
        svg.text(x, y, TEXT, "middle", "", &text);
    }
}

fn draw_entered(svg: &mut Svg, bar: &RangeBar, scale: Scale) {
    let Some(setting) = bar.entered else { return };
    let (low, high) = setting.ends();
    let (from, to) = (scale.x(low), scale.x(high));
    let bottom = Short(BAR_TOP + BAR_HEIGHT + 3.0);
    for x in if to - from > 1.0 { vec![from, to] } else { vec![from] } {
        let x = Short(x);
        svg.raw(format_args!(
            "<path d=\"M{x} 30V{bottom}\" stroke=\"white\" class=\"halo\" stroke-width=\"7\"/>\
             <path d=\"M{x} 30V{bottom}\" stroke=\"currentColor\" stroke-width=\"3\"/>\
             <path d=\"M{x} 44l-8 -14h16Z\" fill=\"currentColor\"/>"
        ));
    }
    if to - from > 1.0 {
        svg.raw(format_args!(
            "<path d=\"M{} 34H{}\" stroke=\"currentColor\" stroke-width=\"3\"/>",
            Short(from),
            Short(to)
        ));
    }
    let text = setting.to_string();
    let half = text.chars().count() as f64 * 22.0 * 0.34;
    let x = f64::midpoint(from, to).clamp(half + 4.0, WIDTH - half - 4.0);
    svg.text(x, 22.0, 22.0, "middle", " font-weight=\"700\"", &text);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(entered: Option<&str>) -> RangeBar {
        let torque = Torque::from_newton_meters;
        RangeBar {
            subject: "M8×1.25, 8.8".to_owned(),
            unit: TorqueUnit::NewtonMeter,
            friction: (0.10, 0.16),
            clamps: (torque(11.0), torque(14.5)),
            yields: (torque(22.6), torque(30.0)),
            entered: entered.map(|text| text.parse().unwrap()),
        }
    }

    #[test]
    fn says_in_words_where_the_torque_lies() {
        assert_eq!(
            described(&bar(Some("20 N·m"))),
            "Plausible by the mechanics from 14.5 N·m to 22.6 N·m at any friction; too loose below 11 N·m, yields above \
             30 N·m. Friction 0.10 to 0.16. Entered: 20 N·m, plausible by the mechanics."
        );
        for (entered, verdict_) in [
            ("5 N·m", "too loose"),
            ("12 N·m", "too loose if friction is high"),
            ("20-25 N·m", "yields if friction is low"),
            ("60 N·m", "yields"),
            ("15 lbf·ft", "plausible by the mechanics"),
        ] {
            assert_eq!(verdict(&bar(None), entered.parse().unwrap()), verdict_, "{entered}");
        }
    }

    #[test]
    fn a_range_that_friction_swallows_has_no_plausible_zone() {
        let mut narrow = bar(None);
        narrow.yields.0 = Torque::from_newton_meters(13.0);
        assert!(!range_bar(&narrow).contains("class=\"plausible\""));
        assert!(described(&narrow).starts_with("No torque is plausible at every friction"));
        assert!(range_bar(&bar(None)).contains("class=\"plausible\""));
    }

    #[test]
    fn the_entry_is_drawn_even_far_off() {
        for entered in ["1 N·m", "20 N·m", "20-25 N·m", "600 N·m"] {
            let svg = range_bar(&bar(Some(entered)));
            assert!(svg.contains(&format!(">{entered}</text>")), "{entered}");
            assert!(!svg.contains("NaN") && !svg.contains("href") && !svg.contains("url("));
        }
    }
}
