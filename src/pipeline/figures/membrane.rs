//! Membrane grades by mixing time: every piece of every grader, a panel for each treatment.

use crate::chart::{GradedPiece, MembraneGrades, MembranePanel, Palette};
use crate::record::{Day, Observation};
use std::collections::{BTreeMap, BTreeSet};

/// Returns the figure of the day's membrane grades; none when there are no grades.
pub(in crate::pipeline) fn membrane_figures(day: &Day, palette: &Palette) -> Vec<MembraneGrades> {
    let mut panels: BTreeMap<&str, Vec<GradedPiece>> = BTreeMap::new();
    let (mut doughs, mut graders, mut without_time) = (BTreeSet::new(), BTreeSet::new(), 0);
    for seen in day.observations.iter().filter(|seen| is_graded(seen)) {
        let Some(mix_time_min) = seen.mix_time_min else {
            without_time += 1;
            continue;
        };
        doughs.insert(seen.batch_id.as_str());
        let grader = seen
            .grader
            .clone()
            .unwrap_or_else(|| "grader not stated".into());
        graders.insert(grader.clone());
        panels
            .entry(seen.treatment.as_deref().unwrap_or("treatment not stated"))
            .or_default()
            .push(GradedPiece {
                mix_time_min,
                grade: seen.grade,
                overmixed: seen.overmixed,
                grader,
            });
    }
    if panels.is_empty() {
        return Vec::new();
    }
    let pieces: usize = panels.values().map(Vec::len).sum();
    let notes = match without_time {
        0 => Vec::new(),
        n => vec![format!("{n} grades state no mixing time and are not drawn")],
    };
    vec![MembraneGrades {
        title: "Membrane grades by mixing time".into(),
        subtitle:
            "each dot one piece seen by one grader · grades are ordered words, never averaged"
                .into(),
        palette: palette.clone(),
        x_label: "mixing time / min".into(),
        panels: panels
            .into_iter()
            .map(|(treatment, pieces)| MembranePanel {
                treatment: treatment.to_owned(),
                pieces,
            })
            .collect(),
        notes,
        caption: format!(
            "{pieces} grades of {} doughs by {} graders",
            doughs.len(),
            graders.len()
        ),
    }]
}

fn is_graded(seen: &Observation) -> bool {
    seen.grade.is_some() || seen.overmixed
}
