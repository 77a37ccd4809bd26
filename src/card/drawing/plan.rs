//! Where the positions come to lie on the picture.

use crate::record::Joint;

/// The width of a picture in its own units, about one to a CSS pixel on a phone.
pub(super) const WIDTH: f64 = 360.0;
/// The most that positions may take up from top to bottom.
const HEIGHT_MAX: f64 = 460.0;
/// Room for numbers above and below the positions.
pub(super) const MARGIN: f64 = 46.0;
/// Room for numbers beside the positions.
const SIDE: f64 = 36.0;
/// The largest and the smallest radius of a head.
const RADIUS: (f64, f64) = (7.0, 20.0);

/// A position on the picture, y downwards.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub n: u32,
    pub x: f64,
    pub y: f64,
}

/// The places of a picture and its size.
#[derive(Debug)]
pub(super) struct Plan {
    pub places: Vec<Place>,
    pub landmark: Option<(f64, f64)>,
    pub radius: f64,
    pub width: f64,
    pub height: f64,
    /// Whether places were moved apart, so that the picture is not true to scale.
    pub moved: bool,
}

/// Fits the drawn positions of a joint into a picture; `None` if none is drawn.
pub(super) fn plan(joint: &Joint) -> Option<Plan> {
    if joint.positions.is_empty() {
        return None;
    }
    let mut places: Vec<Place> = joint.positions.iter().map(|p| Place { n: p.n, x: p.x_mm, y: -p.y_mm }).collect();
    let mut landmark = joint.landmark.as_ref().map(|mark| (mark.x_mm, -mark.y_mm));
    let scale = scale(&places, landmark);
    for place in &mut places {
        (place.x, place.y) = (place.x * scale, place.y * scale);
    }
    landmark = landmark.map(|(x, y)| (x * scale, y * scale));
    let moved = push_apart(&mut places, 2.0 * RADIUS.0 + 2.0);
    let radius = (0.4 * least_distance(&places)).clamp(RADIUS.0, RADIUS.1);
    let mut plan = Plan { places, landmark, radius, width: WIDTH, height: 0.0, moved };
    centre(&mut plan);
    Some(plan)
}

/// The box round places and landmark: left, top, right, bottom.
fn bounds(places: &[Place], landmark: Option<(f64, f64)>) -> (f64, f64, f64, f64) {
    let points = places.iter().map(|place| (place.x, place.y)).chain(landmark);
    points.fold((f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY), |(l, t, r, b), (x, y)| {
        (l.min(x), t.min(y), r.max(x), b.max(y))
    })
}

fn scale(places: &[Place], landmark: Option<(f64, f64)>) -> f64 {
    let (left, top, right, bottom) = bounds(places, landmark);
    let across = (WIDTH - 2.0 * SIDE) / (right - left).max(1e-9);
    across.min(HEIGHT_MAX / (bottom - top).max(1e-9)).min(1e6)
}

/// Moves places that lie too close away from each other, a little at a time.
fn push_apart(places: &mut [Place], least: f64) -> bool {
    let mut moved = false;
    for _ in 0..60 {
        let mut calm = true;
        for i in 0..places.len() {
            for j in i + 1..places.len() {
                let (dx, dy) = (places[j].x - places[i].x, places[j].y - places[i].y);
                let distance = dx.hypot(dy);
                if distance > least - 0.1 {
                    continue;
                }
                // Two at one point part sideways.
                let (ux, uy) = if distance > 1e-6 { (dx / distance, dy / distance) } else { (1.0, 0.0) };
                let step = (least - distance) / 2.0;
                places[i].x -= ux * step;
                places[i].y -= uy * step;
                places[j].x += ux * step;
                places[j].y += uy * step;
                calm = false;
            }
        }
        if calm {
            break;
        }
        moved = true;
    }
    moved
}

fn least_distance(places: &[Place]) -> f64 {
    let mut least = f64::INFINITY;
    for (i, a) in places.iter().enumerate() {
        for b in &places[i + 1..] {
            least = least.min((a.x - b.x).hypot(a.y - b.y));
        }
    }
    least
}

/// Puts the drawing in the middle of the picture, which grows if need be.
fn centre(plan: &mut Plan) {
    let (left, top, right, bottom) = bounds(&plan.places, plan.landmark);
    plan.width = WIDTH.max(right - left + 2.0 * SIDE);
    plan.height = bottom - top + 2.0 * MARGIN;
    let (dx, dy) = ((plan.width - right - left) / 2.0, MARGIN - top);
    for place in &mut plan.places {
        place.x += dx;
        place.y += dy;
    }
    plan.landmark = plan.landmark.map(|(x, y)| (x + dx, y + dy));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Position;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn heads_lie_on_the_picture_and_not_on_each_other(points in prop::collection::vec((-300_i32..300, -300_i32..300), 1..60)) {
            let positions = points.iter().zip(1..).map(|(&(x, y), n)| Position { n, x_mm: f64::from(x), y_mm: f64::from(y) });
            let joint = Joint { positions: positions.collect(), ..Joint::bare("a.b".parse().unwrap()) };
            let plan = plan(&joint).unwrap();
            for place in &plan.places {
                prop_assert!(place.x >= plan.radius && place.x <= plan.width - plan.radius);
                prop_assert!(place.y >= plan.radius && place.y <= plan.height - plan.radius);
            }
            prop_assert!(least_distance(&plan.places) > 1.6 * RADIUS.0, "{}", least_distance(&plan.places));
        }
    }
}
