//! The heads of fasteners as seen from above, in their real outlines.

use super::svg::Short;
use crate::record::{Drive, DriveType, Head};
use std::f64::consts::TAU;
use std::fmt::Write;

/// The drawing of a head about the point 0, 0.
///
/// Outer outline by the kind of head, recess or thread inside by the drive. A head that is not stated is a broken
/// circle with a question mark.
#[must_use]
pub fn head(kind: Option<Head>, drive: Option<&Drive>, radius: f64) -> String {
    let mut out = String::new();
    let r = radius;
    match kind {
        None => return unknown("?", r),
        Some(Head::Hexagon) => out.push_str(&face(&hexagon(r))),
        Some(Head::HexagonFlange) => flange(&mut out, r, &hexagon(0.8 * r)),
        Some(Head::ExternalHexalobularFlange) => flange(&mut out, r, &lobes(0.78 * r)),
        Some(Head::TwelvePointFlange) => flange(&mut out, r, &twelve_points(0.8 * r)),
        Some(Head::Square) => out.push_str(&face(&square(r))),
        Some(Head::HexagonNut) => {
            out.push_str(&face(&hexagon(r)));
            out.push_str(&thread(0.5 * r));
        }
        Some(Head::FlangeNut) => {
            flange(&mut out, r, &hexagon(0.8 * r));
            out.push_str(&thread(0.42 * r));
        }
        Some(Head::SocketCap | Head::Cheese) => out.push_str(&circle(r, "")),
        Some(Head::Pan) => {
            out.push_str(&circle(r, ""));
            out.push_str(&circle(0.78 * r, " stroke-opacity=\"0.6\""));
        }
        Some(Head::Button) => {
            out.push_str(&circle(r, ""));
            out.push_str(&arc(0.74 * r, true));
            out.push_str(&arc(0.74 * r, false));
        }
        Some(Head::Countersunk) => {
            out.push_str(&circle(r, " stroke-dasharray=\"1 3\""));
            out.push_str(&circle(0.8 * r, ""));
        }
        Some(Head::Round) => {
            out.push_str(&circle(r, ""));
            out.push_str(&arc(0.55 * r, true));
        }
        Some(Head::None) => {
            out.push_str(&circle(0.8 * r, ""));
            out.push_str(&thread(0.58 * r));
        }
    }
    if let Some(drive) = drive {
        out.push_str(&recess(drive.kind, r));
    }
    out
}

/// Heads of more than one kind at one place: which one it is depends on the machine.
#[must_use]
pub fn either(radius: f64) -> String {
    unknown("or", radius)
}

fn unknown(word: &str, r: f64) -> String {
    let mut out = circle(r, " stroke-dasharray=\"3 3\"");
    let size = if word.len() > 1 { r } else { 1.2 * r };
    let _ = write!(
        out,
        "<text y=\"{}\" font-size=\"{}\" text-anchor=\"middle\" fill=\"currentColor\" stroke=\"none\">{word}</text>",
        Short(0.36 * size),
        Short(size)
    );
    out
}

/// What the tool goes into, filled; nothing for drives outside the head.
fn recess(drive: DriveType, r: f64) -> String {
    match drive {
        DriveType::HexagonSocket => hole(&hexagon(0.5 * r)),
        DriveType::HexalobularSocket => hole(&lobes(0.52 * r)),
        DriveType::CrossRecess => {
            let (a, b) = (Short(0.13 * r), Short(0.5 * r));
            let (c, d) = (Short(-0.13 * r), Short(-0.5 * r));
            hole(&format!("M{c} {d}H{a}V{c}H{b}V{a}H{a}V{b}H{c}V{a}H{d}V{c}H{c}Z"))
        }
        DriveType::Slot => {
            let (wide, high) = (Short(0.7 * r), Short(0.12 * r));
            let (left, top) = (Short(-0.7 * r), Short(-0.12 * r));
            hole(&format!("M{left} {top}H{wide}V{high}H{left}Z"))
        }
        DriveType::Hexagon
        | DriveType::ExternalHexalobular
        | DriveType::TwelvePoint
        | DriveType::Square
        | DriveType::None => String::new(),
    }
}

