//! A series of records as a picture: size against utilisation, with what lies outside the series marked.
//!
//! It shows what it is told: which points are outliers is the audit's to say.

use super::svg::{Short, Svg};

/// One record in the series.
#[derive(Debug, Clone)]
pub struct SeriesPoint {
    /// The thread as written on the axis.
    pub size: String,
    /// The nominal diameter, which puts the sizes in order; equal diameters share a place.
    pub diameter_mm: f64,
    /// The combined stress while tightening over the yield strength.
    pub utilisation: f64,
    /// Which record it is.
    pub name: String,
    /// Whether it lies outside the series.
    pub is_outlier: bool,
}

const WIDTH: f64 = 360.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 350.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 196.0;
/// Where what the axis shows is said.
const CAPTION: f64 = 266.0;
/// Where the names of the list below begin.
const NAMES: f64 = 40.0;
/// From line to line of it.
const LINE: f64 = 25.0;
/// Still 18 CSS pixels where the picture is as wide as the narrowest screen.
const TEXT: f64 = 20.5;
/// How wide a letter is on average, to know what fits.
const LETTER: f64 = TEXT * 0.64;
/// Utilisations above this are drawn at the upper edge.
const MOST: f64 = 2.0;
/// So many outliers have a number and a line in the list; more are marked without.
const LISTED: usize = 12;
/// Half the width and height of the mark of an outlier, and of the number beside it.
const MARK: Half = (7.5, 7.5);
const NUMBER: Half = (12.5, 9.0);

/// Half a width and half a height.
type Half = (f64, f64);

/// Draws the series; `None` without points.
#[must_use]
pub fn series_plot(title: &str, points: &[SeriesPoint]) -> Option<String> {
    let sizes = sizes(points);
    let (mut outliers, others): (Vec<&SeriesPoint>, Vec<&SeriesPoint>) =
        points.iter().partition(|point| point.is_outlier);
    outliers.sort_by(|a, b| {
        a.diameter_mm.total_cmp(&b.diameter_mm).then(a.utilisation.total_cmp(&b.utilisation)).then(a.name.cmp(&b.name))
    });
    let lines = outliers.len().min(LISTED) + usize::from(outliers.len() > LISTED);
    let height = CAPTION + 6.0 + LINE * lines as f64;
    let mut svg = Svg::begin(WIDTH, height, &super::svg::id_of(title), title, &described(points)?);
    let most = points.iter().map(|point| point.utilisation).fold(1.2, f64::max).min(MOST);
    let y = |utilisation: f64| BOTTOM - (utilisation.clamp(0.0, most) / most) * (BOTTOM - TOP);
    let x = |point: &SeriesPoint| {
        let at = sizes.iter().position(|(_, diameter)| *diameter == point.diameter_mm).unwrap_or(0);
        column(at, sizes.len())
    };
    for (level, words) in [(0.0, "0"), (0.5, "0.5"), (1.0, "yield")] {
        let dash = if level == 1.0 { " stroke-width=\"2.5\"" } else { " stroke-opacity=\"0.5\"" };
        let line = Short(y(level));
        svg.raw(format_args!("<path d=\"M{LEFT} {line}H{RIGHT}\" stroke=\"currentColor\"{dash}/>"));
        svg.text(LEFT - 5.0, y(level) + 7.0, TEXT, "end", "", words);
    }
    draw_sizes(&mut svg, &sizes);
    for point in others {
        let (x, y) = (Short(x(point)), Short(y(point.utilisation)));
        svg.raw(format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"4\" fill=\"currentColor\"/>"));
    }
    let places: Vec<(f64, f64)> = outliers.iter().map(|point| (x(point), y(point.utilisation))).collect();
    for (x, y) in &places {
        let (left, top, side) = (Short(x - MARK.0 + 1.0), Short(y - MARK.1 + 1.0), Short(2.0 * MARK.0 - 2.0));
        svg.raw(format_args!(
            "<rect class=\"paper\" x=\"{left}\" y=\"{top}\" width=\"{side}\" height=\"{side}\" fill=\"white\" \
             stroke=\"currentColor\" stroke-width=\"3\"/>"
        ));
    }
    let halo = " class=\"halo\" stroke=\"white\" stroke-width=\"4\" paint-order=\"stroke\" font-weight=\"700\"";
    for (i, place) in number_places(&places).into_iter().enumerate().take(LISTED) {
        if let Some((x, y)) = place {
            svg.text(x, y + 7.0, TEXT, "middle", halo, &(i + 1).to_string());
        }
    }
    svg.text((LEFT + RIGHT) / 2.0, CAPTION, TEXT, "middle", "", "utilisation by size · ☐ outside");
    for (i, point) in outliers.iter().take(LISTED).enumerate() {
        let told = format!(" {} {:.2}", point.size, point.utilisation);
        let number = (i + 1).to_string();
        let room = (WIDTH - NAMES) / LETTER;
        let name = shortened(&point.name, room as usize - told.chars().count());
        let line = CAPTION + LINE * (i + 1) as f64;
        svg.text(NAMES - 8.0, line, TEXT, "end", " font-weight=\"700\"", &number);
        svg.text(NAMES, line, TEXT, "start", "", &format!("{name}{told}"));
    }
    if outliers.len() > LISTED {
        let more = format!("and {} more", outliers.len() - LISTED);
        svg.text(NAMES, CAPTION + LINE * (LISTED + 1) as f64, TEXT, "start", "", &more);
    }
    Some(svg.end())
}

