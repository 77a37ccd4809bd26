//! Where numbers and words find room between the heads.

use super::plan::Plan;
use std::collections::VecDeque;
use std::f64::consts::TAU;

/// A text that wants a place beside something.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    /// What it belongs to.
    pub at: (f64, f64),
    /// How far round that point the thing itself reaches.
    pub around: f64,
    pub size: f64,
    pub text: String,
    pub is_bold: bool,
}

/// A text with its place.
#[derive(Debug, Clone)]
pub(super) struct Label {
    /// The middle of the text.
    pub x: f64,
    pub y: f64,
    pub size: f64,
    pub text: String,
    /// A line from the thing to its text, where they do not touch.
    pub leader: Option<Line>,
    /// Whether it covers a head or another text.
    pub clashes: bool,
}

/// A straight line from one point to another.
type Line = ((f64, f64), (f64, f64));

/// The box of a text: its middle and half its size.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TextBox {
    x: f64,
    y: f64,
    half_width: f64,
    half_height: f64,
}

impl TextBox {
    fn of(wanted: &Wanted) -> Self {
        // Digits and letters of the common faces are a little over half as wide as they are high, bold ones wider.
        let share = if wanted.is_bold { 0.64 } else { 0.58 };
        let width = wanted.text.chars().count() as f64 * wanted.size * share;
        Self { x: wanted.at.0, y: wanted.at.1, half_width: width / 2.0 + 1.0, half_height: wanted.size * 0.4 }
    }

    /// How deep two boxes lie in each other.
    fn depth(self, other: Self) -> f64 {
        let across = self.half_width + other.half_width - (self.x - other.x).abs();
        let down = self.half_height + other.half_height - (self.y - other.y).abs();
        across.min(down).max(0.0)
    }

    /// The point of the box that is nearest to another point.
    fn nearest(self, (x, y): (f64, f64)) -> (f64, f64) {
        (
            x.clamp(self.x - self.half_width, self.x + self.half_width),
            y.clamp(self.y - self.half_height, self.y + self.half_height),
        )
    }

    /// How far a point lies outside the box.
    fn distance(self, point: (f64, f64)) -> f64 {
        let nearest = self.nearest(point);
        (nearest.0 - point.0).hypot(nearest.1 - point.1)
    }

    /// How far it reaches over the left and the right edge of a picture. Downwards and upwards a picture grows.
    fn outside(self, width: f64) -> f64 {
        (self.half_width + 1.0 - self.x).max(0.0) + (self.x + self.half_width + 1.0 - width).max(0.0)
    }

    fn is_crossed_by(self, (from, to): Line) -> bool {
        (1..12).any(|i| {
            let share = f64::from(i) / 12.0;
            let point = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            self.distance(point) <= 0.0
        })
    }
}

/// From how far off a text is joined to its thing by a line.
const FAR: f64 = 6.0;
/// The costs of covering a head, a text or the edge, and of a line through either.
const CLASH: f64 = 60.0;
const CROSSING: f64 = 25.0;
/// What each time a text is driven out adds to the cost of driving it out again.
const DRIVEN_OUT: f64 = 20.0;

/// Finds a place for each text, so that none covers a head or another text if that can be had.
///
/// A text takes the place that costs least and drives out what stands there; what was driven out looks again.
pub(super) fn settle(plan: &Plan, wanted: &[Wanted]) -> Vec<Label> {
    let room = Room::new(plan);
    let mut placed: Vec<Option<Spot>> = vec![None; wanted.len()];
    let mut stays: Vec<f64> = vec![CLASH; wanted.len()];
    let mut waiting: VecDeque<usize> = (0..wanted.len()).collect();
    let mut steps = wanted.len() * 10;
    while let Some(i) = waiting.pop_front() {
        let spot = room.best(&wanted[i], i, &placed, &stays);
        for (j, other) in placed.iter().enumerate() {
            let is_driven = other.is_some_and(|other| other.text.depth(spot.text) > 0.0);
            if j != i && is_driven && steps > 0 {
                steps -= 1;
                stays[j] += DRIVEN_OUT;
                waiting.push_back(j);
            }
        }
        for &j in &waiting {
            if placed[j].is_some_and(|other| other.text.depth(spot.text) > 0.0) {
                placed[j] = None;
            }
        }
        placed[i] = Some(spot);
    }
    let spots: Vec<Spot> = placed.iter().flatten().copied().collect();
    let labels = wanted.iter().zip(&spots).enumerate().map(|(i, (wanted, spot))| {
        let others = spots.iter().enumerate().filter(|(j, _)| *j != i);
        let covers = others.map(|(_, other)| spot.text.depth(other.text)).fold(0.0, f64::max);
        Label {
            x: spot.text.x,
            y: spot.text.y,
            size: wanted.size,
            text: wanted.text.clone(),
            leader: spot.leader,
            clashes: covers > 0.0 || room.covered(spot.text) > 0.0 || spot.text.outside(room.width) > 0.0,
        }
    });
    labels.collect()
}

