//! The sheet of one thread.

use super::six_figures;
use crate::thread::{Designation, Geometry, Span, System, Thread, ThreadClass};
use serde::Serialize;

/// What is known about a thread: its geometry, whether a standard has it, and what is near.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct ThreadSheet {
    /// The thread in its canonical form.
    pub designation: String,
    /// The tolerance class asked for, if one was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thread_class: Option<String>,
    /// The system of threads: `metric` or `unified`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub system: Option<&'static str>,
    /// Whether a standard's list has this diameter with this pitch.
    pub is_standard: bool,
    /// Whether it is the coarse pitch of its diameter.
    pub is_coarse: bool,
    /// Basic dimensions, where they can be computed.
    #[serde(flatten)]
    pub dimensions: Option<Dimensions>,
    /// Limits of size, of the class asked for or else of the usual classes of bolt and nut.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub limits: Vec<LimitsShown>,
    /// The nearest threads that a standard has, where it has not this one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub nearest: Vec<String>,
    /// Where the dimensions come from.
    pub source: &'static str,
}

/// Basic dimensions of a thread.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Dimensions {
    /// Nominal diameter.
    pub diameter_mm: f64,
    /// Pitch.
    pub pitch_mm: f64,
    /// Threads per inch, for unified threads.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub threads_per_inch: Option<f64>,
    /// Pitch diameter, d2.
    pub pitch_diameter_mm: f64,
    /// Minor diameter of the bolt, d3.
    pub minor_diameter_mm: f64,
    /// Minor diameter of the nut, D1.
    pub minor_diameter_internal_mm: f64,
    /// Stress area, As.
    pub stress_area_mm2: f64,
    /// Stress area in square inches, for unified threads.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stress_area_in2: Option<f64>,
    /// The angle of the helix at the pitch diameter.
    pub helix_angle_deg: f64,
}

/// Limits of size of a thread in one tolerance class, before coating.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct LimitsShown {
    /// The tolerance class.
    pub thread_class: String,
    /// Whether it is a class of bolt threads.
    pub is_external: bool,
    /// Major diameter.
    pub major_diameter_mm: SpanShown,
    /// Pitch diameter.
    pub pitch_diameter_mm: SpanShown,
    /// Minor diameter.
    pub minor_diameter_mm: SpanShown,
    /// Where the tolerances come from.
    pub source: &'static str,
}

/// The smallest and largest permitted size; one may be missing.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct SpanShown {
    /// The smallest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min: Option<f64>,
    /// The largest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max: Option<f64>,
}

impl SpanShown {
    fn of(span: Span) -> Self {
        let shown = |length: Option<crate::units::Length>| length.map(|length| six_figures(length.millimeters()));
        Self { min: shown(span.min), max: shown(span.max) }
    }
}

impl LimitsShown {
    fn of(thread: &Thread, class: &ThreadClass) -> Option<Self> {
        let limits = thread.limits(class)?;
        let source = match thread.system()? {
            System::Metric => "ISO 965-1:1998, computed with its tables and formulas",
            System::Unified => "ASME B1.1, computed with its formulas",
        };
        Some(Self {
            thread_class: class.to_string(),
            is_external: limits.is_external(),
            major_diameter_mm: SpanShown::of(limits.major()),
            pitch_diameter_mm: SpanShown::of(limits.pitch()),
            minor_diameter_mm: SpanShown::of(limits.minor()),
            source,
        })
    }
}

impl ThreadSheet {
    /// The sheet of this designation.
    #[must_use]
    pub fn of(designation: &Designation) -> Self {
        let thread = &designation.thread;
        let is_standard = thread.is_standard();
        let nearest = if is_standard { Vec::new() } else { thread.nearest(3) };
        let classes = match &designation.class {
            Some(class) => vec![class.clone()],
            None => [true, false].into_iter().filter_map(|external| thread.usual_class(external)).collect(),
        };
        let source = match thread.system() {
            Some(System::Metric) => {
                "ISO 261 and ISO 262 (sizes), ISO 724 (dimensions), ISO 898-1 (stress area); computed"
            }
            Some(System::Unified) => "ASME B1.1 (sizes, dimensions, stress area); computed",
            None => "no standard known here has this thread",
        };
        Self {
            designation: thread.to_string(),
            thread_class: designation.class.as_ref().map(ToString::to_string),
            system: thread.system().map(|system| match system {
                System::Metric => "metric",
                System::Unified => "unified",
            }),
            is_standard,
            is_coarse: thread.is_coarse(),
            dimensions: thread.geometry().map(|geometry| Dimensions::of(&geometry, thread.threads_per_inch())),
            limits: classes.iter().filter_map(|class| LimitsShown::of(thread, class)).collect(),
            nearest: nearest.iter().map(ToString::to_string).collect(),
            source,
        }
    }
}

impl Dimensions {
    fn of(geometry: &Geometry, threads_per_inch: Option<f64>) -> Self {
        let area = geometry.stress_area();
        let square_inch = crate::units::MILLIMETERS_PER_INCH.powi(2);
        Self {
            diameter_mm: six_figures(geometry.major().millimeters()),
            pitch_mm: six_figures(geometry.pitch().millimeters()),
            threads_per_inch,
            pitch_diameter_mm: six_figures(geometry.pitch_diameter().millimeters()),
            minor_diameter_mm: six_figures(geometry.minor_diameter().millimeters()),
            minor_diameter_internal_mm: six_figures(geometry.minor_diameter_internal().millimeters()),
            stress_area_mm2: six_figures(area.square_millimeters()),
            stress_area_in2: threads_per_inch.map(|_| six_figures(area.square_millimeters() / square_inch)),
            helix_angle_deg: six_figures(geometry.helix_angle().degrees()),
        }
    }
}
