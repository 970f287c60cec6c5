//! How often the 95 % intervals cover the truth, over generated curves with noise and with errors
//! in what is stated. Run with `cargo test --release … -- --ignored`; the figures are printed.

use crate::firmness::SLICE;
use crate::made::{day_of, record_of, run_of, scalar};
use crate::noise::Noise;
use crate::uptake::soaked;
use doughtrace::derive::derive_groups;
use doughtrace::numerics::fit::sphere_unaccomplished;
use doughtrace::record::{MetricResult, Observation, Outcome, RunRecord};
use doughtrace::schema::{Axis, Field, Test, Unit};
use std::collections::BTreeMap;

/// Curves of each kind.
const CURVES: u64 = 1000;
/// Least share of intervals that must cover.
const LEAST: f64 = 0.93;

/// Counts of covered and of all exact outcomes, and of outcomes that were not exact, by metric.
#[derive(Default)]
struct Tally(BTreeMap<String, [u32; 3]>);

impl Tally {
    fn add(&mut self, results: &[MetricResult], metric: &str, variant: &str, truth: f64) {
        let found = results
            .iter()
            .find(|r| r.metric.id == metric && r.variant == variant);
        let count = self.0.entry(format!("{metric} {variant}")).or_default();
        match &found.unwrap().outcome {
            Outcome::Exact(e) => {
                count[0] += u32::from(e.low() <= truth && truth <= e.high());
                count[1] += 1;
            }
            // A bound is right or wrong too.
            Outcome::Above(bound) => {
                count[0] += u32::from(truth >= *bound);
                count[1] += 1;
                count[2] += 1;
            }
            Outcome::Below(bound) => {
                count[0] += u32::from(truth <= *bound);
                count[1] += 1;
                count[2] += 1;
            }
            _ => count[2] += 1,
        }
    }

    fn judge(self) {
        let mut low = Vec::new();
        for (metric, [covered, all, other]) in self.0 {
            let share = f64::from(covered) / f64::from(all);
            println!(
                "{metric}: {:.1} % of {all} ({other} not exact)",
                100.0 * share
            );
            if share < LEAST || all < 500 {
                low.push(metric);
            }
        }
        assert!(low.is_empty(), "{low:?}");
    }
}

/// Facts of a soak as its sheet states them: true values with the errors they carry.
fn stated(draw: &mut Noise, radius: f64, target: f64) -> Vec<(Field, String)> {
    vec![
        (
            Field::InitialMoistureDbPct,
            (12.0 + 0.1 * draw.normal()).to_string(),
        ),
        (
            Field::EquivalentRadiusMm,
            (radius * (1.0 + 0.03 * draw.normal())).to_string(),
        ),
        (Field::TargetMoistureDbPct, target.to_string()),
    ]
}

fn record_with(points: &[(f64, f64)], facts: &[(Field, String)]) -> RunRecord {
    let facts: Vec<(Field, &str)> = facts.iter().map(|(f, t)| (*f, t.as_str())).collect();
    record_of(&soaked(points, Unit::Percent, &facts))
}

/// Times at which a sample is weighed, spread over `end` min.
fn times(end: f64, count: usize) -> Vec<f64> {
    let share = |i: usize| (i + 1) as f64 / count as f64;
    (0..count).map(|i| end * share(i).powf(1.8)).collect()
}

