//! A stated quantity in another unit.

use crate::units::{ForceUnit, LengthUnit, Quantity, Stated, StressUnit, TorqueUnit, Unit};
use serde::Serialize;

/// A quantity as stated and in another unit.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct Conversion {
    /// The quantity as stated.
    pub stated: String,
    /// The same, in the other unit, rounded to four significant figures.
    pub converted: String,
    /// The number in the other unit, rounded to ten significant figures.
    pub value: f64,
    /// The other unit.
    pub unit: String,
    /// Where the factor comes from.
    pub source: &'static str,
}

/// Why a conversion was not made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoConversion {
    /// The quantity cannot be read as anything that has units.
    #[error("\"{0}\" is no torque, length, force or stress with its unit. Write it like 20 N·m")]
    Unreadable(String),
    /// The unit is not one of the kind.
    #[error("\"{to}\" is not a unit of {kind}. Known: {known}")]
    OtherKind {
        /// The unit asked for.
        to: String,
        /// The kind of the quantity.
        kind: &'static str,
        /// The units of that kind.
        known: String,
    },
}

/// Converts a stated torque, length, force or stress to another unit of its kind.
///
/// # Errors
/// If the quantity cannot be read, or the unit is of another kind.
pub fn convert(stated: &str, to: &str) -> Result<Conversion, NoConversion> {
    try_kind::<TorqueUnit>(stated, to)
        .or_else(|| try_kind::<LengthUnit>(stated, to))
        .or_else(|| try_kind::<ForceUnit>(stated, to))
        .or_else(|| try_kind::<StressUnit>(stated, to))
        .unwrap_or_else(|| Err(NoConversion::Unreadable(stated.to_owned())))
}

fn try_kind<U: Unit>(text: &str, to: &str) -> Option<Result<Conversion, NoConversion>> {
    let stated: Stated<U> = text.parse().ok()?;
    let Some(unit) = U::from_name(to) else {
        let (to, known) = (to.to_owned(), U::symbols());
        return Some(Err(NoConversion::OtherKind { to, kind: U::Of::NAME, known }));
    };
    let value = stated.quantity().base() / unit.in_base();
    Some(Ok(Conversion {
        stated: stated.to_string(),
        converted: stated.to_unit(unit, 4).to_string(),
        value: format!("{value:.9e}").parse().unwrap_or(value),
        unit: unit.symbol().to_owned(),
        source: "exact definitions: 25.4 mm, 0.453 592 37 kg, 9.806 65 m/s²",
    }))
}
