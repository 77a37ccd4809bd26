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
const HEIGHT: f64 = 272.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 350.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 196.0;
/// Still 18 CSS pixels where the picture is as wide as the narrowest screen.
const TEXT: f64 = 20.5;
/// Utilisations above this are drawn at the upper edge.
const MOST: f64 = 2.0;

/// Draws the series; `None` without points.
#[must_use]
pub fn series_plot(title: &str, points: &[SeriesPoint]) -> Option<String> {
    let sizes = sizes(points);
    let mut svg = Svg::begin(WIDTH, HEIGHT, &super::svg::id_of(title), title, &described(points)?);
    let most = points.iter().map(|point| point.utilisation).fold(1.2, f64::max).min(MOST);
    let y = |utilisation: f64| BOTTOM - (utilisation.clamp(0.0, most) / most) * (BOTTOM - TOP);
    for (level, words) in [(0.0, "0"), (0.5, "0.5"), (1.0, "yield")] {
        let dash = if level == 1.0 { " stroke-width=\"2.5\"" } else { " stroke-opacity=\"0.5\"" };
        let line = Short(y(level));
        svg.raw(format_args!("<path d=\"M{LEFT} {line}H{RIGHT}\" stroke=\"currentColor\"{dash}/>"));
        svg.text(LEFT - 5.0, y(level) + 7.0, TEXT, "end", "", words);
    }
    draw_sizes(&mut svg, &sizes);
    for point in points {
        let at = sizes.iter().position(|(_, diameter)| *diameter == point.diameter_mm).unwrap_or(0);
        draw_point(&mut svg, point, column(at, sizes.len()), y(point.utilisation));
    }
    svg.text((LEFT + RIGHT) / 2.0, HEIGHT - 6.0, TEXT, "middle", "", "utilisation by size · ☐ outside");
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
    let every = (widest * TEXT * 0.58 / (2.0 * room)).ceil().max(1.0) as usize;
    for (i, (size, _)) in sizes.iter().enumerate().step_by(every) {
        // Two rows, so that neighbours have room.
        let y = BOTTOM + 22.0 + ((i / every) % 2) as f64 * 20.0;
        svg.text(column(i, sizes.len()), y, TEXT, "middle", "", size);
    }
}

fn draw_point(svg: &mut Svg, point: &SeriesPoint, x: f64, y: f64) {
    let (left, top) = (Short(x - 7.0), Short(y - 7.0));
    if point.is_outlier {
        svg.raw(format_args!(
            "<rect class=\"paper\" x=\"{left}\" y=\"{top}\" width=\"14\" height=\"14\" fill=\"white\" \
             stroke=\"currentColor\" stroke-width=\"3\"/>"
        ));
        let anchor = if x > WIDTH / 2.0 { "end" } else { "start" };
        let aside = if x > WIDTH / 2.0 { -11.0 } else { 11.0 };
        let halo = " class=\"halo\" stroke=\"white\" stroke-width=\"4\" paint-order=\"stroke\" font-weight=\"700\"";
        svg.text(x + aside, y + 7.0, TEXT, anchor, halo, &point.name);
    } else {
        svg.raw(format_args!("<circle cx=\"{}\" cy=\"{}\" r=\"4\" fill=\"currentColor\"/>", Short(x), Short(y)));
    }
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
        assert!(svg.contains("3 records, utilisation 0.70 to 3.10. Outside the series: M10-a (M10) at 3.10."));
        let order: Vec<usize> =
            ["M6", "M8", "M10"].iter().map(|s| svg.find(&format!(">{s}</text>")).unwrap()).collect();
        assert!(order.is_sorted());
        assert!(series_plot("none", &[]).is_none());
    }
}