#[test]
#[ignore = "takes minutes without optimisation"]
fn uptake_intervals_cover() {
    let mut tally = Tally::default();
    for seed in 0..CURVES {
        let mut draw = Noise::new(seed);
        // Peleg's law.
        let (k1, k2) = (draw.log_uniform(0.05, 2.0), draw.log_uniform(0.008, 0.04));
        let count = 8 + (seed % 9) as usize;
        let noise = draw.uniform(0.005, 0.02) / k2;
        let end = draw.uniform(4.0, 12.0) * k1 / k2;
        let target = 12.0 + 0.7 / k2;
        let moisture = |t: f64| 12.0 + t / (k1 + k2 * t);
        let points: Vec<(f64, f64)> = times(end, count)
            .iter()
            .map(|t| (*t, moisture(*t) + noise * draw.normal()))
            .collect();
        let record = record_with(&points, &stated(&mut draw, 1.5, target));
        let r = &record.results;
        tally.add(r, "uptake.peleg_k1", "", k1);
        tally.add(r, "uptake.peleg_k2", "", k2);
        tally.add(r, "uptake.initial_rate", "", 1.0 / k1);
        tally.add(r, "uptake.equilibrium_moisture", "peleg", 12.0 + 1.0 / k2);
        let time = k1 * 0.7 / k2 / 0.3;
        tally.add(r, "uptake.time_to_target", "peleg", time);
        // The sphere.
        let (radius, d) = (draw.uniform(0.3, 2.0), draw.log_uniform(1.0, 30.0));
        let gain = draw.uniform(25.0, 60.0);
        let fourier = |t: f64| d * 1e-6 * 60.0 * t / (radius * radius);
        let end = draw.uniform(0.15, 0.5) / fourier(1.0);
        let moisture = |t: f64| 12.0 + gain * (1.0 - sphere_unaccomplished(fourier(t)));
        let noise = draw.uniform(0.005, 0.02) * gain;
        let points: Vec<(f64, f64)> = times(end, count)
            .iter()
            .map(|t| (*t, moisture(*t) + noise * draw.normal()))
            .collect();
        let record = record_with(&points, &stated(&mut draw, radius, 12.0 + 0.5 * gain));
        let r = &record.results;
        tally.add(r, "uptake.equilibrium_moisture", "sphere", 12.0 + gain);
        tally.add(r, "uptake.diffusion_coefficient", "sphere", d);
        // A share of 0.5 is left at Fourier number 0.0305465 (scipy 1.17.1, brentq of the series).
        tally.add(r, "uptake.time_to_target", "sphere", HALF / fourier(1.0));
    }
    tally.judge();
}

/// Fourier number at which half of the change is done.
const HALF: f64 = 0.030_546_524;

#[test]
#[ignore = "takes minutes without optimisation"]
fn slice_intervals_cover() {
    let mut tally = Tally::default();
    for seed in 0..CURVES {
        let mut draw = Noise::new(seed);
        let (a, b) = (draw.uniform(0.1, 1.0), draw.uniform(0.0, 0.06));
        let thickness = draw.uniform(22.0, 28.0);
        let touch = draw.uniform(1.0, 3.0);
        let noise = draw.uniform(0.001, 0.008);
        let force = |u: f64| a * u + b * u * u;
        // Contact is where the noise-free force is 0.05 N.
        let contact = if b > 1e-9 {
            ((a * a + 0.2 * b).sqrt() - a) / (2.0 * b)
        } else {
            0.05 / a
        };
        let step = [0.02, 0.05, 0.1][(seed % 3) as usize];
        let count = ((0.45 * thickness + touch) / step) as usize;
        let points: Vec<(f64, f64)> = (0..count)
            .map(|i| {
                let at = i as f64 * step;
                let clean = force((at - touch).max(0.0));
                // A record of three decimals.
                (
                    at,
                    ((clean + noise * draw.normal()) * 1000.0).round() / 1000.0,
                )
            })
            .collect();
        let mut facts = SLICE.to_vec();
        let stated = (thickness + 0.2 * draw.normal()).to_string();
        let probe = (36.0 + 0.05 * draw.normal()).to_string();
        facts[0] = (Field::ThicknessMm, &stated);
        facts[1] = (Field::ProbeDiameterMm, &probe);
        let axis = (Axis::ProbeTravelMm, Unit::Newton);
        let record = record_of(&run_of("F", Test::Firmness, axis, &points, &facts));
        let r = &record.results;
        let truth = force(contact + 0.25 * thickness);
        tally.add(r, "firmness.force_25", "actual-thickness", truth);
        tally.add(r, "firmness.force_25", "fixed-depth", force(contact + 6.2));
        let modulus = 1000.0 * truth / (std::f64::consts::PI * 18.0 * 18.0) / 0.25;
        tally.add(r, "firmness.apparent_modulus", "", modulus);
    }
    tally.judge();
}

