//! Mixing runs one by one on small panels, where a treatment has too many of them for one overlay.

use super::{Sketch, day_words, is_series, state_of};
use crate::chart::{Bound, DotState, Multiple, Palette, Series, SmallMultiples};
use crate::record::{Day, Finding, RunRecord};
use crate::schema::Test;
use std::collections::BTreeMap;

/// Most runs of one treatment whose curves lie over each other.
pub(super) const MOST_OVERLAID: usize = 24;

/// Most panels on a page: more are too small to be read.
const PANELS: usize = 48;

/// Returns the pages of small panels, with the runs on each.
pub(in crate::pipeline) fn small_multiples<'d>(
    day: &'d Day,
    findings: &[Finding],
    sketches: &[Sketch],
    palette: &Palette,
) -> Vec<(SmallMultiples, Vec<&'d RunRecord>)> {
    type Drawn<'d, 's> = (&'d RunRecord, &'s Sketch);
    let mut kinds: BTreeMap<(&str, String, String), Vec<Drawn<'_, '_>>> = BTreeMap::new();
    for (run, sketch) in day.runs.iter().zip(sketches) {
        let treatment = run.conditions.treatment.as_deref();
        if let (Some(treatment), Test::Mixing, false) = (treatment, run.test, is_series(run))
            && sketch.x.len() > 1
        {
            let sample = run.conditions.sample_id.as_ref();
            let sample = sample.map_or_else(|| "not stated".to_owned(), ToString::to_string);
            let kind = (treatment, sample, run.unit.to_string());
            kinds.entry(kind).or_default().push((run, sketch));
        }
    }
    kinds.retain(|_, runs| runs.len() > MOST_OVERLAID);
    let mut pages = Vec::new();
    for ((treatment, sample, unit), drawn) in &kinds {
        let count = drawn.len().div_ceil(PANELS);
        for (number, part) in drawn.chunks(PANELS).enumerate() {
            let page = match count {
                1 => String::new(),
                _ => format!(", page {} of {count}", number + 1),
            };
            let title = format!("Mixing runs of {treatment}, flour {sample}{page}");
            let runs: Vec<&RunRecord> = part.iter().map(|(run, _)| *run).collect();
            let figure = SmallMultiples {
                words: day_words(&title, palette, (runs.len(), 0), std::iter::empty()),
                // The name stands below one small panel.
                x_label: "time / min".to_owned(),
                y_label: format!("consistency / {unit}"),
                common: Series::default(),
                runs: part
                    .iter()
                    .map(|(run, sketch)| panel(run, sketch, findings))
                    .collect(),
            };
            pages.push((figure, runs));
        }
    }
    pages
}

fn panel(run: &RunRecord, sketch: &Sketch, findings: &[Finding]) -> Multiple {
    let time = run.result("mixing.development_time");
    let mark = time.and_then(|result| {
        let x = result.outcome.value_or_bound()?;
        Some((x, sketch.at(x)?, Bound::of(result.outcome.status())?))
    });
    let note = time.and_then(|result| {
        let value = result.outcome.value_or_bound()?;
        let side = Bound::of(result.outcome.status())?.words();
        let (value, unit) = (result.metric.format(value), result.unit);
        Some(format!("DT {side}{value} {unit}"))
    });
    Multiple {
        name: run.id.to_string(),
        treatment: run.conditions.treatment.clone().unwrap_or_default(),
        curve: Series {
            name: String::new(),
            x: sketch.x.clone(),
            y: sketch.centre.clone(),
        },
        mark,
        note: note.unwrap_or_default(),
        rejected: state_of(run, findings) == DotState::Rejected,
    }
}
