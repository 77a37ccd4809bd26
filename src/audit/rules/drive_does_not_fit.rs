use crate::audit::condition;
use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Drive, DriveSize, DriveType, Fastener, Head};
use crate::standards::{HeadForm, HeadSize, Tool, heads, hexalobular_drive};
use crate::thread::{System, Thread};
use crate::units::Length;
use std::sync::LazyLock;

rule! {
    /// A drive whose size does not fit the thread.
    ///
    /// # Why it matters
    /// Head and drive sizes are tied to the thread by the standards. When they do not fit, the thread or the drive was
    /// misread, or the head of the neighbouring fastener was entered; the torque then belongs to another fastener too.
    ///
    /// An `error` is a drive as large as or larger than a head of that thread could be, or so small that it could not
    /// turn it; a `warning` is a size that no standard has for that thread and that fits another thread; a `note` is
    /// one that is merely in no table here.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "M8", "head": "hexagon", "drive": { "type": "hexagon", "size": "30 mm" } }
    /// ```
    /// ```json
    /// { "thread": "M8", "head": "hexagon", "drive": { "type": "hexagon", "size": "16 mm" } }
    /// ```
    /// ```json
    /// { "thread": "M8", "head": "socket-cap", "drive": { "type": "hexagon-socket", "size": "8 mm" } }
    /// ```
    /// ```json
    /// { "thread": "M8", "head": "pan", "drive": { "type": "hexalobular-socket", "size": "T31" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M8", "head": "hexagon", "drive": { "type": "hexagon", "size": "13 mm" } }
    /// ```
    /// ```json
    /// { "thread": "M10", "head": "hexagon", "drive": { "type": "hexagon", "size": "17 mm" } }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC", "head": "hexagon", "drive": { "type": "hexagon", "size": "9/16 in" } }
    /// ```
    /// ```json
    /// { "thread": "M20", "role": "plug", "drive": { "type": "hexagon-socket", "size": "10 mm" } }
    /// ```
    ///
    /// # Sources
    /// ISO 4014, ISO 4032, ISO 4162, EN 1665, ISO 4762, ISO 7380, ISO 10642, ISO 14579, ISO 14583, ISO 7045 and older
    /// standards; ASME B18.2.1, B18.2.2, B18.3; ISO 10664 (hexalobular sockets).
    "drive-does-not-fit", Fastener(check)
}

/// Widths across flats closer than this are the same tool: 1/2 in and 12.7 mm are, 13 mm is not.
const SAME_MM: f64 = 0.06;
/// A hexagon that drives from outside is from 1.2 to 2.6 times as wide as the thread; a socket from 0.2 to 1 times
/// (wider than any head of the tables, as a test says).
const OUTSIDE: (f64, f64) = (1.2, 2.6);
const INSIDE: (f64, f64) = (0.2, 1.0);

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    let Some(drive) = &fastener.drive else { return Vec::new() };
    let Some(size) = &drive.size else { return Vec::new() };
    if let Some(finding) = no_such_drive(drive, size) {
        return vec![finding];
    }
    // Plugs, shaft nuts and sensors have heads of their own.
    if !fastener.role().is_limited_by_bolt() {
        return Vec::new();
    }
    let Some(geometry) = fastener.thread.geometry() else { return Vec::new() };
    misfit(fastener, drive, size, geometry.major()).into_iter().collect()
}

/// A number that no hexalobular drive has, or one of the other kind of drive.
fn no_such_drive(drive: &Drive, size: &DriveSize) -> Option<Finding> {
    let DriveSize::Number(number) = size else { return None };
    let wanted = match drive.kind {
        DriveType::HexalobularSocket => false,
        DriveType::ExternalHexalobular => true,
        _ => return None,
    };
    let known = hexalobular_drive(number);
    if known.is_some_and(|known| known.external == wanted) {
        return None;
    }
    let message = format!("there is no {} {number}", drive.kind.words());
    Some(Finding::warning("drive.size", message).found(number))
}

