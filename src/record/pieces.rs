//! Which stretched pieces belong together: the pieces of one dough at one rest.

use super::RunRecord;
use crate::schema::{Axis, Field, Test};
use std::collections::BTreeMap;

/// Greatest difference of a piece's area from the mean of its dough and rest, % (ISO 5530-2; from
/// memory, medium confidence).
pub const AREA_LIMIT_PCT: f64 = 15.0;

/// The pieces of one dough stretched after the same rest on the same abscissa.
#[derive(Debug, Clone)]
pub struct PieceGroup<'a> {
    /// Rest, min: as planned where a plan is stated, else as it was; `None` where neither is.
    pub rest_min: Option<f64>,
    /// What the abscissa counts; two abscissae are never averaged.
    pub axis: Axis,
    /// The pieces, with their index in the day, in its order; rejected ones among them.
    pub pieces: Vec<(usize, &'a RunRecord)>,
}

impl PieceGroup<'_> {
    /// Returns how far each usable piece's area lies from the mean of them, in % of the mean, with
    /// the piece's index in the day; empty for fewer than two. Measured on the energy as work,
    /// which is in proportion to the area whatever the abscissa.
    pub fn area_deviations_pct(&self) -> Vec<(usize, f64)> {
        let areas: Vec<(usize, f64)> = self
            .pieces
            .iter()
            .filter_map(|(index, run)| {
                let work = run.result("extension.energy_work")?.outcome.value()?;
                Some((*index, work))
            })
            .collect();
        let mean = areas.iter().map(|(_, a)| a).sum::<f64>() / areas.len().max(1) as f64;
        if areas.len() < 2 || mean <= 0.0 {
            return Vec::new();
        }
        let deviation = |(index, area): (usize, f64)| (index, 100.0 * (area - mean) / mean);
        areas.into_iter().map(deviation).collect()
    }

    /// Returns whether a usable piece's area lies further from their mean than the limit.
    pub fn areas_apart(&self) -> bool {
        let deviations = self.area_deviations_pct();
        deviations.iter().any(|(_, d)| d.abs() > AREA_LIMIT_PCT)
    }
}

/// Returns the extension runs by dough, rest and abscissa, in the order of their first piece. Runs
/// whose dough is not stated belong to no group.
pub fn piece_groups(runs: &[RunRecord]) -> Vec<PieceGroup<'_>> {
    let mut places = BTreeMap::new();
    let mut groups: Vec<PieceGroup<'_>> = Vec::new();
    for (index, run) in runs.iter().enumerate() {
        let (Some(axis), Some(batch)) = (run.facts.axis, &run.conditions.batch_id) else {
            continue;
        };
        if run.test != Test::Extension {
            continue;
        }
        let planned = run.metadata.number(Field::RestTargetMin);
        let rest_min = planned.or_else(|| run.metadata.number(Field::RestMin));
        let key = (batch, rest_min.map(f64::to_bits), axis);
        let place = *places.entry(key).or_insert_with(|| {
            groups.push(PieceGroup {
                rest_min,
                axis,
                pieces: Vec::new(),
            });
            groups.len() - 1
        });
        if let Some(group) = groups.get_mut(place) {
            group.pieces.push((index, run));
        }
    }
    groups
}
