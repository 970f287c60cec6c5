//! How many more points of water does one method take at an equal response? Parallel lines of the
//! response over water, one per method, and their horizontal shift with Fieller's interval
//! (Finney 1978, ch. 4; HANDBOOK §12.1: the factorial trap of comparing at different water).

use crate::compare::answer::{Answer, Desk, Pictures, dots, with_missing};
use crate::compare::fieller::Fieller;
use crate::compare::figures::{HydrationLine, HydrationLines};
use crate::compare::gather::{Dough, Gathered};
use crate::compare::inference::Inference;
use crate::compare::layout::{Standing, doughs_of, stand};
use crate::compare::told::{Told, rounded, short};
use crate::numerics::dose_response::{Comparison, Limits, ParallelLines};
use crate::numerics::linear::{Coding, Contrasts, Design, Factor, Setting, Variable, fit_linear};
use crate::numerics::mixed::Blocks;
use crate::numerics::{FisherTest, FitError, Interval};
use crate::record::{Assumption, ContrastUnit};
use crate::study::Scale;
use std::collections::BTreeSet;

/// Below this probability a test speaks against straight lines.
const DOUBTFUL_P: f64 = 0.05;

const TREATMENT: usize = 0;
const WATER: usize = 1;

/// The doughs of both methods as the model sees them.
struct Lines<'g, 'e> {
    doughs: Vec<&'g Dough<'e>>,
    water: Vec<f64>,
    response: Vec<f64>,
    /// 0 for the treatment, 1 for the reference.
    treatment: Factor,
    blocks: Option<Factor>,
}

pub(super) fn answer(desk: &Desk<'_>, slope_margin: f64) -> Result<Answer, String> {
    let gathered = desk.gather(Scale::Linear)?;
    let standing = stand(desk.claim, &gathered)?;
    let lines = lines_of(desk, &gathered)?;
    let confidence = 1.0 - 2.0 * desk.claim.alpha;
    let blocks = match &lines.blocks {
        Some(blocks) => Blocks::Fixed(blocks.clone()),
        None => Blocks::None,
    };
    let model = ParallelLines::new(&lines.water, &lines.treatment, blocks).map_err(in_words)?;
    let found = model
        .compare(&lines.response, 0, 1, confidence)
        .map_err(in_words)?;
    let (fieller, mut answer) = shifted(desk, &gathered, &lines, standing)?;
    let level = match (found.common_responses, fieller.interval(desk.claim.alpha)) {
        (Some(common), _) => {
            answer.notes.push(at_equal(&gathered, common));
            0.5 * (common.low + common.high)
        }
        (None, Some(_)) => return Err(nothing_in_common(desk)),
        // The response hardly changes with water: the gain has no bounds, which decides nothing.
        (None, None) => lines.response.iter().sum::<f64>() / lines.response.len() as f64,
    };
    answer.pictures.lines = Some(picture(desk, &gathered, &lines, &fieller, level)?);
    answer.inference = Box::new(fieller);
    judge_lines(&found, slope_margin, confidence, &mut answer);
    Ok(answer)
}

fn at_equal(gathered: &Gathered<'_>, common: Interval) -> String {
    let width = common.high - common.low;
    format!(
        "compared at equal response, between {} and {} {}",
        rounded(common.low, width),
        rounded(common.high, width),
        gathered.unit
    )
}

fn nothing_in_common(desk: &Desk<'_>) -> String {
    format!(
        "within the water that was measured `{}` and `{}` reached no response in common: a shift \
         would have to be extrapolated; measure more water for one, less for the other",
        desk.claim.treatment, desk.claim.reference
    )
}

fn lines_of<'g, 'e>(desk: &Desk<'_>, gathered: &'g Gathered<'e>) -> Result<Lines<'g, 'e>, String> {
    let claim = desk.claim;
    let (mut doughs, mut codes) = (Vec::new(), Vec::new());
    for (code, treatment) in [&claim.treatment, &claim.reference].into_iter().enumerate() {
        let own = doughs_of(gathered, treatment);
        let waters: BTreeSet<u64> = own
            .iter()
            .filter_map(|d| d.hydration_pct.map(f64::to_bits))
            .collect();
        if waters.len() < 2 {
            return Err(format!(
                "`{treatment}` was made with {} amounts of water; a line needs at least two, and \
                 three show whether it is straight",
                waters.len()
            ));
        }
        codes.extend(own.iter().map(|_| code));
        doughs.extend(own);
    }
    let mut water = Vec::with_capacity(doughs.len());
    for dough in &doughs {
        water.push(
            dough
                .hydration_pct
                .ok_or_else(|| format!("the water of dough `{}` is not stated", dough.batch))?,
        );
    }
    let labels: Vec<&str> = doughs.iter().map(|d| d.block).collect();
    let (blocks, names) = Factor::of_labels(&labels);
    Ok(Lines {
        response: doughs.iter().map(|d| d.value).collect(),
        water,
        treatment: Factor::new(codes),
        blocks: (names.len() > 1).then_some(blocks),
        doughs,
    })
}