/// A head on a flange. Where it is small the head is filled: outlines within outlines all look like rings.
fn flange(out: &mut String, r: f64, inside: &str) {
    if r < SMALL {
        out.push_str(&circle(r, " stroke-width=\"1\""));
        out.push_str(&hole(inside));
    } else {
        out.push_str(&circle(r, ""));
        out.push_str(&face(inside));
    }
}

/// Below this radius heads are drawn for being told apart, not for being looked at.
const SMALL: f64 = 11.0;

/// The gleam on a rounded head: a quarter of a circle, at the upper left or the lower right.
fn arc(r: f64, upper: bool) -> String {
    let (far, r) = (if upper { Short(-r) } else { Short(r) }, Short(r));
    line(&format!("M{far} 0A{r} {r} 0 0 1 0 {far}"))
}

/// The end of a thread as drawings show it: three quarters of a circle.
fn thread(r: f64) -> String {
    let r = Short(r);
    let back = Short(-r.0);
    line(&format!("M0 {back}A{r} {r} 0 1 1 {back} 0"))
}

fn circle(r: f64, attributes: &str) -> String {
    format!("<circle class=\"paper\" r=\"{}\" fill=\"white\" stroke=\"currentColor\"{attributes}/>", Short(r))
}

fn face(path: &str) -> String {
    format!("<path class=\"paper\" d=\"{path}\" fill=\"white\" stroke=\"currentColor\"/>")
}

fn hole(path: &str) -> String {
    format!("<path d=\"{path}\" fill=\"currentColor\"/>")
}

fn line(path: &str) -> String {
    format!("<path d=\"{path}\" stroke=\"currentColor\"/>")
}

fn square(r: f64) -> String {
    let (low, high) = (Short(-0.8 * r), Short(0.8 * r));
    format!("M{low} {low}H{high}V{high}H{low}Z")
}

fn hexagon(r: f64) -> String {
    polygon((0..6).map(|i| (r, f64::from(i) / 6.0)))
}

fn twelve_points(r: f64) -> String {
    polygon((0..24).map(|i| (if i % 2 == 0 { r } else { 0.83 * r }, f64::from(i) / 24.0)))
}

/// Six lobes with rounded hollows between them.
fn lobes(r: f64) -> String {
    let hollow = if r < SMALL { 0.22 } else { 0.14 };
    polygon((0..48).map(|i| {
        let turn = f64::from(i) / 48.0;
        (r * (1.0 - hollow + hollow * (6.0 * turn * TAU).cos()), turn)
    }))
}

fn polygon(corners: impl Iterator<Item = (f64, f64)>) -> String {
    let mut path = String::new();
    for (i, (r, turn)) in corners.enumerate() {
        let (y, x) = (turn * TAU).sin_cos();
        let _ = write!(path, "{}{} {}", if i == 0 { 'M' } else { 'L' }, Short(r * x), Short(r * y));
    }
    path.push('Z');
    path
}

/// A head with its drive as a picture of its own, hidden from readers of text: the words stand beside it.
#[must_use]
pub fn head_picture(kind: Option<Head>, drive: Option<&Drive>) -> String {
    format!(
        "<svg class=\"head\" viewBox=\"-20 -20 40 40\" width=\"40\" height=\"40\" aria-hidden=\"true\" fill=\"none\" \
         stroke-width=\"2\" stroke-linejoin=\"round\">{}</svg>",
        head(kind, drive, 17.0)
    )
}

/// Every head (`head-hexagon`, `head-unknown`) and every recess (`drive-slot`) as symbols, from which a script puts the
/// picture of any head together.
#[must_use]
pub fn head_symbols() -> String {
    let symbol = |id: &str, shape: &str| format!("<symbol id=\"{id}\" viewBox=\"-20 -20 40 40\">{shape}</symbol>");
    let heads = Head::ALL.iter().map(|kind| symbol(&format!("head-{kind}"), &head(Some(*kind), None, 17.0)));
    let recesses = DriveType::ALL.iter().map(|kind| (kind, recess(*kind, 17.0))).filter(|(_, shape)| !shape.is_empty());
    let recesses = recesses.map(|(kind, shape)| symbol(&format!("drive-{kind}"), &shape));
    let all: String = heads.chain([symbol("head-unknown", &head(None, None, 17.0))]).chain(recesses).collect();
    format!("<svg class=\"symbols\" width=\"0\" height=\"0\" aria-hidden=\"true\">{all}</svg>")
}

