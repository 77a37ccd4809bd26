//! What a drawing says to those who do not see it.

use super::Look;
use crate::card::passes::sits_at;
use crate::card::shapes::head_words;
use crate::record::{Fastener, Joint};
use std::collections::BTreeMap;

/// The name of the drawing.
pub(super) fn title(joint: &Joint) -> String {
    let name = joint.title.as_ref().map_or(joint.id.as_str(), |title| title.as_str());
    format!("Positions of {name}")
}

/// From where the joint is seen, and whether the picture is true to scale; nothing if there is nothing to say.
pub(super) fn view(joint: &Joint, moved: bool) -> Option<String> {
    let mut said = Vec::new();
    if let Some(view) = &joint.view {
        said.push(format!("Seen {view}"));
    }
    if moved {
        said.push("Positions moved apart to be told apart".to_owned());
    }
    (!said.is_empty()).then(|| said.join(". "))
}

/// The whole picture in sentences.
pub(super) fn description(joint: &Joint, fasteners: &[&Fastener], look: &Look) -> String {
    let mut said = vec![count(joint)];
    if let Some(view) = &joint.view {
        said.push(format!("Seen {view}."));
    }
    if let Some(mark) = &joint.landmark {
        said.push(format!("{} is marked {}.", mark.text, side(joint)));
    }
    if !look.order.is_empty() {
        let how = if look.order_words.is_empty() { String::new() } else { format!(" ({})", look.order_words) };
        said.push(format!("Order: {}{how}.", listed(&look.order)));
    }
    said.extend(heads(joint, fasteners));
    if !look.done.is_empty() {
        said.push(format!("Done: {}.", listed(&look.done.iter().copied().collect::<Vec<_>>())));
    }
    if let Some(now) = look.now {
        said.push(format!("Now: {now}."));
    }
    said.join(" ")
}

fn count(joint: &Joint) -> String {
    match joint.positions.len() {
        1 => "1 position.".to_owned(),
        count => format!("{count} positions."),
    }
}

/// Numbers with runs drawn together only in lists of positions, never in orders.
pub(super) fn listed(numbers: &[u32]) -> String {
    numbers.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}

/// On which side of the positions the landmark lies.
fn side(joint: &Joint) -> String {
    let Some(mark) = &joint.landmark else { return String::new() };
    let range = |values: Vec<f64>| {
        values.into_iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
    };
    let (left, right) = range(joint.positions.iter().map(|p| p.x_mm).collect());
    let (bottom, top) = range(joint.positions.iter().map(|p| p.y_mm).collect());
    let third = |at: f64, low: f64, high: f64, words: [&'static str; 3]| {
        let share = if high > low { (at - low) / (high - low) } else { 0.5 };
        let beyond = high <= low && (at - low).abs() > 1e-9;
        match share {
            _ if beyond => words[if at > low { 2 } else { 0 }],
            share if share < 1.0 / 3.0 => words[0],
            share if share > 2.0 / 3.0 => words[2],
            _ => words[1],
        }
    };
    let down = third(mark.y_mm, bottom, top, ["bottom", "", "top"]);
    let across = third(mark.x_mm, left, right, ["left", "", "right"]);
    match (down, across) {
        ("", "") => "in the middle".to_owned(),
        (down, across) => format!("at the {}", [down, across].join(" ").trim()),
    }
}

/// Which head sits where.
fn heads(joint: &Joint, fasteners: &[&Fastener]) -> Vec<String> {
    let mut by_head: BTreeMap<String, Vec<u32>> = BTreeMap::new();
    for position in &joint.positions {
        let mut kinds: Vec<String> = Vec::new();
        for fastener in fasteners.iter().filter(|fastener| sits_at(fastener, position.n)) {
            let words = head_words(fastener.head, fastener.drive.as_ref());
            if !kinds.contains(&words) {
                kinds.push(words);
            }
        }
        let kind = if kinds.is_empty() { "No record says what sits".to_owned() } else { kinds.join(" or ") };
        by_head.entry(kind).or_default().push(position.n);
    }
    let mut said: Vec<(Vec<u32>, String)> = by_head.into_iter().map(|(kind, at)| (at, kind)).collect();
    said.sort();
    said.into_iter().map(|(at, kind)| format!("{} at {}.", capitalised(&kind), listed(&at))).collect()
}

/// With its first letter large.
fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
