//! Whole curves as evidence: derived anew from the kept originals, for studies that compare them.

use super::super::ProcessError;
use super::super::kept::Replay;
use super::setup::Source;
use crate::archive::Action;
use crate::compare::{CurveRow, Evidence, Origin};
use crate::derive;
use crate::numerics::value_at;
use crate::record::RunRecord;
use crate::schema::{ClaimKind, Field};
use crate::study::Study;
use std::collections::BTreeSet;

/// Points of a curve that is compared: as fine as a chart shows it.
const POINTS: usize = 201;

/// Beginning of the names under which claims ask for a curve: `curve.mixing` is the centre line of
/// the mixing curve.
const CURVE: &str = "curve.";

/// Adds the curves that the claims of `study` ask for; none where no claim does.
///
/// # Errors
/// [`ProcessError`] when a kept original cannot be read again.
pub(super) fn add_curves(
    evidence: &mut Evidence,
    study: &Study,
    sources: &[Source],
) -> Result<(), ProcessError> {
    let wanted: BTreeSet<&str> = study
        .claims
        .iter()
        .filter(|claim| claim.kind() == ClaimKind::SameCurve)
        .filter_map(|claim| claim.metric.strip_prefix(CURVE))
        .collect();
    if wanted.is_empty() {
        return Ok(());
    }
    for source in sources {
        add_source(evidence, &wanted, source)?;
    }
    Ok(())
}

fn add_source(
    evidence: &mut Evidence,
    wanted: &BTreeSet<&str>,
    source: &Source,
) -> Result<(), ProcessError> {
    let replay = Replay::new(&source.reader, &source.known);
    let current: BTreeSet<&str> = source.known.current().map(|run| run.key.as_str()).collect();
    let latest: BTreeSet<&str> = source.known.latest_digests().collect();
    let mut done: BTreeSet<String> = BTreeSet::new();
    for entry in source.reader.events()? {
        let entry = entry?;
        if entry.event.action != Action::Derive {
            continue;
        }
        let recipe = Replay::recipe(&entry);
        let sheets = replay.sheets(&recipe)?;
        for item in super::super::kept::raw_inputs(&entry) {
            let digest = item.digest.as_ref().map(ToString::to_string);
            let is_latest = digest.as_deref().is_some_and(|d| latest.contains(d));
            if !is_latest || !done.insert(digest.unwrap_or_default()) {
                continue;
            }
            // Sheets of observations hold no curve.
            let Ok(runs) = replay.runs(&item, &recipe, &sheets, u64::MAX) else {
                continue;
            };
            for made in runs {
                let test = made.record.test.word();
                if wanted.contains(test) && current.contains(made.key.as_str()) {
                    evidence
                        .curves
                        .extend(row(&made.key, &made.run, &made.record));
                }
            }
        }
    }
    Ok(())
}

/// Metrics that give the time of a curve's peak.
const LANDMARKS: &[&str] = &[
    "mixing.development_time",
    "pin-mixing.centre_peak_time",
    "heating.t1",
];

/// Returns start and peak of the curve, min; `None` where the peak has no exact time.
fn landmarks(record: &RunRecord) -> Option<(f64, f64)> {
    let mut times = LANDMARKS.iter().filter_map(|id| record.result(id));
    let peak = times.find_map(|result| result.outcome.value())?;
    (peak > 0.0).then_some((0.0, peak))
}

/// Returns the centre line of a run on an even grid from nought to its end.
fn row(key: &str, run: &crate::record::Run, record: &RunRecord) -> Option<CurveRow> {
    let derived = derive::derive_run(run, std::sync::Arc::clone(&record.conditions))?;
    let (x, y) = (derived.curve.x, derived.curve.centre);
    let end = *x.last().filter(|end| **end > 0.0)?;
    if x.len() != y.len() {
        return None;
    }
    let step = end / (POINTS - 1) as f64;
    let grid = (0..POINTS).map(|i| i as f64 * step);
    let points: Vec<(f64, f64)> = grid
        .filter_map(|at| Some((at, value_at(&x, &y, at)?)))
        .collect();
    let conditions = &record.conditions;
    let text = |field| record.metadata.text(field).filter(|text| !text.is_empty());
    Some(CurveRow {
        // The ledger knows runs by their key, so that the curve can be traced.
        curve_id: key.to_owned(),
        run_id: record.id.to_string(),
        metric: format!("{CURVE}{}", record.test.word()),
        origin: Origin {
            sample: conditions.sample_id.as_ref().map(ToString::to_string),
            batch: conditions.batch_id.as_ref().map(ToString::to_string),
            treatment: conditions.treatment.clone(),
            block: conditions.block.clone(),
            replicate: conditions.replicate.clone(),
            subsample: text(Field::Subsample),
            hydration_pct: record.metadata.number(Field::HydrationPct),
            instrument: conditions.instrument_id.as_ref().map(ToString::to_string),
            machine: text(Field::MixerId),
        },
        x: points.iter().map(|(x, _)| *x).collect(),
        y: points.iter().map(|(_, y)| *y).collect(),
        unit: record.unit,
        landmarks: landmarks(record),
        excluded: record.excluded.as_ref().map(|e| e.reason.clone()),
    })
}
