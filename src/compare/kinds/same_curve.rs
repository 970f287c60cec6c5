//! Are whole curves the same, and where do they differ? Timing is taken out by landmarks and judged
//! as a number of its own; what is left is shape, judged by a simultaneous band over blocks.

use crate::compare::CurveRow;
use crate::compare::answer::{Answer, Desk, Pictures};
use crate::compare::figures::{CurveBand, CurveRegion};
use crate::compare::gather::{block_of, doughs_without_value, excluded_by};
use crate::compare::inference::{Inference, Student, verdict};
use crate::compare::layout::stand;
use crate::compare::told::{Told, rounded, short};
use crate::numerics::equivalence::paired;
use crate::numerics::functional::{
    BandSettings, DifferenceBand, Landmarks, Registered, difference_band, register_landmarks,
};
use crate::numerics::{Interval, Resampling, value_at};
use crate::record::{Assumption, ContrastUnit, LeftOut};
use crate::schema::{Unit, Verdict};
use crate::study::{Blocking, Scale, Target};
use std::collections::BTreeMap;

/// Times at which curves are compared.
const POINTS: usize = 101;

/// What the claim says of curves.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    pub timing_margin: f64,
    pub range: Option<(f64, f64)>,
    pub permutations: usize,
}

/// The difference of shape, block by block, and the difference of timing.
struct Band {
    differences: Vec<Vec<f64>>,
    resampling: Resampling,
    timing: Student,
    timing_target: Target,
}

impl Band {
    fn at(&self, alpha: f64) -> Option<DifferenceBand> {
        let settings = BandSettings {
            confidence: 1.0 - 2.0 * alpha,
            resampling: self.resampling,
        };
        difference_band(&self.differences, settings).ok()
    }
}

impl Inference for Band {
    /// The mean difference where it is greatest.
    fn value(&self) -> f64 {
        // Of the differences themselves: with few blocks there is no band to take a mean from.
        let points = self.differences.first().map_or(0, Vec::len);
        let blocks = self.differences.len().max(1) as f64;
        let mean = |i: usize| {
            let at = self.differences.iter().filter_map(|block| block.get(i));
            at.sum::<f64>() / blocks
        };
        let greater = |most: f64, v: f64| if v.abs() > most.abs() { v } else { most };
        (0..points).map(mean).fold(0.0, greater)
    }

    fn interval(&self, alpha: f64) -> Option<Interval> {
        let band = self.at(alpha)?;
        Some(Interval {
            low: band.low.iter().copied().fold(f64::INFINITY, f64::min),
            high: band.high.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        })
    }

    /// Same in shape and in timing, or surely not the same in one of them: shape and timing share
    /// the error rate of the second verdict, while both must pass for the first.
    fn decides(&self, alpha: f64, target: Target) -> Verdict {
        let timing = |alpha: f64| verdict(self.timing.interval(alpha), self.timing_target);
        let beyond = |band: DifferenceBand| band.is_somewhere_beyond(target.high);
        if timing(0.5 * alpha) == Verdict::Contradicted || self.at(0.5 * alpha).is_some_and(beyond)
        {
            return Verdict::Contradicted;
        }
        let within = |band: DifferenceBand| band.is_within(target.high);
        match timing(alpha) == Verdict::Supported && self.at(alpha).is_some_and(within) {
            true => Verdict::Supported,
            false => Verdict::Undecided,
        }
    }
}

pub(super) fn answer(desk: &Desk<'_>, wanted: Wanted) -> Result<Answer, String> {
    if desk.study.block == Blocking::Unblocked {
        return Err("whole curves are compared block by block, and the study has none".to_owned());
    }
    let (curves, left_out) = curves_of(desk);
    let unit = one_unit(&curves)?;
    let pieces = curves.iter().map(|c| (c.batch, c.block, &c.row.origin));
    let gathered = doughs_without_value(pieces, left_out)?;
    let standing = stand(desk.claim, &gathered)?;
    let registered = register(&curves, wanted.range)?;
    let blocks = by_block(desk, &curves, &registered);
    let resampling = Resampling {
        times: wanted.permutations,
        seed: desk.study.seed,
    };
    let band = Band {
        timing: Student {
            estimate: paired(&blocks.timing.0, &blocks.timing.1).map_err(|_| {
                "two blocks with curves of both methods are the least for their timing".to_owned()
            })?,
            scale: Scale::Linear,
        },
        timing_target: Target {
            low: -wanted.timing_margin,
            high: wanted.timing_margin,
        },
        differences: blocks.differences,
        resampling,
    };
    let settings = BandSettings {
        confidence: 1.0 - 2.0 * desk.claim.alpha,
        resampling,
    };
    let shown = difference_band(&band.differences, settings).map_err(|e| e.to_string())?;
    let target = desk.claim.question.target();
    Ok(Answer {
        target,
        unit: ContrastUnit::Metric(unit),
        variant: String::new(),
        metric_unit: Some(unit),
        doughs: standing.doughs,
        blocks: standing.blocks,
        error_term: format!(
            "whole-curve band by exchanging the methods within {} blocks (least possible p {:.3})",
            shown.blocks, shown.smallest_p
        ),
        sd: None,
        results: curves.iter().map(|c| c.row.curve_id.clone()).collect(),
        left_out: gathered.left_out,
        assumptions: vec![timing_words(&band, desk.claim.alpha)],
        warnings: standing.warnings,
        notes: notes(standing.inference, &shown, &registered),
        withheld: None,
        pictures: Pictures {
            band: Some(picture(&shown, &registered, target.high)),
            ..Pictures::default()
        },
        inference: Box::new(band),
    })
}

