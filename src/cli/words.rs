//! Names of members as people read them: `stress_area_mm2` is a stress area in mm².

use super::layout;
use super::table::cell;
use serde_json::{Map, Value};

/// The last part of a name that is a unit, and how the unit is written.
const UNITS: &[(&str, &str)] = &[
    ("mm2", "mm²"),
    ("in2", "in²"),
    ("mm", "mm"),
    ("mpa", "MPa"),
    ("nm", "N·m"),
    ("n", "N"),
    ("deg", "°"),
    ("percent", "%"),
    ("diameters", "diameters"),
];

/// A name without its unit, and the unit.
fn parted(name: &str) -> (String, Option<&'static str>) {
    let unit = name
        .rsplit_once('_')
        .and_then(|(before, last)| UNITS.iter().find(|(suffix, _)| *suffix == last).map(|(_, unit)| (before, *unit)));
    match unit {
        Some((before, unit)) => (before.replace('_', " "), Some(unit)),
        None => (name.replace('_', " "), None),
    }
}

/// A name as the heading of a column: `stress area mm²`.
#[must_use]
pub fn heading(name: &str) -> String {
    match parted(name) {
        (words, Some(unit)) => format!("{words} {unit}"),
        (words, None) => words,
    }
}

/// A name and its value for a line: `stress area` and `36.6 mm²`.
#[must_use]
pub fn named(name: &str, value: &Value) -> (String, String) {
    let text = cell(value);
    match parted(name) {
        (words, Some(unit)) if value.is_number() => {
            (words, if unit == "°" { format!("{text}{unit}") } else { format!("{text} {unit}") })
        }
        (words, None) => (words, text),
        (words, Some(unit)) => (format!("{words} {unit}"), text),
    }
}

/// The members of a value one a line, what belongs together indented.
#[must_use]
pub fn lines_of(members: &Map<String, Value>, width: usize) -> String {
    let mut text = String::new();
    write_members(members, 0, width, &mut text);
    text
}

fn write_members(members: &Map<String, Value>, depth: usize, width: usize, text: &mut String) {
    let indent = "  ".repeat(depth);
    let is_short = |value: &Value| match value {
        Value::Object(_) => false,
        Value::Array(items) => !items.iter().any(Value::is_object),
        _ => true,
    };
    let short = members.iter().filter(|(_, value)| is_short(value));
    let widest = short.map(|(name, value)| layout::length(&named(name, value).0)).max().unwrap_or(0);
    for (name, value) in members {
        match value {
            Value::Object(inner) => {
                *text += &format!("{indent}{}\n", heading(name));
                write_members(inner, depth + 1, width, text);
            }
            Value::Array(items) if items.iter().any(Value::is_object) => {
                *text += &format!("{indent}{}\n", heading(name));
                for item in items {
                    let first = format!("{indent}  ");
                    *text += &layout::fill(&in_one_line(item), width, &first, &format!("{first}  "));
                }
            }
            value => {
                let (words, value) = match value {
                    Value::Array(items) => {
                        let between = if name == "stages" { " → " } else { " · " };
                        (heading(name), items.iter().map(cell).collect::<Vec<_>>().join(between))
                    }
                    value => named(name, value),
                };
                let first = format!("{indent}{words:widest$}  ");
                *text += &layout::fill(&value, width, &first, &" ".repeat(layout::length(&first)));
            }
        }
    }
}

/// A value of several members in one line: `item O-ring 48 × 2 · count 1`.
fn in_one_line(value: &Value) -> String {
    let Value::Object(members) = value else { return cell(value) };
    let part = |(name, value): (&String, &Value)| {
        let (words, value) = named(name, value);
        format!("{words} {value}")
    };
    members.iter().map(part).collect::<Vec<_>>().join(" · ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_unit_at_the_end_of_a_name_goes_to_the_number() {
        assert_eq!(named("stress_area_mm2", &json!(36.6)), ("stress area".to_owned(), "36.6 mm²".to_owned()));
        assert_eq!(named("helix_angle_deg", &json!(2.5)), ("helix angle".to_owned(), "2.5°".to_owned()));
        assert_eq!(named("position", &json!(2)), ("position".to_owned(), "2".to_owned()));
        assert_eq!(heading("tensile_mpa"), "tensile MPa");
        assert_eq!(heading("n"), "n");
    }

    #[test]
    fn members_stand_one_a_line() {
        let value = json!({ "id": "a.b", "stages": ["hand", "8 N·m"], "source": { "page": "41" },
            "renew": [{ "item": "O-ring", "count": 2 }] });
        assert_eq!(
            lines_of(value.as_object().unwrap(), 80),
            "id      a.b\nstages  hand → 8 N·m\nsource\n  page  41\nrenew\n  item O-ring · count 2\n"
        );
    }
}