/// A record of one slice that is its force alone.
fn firm(id: usize, age: f64, loaf: &str, force: f64) -> RunRecord {
    let mut facts = SLICE.to_vec();
    let age = age.to_string();
    facts.push((Field::AgeD, &age));
    facts.push((Field::Loaf, loaf));
    record_of(&crate::firmness::slice(
        &format!("F-{id}"),
        force,
        0.5,
        &facts,
    ))
}

#[test]
#[ignore = "takes minutes without optimisation"]
fn firming_intervals_cover() {
    let mut tally = Tally::default();
    for seed in 0..CURVES {
        let mut draw = Noise::new(seed);
        let (f0, gain) = (draw.uniform(1.5, 3.0), draw.uniform(6.0, 12.0));
        let k = draw.uniform(0.3, 0.6);
        let n = if seed % 2 == 0 {
            1.0
        } else {
            draw.uniform(0.8, 1.2)
        };
        let scatter = draw.uniform(0.1, 0.3);
        let firmness = |t: f64| f0 + gain * (1.0 - libm::exp(-k * libm::pow(t, n)));
        let mut runs = Vec::new();
        for age in [0.2, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0] {
            for loaf in ["a", "b", "c"] {
                let force = firmness(age) + scatter * draw.normal();
                runs.push(firm(runs.len(), age, loaf, force));
            }
        }
        let groups = derive_groups(&runs);
        let at_two = groups.iter().find(|g| g.name.ends_with("at 2 d")).unwrap();
        tally.add(&at_two.results, "firmness.mean_force_25", "", firmness(2.0));
        let firming = groups.iter().find(|g| g.name.ends_with("firming")).unwrap();
        let r = &firming.results;
        let half = libm::pow(std::f64::consts::LN_2 / k, 1.0 / n);
        let all = [
            ("firmness.initial", f0),
            ("firmness.final", f0 + gain),
            ("firmness.rate_constant", k),
            ("firmness.half_time", half),
        ];
        for (metric, truth) in all {
            tally.add(r, metric, "n-free", truth);
            if seed % 2 == 0 {
                tally.add(r, metric, "n-1", truth);
            }
        }
        tally.add(r, "firmness.avrami_index", "", n);
    }
    tally.judge();
}

#[test]
#[ignore = "takes minutes without optimisation"]
fn loaf_intervals_cover() {
    let mut tally = Tally::default();
    for seed in 0..CURVES {
        let mut draw = Noise::new(seed);
        let specific = draw.uniform(2.5, 4.5);
        let scatter = draw.uniform(0.02, 0.1);
        let ml = Unit::Millilitre;
        let seeds = |truth: f64, draw: &mut Noise| (truth + 5.0 * draw.normal(), ml);
        let boxed = ("box", "");
        let mut records: Vec<Observation> = vec![
            scalar(2, boxed, None, "box_full_volume", seeds(2800.0, &mut draw)),
            scalar(3, boxed, None, "block_volume", (1000.0, ml)),
            scalar(
                4,
                boxed,
                None,
                "seeds_around_block",
                seeds(1800.0, &mut draw),
            ),
        ];
        let mut first = (0.0, 0.0);
        for (i, loaf) in ["a", "b", "c"].iter().enumerate() {
            let mass = draw.uniform(420.0, 430.0);
            let volume = mass * (specific + scatter * draw.normal());
            if i == 0 {
                first = (volume, volume / mass);
            }
            let around = seeds(2800.0 - volume, &mut draw);
            let weighed = (mass + 0.3 * draw.normal(), Unit::Gram);
            let row = 5 + 2 * i as u64;
            records.push(scalar(
                row,
                ("D-01", loaf),
                None,
                "seeds_around_loaf",
                around,
            ));
            records.push(scalar(row + 1, ("D-01", loaf), None, "loaf_mass", weighed));
        }
        let results = day_of(Vec::new(), records).grading.results;
        tally.add(&results, "loaf.volume", "", first.0);
        tally.add(&results, "loaf.specific_volume", "", first.1);
        tally.add(&results, "loaf.dough_specific_volume", "", specific);
    }
    tally.judge();
}
