//! Several comparisons at once against scipy, statsmodels and printed tables.

use crate::data::{Table, assert_near, assert_printed, list, reference};
use doughtrace::numerics::Estimate;
use doughtrace::numerics::linear::{Coding, Contrasts, Design, Factor, Variable, fit_linear};
use doughtrace::numerics::multiple::{
    Control, Sides, adjust_holm, studentised_range_quantile, studentised_range_upper,
    tukey_interval, tukey_p,
};

/// Returns the factor's design and the differences of all pairs of its levels, later less earlier.
fn one_way(groups: Factor) -> (Design, Vec<Vec<f64>>) {
    let levels = groups.levels();
    let design = Design::new(vec![Variable::Factor(groups, Coding::Sum)], vec![vec![0]]).unwrap();
    let pairs = (0..levels).flat_map(|i| (0..i).map(move |j| (i, j)));
    let differences = pairs
        .map(|(i, j)| design.difference(0, i, j).unwrap())
        .collect();
    (design, differences)
}

#[test]
fn studentised_range_agrees_with_scipy_and_printed_factors() {
    let part = reference("multiple");
    let rows = |name: &str| part[name].as_array().unwrap().clone();
    let number = |row: &serde_json::Value, i: usize| row[i].as_f64().unwrap();
    for row in rows("ranges") {
        let groups = number(&row, 0) as usize;
        let found = studentised_range_quantile(number(&row, 2), groups, number(&row, 1)).unwrap();
        assert_near(&format!("{row}"), found, number(&row, 3), 2e-7);
    }
    for row in rows("tails") {
        let groups = number(&row, 1) as usize;
        let found = studentised_range_upper(number(&row, 0), groups, number(&row, 2)).unwrap();
        assert!((found - number(&row, 3)).abs() < 1e-8, "{row}: {found}");
    }
    // ISO 5725-6 factors for the range of n results (HANDBOOK 11.2, derived there).
    for (n, factor) in [(2, 2.772), (3, 3.314), (4, 3.633), (5, 3.858), (6, 4.030)] {
        let found = studentised_range_quantile(0.95, n, f64::INFINITY).unwrap();
        assert_printed("f(n)", found, factor, 1e-3);
    }
    assert!(studentised_range_upper(1.0, 1, 5.0).is_err());
}

#[test]
fn tukey_of_loaf_heights_and_volumes() {
    // Lawson 2015, answers in baking_doe: F rejects, and no pair does.
    let Some(table) = Table::read("baking_doe/lawson_bread.csv") else {
        return;
    };
    let (design, differences) = one_way(table.factor("time"));
    let fit = fit_linear(&design, &table.numbers("height")).unwrap();
    let p = |i: usize| tukey_p(&fit.contrast(&differences[i]).unwrap(), 3).unwrap();
    assert_printed("F", fit.test_term(0).unwrap().statistic, 4.60222, 1e-5);
    assert_printed("40-35", p(0), 0.0676, 1e-4);
    assert_printed("45-35", p(1), 0.0618, 1e-4);
    assert_printed("45-40", p(2), 0.9982, 1e-4);
    // loaf_volume_larmour: Tukey HSD(.05, 17, 64) = 94.273.
    let half = studentised_range_quantile(0.95, 17, 64.0).unwrap() * (1713.17_f64 / 5.0).sqrt();
    assert_printed("HSD", half, 94.273, 2e-3);
}

#[test]
fn unequal_groups_agree_with_scipy() {
    let part = reference("multiple");
    let groups = Factor::new(list(&part, "groups").iter().map(|v| *v as usize).collect());
    let counts = groups.counts();
    let (design, differences) = one_way(groups);
    let fit = fit_linear(&design, &list(&part, "values")).unwrap();
    let wanted = list(&part, "tukey_p")
        .into_iter()
        .zip(list(&part, "tukey_low"));
    for (weights, (p, low)) in differences.iter().zip(wanted) {
        let difference = fit.contrast(weights).unwrap();
        assert!((tukey_p(&difference, 4).unwrap() - p).abs() < 1e-8);
        let interval = tukey_interval(&difference, 4, 0.90).unwrap();
        assert!((interval.low - low).abs() < 1e-5, "{interval:?} {low}");
    }
    let against: Vec<Vec<f64>> = (1..4)
        .map(|i| design.difference(0, i, 0).unwrap())
        .collect();
    let of_fit = Control::of_fit(&fit, &against).unwrap();
    let of_counts = Control::of_counts(counts[0], &counts[1..]).unwrap();
    assert!(of_fit.discrepancy < 1e-12);
    for (weights, wanted) in against.iter().zip(list(&part, "dunnett_p")) {
        let difference = fit.contrast(weights).unwrap();
        let p = of_fit.p(&difference, Sides::Two).unwrap();
        // scipy's own answer comes from quasi-random integration.
        assert!((p - wanted).abs() < 1e-3, "{p} {wanted}");
        assert_near(
            "two ways",
            of_counts.p(&difference, Sides::Two).unwrap(),
            p,
            1e-9,
        );
    }
}

