//! Mixed models against published and recomputed answers.

use crate::data::{Table, assert_near, assert_printed, list, reference};
use crate::linear::flours_by_method;
use doughtrace::numerics::FitError;
use doughtrace::numerics::linear::{
    Coding, Contrasts, Design, Factor, Variable, analyse_blocks, fit_linear,
};
use doughtrace::numerics::mixed::{Criterion, MixedFit, fit_mixed};

/// Returns the design of the given factors with all their interactions up to the last of `terms`.
fn factors(factors: &[Factor], coding: Coding, terms: &[&[usize]]) -> Design {
    let variables = factors.iter().cloned();
    Design::new(
        variables.map(|f| Variable::Factor(f, coding)).collect(),
        terms.iter().map(|t| t.to_vec()).collect(),
    )
    .unwrap()
}

fn restricted<'d>(design: &'d Design, groupings: &[Factor], y: &[f64]) -> MixedFit<'d> {
    fit_mixed(design, groupings, y, Criterion::Restricted).unwrap()
}

#[track_caller]
fn assert_test(fit: &MixedFit<'_>, term: usize, wanted: (f64, f64, f64), place: f64) {
    let test = fit.test_term(term).unwrap();
    assert_printed("F", test.statistic, wanted.0, place);
    assert_near("df above", test.numerator_df, wanted.1, 1e-9);
    assert_near("df below", test.denominator_df, wanted.2, 1e-5);
}

#[test]
fn dyestuff_of_davies() {
    // Davies; Box and Tiao; Bates: answers in mixed_models_lme4, recomputed there in R.
    let Some(table) = Table::read("mixed_models_lme4/dyestuff.csv") else {
        return;
    };
    let (y, batch) = (table.numbers("Yield"), table.factor("Batch"));
    let design = Design::mean_only(y.len()).unwrap();
    let fit = restricted(&design, std::slice::from_ref(&batch), &y);
    // Balanced: variances from mean squares by hand, 56357.5/5 and 58830/24.
    assert_near("error", fit.error_variance, 58_830.0 / 24.0, 1e-10);
    let wanted = (56_357.5 / 5.0 - 58_830.0 / 24.0) / 5.0;
    assert_near("batch", fit.variances[0], wanted, 1e-8);
    assert_printed("batch", fit.variances[0], 1764.05, 0.01);
    assert_printed("deviance", fit.deviance, 319.65428, 1e-5);
    let full = fit_mixed(&design, &[batch], &y, Criterion::Full).unwrap();
    assert_printed("batch, full", full.variances[0], 1388.3333, 1e-4);
    assert_printed("deviance, full", full.deviance, 327.32706, 1e-5);
}

#[test]
fn a_variance_that_wants_to_be_negative_is_exactly_zero() {
    // mixed_models_lme4: dyestuff2, simulated by Box and Tiao.
    let Some(table) = Table::read("mixed_models_lme4/dyestuff2.csv") else {
        return;
    };
    let (y, batch) = (table.numbers("Yield"), table.factor("Batch"));
    let design = Design::mean_only(y.len()).unwrap();
    let fit = restricted(&design, &[batch], &y);
    assert_eq!(fit.variances[0].to_bits(), 0.0_f64.to_bits());
    assert_printed("deviance", fit.deviance, 161.82828, 1e-5);
    assert_printed("error", fit.error_variance, 13.80631, 1e-5);
    // Without the batches it is the model of the mean: n - 1 degrees of freedom.
    let mean = fit.contrast(&[1.0]).unwrap();
    assert_near("df", mean.df, 29.0, 1e-9);
}

#[test]
fn pastes_nest() {
    let Some(table) = Table::read("mixed_models_lme4/pastes.csv") else {
        return;
    };
    let y = table.numbers("strength");
    let batch = table.factor("batch");
    let sample = table.factor("cask").nested_in(&batch);
    let design = Design::mean_only(y.len()).unwrap();
    let fit = restricted(&design, &[batch, sample], &y);
    assert_printed("batch", fit.variances[0], 1.65731, 1e-5);
    assert_printed("sample", fit.variances[1], 8.43367, 1e-5);
    assert_printed("error", fit.error_variance, 0.678, 1e-6);
    assert_printed("deviance", fit.deviance, 246.99075, 1e-5);
}

