//! Where the positions come to lie on the picture.

use super::labels::{Label, Wanted, settle};
use crate::record::Joint;

/// The width of a picture in its own units, about one to a CSS pixel on a phone. No picture is wider, so that its
/// texts are as large everywhere.
pub(super) const WIDTH: f64 = 360.0;
/// The most that positions may take up from top to bottom.
const HEIGHT_MAX: f64 = 460.0;
/// Room above the highest and below the lowest thing.
const MARGIN: f64 = 8.0;
/// The largest and the smallest radius of a head.
const RADIUS: (f64, f64) = (7.0, 20.0);
/// The most that a drawing is enlarged, in units of the picture to a millimetre.
const SCALE_MAX: f64 = 5.0;

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
    /// How far places were moved apart, all together; the picture is true to scale if that is nothing.
    pub moved_by: f64,
}

impl Plan {
    /// Whether places were moved apart, so that the picture is not true to scale.
    pub fn is_moved(&self) -> bool {
        self.moved_by > 0.0
    }
}

/// A plan with the places of its texts.
#[derive(Debug)]
pub(super) struct Arranged {
    pub plan: Plan,
    /// The numbers, in the order of the places.
    pub numbers: Vec<Label>,
    /// The name of the landmark.
    pub landmark: Option<Label>,
    /// The word at the first position, if there is room for it.
    pub start: Option<Label>,
}

/// One way to lay a picture out.
#[derive(Debug, Clone, Copy)]
struct Try {
    /// How large heads are drawn, as a share of their least distance.
    share: f64,
    /// The least distance to which positions are moved apart.
    least: f64,
    /// Room beside the positions for a number of two digits; one of one digit needs 16 less.
    side: f64,
}

/// What is tried one after the other, until every text has room beside its head: large heads and true to scale first.
const TRIES: [Try; 6] = [
    Try { share: 0.4, least: 16.0, side: 54.0 },
    Try { share: 0.3, least: 16.0, side: 48.0 },
    Try { share: 0.2, least: 16.0, side: 41.0 },
    Try { share: 0.2, least: 22.0, side: 41.0 },
    Try { share: 0.2, least: 28.0, side: 41.0 },
    Try { share: 0.2, least: 34.0, side: 41.0 },
];

/// Moving positions by this much in all is as bad as one number apart from its head.
const MOVED_AS_APART: f64 = 20.0;

/// The size of words and small numbers: still 18 CSS pixels where the picture is as wide as the narrowest screen.
pub(super) const TEXT: f64 = 20.5;

/// Fits the drawn positions of a joint into a picture, with their numbers; `None` if none is drawn.
pub(super) fn arrange(joint: &Joint, start: Option<u32>) -> Option<Arranged> {
    let mut best: Option<(usize, Arranged)> = None;
    for one in TRIES {
        let arranged = with_texts(joint, plan(joint, one)?, start);
        let texts = || arranged.numbers.iter().chain(&arranged.landmark);
        let clashes = texts().filter(|label| label.clashes).count();
        let apart = texts().filter(|label| label.leader.is_some()).count();
        // Texts that cover each other are worst; then those apart from their heads, and a shape that is lost.
        let cost = clashes * 100 + apart + (arranged.plan.moved_by / MOVED_AS_APART) as usize;
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, arranged));
        }
        if clashes == 0 && apart * 12 <= joint.positions.len() {
            break;
        }
    }
    best.map(|(_, arranged)| arranged)
}

fn with_texts(joint: &Joint, plan: Plan, start: Option<u32>) -> Arranged {
    let size = if plan.radius < 9.0 { TEXT } else { 23.0 };
    let number = |place: &Place| {
        let at = (place.x, place.y);
        Wanted { at, around: plan.radius, size, text: place.n.to_string(), is_bold: true }
    };
    let mut wanted: Vec<Wanted> = plan.places.iter().map(number).collect();
    let mark = joint.landmark.as_ref().zip(plan.landmark);
    let words = |at, around, text: &str| Wanted { at, around, size: TEXT, text: text.to_owned(), is_bold: false };
    wanted.extend(mark.map(|(mark, at)| words(at, 8.0, &mark.text)));
    let first = start.and_then(|n| plan.places.iter().find(|place| place.n == n));
    wanted.extend(first.map(|place| words((place.x, place.y), plan.radius + 1.0, "start")));
    let mut labels = settle(&plan, &wanted);
    let mut start = first.is_some().then(|| labels.pop()).flatten();
    if start.as_ref().is_some_and(|label| label.clashes || label.leader.is_some()) {
        // Better no word than one that covers a number or seems to belong elsewhere: the numbers settle without it.
        wanted.pop();
        labels = settle(&plan, &wanted);
        start = None;
    }
    let landmark = mark.is_some().then(|| labels.pop()).flatten();
    let mut arranged = Arranged { numbers: labels, landmark, start, plan: Plan { height: 0.0, ..plan } };
    arranged.fit();
    arranged
}

