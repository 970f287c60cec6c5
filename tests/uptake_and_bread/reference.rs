//! The three methods against an independent computation with numpy, scipy and pandas: script,
//! versions and output in `tests/reference/uptake_and_bread.*`.

use crate::firmness::slices;
use crate::made::{day_of, outcome, record_of};
use crate::sample_files::{named, read, runs_of, sample};
use doughtrace::derive::derive_groups;
use doughtrace::intake::Records;
use doughtrace::record::{Estimate, MetricResult};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/uptake_and_bread.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn read_of(results: &[MetricResult], metric: &str, variant: &str) -> Estimate {
    let outcome = outcome(results, metric, variant);
    outcome
        .estimate()
        .unwrap_or_else(|| panic!("{metric}: {outcome:?}"))
}

/// Compares a value, and says what it is.
fn close(found: f64, wanted: &Value, share: f64, what: &str) {
    let wanted = number(wanted);
    let off = (found / wanted - 1.0).abs();
    assert!(off < share, "{what}: {found}, {wanted}");
}

fn uptake_agrees(results: &[MetricResult], wanted: &Value) {
    for (metric, variant, key) in [
        ("uptake.peleg_k1", "", "k1"),
        ("uptake.peleg_k2", "", "k2"),
        ("uptake.equilibrium_moisture", "peleg", "equilibrium"),
        (
            "uptake.equilibrium_moisture",
            "sphere",
            "sphere_equilibrium",
        ),
        ("uptake.fit_residual", "peleg", "residual"),
        ("uptake.time_to_target", "peleg", "time_to_target"),
        ("uptake.time_to_target", "sphere", "sphere_time"),
    ] {
        let found = read_of(results, metric, variant);
        // Two ways to one minimum, scipy's by finite differences.
        close(found.value(), &wanted[key], 2e-6, key);
    }
    // The tool's own uncertainty also holds that of the stated inputs: never below the fit's.
    let k1 = read_of(results, "uptake.peleg_k1", "");
    assert!(k1.std_uncertainty() > 0.999 * number(&wanted["se"][0]));
    let time = read_of(results, "uptake.time_to_target", "peleg");
    let error = number(&wanted["time_se"]);
    assert!(time.std_uncertainty() > 0.999 * error && time.std_uncertainty() < 1.5 * error);
}

#[test]
fn uptake_agrees_with_scipy() {
    let all = reference();
    let run = runs_of("uptake-semicolon").remove(0);
    let results = record_of(&run).results;
    let wanted = &all["by_weighing"];
    uptake_agrees(&results, wanted);
    let d = read_of(&results, "uptake.diffusion_coefficient", "sphere");
    close(d.value(), &wanted["diffusion"], 2e-6, "diffusion");
    for run in runs_of("uptake-side-by-side") {
        let wanted = &all["side_by_side"][run.id.as_str()];
        uptake_agrees(&record_of(&run).results, wanted);
    }
}

#[test]
fn loaves_agree_with_pandas() {
    let (name, bytes) = sample("loaf-sheet");
    let read = read(&named("loaf-sheet"), &name, &bytes).unwrap();
    let Records::Observations(records) = read.records else {
        panic!("no observations")
    };
    let results = day_of(Vec::new(), records).grading.results;
    let wanted = &reference()["loaves"];
    for loaf in ["a", "b"] {
        let name = format!("dough D-01, loaf {loaf}");
        let of_loaf: Vec<MetricResult> = results
            .iter()
            .filter(|r| r.run_id.as_str() == name)
            .cloned()
            .collect();
        let volume = read_of(&of_loaf, "loaf.volume", "");
        close(volume.value(), &wanted["volumes"][loaf], 1e-12, "volume");
        let specific = read_of(&of_loaf, "loaf.specific_volume", "");
        close(
            specific.value(),
            &wanted["specific"][loaf],
            1e-12,
            "specific",
        );
    }
    let mean = read_of(&results, "loaf.dough_specific_volume", "");
    close(mean.value(), &wanted["mean"], 1e-12, "mean");
    // The box's own error comes on top of what the two loaves show.
    assert!(mean.std_uncertainty() >= number(&wanted["standard_error"]));
    assert!(mean.high() >= number(&wanted["interval"][1]));
    let loss = read_of(&results, "loaf.bake_loss", "");
    close(loss.value(), &wanted["bake_loss"], 1e-12, "bake loss");
    let gas = read_of(&results, "loaf.gas_fraction", "");
    close(gas.value(), &wanted["gas"], 1e-9, "gas");
}

#[test]
fn compression_agrees_with_a_fitted_parabola() {
    let run = runs_of("firmness-curve").remove(0);
    let record = record_of(&run);
    let wanted = &reference()["compression"];
    let contact = record.facts.contact_mm.unwrap();
    assert!(
        (contact - number(&wanted["contact"])).abs() < 0.02,
        "{contact}"
    );
    for (metric, key) in [
        ("firmness.force_25", "force_25"),
        ("firmness.apparent_modulus", "modulus"),
    ] {
        let variant = if key == "modulus" {
            ""
        } else {
            "actual-thickness"
        };
        let found = read_of(&record.results, metric, variant);
        close(found.value(), &wanted[key], 5e-3, key);
        let inside = found.low() < number(&wanted[key]) && number(&wanted[key]) < found.high();
        assert!(inside, "{found:?}");
    }
}

#[test]
fn firming_agrees_with_scipy() {
    let wanted = &reference()["firming"];
    let list = |key: &str| -> Vec<f64> {
        let items = wanted[key].as_array().unwrap();
        items.iter().map(number).collect()
    };
    let pairs = list("ages").into_iter().zip(list("force")).enumerate();
    let all: Vec<(f64, &str, f64)> = pairs
        .map(|(i, (age, force))| (age, if i % 2 == 0 { "a" } else { "b" }, force))
        .collect();
    let groups = derive_groups(&slices(&all));
    let firming = groups.iter().find(|g| g.name.ends_with("firming")).unwrap();
    for (variant, values, errors) in [("n-1", "held", "held_se"), ("n-free", "free", "free_se")] {
        let metrics = [
            "firmness.initial",
            "firmness.final",
            "firmness.rate_constant",
        ];
        for (j, metric) in metrics.iter().enumerate() {
            let found = read_of(&firming.results, metric, variant);
            close(found.value(), &wanted[values][j], 2e-6, metric);
            close(found.std_uncertainty(), &wanted[errors][j], 1e-4, metric);
        }
    }
    let index = read_of(&firming.results, "firmness.avrami_index", "");
    close(index.value(), &wanted["free"][3], 2e-6, "n");
    let half = read_of(&firming.results, "firmness.half_time", "n-free");
    close(half.value(), &wanted["half_time"], 2e-6, "half time");
    close(
        half.low(),
        &wanted["half_interval"][0],
        1e-4,
        "half time, low",
    );
    close(
        half.high(),
        &wanted["half_interval"][1],
        1e-4,
        "half time, high",
    );
    let rate = read_of(&firming.results, "firmness.linear_rate", "");
    close(rate.value(), &wanted["slope"], 1e-9, "rate");
    close(rate.std_uncertainty(), &wanted["slope_se"], 1e-9, "rate");
}
