//! Stress against strain of one strip or one disc, with the laws of strain hardening.

use super::words_around;
use crate::chart::extension_curves::Reading;
use crate::chart::{Bound, Palette, Series, StrainHardening, StressFit, StressGroup};
use crate::derive::{hardening, inflation, strip};
use crate::record::{MetricResult, Run, RunRecord};
use crate::report::words_of;

/// What a run's stress and strain come to.
struct Flow {
    curve: hardening::FlowCurve,
    laws: Option<hardening::Laws>,
}

/// Metrics that a figure prints, and what its ordinate is called.
struct Named {
    stress_label: &'static str,
    n_exp: &'static str,
    n_pow: &'static str,
    limit: &'static str,
    failure: (&'static str, &'static str),
    notes: &'static [&'static str],
}

const STRIP: Named = Named {
    stress_label: "stress / kPa",
    n_exp: "strip.n_exp",
    n_pow: "strip.n_pow",
    limit: "strip.stability_strain",
    failure: ("strip.failure_strain", "strip.failure_stress"),
    notes: &["strip.maximum_force", "strip.failure_stress"],
};

const DISC: Named = Named {
    stress_label: "nominal stress / kPa",
    n_exp: "inflation.nominal_n_exp",
    n_pow: "inflation.nominal_n_pow",
    limit: "inflation.nominal_stability_strain",
    failure: (
        "inflation.nominal_failure_strain",
        "inflation.nominal_failure_stress",
    ),
    notes: &[
        "inflation.disc_overpressure",
        "inflation.disc_extensibility",
    ],
};

/// Returns stress against strain of a strip; `None` where its geometry is not known.
pub(super) fn strip_figure(
    run: &Run,
    record: &RunRecord,
    palette: &Palette,
) -> Option<StrainHardening> {
    let numbers = strip::prepare(run, strip::Settings::default()).numbers;
    let laws = numbers.laws.and_then(Result::ok);
    let curve = numbers.flow;
    figure(&Flow { curve, laws }, &STRIP, record, palette)
}

/// Returns nominal stress against nominal strain of a disc.
pub(super) fn disc_figure(
    run: &Run,
    record: &RunRecord,
    palette: &Palette,
) -> Option<StrainHardening> {
    let numbers = inflation::prepare(run, inflation::Settings::default()).numbers;
    let laws = numbers.laws.and_then(Result::ok);
    let curve = numbers.flow;
    figure(&Flow { curve, laws }, &DISC, record, palette)
}

fn figure(
    flow: &Flow,
    named: &Named,
    record: &RunRecord,
    palette: &Palette,
) -> Option<StrainHardening> {
    let (curve, n) = (&flow.curve, flow.curve.strain.len());
    if n < 2 || curve.stress.len() != n {
        return None;
    }
    let value = |id: &str| record.result(id)?.outcome.value_or_bound();
    let failure = value(named.failure.0).zip(value(named.failure.1));
    let notes = named.notes.iter().filter_map(|id| record.result(id));
    let notes = notes.map(super::words).collect();
    Some(StrainHardening {
        words: words_around(record, palette, notes),
        stress_label: named.stress_label.to_owned(),
        groups: vec![StressGroup {
            treatment: record.conditions.treatment.clone().unwrap_or_default(),
            pieces: vec![Series {
                name: record.id.to_string(),
                x: curve.strain.clone(),
                y: curve.stress.clone(),
            }],
            excluded: Vec::new(),
            fits: fits(flow.laws.as_ref(), named, record),
            failures: failure.into_iter().collect(),
            limit: limit(curve, record.result(named.limit)),
        }],
    })
}

/// Returns both laws over the range they were fitted to.
fn fits(laws: Option<&hardening::Laws>, named: &Named, record: &RunRecord) -> Vec<StressFit> {
    const POINTS: usize = 80;
    let Some(laws) = laws else {
        return Vec::new();
    };
    let fit = |law: &hardening::Law, id: &str, at: &dyn Fn(f64) -> f64| {
        let (from, to) = (law.fit.from, law.fit.to);
        let step = (to - from) / POINTS as f64;
        let x: Vec<f64> = (0..=POINTS).map(|i| from + step * i as f64).collect();
        let y = x.iter().map(|strain| law.fit.k * at(*strain)).collect();
        let label = record.result(id).map(|result| {
            let (value, spread) = words_of(&result.metric, &result.outcome);
            format!("{} {value} {spread}", result.metric.symbol)
        });
        StressFit {
            label: label.unwrap_or_default().trim_end().to_owned(),
            line: Series {
                name: String::new(),
                x,
                y,
            },
            window: (from, to),
        }
    };
    let (n_exp, n_pow) = (laws.exponential.n(), laws.power.n());
    vec![
        fit(&laws.exponential, named.n_exp, &|e| libm::exp(n_exp * e)),
        fit(&laws.power, named.n_pow, &|e| libm::pow(e, n_pow)),
    ]
}

/// Returns the limit of stability at its place on the curve; `None` where it is not known.
fn limit(curve: &hardening::FlowCurve, result: Option<&MetricResult>) -> Option<Reading> {
    let result = result?;
    let x = result.outcome.value_or_bound()?;
    // A curve's strain may step back by its noise: the reading nearest to the limit is its place.
    let at = |i: &usize| curve.strain.get(*i).map_or(f64::MAX, |e| (e - x).abs());
    let nearest = (0..curve.strain.len()).min_by(|a, b| at(a).total_cmp(&at(b)))?;
    let (value, spread) = words_of(&result.metric, &result.outcome);
    Some(Reading {
        x,
        y: *curve.stress.get(nearest)?,
        label: format!("stable to {value} {spread}").trim_end().to_owned(),
        bound: Bound::of(result.outcome.status())?,
    })
}