fn misfit(fastener: &Fastener, drive: &Drive, size: &DriveSize, diameter: Length) -> Option<Finding> {
    let fitting = tools(fastener, drive.kind, diameter);
    if fitting.iter().any(|head| is_same(head.tool, size)) {
        return None;
    }
    let message = format!("{drive} does not fit {}", fastener.thread);
    let finding = if is_impossible(drive.kind, size, diameter) {
        Finding::error("drive.size", message)
    } else if fitting.is_empty() {
        return None;
    } else if is_of_another_thread(fastener, drive.kind, size, &fitting) {
        Finding::warning("drive.size", message)
    } else {
        Finding::note("drive.size", format!("no table here has {drive} for {}", fastener.thread))
    };
    let mut usual: Vec<String> = fitting.iter().map(|head| head.tool.to_string()).collect();
    usual.sort();
    usual.dedup();
    let sources: Vec<String> = fitting.iter().map(|head| head.source.document()).collect();
    let finding = finding.found(size).because_of("thread", &fastener.thread, sources.join(", "));
    Some(if usual.is_empty() { finding } else { finding.one_of(usual) })
}

/// What the tables have for this thread, head and kind of drive. Without a head, every head that has the drive.
fn tools(fastener: &Fastener, kind: DriveType, diameter: Length) -> Vec<HeadSize> {
    let form = fastener.head.and_then(|head| condition::head_form(Some(head), fastener.drive.as_ref()));
    let of_head = |head: &HeadSize| match (fastener.head, form) {
        (None, _) => true,
        (Some(_), None) => false,
        // Button heads are made with and without a flange.
        (Some(Head::Button), _) => matches!(head.form, HeadForm::Button | HeadForm::ButtonFlange),
        (Some(_), Some(form)) => head.form == form,
    };
    heads(diameter).into_iter().filter(|head| of_head(head) && turns(kind, head.tool)).collect()
}

/// Whether the kind of drive is turned with this kind of tool.
fn turns(kind: DriveType, tool: Tool) -> bool {
    matches!(
        (kind, tool),
        (DriveType::Hexagon, Tool::Flats(_))
            | (DriveType::HexagonSocket, Tool::Key(_))
            | (DriveType::HexalobularSocket, Tool::Hexalobular(_))
            | (DriveType::ExternalHexalobular, Tool::ExternalHexalobular(_))
            | (DriveType::CrossRecess, Tool::CrossRecess(_))
    )
}

fn is_same(tool: Tool, size: &DriveSize) -> bool {
    match size {
        DriveSize::Flats(flats) => tool
            .across_flats()
            .is_some_and(|across| (across - flats.quantity()).millimeters().abs() < SAME_MM),
        DriveSize::Number(number) => {
            let digits = number.trim_start_matches(|c: char| c.is_ascii_alphabetic()).parse::<u8>().ok();
            match tool {
                Tool::Hexalobular(n) | Tool::ExternalHexalobular(n) | Tool::CrossRecess(n) => digits == Some(n),
                Tool::Flats(_) | Tool::Key(_) => false,
            }
        }
    }
}

/// Whether a hexagon is too wide or too narrow for any head of the thread.
fn is_impossible(kind: DriveType, size: &DriveSize, diameter: Length) -> bool {
    let (least, greatest) = match kind {
        DriveType::Hexagon => OUTSIDE,
        DriveType::HexagonSocket => INSIDE,
        _ => return false,
    };
    let DriveSize::Flats(flats) = size else { return false };
    let ratio = flats.quantity() / diameter;
    ratio < least || ratio >= greatest
}

/// Whether the size is one of the same head on a thread of another diameter.
fn is_of_another_thread(fastener: &Fastener, kind: DriveType, size: &DriveSize, fitting: &[HeadSize]) -> bool {
    let system = fastener.thread.system();
    COARSE_HEADS.iter().any(|(of, head)| {
        *of == system
            && turns(kind, head.tool)
            && is_same(head.tool, size)
            && fitting.iter().any(|fits| fits.form == head.form)
    })
}

/// Every head of the tables on the coarse threads of the standards, with the system of its thread.
static COARSE_HEADS: LazyLock<Vec<(Option<System>, HeadSize)>> = LazyLock::new(|| {
    let coarse = Thread::standards().filter(|thread| thread.is_coarse());
    let sized = coarse.filter_map(|thread| Some((thread.system(), thread.geometry()?.major())));
    sized.flat_map(|(system, diameter)| heads(diameter).into_iter().map(move |head| (system, head))).collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_head_of_the_tables_is_possible() {
        let spans = Thread::standards().filter_map(|thread| Some(thread.geometry()?.major())).flat_map(|diameter| {
            heads(diameter).into_iter().filter_map(move |head| Some((head, head.tool.across_flats()? / diameter)))
        });
        for (head, ratio) in spans {
            let (least, greatest) = if matches!(head.tool, Tool::Key(_)) { INSIDE } else { OUTSIDE };
            assert!(ratio > least && ratio < greatest, "{head:?}: {ratio}");
        }
    }
}