#[test]
fn cakes_of_cook() {
    // Cook 1938, in Cochran and Cox 1957 p. 300; answers in mixed_models_lme4.
    let Some(table) = Table::read("mixed_models_lme4/cake.csv") else {
        return;
    };
    let y = table.numbers("angle");
    let (recipe, temperature) = (table.factor("recipe"), table.factor("temperature"));
    let batch = table.factor("replicate").nested_in(&recipe);
    let both = [recipe.clone(), temperature.clone()];
    let terms: [&[usize]; 3] = [&[0], &[1], &[0, 1]];
    let design = factors(&both, Coding::Sum, &terms);
    let fit = restricted(&design, std::slice::from_ref(&batch), &y);
    assert_printed("batch", fit.variances[0], 41.8370, 1e-4);
    assert_printed("error", fit.error_variance, 20.4709, 1e-4);
    assert_test(&fit, 0, (0.2488, 2.0, 42.0), 1e-4);
    assert_test(&fit, 1, (20.5199, 5.0, 210.0), 1e-4);
    assert_test(&fit, 2, (1.0062, 10.0, 210.0), 1e-4);
    // The deviances as printed belong to treatment coding.
    let design = factors(&both, Coding::Treatment, &terms);
    let fit = restricted(&design, std::slice::from_ref(&batch), &y);
    assert_printed("deviance", fit.deviance, 1633.2462, 1e-4);
    let full = |design: &Design| {
        let fit = fit_mixed(design, std::slice::from_ref(&batch), &y, Criterion::Full);
        -0.5 * fit.unwrap().deviance
    };
    assert_printed("interaction", full(&design), -839.526, 1e-3);
    let additive = factors(&both, Coding::Treatment, &[&[0], &[1]]);
    assert_printed("additive", full(&additive), -844.791, 1e-3);
    let linear = Design::new(
        vec![
            Variable::Factor(recipe, Coding::Treatment),
            Variable::Measured(table.numbers("temp")),
        ],
        vec![vec![0], vec![1]],
    )
    .unwrap();
    assert_printed("linear", full(&linear), -848.079, 1e-3);
}

#[test]
fn oats_of_yates() {
    // Yates 1935, printed in Venables and Ripley; mixed_models_lme4.
    let Some(table) = Table::read("mixed_models_lme4/oats_splitplot.csv") else {
        return;
    };
    let (block, variety, nitrogen) = (table.factor("B"), table.factor("V"), table.factor("N"));
    let plot = variety.nested_in(&block);
    let design = factors(&[variety, nitrogen], Coding::Sum, &[&[0], &[1], &[0, 1]]);
    let fit = restricted(&design, &[block, plot], &table.numbers("Y"));
    assert_test(&fit, 0, (1.4853, 2.0, 10.0), 1e-4);
    assert_test(&fit, 1, (37.686, 3.0, 45.0), 1e-3);
    assert_test(&fit, 2, (0.3028, 6.0, 45.0), 1e-4);
    assert_printed("error", fit.error_variance, 177.1, 0.1);
    // Blocks' mean square: error + 4 plots' + 12 blocks' variance.
    let blocks = fit.error_variance + 4.0 * fit.variances[1] + 12.0 * fit.variances[0];
    assert_printed("blocks", blocks, 3175.1, 0.1);
}

#[test]
fn television_panel() {
    // lmerTest's data; assessors and their preference for sets are random.
    let Some(table) = Table::read("mixed_models_lme4/tvbo_sensory_panel.csv") else {
        return;
    };
    let (assessor, set) = (table.factor("Assessor"), table.factor("TVset"));
    let within = set.nested_in(&assessor);
    let design = factors(
        &[set, table.factor("Picture")],
        Coding::Sum,
        &[&[0], &[1], &[0, 1]],
    );
    let fit = restricted(
        &design,
        &[assessor, within],
        &table.numbers("Coloursaturation"),
    );
    assert_test(&fit, 0, (17.225, 2.0, 14.0), 1e-3);
    assert_test(&fit, 1, (4.350, 3.0, 159.0), 1e-3);
    assert_test(&fit, 2, (2.676, 6.0, 159.0), 1e-3);
}

