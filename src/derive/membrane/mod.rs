//! Graded membrane stretches, the "window" of a dough (no standard exists; codebook of this
//! project, HANDBOOK §7.1).
//!
//! Grades are ordered words: nothing here adds or averages them. The method reads all observations
//! of a day, since a grade means little without its piece's other grader. Numbers become rows of the
//! results table where they trace to lines of one sheet: by dough and mixing time, and, for
//! agreement, by sheet. Their run is named after what they summarise (`dough … at … min`,
//! `sheet … graded by …`), since no single run stands behind them.

mod agreement;
mod grades;
mod results;
mod settings;
mod stretch;

pub use agreement::Panel;
pub use settings::Settings;
pub use stretch::Group;

use super::subject::results_of;
use crate::numerics::agreement::{Superiority, superiority};
use crate::record::{AgreementSummary, GradeSummary, Grading, Observation};
use crate::schema::{MethodCard, MetricCard};
use std::collections::{BTreeMap, BTreeSet};
use stretch::{Piece, is_graded, pieces_of};

/// Returns the cards of every metric of the method, in report order.
pub fn metric_cards() -> Vec<MetricCard> {
    let of_groups = grades::METRICS.iter().map(|metric| metric.card);
    let panels = agreement::OF_PAIRS.iter().chain(agreement::OF_PANELS);
    of_groups.chain(panels.map(|metric| metric.card)).collect()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "membrane",
        name: "graded membrane stretches",
        metrics: metric_cards(),
        parameters: Settings::default().cards(),
    }
}

/// Returns what the graded stretches among `observations` came to.
pub fn derive(observations: &[Observation]) -> Grading {
    derive_with(observations, Settings::default())
}

/// Returns what the graded stretches came to, with parameters of one's own.
pub fn derive_with(observations: &[Observation], settings: Settings) -> Grading {
    let graded: Vec<&Observation> = observations.iter().filter(|o| is_graded(o)).collect();
    let mut grading = Grading::default();
    if graded.is_empty() {
        return grading;
    }
    let pieces = pieces_of(&graded);
    summarise(&pieces, false, settings, &mut grading);
    summarise(&pieces, true, settings, &mut grading);
    let mut sheets: BTreeMap<&str, Vec<&Observation>> = BTreeMap::new();
    for o in &graded {
        sheets.entry(o.file.name.as_str()).or_default().push(o);
    }
    for (name, lines) in &sheets {
        let pieces = pieces_of(lines);
        agree(&pieces, Some((name, lines)), settings, &mut grading);
    }
    if sheets.len() > 1 {
        agree(&pieces, None, settings, &mut grading);
    }
    grading
}

/// Treatment, sheet and dough (for a summary by dough), and mixing time as sortable bits.
type GroupKey<'a> = (Option<&'a str>, Option<(&'a str, &'a str)>, Option<u64>);

/// Adds the summaries of `pieces` by mixing time and either treatment or dough.
fn summarise(pieces: &[Piece<'_>], by_dough: bool, settings: Settings, grading: &mut Grading) {
    let mut groups: BTreeMap<GroupKey<'_>, Vec<&Piece<'_>>> = BTreeMap::new();
    for piece in pieces {
        let Some(first) = piece.firsts.first() else {
            continue;
        };
        let dough = (first.file.name.as_str(), first.batch_id.as_str());
        // Bits of positive numbers sort as the numbers do; a mixing time is never negative.
        let time = first.mix_time_min.map(|t| t.max(0.0).to_bits());
        let key = (first.treatment.as_deref(), by_dough.then_some(dough), time);
        groups.entry(key).or_default().push(piece);
    }
    for pieces in groups.values() {
        let group = Group::of(pieces, settings.most_overmixed);
        let lines: Vec<&Observation> = pieces.iter().flat_map(|p| &p.firsts).copied().collect();
        let Some(first) = lines.first() else { continue };
        if by_dough {
            let subject = results::dough(&lines, settings.name());
            grading
                .results
                .extend(results_of(&subject, &group, grades::METRICS));
        }
        let doughs: BTreeSet<&str> = lines.iter().map(|o| o.batch_id.as_str()).collect();
        let same_block = lines.iter().all(|o| o.block == first.block);
        grading.groups.push(GradeSummary {
            treatment: first.treatment.clone(),
            file: by_dough.then(|| first.file.name.clone()),
            batch_id: by_dough.then(|| first.batch_id.clone()),
            block: first.block.clone().filter(|_| same_block),
            mix_time_min: first.mix_time_min,
            doughs: doughs.len(),
            pieces: group.pieces,
            counts: grades::counts_of(&group),
            median: grades::median_of(&group),
            full_window_pct: grades::full_window(&group),
            clean_edge_pct: grades::clean_edge(&group),
        });
    }
}

/// Adds how far the graders of `pieces` agree; as results too where they come from one sheet.
fn agree(
    pieces: &[Piece<'_>],
    sheet: Option<(&str, &[&Observation])>,
    settings: Settings,
    grading: &mut Grading,
) {
    let pairs = agreement::pair_panels(pieces, settings).into_iter();
    let whole = agreement::whole_panel(pieces, settings);
    let panels = pairs
        .map(|panel| (panel, agreement::OF_PAIRS))
        .chain([(whole, agreement::OF_PANELS)]);
    for (panel, metrics) in panels {
        for (card, variant, reading) in super::readings(&panel, metrics) {
            grading.agreement.push(AgreementSummary {
                file: sheet.map(|(name, _)| name.to_owned()),
                metric: card.id,
                variant,
                graders: panel.graders.clone(),
                within_grader: panel.within_grader,
                pieces: panel.ratings.len(),
                left_out: panel.left_out,
                outcome: reading.outcome.clone(),
            });
            if let Some((_, lines)) = sheet {
                let subject = results::sheet(lines, &panel, settings.name());
                grading
                    .results
                    .extend(subject.result((card, variant, reading)));
            }
        }
    }
}

/// Returns the probability that a piece of treatment `above` is graded higher than one of `below`
/// at mixing time `mix_time_min`, with the Mann–Whitney test; `None` where either has no grading.
///
/// An overmixed piece ranks below every grade: it is a failure of the window. First gradings of
/// all graders count, taken as independent: for a claim about doughs use a comparison that knows
/// dough and grader.
pub fn treatment_superiority(
    observations: &[Observation],
    (above, below): (&str, &str),
    mix_time_min: f64,
) -> Option<Superiority> {
    let graded: Vec<&Observation> = observations.iter().filter(|o| is_graded(o)).collect();
    let pieces = pieces_of(&graded);
    let ranks = |treatment: &str| -> Vec<Option<crate::record::Grade>> {
        let firsts = pieces.iter().flat_map(|piece| &piece.firsts);
        firsts
            .filter(|o| o.treatment.as_deref() == Some(treatment))
            .filter(|o| {
                o.mix_time_min
                    .is_some_and(|t| (t - mix_time_min).abs() < 1e-9)
            })
            // `None` sorts below every grade.
            .map(|o| o.grade.filter(|_| !o.overmixed))
            .collect()
    };
    superiority(&ranks(above), &ranks(below))
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
