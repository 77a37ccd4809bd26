//! Which torque wrenches serve, at which setting, and what they do to the preload.

use super::answer::{Extent, ScatterAnswer, ServingWrench, WrenchAnswer, six_figures};
use super::inputs::{Inputs, Notes};
use super::request::{AdapterSize, TighteningRequest};
use crate::mechanics::{Adapter, OutOfRange, TighteningFactor, Wrench, preload_scatter, wrench};
use crate::record::Setting;
use crate::standards::{TighteningMethod, WrenchKind, tightening_factor, workshop_wrenches, wrench_deviation};
use crate::units::{Angle, Force, Torque};

/// The wrenches that serve a torque.
pub(super) fn wrenches(
    request: &TighteningRequest,
    inputs: &Inputs,
    torque: Torque,
    notes: &mut Notes,
) -> Result<WrenchAnswer, OutOfRange> {
    notes.source(wrench::SOURCE);
    let adapter = request.adapter.as_ref().map(adapter).transpose()?;
    let setting = adapter.map_or(Ok(torque), |adapter| adapter.setting_for(torque))?;
    let mut serving = Vec::new();
    let mut scatter = None;
    for (from, to) in at_hand(request, notes) {
        let (accuracy, source) = wrench_deviation(WrenchKind::Setting, to);
        let wrench = Wrench::new(from, to, accuracy)?;
        let Some(used) = wrench.serves(torque, adapter.as_ref())? else { continue };
        notes.source(source);
        if scatter.is_none() {
            scatter = Some(preload_scatter(&inputs.bolt, inputs.friction, torque, accuracy)?);
        }
        serving.push(ServingWrench {
            from_nm: six_figures(from.newton_meters()),
            to_nm: six_figures(to.newton_meters()),
            accuracy_percent: six_figures(accuracy * 100.0),
            percent_of_range: six_figures(used.share_of_range * 100.0),
        });
    }
    Ok(WrenchAnswer {
        torque_nm: six_figures(torque.newton_meters()),
        setting_nm: six_figures(setting.newton_meters()),
        serving,
        preload_n: scatter.map(|scatter| Extent::of([scatter.preload.min.newtons(), scatter.preload.max.newtons()])),
        tightening_factor: scatter.and_then(|scatter| scatter.factor).map(|factor| six_figures(factor.value())),
    })
}

/// The scatter by the table of tightening factors: torque with estimated friction, or torque and angle.
pub(super) fn scatter(
    request: &TighteningRequest,
    preload: Extent,
    notes: &mut Notes,
) -> Result<Option<ScatterAnswer>, OutOfRange> {
    let method = if request.angles.is_empty() { TighteningMethod::TorqueEstimated } else { TighteningMethod::Angle };
    let Some(row) = tightening_factor(method) else { return Ok(None) };
    notes.source(row.source);
    let (low, high) = row.factor();
    let reckoned = TighteningFactor::new(high)?.below(Force::from_newtons(preload.max()))?;
    Ok(Some(ScatterAnswer {
        method: row.words,
        tightening_factor: Extent::of([low, high]),
        least_preload_n: six_figures(reckoned.min.newtons()),
    }))
}

fn adapter(size: &AdapterSize) -> Result<Adapter, OutOfRange> {
    let angle = size.angle.map_or(Angle::from_degrees(0.0), |angle| angle.quantity());
    Adapter::new(size.wrench_length.quantity(), size.adapter_length.quantity(), angle)
}

/// The wrenches stated, or the usual ones.
fn at_hand(request: &TighteningRequest, notes: &mut Notes) -> Vec<(Torque, Torque)> {
    if !request.wrenches.is_empty() {
        return request.wrenches.iter().copied().map(Setting::ends).collect();
    }
    notes.assume("wrenches", "the usual ranges", "none stated");
    workshop_wrenches().collect()
}
