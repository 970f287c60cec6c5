//! Figures of a study: what the assessment wants drawn, put where a chart expects it. No statistic
//! is computed here but the scale and the normal scores of residuals.

mod curves;
mod doughs;
mod energy;
mod forest;
mod grades;
mod instruments;
mod residuals;
#[cfg(test)]
mod tests;
mod water;

use crate::chart::{self, Counts, Page, Paint, Palette, Provenance, Words};
use crate::compare::{Assessment, ClaimPicture};
use crate::derive::METHODS;
use crate::pipeline::chart_options::Shown;
use crate::pipeline::output::Staging;
use crate::pipeline::pictures::safe_name;
use crate::pipeline::plan::software;
use crate::pipeline::{ChartOptions, ProcessError};
use crate::record::{Claim, ClaimContrast};
use crate::report::StudyPicture;
use crate::schema::{MetricCard, ResultId, Unit};
use crate::study::{PlannedClaim, Scale, Study};
use rayon::prelude::*;

/// Most pictures that travel inside the report in double resolution; more are carried in single
/// resolution, so that a page stays below some 5 MB. The files beside it are always double.
const MOST_EMBEDDED_DOUBLE: usize = 16;

/// Most pictures that travel inside the report; beyond it they lie beside it.
const MOST_EMBEDDED: usize = 80;

/// Size of the pictures of one claim: two of them stand side by side on a page.
const OF_CLAIM: Page = Page {
    width: 800,
    height: 520,
    dpi: 192,
};

/// A figure ready to be drawn.
struct Sketch {
    /// Claim it belongs to.
    claim: Option<String>,
    /// Name of its files, without folder and ending.
    name: String,
    figure: Box<dyn Paint + Send + Sync>,
    page: Page,
    from: Provenance,
}

/// What every figure of a study shares.
struct Easel<'a> {
    study: &'a Study,
    palette: &'a Palette,
    cards: Vec<MetricCard>,
}

/// One claim with all that is known of it.
struct Subject<'a> {
    planned: &'a PlannedClaim,
    claim: &'a Claim,
    contrast: &'a ClaimContrast,
    picture: &'a ClaimPicture,
}

/// Draws every figure of a study under `charts/`, and returns the pictures for the
/// page: those of all claims first, then claim by claim.
///
/// # Errors
/// [`ProcessError`] when a figure cannot be drawn or a file cannot be written.
pub(super) fn study_pictures(
    study: &Study,
    assessment: &Assessment,
    palette: &Palette,
    (options, staging): (ChartOptions, &Staging),
) -> Result<Vec<StudyPicture>, ProcessError> {
    let easel = Easel {
        study,
        palette,
        cards: METHODS.iter().flat_map(|m| (m.card)().metrics).collect(),
    };
    let sketches = easel.sketches(assessment);
    let shown = match sketches.len() {
        n if n <= MOST_EMBEDDED_DOUBLE => Shown::Inside,
        n if n <= MOST_EMBEDDED => Shown::InsideSmall,
        _ => Shown::Beside,
    };
    let drawn: Vec<Result<StudyPicture, ProcessError>> = sketches
        .par_iter()
        .map(|sketch| draw(sketch, shown, options, staging))
        .collect();
    drawn.into_iter().collect()
}

fn draw(
    sketch: &Sketch,
    shown: Shown,
    options: ChartOptions,
    staging: &Staging,
) -> Result<StudyPicture, ProcessError> {
    let figure: &dyn Paint = sketch.figure.as_ref();
    let told = (figure.title(), sketch.name.as_str(), shown);
    Ok(StudyPicture {
        claim: sketch.claim.clone(),
        picture: options.put((figure, sketch.page), &sketch.from, told, staging)?,
    })
}

