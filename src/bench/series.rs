//! The series of an assembly: fasteners of one class, source and surface by size and utilisation, with those that the
//! audit questions.

use super::page::Trouble;
use crate::audit::{Finding, Severity};
use crate::card::series_plot::{SeriesPoint, series_plot};
use crate::catalog::Catalog;
use crate::query::{Field, Query, Stored, TAKE_MAX};
use crate::record::{Fastener, Kind};
use crate::tightening::{TighteningRequest, tightening};
use crate::units::Quantity;
use std::collections::{BTreeMap, BTreeSet};

/// A series as it is shown.
pub struct Series {
    /// What it is a series of.
    pub title: String,
    /// The picture.
    pub picture: String,
}

/// The most series on a page.
const SERIES_MAX: usize = 3;
/// The fewest records that make a series.
const POINTS_MIN: usize = 5;
/// The most fasteners that are looked at: each of them is reckoned through.
pub const LOOKED_AT_MAX: usize = 5_000;

/// The series below a path, those with most questioned records first, then the largest; and whether every fastener
/// was looked at.
pub fn series(catalog: &Catalog, within: &str, findings: &[Finding]) -> Result<(Vec<Series>, bool), Trouble> {
    let questioned: BTreeSet<&str> = findings
        .iter()
        .filter(|finding| finding.severity >= Severity::Warning && finding.field.starts_with("stages"))
        .map(|finding| finding.record.as_str())
        .collect();
    let (fasteners, is_all) = fasteners(catalog, within)?;
    let mut by_kind: BTreeMap<String, Vec<SeriesPoint>> = BTreeMap::new();
    for fastener in fasteners.iter().filter_map(|stored| stored.record.as_fastener()) {
        if let Some((kind, point)) = point(fastener, questioned.contains(fastener.id.as_str())) {
            by_kind.entry(kind).or_default().push(point);
        }
    }
    let mut series: Vec<(String, Vec<SeriesPoint>)> =
        by_kind.into_iter().filter(|(_, points)| points.len() >= POINTS_MIN).collect();
    let outliers = |points: &[SeriesPoint]| points.iter().filter(|point| point.is_outlier).count();
    series.sort_by_key(|(_, points)| std::cmp::Reverse((outliers(points), points.len())));
    let shown = series.into_iter().take(SERIES_MAX).filter_map(|(kind, points)| {
        let title = format!("{kind}: utilisation by size");
        Some(Series { picture: series_plot(&title, &points)?, title })
    });
    Ok((shown.collect(), is_all))
}

/// The fasteners below a path by id, and whether these are all of them.
fn fasteners(catalog: &Catalog, within: &str) -> Result<(Vec<Stored>, bool), Trouble> {
    let mut query = Query { take: TAKE_MAX, ..Query::default() }.with(Field::Kind, Kind::Fastener.to_string());
    if !within.is_empty() {
        query = query.with(Field::Within, within);
    }
    let mut fasteners = Vec::new();
    loop {
        let page = catalog.find(&query)?;
        fasteners.extend(page.items);
        // A cursor that the book gave is one.
        query.after = page.next.and_then(|next| next.parse().ok());
        let is_all = query.after.is_none();
        if is_all || fasteners.len() >= LOOKED_AT_MAX {
            return Ok((fasteners, is_all));
        }
    }
}

/// The point of a fastener that is tightened by torque alone, and the series that it belongs in.
fn point(fastener: &Fastener, is_outlier: bool) -> Option<(String, SeriesPoint)> {
    let request = TighteningRequest::of_fastener(fastener)?;
    if request.torque.is_none() || !request.angles.is_empty() || !fastener.role().is_limited_by_bolt() {
        return None;
    }
    let utilisation = tightening(&request).ok()?.utilisation;
    let point = SeriesPoint {
        size: fastener.thread.to_string(),
        diameter_mm: fastener.thread.geometry()?.major().base(),
        utilisation: f64::midpoint(utilisation.min(), utilisation.max()),
        name: fastener.id.last().to_owned(),
        is_outlier,
    };
    let document = fastener.source.as_ref().and_then(|source| source.document.as_ref());
    let stated = [document, fastener.finish.as_ref(), fastener.lubrication.as_ref()];
    let stated: String = stated.into_iter().flatten().map(|text| format!(", {text}")).collect();
    Some((format!("Class {}{stated}", request.property_class), point))
}