/// The series in words.
fn described(points: &[SeriesPoint]) -> Option<String> {
    let (least, most) =
        points.iter().map(|p| p.utilisation).fold((f64::INFINITY, 0.0_f64), |(l, m), u| (l.min(u), m.max(u)));
    let count = points.len();
    if count == 0 {
        return None;
    }
    let outliers: Vec<String> = points
        .iter()
        .filter(|point| point.is_outlier)
        .map(|point| format!("{} ({}) at {:.2}", point.name, point.size, point.utilisation))
        .collect();
    let told = if outliers.is_empty() {
        "None lies outside the series.".to_owned()
    } else {
        format!("Outside the series: {}.", outliers.join(", "))
    };
    let records = if count == 1 { "1 record".to_owned() } else { format!("{count} records") };
    Some(format!("{records}, utilisation {least:.2} to {most:.2}. {told}"))
}

/// The sizes from small to large, each once.
fn sizes(points: &[SeriesPoint]) -> Vec<(&str, f64)> {
    let mut sizes: Vec<(&str, f64)> = points.iter().map(|point| (point.size.as_str(), point.diameter_mm)).collect();
    sizes.sort_by(|a, b| a.1.total_cmp(&b.1));
    sizes.dedup_by(|a, b| a.1 == b.1);
    sizes
}

fn column(at: usize, count: usize) -> f64 {
    let step = (RIGHT - LEFT) / count.max(1) as f64;
    LEFT + step * (at as f64 + 0.5)
}

fn draw_sizes(svg: &mut Svg, sizes: &[(&str, f64)]) {
    let widest = sizes.iter().map(|(size, _)| size.chars().count()).max().unwrap_or(1) as f64;
    let room = (RIGHT - LEFT) / sizes.len().max(1) as f64;
    let every = (widest * LETTER / (2.0 * room)).ceil().max(1.0) as usize;
    for (i, (size, _)) in sizes.iter().enumerate().step_by(every) {
        // Two rows, so that neighbours have room.
        let y = BOTTOM + 22.0 + ((i / every) % 2) as f64 * 20.0;
        let half = size.chars().count() as f64 * LETTER / 2.0;
        let x = column(i, sizes.len()).min(WIDTH - half - 2.0);
        svg.text(x, y, TEXT, "middle", "", size);
    }
}

