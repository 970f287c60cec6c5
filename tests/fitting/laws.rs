//! The laws of uptake and firming against scipy (script, versions and output in
//! `tests/reference/fits.*`) and the handbook's check values, and how a fit refuses.

use doughtrace::numerics::fit::{
    Avrami, AvramiIndex, Bound, Fit, FitError, Model, Options, Peleg, Problem, SphereUptake,
    avrami_start, fit_nonlinear, peleg_start, sphere_start,
};
use serde_json::Value;

const AVRAMI_BOUNDS: [Bound; 4] = [Bound::Free, Bound::Free, Bound::Positive, Bound::Positive];

fn list(value: &Value) -> Vec<f64> {
    let items = value.as_array().unwrap();
    items.iter().map(|v| v.as_f64().unwrap()).collect()
}

fn close(found: f64, wanted: f64, share: f64, what: &str) {
    assert!(
        (found / wanted - 1.0).abs() < share,
        "{what}: {found}, {wanted}"
    );
}

/// Fits a case from its own start and compares everything that comes with the fit.
fn agrees(
    name: &str,
    model: &dyn Model,
    bounds: &[Bound],
    start: impl Fn(&[f64], &[f64]) -> Option<Vec<f64>>,
) {
    let all: Value = serde_json::from_str(include_str!("../reference/fits.json")).unwrap();
    let case = &all[name];
    let (x, y) = (list(&case["x"]), list(&case["y"]));
    let options = Options {
        bounds,
        ..Options::default()
    };
    let problem = Problem::new(model, &x, &y, options).unwrap();
    let fit = problem.fit(&start(&x, &y).unwrap()).unwrap();
    for (j, wanted) in list(&case["parameters"]).into_iter().enumerate() {
        let what = format!("{name} {}", model.name(j));
        // scipy's own derivatives are finite differences: seven digits are what it gives.
        close(fit.parameters[j], wanted, 1e-7, &what);
        let error = list(&case["standard_errors"])[j];
        close(fit.standard_errors[j], error, 1e-6, &what);
        let profile = problem.profile(&fit, j).unwrap();
        let ends = list(&case["profiles"][j]);
        for (found, wanted) in [(profile.low, ends[0]), (profile.high, ends[1])] {
            let off = (found.unwrap() - wanted).abs();
            assert!(off < 1e-5 * error, "{what}: {profile:?}, {ends:?}");
        }
        for (i, shared) in list(&case["covariance"][j]).into_iter().enumerate() {
            close(fit.covariance[j][i], shared, 1e-5, &what);
        }
    }
    let residual = case["residual_deviation"].as_f64().unwrap();
    close(fit.residual_deviation, residual, 1e-6, name);
}

#[test]
fn uptake_laws_agree_with_scipy() {
    let held = Peleg {
        initial: Some(12.0),
    };
    agrees("peleg", &held, &[], |x, y| peleg_start(held, x, y));
    let free = Peleg { initial: None };
    agrees("peleg_free", &free, &[], |x, y| peleg_start(free, x, y));
    let sphere = SphereUptake {
        initial: Some(12.0),
    };
    let bounds = [Bound::Free, Bound::Positive];
    agrees("sphere", &sphere, &bounds, |x, y| {
        sphere_start(sphere, x, y)
    });
}

#[test]
fn firming_agrees_with_scipy() {
    for (name, index) in [
        ("avrami", AvramiIndex::Free),
        ("avrami_one", AvramiIndex::One),
    ] {
        let model = Avrami { index };
        agrees(name, &model, &AVRAMI_BOUNDS, |x, y| {
            avrami_start(model, x, y)
        });
    }
}

fn exact_firming(index: AvramiIndex, p: &[f64], days: &[f64]) -> Result<Fit, FitError> {
    let model = Avrami { index };
    let y: Vec<f64> = days.iter().map(|t| model.value(*t, p)).collect();
    let options = Options {
        bounds: &AVRAMI_BOUNDS,
        ..Options::default()
    };
    fit_nonlinear(
        &model,
        days,
        &y,
        &avrami_start(model, days, &y).unwrap(),
        options,
    )
}

#[test]
fn the_handbook_s_laws_come_back_from_their_values() {
    // HANDBOOK V-U1: Peleg k1 0.714, k2 0.043; gain in % at minutes.
    let t = [10.0, 20.0, 40.0, 80.0, 160.0];
    let gain = [8.741, 12.706, 16.434, 19.259, 21.069];
    let model = Peleg { initial: Some(0.0) };
    let start = peleg_start(model, &t, &gain).unwrap();
    let fit = fit_nonlinear(&model, &t, &gain, &start, Options::default()).unwrap();
    assert!((fit.parameters[0] - 0.714).abs() < 1e-4, "{fit:?}");
    assert!((fit.parameters[1] - 0.043).abs() < 1e-5, "{fit:?}");
    let equilibrium = fit.function(|p| 1.0 / p[1]).unwrap();
    assert!((equilibrium.value - 23.256).abs() < 2e-3);
    // HANDBOOK V-S1, with a fresh loaf and two more ages so that four parameters are settled.
    let days = [0.0, 1.0, 2.0, 3.0, 5.0, 7.0];
    for (index, p, half) in [
        (AvramiIndex::One, vec![2.0, 10.0, 0.3], 2.3105),
        (AvramiIndex::Free, vec![2.0, 10.0, 0.3, 0.9], 2.5358),
    ] {
        let fit = exact_firming(index, &p, &days).unwrap();
        for (found, wanted) in fit.parameters.iter().zip(&p) {
            close(*found, *wanted, 1e-8, "V-S1");
        }
        let model = Avrami { index };
        let found = fit.function(|p| model.half_time(p)).unwrap();
        assert!((found.value - half).abs() < 5e-5, "{found:?}");
    }
}