impl Arranged {
    /// Moves everything down or up, so that the picture is as high as what is on it.
    fn fit(&mut self) {
        let heads = self.plan.places.iter().map(|place| (place.y, self.plan.radius + 6.0));
        let texts = self.numbers.iter().chain(&self.landmark).chain(&self.start);
        let all = heads.chain(texts.map(|label| (label.y, 0.5 * label.size)));
        let all = all.chain(self.plan.landmark.map(|(_, y)| (y, 6.0)));
        let (top, bottom) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(top, bottom), (y, half)| {
            (top.min(y - half), bottom.max(y + half))
        });
        let down = MARGIN - top;
        self.plan.height = bottom - top + 2.0 * MARGIN;
        self.plan.places.iter_mut().for_each(|place| place.y += down);
        self.plan.landmark = self.plan.landmark.map(|(x, y)| (x, y + down));
        for label in self.numbers.iter_mut().chain(&mut self.landmark).chain(&mut self.start) {
            label.y += down;
            label.leader = label.leader.map(|(from, to)| ((from.0, from.1 + down), (to.0, to.1 + down)));
        }
    }
}

/// The places of the positions; `None` if there are none.
fn plan(joint: &Joint, Try { share, least, side }: Try) -> Option<Plan> {
    if joint.positions.is_empty() {
        return None;
    }
    let mut places: Vec<Place> = joint.positions.iter().map(|p| Place { n: p.n, x: p.x_mm, y: -p.y_mm }).collect();
    let mut landmark = joint.landmark.as_ref().map(|mark| (mark.x_mm, -mark.y_mm));
    let side = if joint.positions.iter().all(|position| position.n < 10) { side - 16.0 } else { side };
    let scale = scale(&places, landmark, side);
    let (left, _, right, _) = bounds(&places, landmark);
    let onto = |x: f64, y: f64| ((x - f64::midpoint(left, right)) * scale + WIDTH / 2.0, y * scale);
    for place in &mut places {
        (place.x, place.y) = onto(place.x, place.y);
    }
    landmark = landmark.map(|(x, y)| onto(x, y));
    let drawn = places.clone();
    push_apart(&mut places, least, side);
    let radius = (share * least_distance(&places)).clamp(RADIUS.0, RADIUS.1);
    let moved_by = drawn.iter().zip(&places).map(|(a, b)| (a.x - b.x).hypot(a.y - b.y)).sum();
    Some(Plan { places, landmark, radius, width: WIDTH, height: 0.0, moved_by })
}

/// The box round places and landmark: left, top, right, bottom.
fn bounds(places: &[Place], landmark: Option<(f64, f64)>) -> (f64, f64, f64, f64) {
    let points = places.iter().map(|place| (place.x, place.y)).chain(landmark);
    points.fold((f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY), |(l, t, r, b), (x, y)| {
        (l.min(x), t.min(y), r.max(x), b.max(y))
    })
}

fn scale(places: &[Place], landmark: Option<(f64, f64)>, side: f64) -> f64 {
    let (left, top, right, bottom) = bounds(places, landmark);
    let across = (WIDTH - 2.0 * side) / (right - left).max(1e-9);
    across.min(HEIGHT_MAX / (bottom - top).max(1e-9)).min(SCALE_MAX)
}

