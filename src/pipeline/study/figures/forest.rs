//! All claims against their margins.

use super::{Easel, provenance};
use crate::chart::{
    self, ClaimsForest, Counts, ForestClaim, ForestPanel, ForestScale, Verdict, Words,
};
use crate::record::{Claim, ClaimContrast, ContrastUnit};
use crate::report::contrast_words;
use crate::schema;

/// Returns the forest of `claims`; `None` where none has an estimate.
pub(super) fn figure(easel: &Easel<'_>, claims: &[Claim]) -> Option<ClaimsForest> {
    let mut panels: Vec<(ContrastUnit, ForestPanel)> = Vec::new();
    for (claim, contrast) in claims
        .iter()
        .filter_map(|c| Some((c, c.contrast.as_ref()?)))
    {
        let row = judged(claim, contrast);
        match panels.iter_mut().find(|(unit, _)| *unit == contrast.unit) {
            Some((_, panel)) => panel.claims.push(row),
            None => panels.push((contrast.unit, panel_of(claims, contrast.unit, row))),
        }
    }
    // A claim without estimate has no scale; it stands below the others.
    let (_, last) = panels.last_mut()?;
    let refused = claims.iter().filter(|claim| claim.contrast.is_none());
    last.claims.extend(refused.map(unjudged));
    let ids = provenance(claims.iter().flat_map(|claim| &claim.results)).results;
    Some(ClaimsForest {
        words: Words {
            title: "Claims against their margins".to_owned(),
            subtitle: easel.study.title.clone(),
            palette: easel.palette.clone(),
            notes: vec![
                "Intervals have the confidence that stands beside them; secondary claims share one error rate."
                    .to_owned(),
            ],
            caption: chart::caption(Counts::default(), "unit of replication: dough", &ids),
        },
        panels: panels.into_iter().map(|(_, panel)| panel).collect(),
    })
}

fn panel_of(claims: &[Claim], unit: ContrastUnit, row: ForestClaim) -> ForestPanel {
    let own = claims
        .iter()
        .filter(|c| c.contrast.is_some_and(|of| of.unit == unit));
    let mut references: Vec<&str> = own.map(|c| c.reference.as_str()).collect();
    references.sort_unstable();
    references.dedup();
    let to = match references.as_slice() {
        [only] => (*only).to_owned(),
        _ => "the reference of each claim".to_owned(),
    };
    ForestPanel {
        x_label: match unit {
            ContrastUnit::Metric(schema::Unit::One) => format!("difference to {to}"),
            ContrastUnit::Metric(unit) => format!("difference to {to} / {}", unit.symbol()),
            ContrastUnit::Ratio => format!("ratio to {to}"),
            ContrastUnit::WaterPoints => {
                format!("water taken more than {to}, at an equal response / points of flour mass")
            }
            ContrastUnit::Probability => {
                format!("chance to be graded above {to}, less an even chance / percentage points")
            }
        },
        scale: match unit {
            ContrastUnit::Ratio => ForestScale::Ratio,
            _ => ForestScale::Difference,
        },
        claims: vec![row],
    }
}

fn judged(claim: &Claim, contrast: &ClaimContrast) -> ForestClaim {
    let words = contrast_words(contrast);
    // An even chance is no difference; the chart's line of no difference stands at zero.
    let placed = |value: f64| match contrast.unit {
        ContrastUnit::Probability => 100.0 * (value - 0.5),
        _ => value,
    };
    ForestClaim {
        sentence: claim.statement.clone(),
        estimate: Some(placed(contrast.estimate)),
        interval: contrast
            .low
            .zip(contrast.high)
            .map(|(low, high)| (placed(low), placed(high))),
        margin: (
            contrast.margin_low.map(placed),
            contrast.margin_high.map(placed),
        ),
        verdict: verdict(claim.verdict),
        verdict_words: claim.verdict.word().to_owned(),
        value_words: format!("{}, {}", words.value(), words.confidence),
        note: format!(
            "{} + {} doughs, {} {}",
            claim.doughs.0,
            claim.doughs.1,
            claim.blocks,
            if claim.blocks == 1 { "block" } else { "blocks" }
        ),
        primary: claim.gate == schema::Gate::Primary,
    }
}

fn unjudged(claim: &Claim) -> ForestClaim {
    ForestClaim {
        sentence: claim.statement.clone(),
        verdict: verdict(claim.verdict),
        verdict_words: claim.verdict.word().to_owned(),
        value_words: "no estimate".to_owned(),
        // A chart has no code style: the marks of it go.
        note: claim
            .refusal
            .as_deref()
            .unwrap_or_default()
            .replace('`', ""),
        primary: claim.gate == schema::Gate::Primary,
        ..ForestClaim::default()
    }
}

fn verdict(verdict: schema::Verdict) -> Verdict {
    match verdict {
        schema::Verdict::Supported => Verdict::Supported,
        schema::Verdict::Contradicted => Verdict::Contradicted,
        schema::Verdict::Undecided | schema::Verdict::Refused => Verdict::Undecided,
    }
}