fn in_words(error: FitError) -> String {
    match error {
        FitError::NoResidual => "the lines leave no dough over to estimate the error from: make \
                                 more doughs"
            .to_owned(),
        FitError::NotEstimable => {
            "the lines cannot be told from the blocks: vary the water within each block".to_owned()
        }
        FitError::NoVariation => "the response does not change with water".to_owned(),
        other => other.to_string(),
    }
}

/// Returns the design of one common slope.
fn common_slope(lines: &Lines<'_, '_>) -> Result<Design, FitError> {
    let mean = lines.water.iter().sum::<f64>() / lines.water.len() as f64;
    let centred = lines.water.iter().map(|w| w - mean).collect();
    let mut variables = vec![
        Variable::Factor(lines.treatment.clone(), Coding::Sum),
        Variable::Measured(centred),
    ];
    let mut terms = vec![vec![TREATMENT], vec![WATER]];
    if let Some(blocks) = &lines.blocks {
        variables.push(Variable::Factor(blocks.clone(), Coding::Sum));
        terms.insert(0, vec![2]);
    }
    Design::new(variables, terms)
}

fn shifted(
    desk: &Desk<'_>,
    gathered: &Gathered<'_>,
    lines: &Lines<'_, '_>,
    standing: Standing,
) -> Result<(Fieller, Answer), String> {
    let design = common_slope(lines).map_err(in_words)?;
    let fit = fit_linear(&design, &lines.response).map_err(in_words)?;
    let apart = design.difference(TREATMENT, 1, 0).map_err(in_words)?;
    let slope = design.slope(WATER, &[]).map_err(in_words)?;
    let shared = shared_uncertainty(gathered, &lines.doughs);
    let fieller = Fieller::of(&fit, &apart, &slope, shared).map_err(in_words)?;
    let residual_sd = fit.error().mean_square().sqrt();
    let residuals = lines
        .doughs
        .iter()
        .zip(fit.residuals())
        .map(|(dough, residual)| crate::compare::Residual {
            treatment: dough.treatment.to_owned(),
            block: dough.block.to_owned(),
            fitted: dough.value - residual,
            residual: *residual,
        })
        .collect();
    let answer = Answer {
        inference: Box::new(fieller),
        target: desk.claim.question.target(),
        unit: ContrastUnit::WaterPoints,
        variant: gathered.variant.to_owned(),
        metric_unit: Some(gathered.unit),
        doughs: standing.doughs,
        blocks: standing.blocks,
        error_term: format!(
            "doughs around two parallel lines within blocks ({} degrees of freedom), Fieller's \
             interval",
            fit.error().df
        ),
        sd: Some(residual_sd / fieller.slope().abs()),
        results: gathered
            .rows
            .iter()
            .filter(|row| {
                let treatment = row.origin.treatment.as_ref();
                treatment == Some(&desk.claim.treatment) || treatment == Some(&desk.claim.reference)
            })
            .map(|row| row.result_id.clone())
            .collect(),
        left_out: gathered.left_out.clone(),
        assumptions: Vec::new(),
        warnings: with_missing(gathered, standing.warnings),
        notes: standing.inference,
        withheld: None,
        pictures: Pictures {
            dots: dots(desk.claim, gathered, Scale::Linear),
            residuals,
            ..Pictures::default()
        },
    };
    Ok((fieller, answer))
}

/// Returns the shared (type B) uncertainty in the response and in the water, each once.
fn shared_uncertainty(gathered: &Gathered<'_>, doughs: &[&Dough<'_>]) -> (f64, f64) {
    let response = doughs.iter().map(|d| d.shared_u).fold(0.0, f64::max);
    let water = gathered
        .rows
        .iter()
        .filter_map(|row| row.parameter("water_shared_u")?.parse::<f64>().ok())
        .filter(|u| u.is_finite() && *u >= 0.0)
        .fold(0.0, f64::max);
    (response, water)
}