/// Head and drive in words: `hexagon flange head, 13 mm`, `socket cap head, hexalobular socket T45`.
#[must_use]
pub fn head_words(kind: Option<Head>, drive: Option<&Drive>) -> String {
    let head = match kind {
        None => "head not stated".to_owned(),
        Some(Head::None) => "no head".to_owned(),
        Some(nut @ (Head::HexagonNut | Head::FlangeNut)) => nut.words(),
        Some(kind) => format!("{} head", kind.words()),
    };
    match drive {
        None => head,
        Some(Drive { kind: DriveType::None, .. }) => format!("{head}, no drive"),
        Some(drive) if is_implied(kind, drive.kind) => {
            drive.size.as_ref().map_or(head.clone(), |size| format!("{head}, {size}"))
        }
        Some(drive) => format!("{head}, {drive}"),
    }
}

/// Whether the name of a head says already what drives it.
fn is_implied(kind: Option<Head>, drive: DriveType) -> bool {
    match drive {
        DriveType::Hexagon => {
            matches!(kind, Some(Head::Hexagon | Head::HexagonFlange | Head::HexagonNut | Head::FlangeNut))
        }
        DriveType::ExternalHexalobular => kind == Some(Head::ExternalHexalobularFlange),
        DriveType::TwelvePoint => kind == Some(Head::TwelvePointFlange),
        DriveType::Square => kind == Some(Head::Square),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn no_two_heads_look_alike() {
        let drives: Vec<Option<Drive>> = [None]
            .into_iter()
            .chain(
                [DriveType::HexagonSocket, DriveType::HexalobularSocket, DriveType::CrossRecess, DriveType::Slot]
                    .map(|kind| Some(Drive { kind, size: None })),
            )
            .collect();
        for drive in &drives {
            let mut seen: BTreeMap<String, Head> = BTreeMap::new();
            for &kind in Head::ALL {
                // Socket cap and cheese heads are both plain cylinders: their drives tell them apart.
                if kind == Head::Cheese {
                    continue;
                }
                let twin = seen.insert(head(Some(kind), drive.as_ref(), 17.0), kind);
                assert!(twin.is_none(), "{twin:?} looks like {kind}");
            }
        }
        let recesses: Vec<String> = drives.iter().map(|drive| head(Some(Head::Pan), drive.as_ref(), 17.0)).collect();
        assert!(recesses.iter().enumerate().all(|(i, a)| recesses[i + 1..].iter().all(|b| a != b)));
    }

    #[test]
    fn heads_are_named_in_words() {
        let drive = |kind, size: &str| Some(Drive { kind, size: Some(size.parse().unwrap()) });
        let words = |kind, drive: Option<Drive>| head_words(Some(kind), drive.as_ref());
        assert_eq!(words(Head::HexagonFlange, drive(DriveType::Hexagon, "13 mm")), "hexagon flange head, 13 mm");
        assert_eq!(
            words(Head::SocketCap, drive(DriveType::HexalobularSocket, "T45")),
            "socket cap head, hexalobular socket T45"
        );
        assert_eq!(
            words(Head::ExternalHexalobularFlange, drive(DriveType::ExternalHexalobular, "E18")),
            "external hexalobular flange head, E18"
        );
        assert_eq!(
            words(Head::SocketCap, Some(Drive { kind: DriveType::HexagonSocket, size: None })),
            "socket cap head, hexagon socket"
        );
        let bare = Some(Drive { kind: DriveType::Hexagon, size: None });
        assert_eq!(words(Head::Hexagon, bare), "hexagon head");
        assert_eq!(words(Head::FlangeNut, None), "flange nut");
        assert_eq!(words(Head::None, Some(Drive { kind: DriveType::None, size: None })), "no head, no drive");
        assert_eq!(head_words(None, None), "head not stated");
    }
}