/// One curve that counts.
struct Counted<'e> {
    row: &'e CurveRow,
    batch: &'e str,
    block: &'e str,
    landmarks: Landmarks,
}

fn curves_of<'e>(desk: &Desk<'e>) -> (Vec<Counted<'e>>, Vec<LeftOut>) {
    let (mut kept, mut left_out) = (BTreeMap::new(), Vec::new());
    for row in desk
        .evidence
        .curves
        .iter()
        .filter(|row| row.metric == desk.claim.metric)
    {
        let treatment = row.origin.treatment.as_ref();
        if treatment != Some(&desk.claim.treatment) && treatment != Some(&desk.claim.reference) {
            continue;
        }
        let by_study = excluded_by(desk.study, &row.origin, &row.run_id, &row.curve_id);
        let block = block_of(desk.study.block, &row.origin);
        let reason = match (
            row.excluded.clone().or(by_study),
            row.origin.batch.as_deref(),
            block,
            row.landmarks,
        ) {
            (Some(reason), ..) => reason,
            (None, None, ..) => "no dough is named".to_owned(),
            (None, Some(_), None, _) => "no block is named".to_owned(),
            (None, Some(_), Some(_), None) => {
                "it has no landmarks (such as its development time), so its timing cannot be told \
                 from its shape"
                    .to_owned()
            }
            (None, Some(batch), Some(block), Some((start, peak))) => {
                let landmarks = Landmarks { start, peak };
                let counted = Counted {
                    row,
                    batch,
                    block,
                    landmarks,
                };
                kept.insert(row.curve_id.as_str(), counted);
                continue;
            }
        };
        left_out.push(LeftOut {
            what: row.curve_id.clone(),
            reason,
        });
    }
    (kept.into_values().collect(), left_out)
}

