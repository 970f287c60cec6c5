//! The energy of both methods by source.

use super::{Easel, Subject};
use crate::chart::{EnergyBySource, EnergyGroup};

/// Returns the energy of `subject` by source, where parts were asked for.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<EnergyBySource> {
    let picture = subject.picture;
    let mut sources: Vec<&str> = Vec::new();
    for part in &picture.energies {
        if !sources.contains(&part.metric.as_str()) {
            sources.push(&part.metric);
        }
    }
    if sources.is_empty() {
        return None;
    }
    let mut notes = Vec::new();
    let mut groups = Vec::new();
    for treatment in [&picture.reference, &picture.treatment] {
        let own = || {
            picture
                .energies
                .iter()
                .filter(|p| p.treatment == *treatment)
        };
        let mut parts = Vec::with_capacity(sources.len());
        for source in &sources {
            let part = own().find(|part| part.metric == *source);
            if part.is_none() {
                notes.push(format!(
                    "{treatment}: no result for {}; the bar lacks it.",
                    easel.metric_name(source)
                ));
            }
            parts.push(part.map_or(0.0, |part| part.mean));
        }
        let doughs = own().map(|part| part.doughs).max().unwrap_or(0);
        groups.push(EnergyGroup {
            treatment: treatment.clone(),
            parts_kj_per_kg: parts,
            note: format!(
                "n = {doughs} {}",
                if doughs == 1 { "dough" } else { "doughs" }
            ),
            ..EnergyGroup::default()
        });
    }
    Some(EnergyBySource {
        words: easel.words(
            subject,
            "Energy by source, mean of doughs".to_owned(),
            notes,
        ),
        sources: sources.iter().map(|id| easel.metric_name(id)).collect(),
        groups,
        development_label: String::new(),
        equal_development: None,
    })
}