#[test]
fn split_plots_of_lawson() {
    // Lawson 2015, answers recomputed in R by baking_doe.
    let Some(table) = Table::read("baking_doe/lawson_splitPdes.csv") else {
        return;
    };
    let [short, bake, tray, batch] =
        ["short", "bakeT", "trayT", "batch"].map(|name| table.factor(name));
    let whole = short.nested_in(&bake).nested_in(&batch);
    let terms: [&[usize]; 7] = [&[0], &[1], &[2], &[0, 1], &[0, 2], &[1, 2], &[0, 1, 2]];
    let design = factors(&[short, bake, tray], Coding::Sum, &terms);
    let fit = restricted(&design, &[batch, whole], &table.numbers("y"));
    assert_test(&fit, 0, (301.28, 1.0, 5.0), 0.01);
    assert_test(&fit, 1, (8.983, 2.0, 5.0), 1e-3);
    assert_test(&fit, 2, (79.80, 1.0, 6.0), 0.01);
    assert_test(&fit, 4, (23.37, 1.0, 6.0), 0.01);

    let table = Table::read("baking_doe/lawson_cakeb.csv").unwrap();
    let measured = ["x1", "x2", "x1sq", "x2sq"].map(|n| Variable::Measured(table.numbers(n)));
    let terms = vec![vec![0], vec![1], vec![2], vec![3], vec![0, 1]];
    let design = Design::new(measured.to_vec(), terms).unwrap();
    let fit = restricted(&design, &[table.factor("Ovenrun")], &table.numbers("y"));
    assert_printed("oven sd", fit.variances[0].sqrt(), 0.37449, 1e-5);
    assert_printed("error sd", fit.error_variance.sqrt(), 0.05, 1e-5);
}

#[test]
fn random_flours_of_larmour() {
    let Some(table) = Table::read("loaf_volume_larmour/bread.csv") else {
        return;
    };
    let design = factors(&[table.factor("bromate")], Coding::Sum, &[&[0]]);
    let fit = restricted(
        &design,
        &[table.factor("variety")],
        &table.numbers("volume"),
    );
    assert_printed("variety", fit.variances[0], 9369.11, 0.01);
    assert_printed("error", fit.error_variance, 1713.17, 0.01);
    assert_test(&fit, 0, (17.0060, 4.0, 64.0), 1e-4);
}

#[test]
fn crossover_with_random_subjects() {
    // equivalence_crossover: DS01, subject random, Satterthwaite: 115.73 (107.17 to 124.97), df 216.939.
    let Some(table) = Table::read("equivalence_crossover/DS01.csv") else {
        return;
    };
    let table = table.filtered("PK", |cell| !matches!(cell, "." | "NA" | ""));
    let logs: Vec<f64> = table.numbers("PK").iter().map(|v| v.ln()).collect();
    let design = factors(
        &["sequence", "period", "treatment"].map(|name| table.factor(name)),
        Coding::Treatment,
        &[&[0], &[1], &[2]],
    );
    let fit = restricted(&design, &[table.factor("subject")], &logs);
    let ratio = fit.contrast(&design.difference(2, 1, 0).unwrap()).unwrap();
    assert_printed("df", ratio.df, 216.939, 1e-3);
    let interval = ratio.interval(0.90).unwrap().exponentiated();
    assert_printed("ratio", 100.0 * ratio.value.exp(), 115.73, 0.01);
    assert_printed("low", 100.0 * interval.low, 107.17, 0.01);
    assert_printed("high", 100.0 * interval.high, 124.97, 0.01);
}