fn judge_lines(found: &Comparison, slope_margin: f64, confidence: f64, answer: &mut Answer) {
    let (low, high) = (1.0 - slope_margin, 1.0 + slope_margin);
    let words = match found.slope_ratio.limits {
        Limits::Bounded(Interval { low, high }) => format!(
            "between {} and {}",
            rounded(low, high - low),
            rounded(high, high - low)
        ),
        Limits::Outside(_) | Limits::Unbounded => "unbounded".to_owned(),
    };
    let inside = found
        .slope_ratio
        .limits
        .bounded()
        .is_some_and(|limits| limits.low > low && limits.high < high);
    answer.assumptions.push(Assumption {
        name: "parallel lines",
        words: format!(
            "ratio of slopes {:.2}, {words} with {:.0} % confidence, where {} to {} counts as \
             parallel; test of equal slopes p = {:.3}",
            found.slope_ratio.value,
            100.0 * confidence,
            short(low),
            short(high),
            found.parallelism.p
        ),
        doubtful: !inside,
    });
    if !inside {
        answer.withheld = Some(
            "the lines are not shown to be parallel within the stated margin, so the gain may \
             depend on the level at which it is read"
                .to_owned(),
        );
    }
    straightness(
        "straight lines",
        "square of the water",
        found.curvature,
        answer,
    );
    straightness(
        "no lack of fit",
        "means against the lines",
        found.lack_of_fit,
        answer,
    );
    if found.curvature.is_none() {
        answer.warnings.push(
            "with two amounts of water nobody can see whether the lines are straight".to_owned(),
        );
    }
}

fn straightness(name: &'static str, of: &str, test: Option<FisherTest>, answer: &mut Answer) {
    let Some(test) = test else { return };
    let doubtful = test.p < DOUBTFUL_P;
    answer.assumptions.push(Assumption {
        name,
        words: format!(
            "{of}, F({}, {}) = {:.2}, p = {:.3}",
            test.numerator_df, test.denominator_df, test.statistic, test.p
        ),
        doubtful,
    });
    if doubtful {
        answer.warnings.push(format!(
            "{name} is doubtful (p = {:.3}): the gain holds near the middle of the measured water",
            test.p
        ));
    }
}

fn picture(
    desk: &Desk<'_>,
    gathered: &Gathered<'_>,
    lines: &Lines<'_, '_>,
    fieller: &Fieller,
    level: f64,
) -> Result<HydrationLines, String> {
    let design = common_slope(lines).map_err(in_words)?;
    let fit = fit_linear(&design, &lines.response).map_err(in_words)?;
    let mean = lines.water.iter().sum::<f64>() / lines.water.len() as f64;
    let line = |code: usize, treatment: &str| -> Result<HydrationLine, String> {
        let own = lines.doughs.iter().zip(&lines.water);
        let points: Vec<(f64, f64)> = own
            .filter(|(dough, _)| dough.treatment == treatment)
            .map(|(dough, water)| (*water, dough.value))
            .collect();
        let range = points.iter().fold(
            (f64::INFINITY, f64::NEG_INFINITY),
            |(low, high), (water, _)| (low.min(*water), high.max(*water)),
        );
        let at = |water: f64| -> Result<f64, FitError> {
            let held = [
                (TREATMENT, Setting::Level(code)),
                (WATER, Setting::Value(water - mean)),
            ];
            Ok(fit.contrast(&design.mean_at(&held)?)?.value)
        };
        Ok(HydrationLine {
            treatment: treatment.to_owned(),
            response: (
                at(range.0).map_err(in_words)?,
                at(range.1).map_err(in_words)?,
            ),
            range,
            points,
        })
    };
    let interval = fieller.interval(desk.claim.alpha);
    Ok(HydrationLines {
        treatment: line(0, &desk.claim.treatment)?,
        reference: line(1, &desk.claim.reference)?,
        level,
        shift: fieller.value(),
        shift_low: interval.map(|i| i.low),
        shift_high: interval.map(|i| i.high),
        unit: gathered.unit,
    })
}

pub(super) fn tell(told: &Told<'_>, margin: f64) -> String {
    let side = match told.contrast.estimate >= 0.0 {
        true => "more",
        false => "less",
    };
    format!(
        "{} takes {} points {side} water than {} at an equal response ({}); the claim needs more \
         than {}.",
        told.claim.treatment,
        told.size(),
        told.claim.reference,
        told.between(),
        short(margin)
    )
}