fn one_unit(curves: &[Counted<'_>]) -> Result<Unit, String> {
    let first = curves.first().map(|c| c.row.unit);
    let unit = first.ok_or("no curve of these methods can be used; what was left out says why")?;
    match curves.iter().all(|c| c.row.unit == unit) {
        true => Ok(unit),
        false => Err("curves come in different units".to_owned()),
    }
}

/// Returns all curves on one clock, over what all records share.
fn register(curves: &[Counted<'_>], range: Option<(f64, f64)>) -> Result<Registered, String> {
    let (mut from, mut to) = range.unwrap_or((f64::NEG_INFINITY, f64::INFINITY));
    for curve in curves {
        from = curve.row.x.first().map_or(from, |x| from.max(*x));
        to = curve.row.x.last().map_or(to, |x| to.min(*x));
    }
    if !(to > from && from.is_finite() && to.is_finite()) {
        return Err("the records share no stretch of the abscissa".to_owned());
    }
    let step = (to - from) / (POINTS - 1) as f64;
    let times: Vec<f64> = (0..POINTS)
        .map(|i| (from + step * i as f64).min(to))
        .collect();
    let mut sampled = Vec::with_capacity(curves.len());
    for curve in curves {
        let at = times
            .iter()
            .map(|t| value_at(&curve.row.x, &curve.row.y, *t));
        let values: Option<Vec<f64>> = at.collect();
        sampled.push(
            values
                .ok_or_else(|| format!("curve `{}` has no rising abscissa", curve.row.curve_id))?,
        );
    }
    let landmarks: Vec<Landmarks> = curves.iter().map(|c| c.landmarks).collect();
    register_landmarks(&times, &sampled, &landmarks).ok_or_else(|| {
        "the curves cannot be set to one clock: landmarks out of order, or too little in common"
            .to_owned()
    })
}

/// Differences of both methods, block by block.
struct ByBlock {
    differences: Vec<Vec<f64>>,
    /// Time from start to peak of the treatment and of the reference.
    timing: (Vec<f64>, Vec<f64>),
}

/// Sums over the doughs of one method in one block.
#[derive(Default)]
struct Mean {
    curve: Vec<f64>,
    timing: f64,
    count: usize,
}

impl Mean {
    fn add(&mut self, curve: &[f64], timing: f64) {
        self.curve.resize(curve.len(), 0.0);
        self.curve
            .iter_mut()
            .zip(curve)
            .for_each(|(sum, v)| *sum += v);
        self.timing += timing;
        self.count += 1;
    }

    fn finish(&self) -> (Vec<f64>, f64) {
        let count = self.count as f64;
        (
            self.curve.iter().map(|v| v / count).collect(),
            self.timing / count,
        )
    }
}

fn by_block(desk: &Desk<'_>, curves: &[Counted<'_>], registered: &Registered) -> ByBlock {
    // Pieces within doughs first, doughs within blocks then.
    let mut doughs: BTreeMap<(&str, bool, &str), Mean> = BTreeMap::new();
    for (curve, values) in curves.iter().zip(&registered.curves) {
        let treated = curve.row.origin.treatment.as_ref() == Some(&desk.claim.treatment);
        let length = curve.landmarks.peak - curve.landmarks.start;
        let dough = doughs
            .entry((curve.block, treated, curve.batch))
            .or_default();
        dough.add(values, length);
    }
    let mut blocks: BTreeMap<&str, [Mean; 2]> = BTreeMap::new();
    for ((block, treated, _), dough) in doughs {
        let (curve, timing) = dough.finish();
        let [of_treatment, of_reference] = blocks.entry(block).or_default();
        match treated {
            true => of_treatment.add(&curve, timing),
            false => of_reference.add(&curve, timing),
        }
    }
    let mut found = ByBlock {
        differences: Vec::new(),
        timing: (Vec::new(), Vec::new()),
    };
    for [one, other] in blocks.into_values() {
        if one.count > 0 && other.count > 0 {
            let ((one, early), (other, late)) = (one.finish(), other.finish());
            let difference = one.iter().zip(&other).map(|(a, b)| a - b);
            found.differences.push(difference.collect());
            found.timing.0.push(early);
            found.timing.1.push(late);
        }
    }
    found
}

fn timing_words(band: &Band, alpha: f64) -> Assumption {
    let interval = band.timing.interval(alpha);
    let width = interval.map_or(0.0, |i| i.high - i.low);
    let words = interval.map_or_else(
        || "without bounds".to_owned(),
        |i| format!("{} to {}", rounded(i.low, width), rounded(i.high, width)),
    );
    Assumption {
        name: "timing",
        words: format!(
            "time from start to peak differs by {} ({words} with {:.0} % confidence); ±{} counts as \
             the same",
            rounded(band.timing.value(), width),
            100.0 * (1.0 - 2.0 * alpha),
            short(band.timing_target.high)
        ),
        doubtful: verdict(interval, band.timing_target) != Verdict::Supported,
    }
}

fn regions(shown: &DifferenceBand, registered: &Registered) -> Vec<CurveRegion> {
    let time = |index: usize| registered.times.get(index).copied().unwrap_or(f64::NAN);
    let all = shown.regions().into_iter();
    all.map(|region| CurveRegion {
        from: time(region.first),
        to: time(region.last),
        above: region.above,
    })
    .collect()
}

fn notes(mut notes: Vec<String>, shown: &DifferenceBand, registered: &Registered) -> Vec<String> {
    let regions = regions(shown, registered);
    notes.push(match regions.is_empty() {
        true => format!(
            "no stretch in which the shapes surely differ (p = {:.3})",
            shown.p
        ),
        false => {
            let words: Vec<String> = regions
                .iter()
                .map(|r| {
                    let side = if r.above { "above" } else { "below" };
                    format!("{} to {} ({side})", short(r.from), short(r.to))
                })
                .collect();
            format!(
                "the shapes surely differ at {} (p = {:.3})",
                words.join(", "),
                shown.p
            )
        }
    });
    notes.push(format!(
        "timing explains {:.0} % of how the curves differ",
        100.0 * registered.explained
    ));
    notes
}

fn picture(shown: &DifferenceBand, registered: &Registered, margin: f64) -> CurveBand {
    CurveBand {
        x: registered.times.clone(),
        mean: shown.mean.clone(),
        low: shown.low.clone(),
        high: shown.high.clone(),
        margin,
        regions: regions(shown, registered),
    }
}

pub(super) fn tell(told: &Told<'_>, margin: f64, timing_margin: f64) -> String {
    format!(
        "with their timing taken out, curves of {} and {} differ by {}{} where they differ most; \
         all of the difference lies {}. The same means within {}{} everywhere, and within {} min in \
         timing.",
        told.claim.treatment,
        told.claim.reference,
        told.size(),
        told.unit(),
        told.between(),
        short(margin),
        told.unit(),
        short(timing_margin)
    )
}