/// Where the number of each mark has room beside it, over no mark and no other number.
fn number_places(marks: &[(f64, f64)]) -> Vec<Option<(f64, f64)>> {
    let apart = |a: &(f64, f64), b: &(f64, f64), half: Half| {
        (a.0 - b.0).abs() >= NUMBER.0 + half.0 || (a.1 - b.1).abs() >= NUMBER.1 + half.1
    };
    let (aside, up) = (NUMBER.0 + MARK.0 + 1.0, NUMBER.1 + MARK.1 + 1.0);
    let round = [(1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
    let mut placed: Vec<(f64, f64)> = Vec::new();
    let mut place = |mark: &(f64, f64)| {
        let beside = round.map(|(right, down)| (mark.0 + right * aside, mark.1 + down * up));
        let is_inside = |(x, y): &(f64, f64)| (LEFT + NUMBER.0..=WIDTH - NUMBER.0).contains(x) && *y <= BOTTOM + 4.0;
        let is_free = |at: &(f64, f64)| {
            marks.iter().all(|other| apart(at, other, MARK)) && placed.iter().all(|other| apart(at, other, NUMBER))
        };
        let free = beside.into_iter().filter(|(_, y)| *y >= NUMBER.1).find(|at| is_inside(at) && is_free(at));
        placed.extend(free);
        free
    };
    marks.iter().map(&mut place).collect()
}

/// The name, or its beginning where there is no room for all of it.
fn shortened(name: &str, room: usize) -> String {
    if name.chars().count() <= room {
        return name.to_owned();
    }
    name.chars().take(room.saturating_sub(1)).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(size: &str, diameter_mm: f64, utilisation: f64, is_outlier: bool) -> SeriesPoint {
        SeriesPoint { size: size.to_owned(), diameter_mm, utilisation, name: format!("{size}-a"), is_outlier }
    }

    #[test]
    fn marks_outliers_by_shape_and_by_name() {
        let points = [point("M6", 6.0, 0.7, false), point("M10", 10.0, 3.1, true), point("M8", 8.0, 0.75, false)];
        let svg = series_plot("Series of 8.8", &points).unwrap();
        assert_eq!(svg.matches("<circle").count(), 2);
        assert_eq!(svg.matches("stroke-width=\"3\"/>").count(), 1);
        assert!(svg.contains(">M10-a M10 3.10</text>"), "{svg}");
        assert!(svg.contains("3 records, utilisation 0.70 to 3.10. Outside the series: M10-a (M10) at 3.10."));
        let order: Vec<usize> =
            ["M6", "M8", "M10"].iter().map(|s| svg.find(&format!(">{s}</text>")).unwrap()).collect();
        assert!(order.is_sorted());
        assert!(series_plot("none", &[]).is_none());
    }

    #[test]
    fn numbers_of_outliers_cover_nothing_and_the_last_outliers_are_counted() {
        let points: Vec<SeriesPoint> = (0..14).map(|i| point("M16×2", 16.0, 0.2 + f64::from(i / 3), true)).collect();
        let marks = [(200.0, 50.0), (200.0, 55.0), (220.0, 50.0), (200.0, 70.0), (100.0, 80.0)];
        let numbers: Vec<(f64, f64)> = number_places(&marks).into_iter().flatten().collect();
        assert_eq!(numbers.len(), marks.len(), "{numbers:?}");
        for (i, a) in numbers.iter().enumerate() {
            let is_free = |b: &(f64, f64), half: Half| {
                (a.0 - b.0).abs() >= NUMBER.0 + half.0 || (a.1 - b.1).abs() >= NUMBER.1 + half.1
            };
            assert!(numbers[..i].iter().all(|b| is_free(b, NUMBER)) && marks.iter().all(|b| is_free(b, MARK)), "{i}");
        }
        let svg = series_plot("Series", &points).unwrap();
        assert!(
            svg.contains(">12</text>") && svg.contains(">and 2 more</text>") && !svg.contains(">13</text>"),
            "{svg}"
        );
    }
}
