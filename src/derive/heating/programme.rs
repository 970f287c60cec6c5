//! What the block's temperature shows of the programme of the test.

use super::prepare::{Prepared, Temperature};
use crate::numerics::fit_line;
use crate::record::TemperatureProgramme;

/// Share of a phase, in its middle, over which it is judged: its corners are rounded.
const CENTRAL_SHARE: f64 = 0.6;

/// Returns level and rate of each phase of the programme, as far as the record shows them.
pub(super) fn programme(p: &Prepared) -> Option<TemperatureProgramme> {
    if p.block.is_none() && p.dough.is_none() {
        return None;
    }
    let s = &p.settings;
    let block = p.block.as_ref();
    let phase = |from, to| block.and_then(|block| middle(block, from, to));
    Some(TemperatureProgramme {
        start_c: phase(0.0, s.constant_end_min).map(|(mean, _)| mean),
        heating_c_per_min: phase(s.constant_end_min, s.heating_end_min).map(|(_, rate)| rate),
        hot_c: phase(s.heating_end_min, s.hot_end_min).map(|(mean, _)| mean),
        cooling_c_per_min: phase(s.hot_end_min, s.cooling_end_min).map(|(_, rate)| rate),
        end_c: phase(s.cooling_end_min, s.end_min).map(|(mean, _)| mean),
        dough_recorded: p.dough.is_some(),
    })
}

/// Returns mean (°C) and rate (°C/min) over the middle of a phase; `None` where the record does not
/// cover it.
fn middle(temperature: &Temperature, from_min: f64, to_min: f64) -> Option<(f64, f64)> {
    let cut = 0.5 * (1.0 - CENTRAL_SHARE) * (to_min - from_min);
    let (from, to) = (60.0 * (from_min + cut), 60.0 * (to_min - cut));
    let t = &temperature.t;
    if t.first().is_none_or(|t| *t > from) || t.last().is_none_or(|t| *t < to) {
        return None;
    }
    let begin = t.partition_point(|t| *t < from);
    let end = t.partition_point(|t| *t <= to);
    let line = fit_line(t.get(begin..end)?, temperature.c.get(begin..end)?)?;
    Some((line.y, 60.0 * line.slope))
}
