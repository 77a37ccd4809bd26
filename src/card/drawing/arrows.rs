//! The arrows from each position to the next.

use super::plan::Place;
use crate::card::svg::{Short, Svg};

/// How far an arrow bows to its left, as a share of its length: arrows along one row part from each other, and none
/// runs through the heads between its ends.
const BOW: f64 = 0.12;

/// An arrow from one head to the next.
pub(super) fn arrow(svg: &mut Svg, from: Place, to: Place, radius: f64, centre: (f64, f64)) {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let length = dx.hypot(dy);
    if length < 1e-6 {
        return;
    }
    let (ux, uy) = (dx / length, dy / length);
    let bow = if length < 2.0 * radius + 14.0 {
        // Between heads that nearly touch there is no room: the arrow goes round them, away from the numbers.
        let inwards = (centre.0 - from.x) * uy - (centre.1 - from.y) * ux;
        (1.6 * radius + 6.0).copysign(inwards)
    } else {
        (BOW * length).min(26.0)
    };
    let middle = (from.x + dx / 2.0 + uy * bow, from.y + dy / 2.0 - ux * bow);
    let start = towards((from.x, from.y), middle, radius + 2.0);
    let tip = towards((to.x, to.y), middle, radius + 2.0);
    let head = (0.35 * radius + 2.5).min(7.0);
    let neck = towards(tip, middle, head);
    svg.raw(format_args!(
        "<path d=\"M{} {}Q{} {} {} {}\"/>{}",
        Short(start.0),
        Short(start.1),
        Short(middle.0),
        Short(middle.1),
        Short(neck.0),
        Short(neck.1),
        arrow_head(tip, neck, head * 0.55)
    ));
}

/// The point at a distance from `a` on the way to `b`.
fn towards(a: (f64, f64), b: (f64, f64), distance: f64) -> (f64, f64) {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx.hypot(dy).max(1e-9);
    (a.0 + dx / length * distance, a.1 + dy / length * distance)
}

fn arrow_head(tip: (f64, f64), neck: (f64, f64), half_width: f64) -> String {
    let (dx, dy) = (tip.0 - neck.0, tip.1 - neck.1);
    let length = dx.hypot(dy).max(1e-9);
    let (nx, ny) = (-dy / length * half_width, dx / length * half_width);
    format!(
        "<path d=\"M{} {}L{} {}L{} {}Z\" fill=\"currentColor\"/>",
        Short(tip.0),
        Short(tip.1),
        Short(neck.0 + nx),
        Short(neck.1 + ny),
        Short(neck.0 - nx),
        Short(neck.1 - ny)
    )
}