#[test]
fn random_blocks_of_the_handbook_answer_as_fixed_ones() {
    // HANDBOOK V-A1 is complete, so both analyses give one contrast, F(2,8) = 39.87.
    let (y, method, flour) = flours_by_method();
    let design = factors(std::slice::from_ref(&method), Coding::Sum, &[&[0]]);
    let fit = restricted(&design, std::slice::from_ref(&flour), &y);
    assert_test(&fit, 0, (39.87, 2.0, 8.0), 0.01);
    let blocks = Design::blocked(&method, &flour).unwrap();
    let fixed = fit_linear(&blocks, &y).unwrap();
    let wanted = fixed
        .contrast(&blocks.difference(Design::TREATMENT, 1, 0).unwrap())
        .unwrap();
    let found = fit.contrast(&design.difference(0, 1, 0).unwrap()).unwrap();
    assert_near("difference", found.value, wanted.value, 1e-12);
    assert_near("error", found.standard_error, wanted.standard_error, 1e-9);
    assert_near("df", found.df, 8.0, 1e-5);
    let anova = analyse_blocks(&y, &method, &flour).unwrap();
    assert_near("error", fit.error_variance, anova.error.mean_square(), 1e-9);
}

#[test]
fn unbalanced_crossed_and_nested_agree_with_dense_algebra() {
    // tests/reference/statistics.py: numpy and scipy, dense matrices, numerical derivatives.
    let part = reference("mixed");
    let factor = |name: &str| Factor::new(list(&part, name).iter().map(|v| *v as usize).collect());
    let day = factor("day");
    let groupings = [
        factor("flour"),
        day.clone(),
        factor("dough").nested_in(&day),
    ];
    let design = factors(&[factor("method")], Coding::Treatment, &[&[0]]);
    let fit = restricted(&design, &groupings, &list(&part, "y"));
    let number = |name: &str| part[name].as_f64().unwrap();
    assert_near("deviance", fit.deviance, number("deviance"), 1e-12);
    assert_near("error", fit.error_variance, number("error_variance"), 2e-6);
    for (found, wanted) in fit.variances.iter().zip(list(&part, "variances")) {
        assert_near("variance", *found, wanted, 2e-6);
    }
    let third = 1.0 / 3.0;
    for (weights, wanted) in [
        [0.0, 1.0, 0.0],
        [0.0, 0.0, 1.0],
        [0.0, -1.0, 1.0],
        [1.0, third, third],
    ]
    .iter()
    .zip(part["contrasts"].as_array().unwrap())
    {
        let found = fit.contrast(weights).unwrap();
        assert_near("value", found.value, wanted[0].as_f64().unwrap(), 1e-6);
        assert_near(
            "error",
            found.standard_error,
            wanted[1].as_f64().unwrap(),
            1e-6,
        );
        assert_near("df", found.df, wanted[2].as_f64().unwrap(), 1e-4);
    }
    let test = fit.test_term(0).unwrap();
    assert_near("F", test.statistic, number("F"), 1e-5);
    assert_near("F df", test.denominator_df, number("F_df"), 1e-4);
    let sum: f64 = fit.effects[0].iter().sum();
    assert!(sum.abs() < 1e-6 * fit.effects[0][0].abs().max(1.0), "{sum}");
}

#[test]
fn groupings_that_cannot_be_told_apart_are_refused() {
    let y = [1.0, 2.0, 2.5, 4.0, 4.5, 7.0];
    let day = Factor::new(vec![0, 0, 1, 1, 2, 2]);
    let design = Design::mean_only(6).unwrap();
    let fit = |groupings: &[Factor]| {
        fit_mixed(&design, groupings, &y, Criterion::Restricted).map(|f| f.variances)
    };
    let renamed = Factor::new(vec![2, 2, 0, 0, 1, 1]);
    assert_eq!(fit(&[day.clone(), renamed]), Err(FitError::NotEstimable));
    let single = Factor::new((0..6).collect());
    assert_eq!(fit(&[single]), Err(FitError::NotEstimable));
    assert!(matches!(fit(&[]), Err(FitError::TooFew { .. })));
    // A method for each day: the day's variance is told from nothing.
    let by_day = factors(std::slice::from_ref(&day), Coding::Sum, &[&[0]]);
    let found = fit_mixed(
        &by_day,
        std::slice::from_ref(&day),
        &y,
        Criterion::Restricted,
    );
    assert_eq!(found.err(), Some(FitError::NotEstimable));
    assert!(fit(&[day]).is_ok());
}