impl Easel<'_> {
    fn sketches(&self, assessment: &Assessment) -> Vec<Sketch> {
        let claims = &assessment.claims;
        let all = forest::figure(self, claims).map(|figure| Sketch {
            claim: None,
            name: "claims".to_owned(),
            figure: Box::new(figure),
            page: Page::default(),
            from: provenance(claims.iter().flat_map(|claim| &claim.results)),
        });
        let mut sketches: Vec<Sketch> = all.into_iter().collect();
        let planned = self.study.claims.iter().zip(claims);
        for (number, (planned, claim)) in planned.enumerate() {
            let mut pictures = assessment.figures.claims.iter();
            let picture = pictures.find(|p| p.claim_id == claim.claim_id);
            if let (Some(picture), Some(contrast)) = (picture, &claim.contrast) {
                let subject = Subject {
                    planned,
                    claim,
                    contrast,
                    picture,
                };
                sketches.extend(self.of_claim(number + 1, &subject));
            }
        }
        sketches
    }

    /// Returns the figures of one claim, those that show the answer first.
    fn of_claim(&self, number: usize, subject: &Subject<'_>) -> Vec<Sketch> {
        let sketch = |what: &str, figure: Box<dyn Paint + Send + Sync>| Sketch {
            claim: Some(subject.claim.name.clone()),
            name: format!("claim-{number}-{}-{what}", safe_name(&subject.claim.name)),
            figure,
            page: OF_CLAIM,
            from: provenance(&subject.claim.results),
        };
        let mut sketches = Vec::new();
        if let Some(figure) = water::figure(self, subject) {
            sketches.push(sketch("water", Box::new(figure)));
        } else if let Some(figure) = doughs::figure(self, subject) {
            sketches.push(sketch("doughs", Box::new(figure)));
        }
        if let Some(figure) = grades::figure(self, subject) {
            sketches.push(sketch("grades", Box::new(figure)));
        }
        if let Some(figure) = curves::figure(self, subject) {
            sketches.push(sketch("curves", Box::new(figure)));
        }
        if let Some(figure) = instruments::figure(self, subject) {
            sketches.push(sketch("instruments", Box::new(figure)));
        }
        if let Some(figure) = energy::figure(self, subject) {
            sketches.push(sketch("energy", Box::new(figure)));
        }
        if let Some(figure) = residuals::figure(self, subject) {
            sketches.push(sketch("residuals", Box::new(figure)));
        }
        sketches
    }

    /// Returns the name of the metric called `id`; words of the identifier where it is not known.
    fn metric_name(&self, id: &str) -> String {
        let card = self.cards.iter().find(|card| card.id == id);
        card.map_or_else(|| id.replace(['.', '_'], " "), |card| card.name.to_owned())
    }

    /// Returns the name of an axis of `metric`, with its unit.
    fn axis_name(&self, metric: &str, unit: Option<Unit>) -> String {
        let name = self.metric_name(metric);
        match unit {
            None | Some(Unit::One) => name,
            Some(unit) => match unit.symbol() {
                symbol if symbol.contains('/') => format!("{name} / ({symbol})"),
                symbol => format!("{name} / {symbol}"),
            },
        }
    }

    /// Returns the texts around a figure of `subject`.
    fn words(&self, subject: &Subject<'_>, title: String, notes: Vec<String>) -> Words {
        let claim = subject.claim;
        let ids = provenance(&claim.results).results;
        let counts = Counts {
            runs: 0,
            doughs: claim.doughs.0 + claim.doughs.1,
            blocks: claim.blocks,
        };
        Words {
            title,
            subtitle: claim.statement.clone(),
            palette: self.palette.clone(),
            notes,
            caption: chart::caption(counts, &claim.error_term, &ids),
        }
    }
}

impl Subject<'_> {
    fn scale(&self) -> Scale {
        self.planned.question.scale()
    }
}

/// Returns where a figure of `results` comes from.
fn provenance<'r>(results: impl IntoIterator<Item = &'r String>) -> Provenance {
    let mut ids: Vec<ResultId> = results
        .into_iter()
        .filter_map(|id| ResultId::new(id).ok())
        .collect();
    ids.sort();
    ids.dedup();
    Provenance {
        software: software(),
        results: ids,
        ..Provenance::default()
    }
}
