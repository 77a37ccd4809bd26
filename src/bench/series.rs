//! The series of an assembly: records of one class by size and utilisation, with those that the audit questions.

use super::page::Trouble;
use crate::audit::{Finding, Severity};
use crate::card::series_plot::{SeriesPoint, series_plot};
use crate::catalog::Catalog;
use crate::query::{Field, Query, TAKE_MAX};
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

/// The largest series of one class below a path.
pub fn series(catalog: &Catalog, within: &str, findings: &[Finding]) -> Result<Vec<Series>, Trouble> {
    let mut query = Query { take: TAKE_MAX, ..Query::default() }.with(Field::Kind, Kind::Fastener.to_string());
    if !within.is_empty() {
        query = query.with(Field::Within, within);
    }
    let questioned: BTreeSet<&str> = findings
        .iter()
        .filter(|finding| finding.severity >= Severity::Warning && finding.field.starts_with("stages"))
        .map(|finding| finding.record.as_str())
        .collect();
    let mut by_class: BTreeMap<String, Vec<SeriesPoint>> = BTreeMap::new();
    for stored in catalog.find(&query)?.items {
        let Some(fastener) = stored.record.as_fastener() else { continue };
        if let Some((class, point)) = point(fastener, questioned.contains(fastener.id.as_str())) {
            by_class.entry(class).or_default().push(point);
        }
    }
    let mut series: Vec<(String, Vec<SeriesPoint>)> =
        by_class.into_iter().filter(|(_, points)| points.len() >= POINTS_MIN).collect();
    series.sort_by_key(|(_, points)| std::cmp::Reverse(points.len()));
    let shown = series.into_iter().take(SERIES_MAX).filter_map(|(class, points)| {
        let title = format!("Class {class}: utilisation by size");
        Some(Series { picture: series_plot(&title, &points)?, title })
    });
    Ok(shown.collect())
}

/// The point of a fastener that is tightened by torque alone.
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
    Some((request.property_class.to_string(), point))
}
