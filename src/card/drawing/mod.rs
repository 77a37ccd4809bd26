//! The drawing of a joint: its positions with their numbers, heads and order, as SVG.
//!
//! A picture for people; the list of positions beside it says the same in words. It is true to scale unless positions
//! lie too close to be told apart. Nothing in it is told by colour.

mod arrows;
mod labels;
mod plan;
mod words;

use super::passes::sits_at;
use super::shapes;
use super::svg::{Short, Svg, id_of, wrapped};
use crate::record::{Fastener, Joint};
use plan::{Arranged, Place, Plan, TEXT, arrange};
use std::collections::BTreeSet;

/// What a drawing shows beside the positions.
#[derive(Debug, Clone, Default)]
pub struct Look {
    /// The positions in the order they are taken; the others are drawn faintly.
    pub order: Vec<u32>,
    /// How the order was made, in words.
    pub order_words: String,
    /// The positions that are done: ticked.
    pub done: BTreeSet<u32>,
    /// The position that is being done: ringed.
    pub now: Option<u32>,
    /// Whether every position carries its tick and its ring, hidden where they do not hold, for a script to show.
    pub is_live: bool,
}

/// Draws a joint; `None` if its record draws no position.
#[must_use]
pub fn drawing(joint: &Joint, fasteners: &[&Fastener], look: &Look) -> Option<String> {
    let start = look.order.first().copied().filter(|_| look.order.len() > 1);
    let arranged = arrange(joint, start)?;
    let plan = &arranged.plan;
    let below = words::view(joint, plan.is_moved()).map_or(Vec::new(), |text| wrapped(&text, 32));
    let height = plan.height + below.len() as f64 * LINE;
    let id = id_of(joint.id.as_str());
    let description = words::description(joint, fasteners, look);
    let mut svg = Svg::begin(plan.width, height, &id, &words::title(joint), &description);
    draw_arrows(&mut svg, plan, look);
    draw_leaders(&mut svg, &arranged);
    for &place in &plan.places {
        draw_head(&mut svg, place, fasteners, plan, look);
    }
    draw_texts(&mut svg, &arranged);
    for (i, line) in below.iter().enumerate() {
        svg.text(plan.width / 2.0, plan.height + (i as f64 + 0.6) * LINE, TEXT, "middle", "", line);
    }
    Some(svg.end())
}

/// The height of a line of words.
const LINE: f64 = 24.0;

/// An edge of the paper's colour round a text, so that a line behind it does not disturb.
const HALO: &str = " class=\"halo\" stroke=\"white\" stroke-width=\"4\" paint-order=\"stroke\"";

fn draw_arrows(svg: &mut Svg, plan: &Plan, look: &Look) {
    let places: Vec<Place> =
        look.order.iter().filter_map(|n| plan.places.iter().find(|place| place.n == *n)).copied().collect();
    svg.raw(format_args!("<g class=\"arrows\" stroke=\"currentColor\" stroke-width=\"1.6\">"));
    let centre = (plan.width / 2.0, plan.height / 2.0);
    for (i, pair) in places.windows(2).enumerate() {
        let is_strong = match look.now {
            Some(now) => pair[0].n == now,
            None => places.len() <= FEW || i < FIRST,
        };
        let opacity = if is_strong { "1" } else { "0.3" };
        svg.raw(format_args!("<g data-from=\"{}\" opacity=\"{opacity}\">", pair[0].n));
        arrows::arrow(svg, pair[0], pair[1], plan.radius, centre);
        svg.raw(format_args!("</g>"));
    }
    svg.raw(format_args!("</g>"));
}

/// Up to how many positions all arrows are drawn strongly; of more, only the first ones, so that crossing arrows stay
/// readable. While one position is done, the arrow that leaves it is the strong one.
const FEW: usize = 10;
/// How many arrows are drawn strongly where there are many.
const FIRST: usize = 5;

fn draw_head(svg: &mut Svg, place: Place, fasteners: &[&Fastener], plan: &Plan, look: &Look) {
    let here: Vec<&Fastener> = fasteners.iter().copied().filter(|fastener| sits_at(fastener, place.n)).collect();
    let r = plan.radius;
    let shape = match here.as_slice() {
        [] => shapes::head(None, None, r),
        [first, rest @ ..] if rest.iter().all(|other| other.head == first.head && other.drive == first.drive) => {
            shapes::head(first.head, first.drive.as_ref(), r)
        }
        _ => shapes::either(r),
    };
    let faint = !look.order.is_empty() && !look.order.contains(&place.n);
    let opacity = if faint { " opacity=\"0.45\"" } else { "" };
    let stroke = if r > 12.0 { 2.0 } else { 1.4 };
    let state = state(place.n, r, look);
    svg.raw(format_args!(
        "<g data-n=\"{}\" transform=\"translate({} {})\" stroke-width=\"{stroke}\"{opacity}>{shape}{state}</g>",
        place.n,
        Short(place.x),
        Short(place.y)
    ));
}

/// The ring of the position that is being done, and the tick of one that is done.
fn state(n: u32, r: f64, look: &Look) -> String {
    let is_now = look.now == Some(n);
    let is_done = look.done.contains(&n) && !is_now;
    let hidden = |shown: bool| if shown { "" } else { " display=\"none\"" };
    let mut state = String::new();
    if is_now || look.is_live {
        let ring = Short(r + 5.0);
        state.push_str(&format!(
            "<circle class=\"now\"{} r=\"{ring}\" stroke=\"currentColor\" stroke-width=\"4\"/>",
            hidden(is_now)
        ));
    }
    if is_done || look.is_live {
        let tick = format!("M{} 0l{s} {s}l{} {}", Short(-0.6 * r), Short(0.9 * r), Short(-0.9 * r), s = Short(0.4 * r));
        state.push_str(&format!(
            "<g class=\"done\"{}><path class=\"halo\" d=\"{tick}\" stroke=\"white\" stroke-width=\"8\"/>\
             <path d=\"{tick}\" stroke=\"currentColor\" stroke-width=\"4\"/></g>",
            hidden(is_done)
        ));
    }
    state
}

/// The lines from heads to numbers that have no room beside them.
fn draw_leaders(svg: &mut Svg, arranged: &Arranged) {
    let labels = arranged.numbers.iter().chain(&arranged.landmark);
    for (from, to) in labels.filter_map(|label| label.leader) {
        svg.raw(format_args!(
            "<path class=\"leader\" d=\"M{} {}L{} {}\" stroke=\"currentColor\" stroke-width=\"1\"/>",
            Short(from.0),
            Short(from.1),
            Short(to.0),
            Short(to.1)
        ));
    }
}

fn draw_texts(svg: &mut Svg, arranged: &Arranged) {
    if let Some((x, y)) = arranged.plan.landmark {
        let (x, y) = (Short(x), Short(y));
        svg.raw(format_args!("<path d=\"M{x} {y}m0 -6l6 6l-6 6l-6 -6Z\" fill=\"currentColor\"/>"));
    }
    let bold = format!("{HALO} font-weight=\"700\"");
    let numbers = arranged.numbers.iter().map(|label| (label, bold.as_str()));
    let words = arranged.landmark.iter().chain(&arranged.start).map(|label| (label, HALO));
    for (label, style) in words.chain(numbers) {
        svg.text(label.x, label.y + 0.36 * label.size, label.size, "middle", style, &label.text);
    }
}

#[cfg(test)]
mod tests;