#[test]
fn control_agrees_with_quadrature_and_the_printed_table() {
    let part = reference("multiple");
    for row in part["control"].as_array().unwrap() {
        let number = |i: usize| row[i].as_f64().unwrap();
        let counts: Vec<usize> = row[1]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_u64().unwrap() as usize)
            .collect();
        let control = Control::of_counts(number(2) as usize, &counts).unwrap();
        let df = if number(3) > 1e200 {
            f64::INFINITY
        } else {
            number(3)
        };
        let sides = if number(4) > 1.5 {
            Sides::Two
        } else {
            Sides::One
        };
        let found = control.upper(number(0), df, sides).unwrap();
        assert!((found - number(5)).abs() < 1e-8, "{row}: {found}");
        let back = control.quantile(1.0 - found, df, sides).unwrap();
        assert_near("quantile", back, number(0), 1e-6);
    }
    // Dunnett 1964 (Biometrics 20:482), two-sided 5 % points for equal counts (from memory).
    for (treatments, df, wanted) in [
        (2, 10.0, 2.57),
        (3, 20.0, 2.54),
        (4, 60.0, 2.51),
        (2, f64::INFINITY, 2.21),
    ] {
        let control = Control::of_counts(4, &vec![4; treatments]).unwrap();
        let found = control.quantile(0.95, df, Sides::Two).unwrap();
        assert_printed("Dunnett", found, wanted, 0.01);
    }
    // A single treatment is Student's t.
    let one = Control::of_counts(3, &[3]).unwrap();
    let estimate = Estimate {
        value: 1.0,
        standard_error: 0.4,
        df: 4.0,
    };
    let wanted = estimate.p_two_sided(0.0);
    assert_near(
        "one treatment",
        one.p(&estimate, Sides::Two).unwrap(),
        wanted,
        1e-8,
    );
    let narrow = estimate.interval(0.95).unwrap();
    assert_near(
        "low",
        one.interval(&estimate, 0.95).unwrap().low,
        narrow.low,
        1e-7,
    );
}

#[test]
fn correlations_of_incomplete_blocks_are_nearly_products() {
    let part = reference("blocks");
    let factor = |name: &str| Factor::new(list(&part, name).iter().map(|v| *v as usize).collect());
    let design = Design::blocked(&factor("treatment"), &factor("block")).unwrap();
    let fit = fit_linear(&design, &list(&part, "y")).unwrap();
    let against: Vec<Vec<f64>> = (1..3)
        .map(|i| design.difference(1, i, 0).unwrap())
        .collect();
    let control = Control::of_fit(&fit, &against).unwrap();
    assert!(control.discrepancy < 1e-6, "{}", control.discrepancy);
}

#[test]
fn holm_agrees_with_statsmodels_and_intervals_follow() {
    let part = reference("multiple");
    let p_values = list(&part, "p_values");
    let steps = adjust_holm(&p_values, 0.05).unwrap();
    let rejected: Vec<bool> = part["rejected"]
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_bool().unwrap())
        .collect();
    for ((step, p), (adjusted, rejected)) in steps
        .iter()
        .zip(&p_values)
        .zip(list(&part, "holm").iter().zip(&rejected))
    {
        assert_near("adjusted", step.adjusted_p, *adjusted, 1e-12);
        assert_eq!(step.rejected, *rejected);
        // An interval at the step's level excludes the margin exactly where the step rejects.
        assert_eq!(*p <= step.level, step.rejected);
    }
    assert!(adjust_holm(&[0.5, 1.5], 0.05).is_err());
    assert_eq!(adjust_holm(&[], 0.05).map(|s| s.len()), Ok(0));
}