/// A place for a text.
#[derive(Debug, Clone, Copy)]
struct Spot {
    text: TextBox,
    leader: Option<Line>,
}

/// The room on a picture.
#[derive(Debug)]
struct Room {
    heads: Vec<(f64, f64)>,
    radius: f64,
    centre: (f64, f64),
    width: f64,
}

impl Room {
    /// The room round the heads of a plan.
    fn new(plan: &Plan) -> Self {
        let count = plan.places.len() as f64;
        let centre = (
            plan.places.iter().map(|p| p.x).sum::<f64>() / count,
            plan.places.iter().map(|p| p.y).sum::<f64>() / count,
        );
        let heads = plan.places.iter().map(|place| (place.x, place.y)).collect();
        Self { heads, radius: plan.radius + 1.0, centre, width: plan.width }
    }

    /// The place that costs least: rather outwards than inwards, rather near than far, covering nothing.
    fn best(&self, wanted: &Wanted, i: usize, placed: &[Option<Spot>], stays: &[f64]) -> Spot {
        let outward = (wanted.at.1 - self.centre.1).atan2(wanted.at.0 - self.centre.0);
        let mut best: Option<(f64, Spot)> = None;
        for ring in 0..6 {
            let farther = f64::from(ring * ring + ring) * wanted.size * 0.2;
            for sixteenth in 0..16 {
                let turn = f64::from(sixteenth) / 16.0 * TAU;
                let spot = beside(wanted, outward + turn, farther);
                let mut cost = (1.0 - turn.cos()) * 5.0 + farther * 0.35;
                if best.is_some_and(|(least, _)| cost >= least) {
                    continue;
                }
                cost += self.cost(wanted, spot);
                for (j, other) in placed.iter().enumerate().filter(|(j, _)| *j != i) {
                    let Some(other) = other else { continue };
                    let depth = spot.text.depth(other.text);
                    if depth > 0.0 {
                        cost += stays[j] + depth * 3.0;
                    }
                    let is_crossed = other.leader.is_some_and(|line| spot.text.is_crossed_by(line))
                        || spot.leader.is_some_and(|line| other.text.is_crossed_by(line));
                    cost += if is_crossed { CROSSING } else { 0.0 };
                }
                if best.is_none_or(|(least, _)| cost < least - 1e-6) {
                    best = Some((cost, spot));
                }
            }
        }
        best.map_or_else(|| beside(wanted, outward, 0.0), |(_, spot)| spot)
    }

    /// What a place costs before any other text is looked at.
    fn cost(&self, wanted: &Wanted, spot: Spot) -> f64 {
        let covered = self.covered(spot.text);
        let outside = spot.text.outside(self.width);
        let mut cost = covered * 8.0 + outside * 20.0;
        cost += if covered > 0.0 { 2.0 * CLASH } else { 0.0 } + if outside > 0.0 { 4.0 * CLASH } else { 0.0 };
        if let Some(line) = spot.leader {
            let others = self.heads.iter().filter(|head| **head != wanted.at);
            cost += others.filter(|head| distance_to_line(**head, line) < self.radius).count() as f64 * CROSSING;
        }
        cost
    }

    /// How deep a box lies in the heads.
    fn covered(&self, text: TextBox) -> f64 {
        self.heads.iter().map(|&head| (self.radius - text.distance(head)).max(0.0)).sum()
    }
}

/// How far a point lies from a line.
fn distance_to_line(point: (f64, f64), (from, to): Line) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let share = ((point.0 - from.0) * dx + (point.1 - from.1) * dy) / (dx * dx + dy * dy).max(1e-9);
    let share = share.clamp(0.0, 1.0);
    (from.0 + share * dx - point.0).hypot(from.1 + share * dy - point.1)
}

/// A text that touches its thing from this direction, or lies farther off.
fn beside(wanted: &Wanted, direction: f64, farther: f64) -> Spot {
    let (sin, cos) = direction.sin_cos();
    let text = TextBox::of(wanted);
    // Until the nearest corner or edge is clear of the thing.
    let mut far = wanted.around + 2.0 + (text.half_width * cos).abs().min(text.half_height * sin.abs()).max(0.0);
    let at = |far: f64| TextBox { x: wanted.at.0 + far * cos, y: wanted.at.1 + far * sin, ..text };
    while at(far).distance(wanted.at) < wanted.around + 2.0 {
        far += 1.0;
    }
    let text = at(far + farther);
    let end = text.nearest(wanted.at);
    let gap = text.distance(wanted.at) - wanted.around;
    let leader = (gap > FAR).then(|| {
        let share = wanted.around / text.distance(wanted.at);
        let (dx, dy) = (end.0 - wanted.at.0, end.1 - wanted.at.1);
        ((wanted.at.0 + dx * share, wanted.at.1 + dy * share), end)
    });
    Spot { text, leader }
}