#[test]
fn a_function_of_the_parameters_has_the_interval_of_the_delta_method() {
    // Analytic: the equilibrium gain 1/k2 has standard error se(k2)/k2².
    let model = Peleg { initial: Some(0.0) };
    let t = [10.0, 20.0, 40.0, 80.0, 160.0];
    let gain = [8.6, 12.9, 16.2, 19.4, 21.0];
    let start = peleg_start(model, &t, &gain).unwrap();
    let fit = fit_nonlinear(&model, &t, &gain, &start, Options::default()).unwrap();
    let found = fit.function(|p| 1.0 / p[1]).unwrap();
    let k2 = fit.parameter(1).unwrap();
    close(
        found.standard_error,
        k2.standard_error / (k2.value * k2.value),
        1e-5,
        "equilibrium",
    );
    // scipy 1.17.1, stats.t.ppf(0.975, 3) = 3.182446305284263.
    let half = 3.182_446_305_284_263 * found.standard_error;
    close(found.high - found.value, half, 1e-9, "half width");
}

#[test]
fn weights_count_as_repeated_points() {
    // Analytic: a point of weight two is that point twice, but for the degrees of freedom.
    let model = Peleg { initial: Some(0.0) };
    let (t, gain) = ([10.0, 20.0, 40.0, 80.0], [8.6, 12.9, 16.2, 19.4]);
    let weights = [2.0, 1.0, 1.0, 1.0];
    let options = Options {
        weights: Some(&weights),
        ..Options::default()
    };
    let weighted = fit_nonlinear(&model, &t, &gain, &[1.0, 0.04], options).unwrap();
    let (t, gain) = ([10.0, 10.0, 20.0, 40.0, 80.0], [8.6, 8.6, 12.9, 16.2, 19.4]);
    let twice = fit_nonlinear(&model, &t, &gain, &[1.0, 0.04], Options::default()).unwrap();
    for j in 0..2 {
        close(weighted.parameters[j], twice.parameters[j], 1e-8, "weight");
    }
    close(weighted.sum_of_squares, twice.sum_of_squares, 1e-9, "sum");
}

#[test]
fn what_the_points_do_not_tell_is_refused() {
    // Only the plateau was measured: neither rate nor first firmness can be known.
    let model = Avrami {
        index: AvramiIndex::One,
    };
    let options = Options {
        bounds: &AVRAMI_BOUNDS,
        restarts: 4,
        ..Options::default()
    };
    let flat = fit_nonlinear(
        &model,
        &[200.0, 300.0, 400.0, 500.0, 600.0],
        &[9.9, 10.1, 10.0, 10.05, 9.95],
        &[2.0, 10.0, 0.3],
        options,
    );
    assert!(
        matches!(
            flat,
            Err(FitError::NotIdentified { .. } | FitError::NoMinimum { .. })
        ),
        "{flat:?}"
    );
    // A rate that is nowhere near its curve needs further starts.
    let (t, gain) = (
        [1.0, 2.0, 3.0, 5.0, 7.0, 10.0],
        [109.0, 149.0, 149.0, 191.0, 213.0, 224.0],
    );
    let avrami = |restarts| {
        let options = Options {
            restarts,
            ..options
        };
        fit_nonlinear(&model, &t, &gain, &[0.0, 1.0, 4000.0], options)
    };
    assert!(avrami(0).is_err());
    let found = avrami(60).unwrap();
    assert!(found.starts > 1 && found.parameters[1] > 200.0, "{found:?}");
}

#[test]
fn an_open_side_of_a_profile_is_said() {
    // Five ages far from the plateau: the final firmness has no upper end, though the fit exists.
    let model = Avrami {
        index: AvramiIndex::One,
    };
    let days = [0.0, 1.0, 2.0, 3.0, 4.0];
    let force = [2.02, 2.93, 3.78, 4.51, 5.36];
    let options = Options {
        bounds: &AVRAMI_BOUNDS,
        ..Options::default()
    };
    let problem = Problem::new(&model, &days, &force, options).unwrap();
    let fit = problem.fit(&[2.0, 12.0, 0.1]).unwrap();
    let profile = problem.profile(&fit, 1).unwrap();
    assert!(
        profile.low.is_some() && profile.high.is_none(),
        "{profile:?}"
    );
}

#[test]
fn unusable_input_is_named() {
    let model = Peleg { initial: Some(0.0) };
    let none = Options::default();
    let try_it = |x: &[f64], y: &[f64], start: &[f64]| fit_nonlinear(&model, x, y, start, none);
    assert_eq!(
        try_it(&[1.0, 2.0], &[1.0, 2.0], &[1.0, 1.0]),
        Err(FitError::TooFewPoints {
            points: 2,
            parameters: 2
        })
    );
    assert_eq!(
        try_it(&[1.0, 2.0, 3.0], &[1.0, f64::NAN, 2.0], &[1.0, 1.0]),
        Err(FitError::NotFinite { point: 1 })
    );
    assert!(matches!(
        try_it(&[1.0, 2.0, 3.0], &[1.0, 2.0], &[1.0, 1.0]),
        Err(FitError::Ragged { .. })
    ));
    assert_eq!(
        try_it(&[1.0, 2.0, 3.0], &[1.0, 1.5, 2.0], &[1.0]),
        Err(FitError::BadStart { parameter: 1 })
    );
}