/// Moves places that lie too close away from each other, a little at a time. They stay within the width of the
/// picture: a row that is too long for it becomes a zigzag.
fn push_apart(places: &mut [Place], least: f64, side: f64) {
    if least_distance(places) > least - 0.1 {
        return;
    }
    // Places that lie exactly in a row part to both sides of it.
    for (i, place) in places.iter_mut().enumerate() {
        place.y += if i % 2 == 0 { 0.4 } else { -0.4 };
    }
    for _ in 0..300 {
        let mut calm = true;
        for i in 0..places.len() {
            for j in i + 1..places.len() {
                let (dx, dy) = (places[j].x - places[i].x, places[j].y - places[i].y);
                let distance = dx.hypot(dy);
                if distance > least - 0.1 {
                    continue;
                }
                let (ux, uy) = if distance > 1e-6 { (dx / distance, dy / distance) } else { (1.0, 0.0) };
                let step = (least - distance) / 2.0;
                for (at, sign) in [(i, -1.0), (j, 1.0)] {
                    places[at].x = (places[at].x + sign * ux * step).clamp(side, WIDTH - side);
                    places[at].y += sign * uy * step;
                }
                calm = false;
            }
        }
        if calm {
            break;
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Landmark, Position};
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn joint(points: impl IntoIterator<Item = (f64, f64)>, mark: Option<(f64, f64)>) -> Joint {
        let positions = points.into_iter().zip(1..).map(|((x_mm, y_mm), n)| Position { n, x_mm, y_mm });
        let landmark = mark.map(|(x_mm, y_mm)| Landmark { text: "Inlet".parse().unwrap(), x_mm, y_mm });
        Joint { positions: positions.collect(), landmark, ..Joint::bare("a.b".parse().unwrap()) }
    }

    fn ring(count: u32, radius: f64) -> Vec<(f64, f64)> {
        let point = |i| (f64::from(i) / f64::from(count) * TAU).sin_cos();
        (0..count).map(point).map(|(x, y)| (radius * x, radius * y)).collect()
    }

    fn grid(columns: u32, rows: u32) -> Vec<(f64, f64)> {
        (0..columns * rows).map(|i| (f64::from(i % columns) * 30.0, -f64::from(i / columns) * 30.0)).collect()
    }

    /// Heads that lie on each other, texts that cover a head or a text, things beyond the edge.
    fn faults(joint: &Joint) -> Vec<String> {
        let arranged = arrange(joint, joint.positions.first().map(|position| position.n)).unwrap();
        let plan = &arranged.plan;
        let mut faults = Vec::new();
        for (i, place) in plan.places.iter().enumerate() {
            let is_inside = place.x >= plan.radius && place.x <= plan.width - plan.radius;
            if !is_inside || place.y < plan.radius || place.y > plan.height - plan.radius {
                faults.push(format!("{} lies beyond the edge", place.n));
            }
            for other in &plan.places[i + 1..] {
                if (place.x - other.x).hypot(place.y - other.y) < 1.8 * RADIUS.0 {
                    faults.push(format!("{} lies on {}", place.n, other.n));
                }
            }
        }
        let texts: Vec<&Label> = arranged.numbers.iter().chain(&arranged.landmark).chain(&arranged.start).collect();
        // Measured by themselves, not as they were laid: digits 0.58 of their size wide and 0.72 high.
        let half = |label: &Label| (label.text.chars().count() as f64 * 0.29 * label.size, 0.36 * label.size);
        for (i, a) in texts.iter().enumerate() {
            let (width, height) = half(a);
            if a.x < width || a.x > plan.width - width || a.y < height || a.y > plan.height - height {
                faults.push(format!("{} is cut at the edge", a.text));
            }
            for b in &texts[i + 1..] {
                let other = half(b);
                if (a.x - b.x).abs() < width + other.0 && (a.y - b.y).abs() < height + other.1 {
                    faults.push(format!("{} covers {}", a.text, b.text));
                }
            }
            for place in &plan.places {
                let (dx, dy) = ((a.x - place.x).abs() - width, (a.y - place.y).abs() - height);
                if dx.max(0.0).hypot(dy.max(0.0)) < plan.radius - 1.0 {
                    faults.push(format!("{} covers the head of {}", a.text, place.n));
                }
            }
        }
        faults
    }

    #[test]
    fn every_number_can_be_read_on_layouts_of_up_to_60() {
        let two_rings: Vec<_> = ring(20, 60.0).into_iter().chain(ring(40, 110.0)).collect();
        let cases = [
            ("one", ring(1, 50.0)),
            ("a ring of 12", ring(12, 100.0)),
            ("a ring of 24", ring(24, 100.0)),
            ("a ring of 40", ring(40, 100.0)),
            ("a ring of 60", ring(60, 100.0)),
            ("two rings", two_rings),
            ("a row of 9", grid(9, 1)),
            ("a row of 20", grid(20, 1)),
            ("two rows of 5", grid(5, 2)),
            ("two rows of 15", grid(15, 2)),
            ("two rows of 30", grid(30, 2)),
            ("a column of 20", grid(1, 20)),
            ("6 by 10", grid(6, 10)),
            ("10 by 6", grid(10, 6)),
            ("at one point", vec![(3.0, 4.0); 9]),
        ];
        for (name, points) in cases {
            for mark in [None, Some((points[0].0 - 10.0, points[0].1 + 12.0))] {
                let faults = faults(&joint(points.clone(), mark));
                assert!(faults.is_empty(), "{name}: {faults:?}");
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn every_number_can_be_read_wherever_positions_lie(
            points in prop::collection::vec((-30_i32..30, -20_i32..20), 1..61),
        ) {
            let points = points.iter().map(|&(x, y)| (f64::from(x) * 10.0, f64::from(y) * 10.0));
            let faults = faults(&joint(points, None));
            prop_assert!(faults.is_empty(), "{:?}", faults);
        }
    }
}
