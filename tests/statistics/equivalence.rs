//! Two one-sided tests against printed answers.

use crate::data::{Table, assert_near, assert_printed};
use crate::linear::{FLOURS_BY_METHOD, flours_by_method};
use doughtrace::numerics::equivalence::{one_sample, paired, pooled, test_equivalence, welch};
use doughtrace::numerics::exact::{Summary, summarise};
use doughtrace::numerics::linear::{Coding, Contrasts, Design, Factor, Variable, fit_linear};
use doughtrace::numerics::{Estimate, Interval};

fn within(margin: f64) -> Interval {
    Interval {
        low: -margin,
        high: margin,
    }
}

#[test]
fn methods_of_the_handbook() {
    // HANDBOOK V-A2: methods 2 - 1 of V-A1, by pairs and by the pooled error.
    let column = |j: usize| FLOURS_BY_METHOD.map(|row| row[j]);
    let pairs = paired(&column(1), &column(0)).unwrap();
    let wide = test_equivalence(&pairs, within(0.30), 0.05).unwrap();
    assert!(wide.equivalent);
    assert_printed("p", wide.p(), 0.0175, 1e-4);
    assert_printed("low", wide.interval.low, 0.0313, 1e-4);
    assert_printed("high", wide.interval.high, 0.2487, 1e-4);
    let narrow = test_equivalence(&pairs, within(0.20), 0.05).unwrap();
    assert!(!narrow.equivalent);
    assert_printed("p", narrow.p(), 0.152, 1e-3);

    let (y, method, flour) = flours_by_method();
    let design = Design::blocked(&method, &flour).unwrap();
    let fit = fit_linear(&design, &y).unwrap();
    let weights = design.difference(Design::TREATMENT, 1, 0).unwrap();
    let difference = fit.contrast(&weights).unwrap();
    let wide = test_equivalence(&difference, within(0.30), 0.05).unwrap();
    assert_printed("p, pooled error", wide.p(), 0.0039, 1e-4);
    let narrow = test_equivalence(&difference, within(0.20), 0.05).unwrap();
    assert_printed("p, pooled error", narrow.p(), 0.112, 1e-3);
}

#[test]
fn crossover_studies_give_the_published_intervals() {
    // Intervals of T/R in per cent, printed with their sources in equivalence_crossover.
    let Some(answers) = Table::read("equivalence_crossover/known_answers.csv") else {
        return;
    };
    let wanted = ["point_estimate_pct", "ci90_lower_pct", "ci90_upper_pct"]
        .map(|name| answers.numbers(name));
    for (row, name) in answers.text("dataset").iter().enumerate() {
        let ratio = crossover_ratio(&format!("equivalence_crossover/{name}.csv"));
        let interval = ratio.interval(0.90).unwrap().exponentiated();
        let found = [ratio.value.exp(), interval.low, interval.high];
        for (found, wanted) in found.iter().zip(&wanted) {
            // The answers print six or seven digits.
            assert_near(name, 100.0 * found, wanted[row], 5e-7);
        }
    }
}

/// Returns the logarithm of T over R, all effects fixed: sequence, subject, period, treatment.
fn crossover_ratio(file: &str) -> Estimate {
    let present = |cell: &str| !matches!(cell, "." | "NA" | "");
    let table = Table::read(file).unwrap().filtered("PK", present);
    let sequence = table.factor("sequence");
    let subject = table.factor("subject").nested_in(&sequence);
    let logs: Vec<f64> = table.numbers("PK").iter().map(|v| v.ln()).collect();
    let variables = [
        sequence,
        subject,
        table.factor("period"),
        table.factor("treatment"),
    ]
    .map(|factor| Variable::Factor(factor, Coding::Treatment));
    let design = Design::new(variables.to_vec(), vec![vec![0], vec![1], vec![2], vec![3]]).unwrap();
    let fit = fit_linear(&design, &logs).unwrap();
    // Sequences are nested above subjects, so the coefficient itself is asked for.
    let mut weights = vec![0.0; design.width()];
    weights[design.term_columns(3).unwrap().start] = 1.0;
    fit.contrast(&weights).unwrap()
}

#[test]
fn summaries_of_lakens() {
    // Lakens 2017 (Soc. Psychol. Personal. Sci. 8:355), answers in equivalence_crossover.
    let Some(cases) = Table::read("equivalence_crossover/tost_summary_examples.csv") else {
        return;
    };
    let column = |name: &str| -> Vec<Option<f64>> {
        let cells = cases.text(name);
        cells.iter().map(|cell| cell.parse().ok()).collect()
    };
    for (row, design) in cases.text("design").iter().enumerate() {
        let at = |name: &str| column(name)[row];
        let group = |m: &str, s: &str, n: &str| Summary {
            mean: at(m).unwrap(),
            deviation: at(s).unwrap(),
            count: at(n).unwrap() as usize,
        };
        let first = group("m1", "sd1", "n1");
        let estimate = if design == "one-sample" {
            let mut mean = one_sample(&first).unwrap();
            mean.value -= at("m2_or_mu").unwrap();
            mean
        } else {
            welch(&first, &group("m2_or_mu", "sd2", "n2")).unwrap()
        };
        let margins = Interval {
            low: at("eq_low_raw").unwrap(),
            high: at("eq_high_raw").unwrap(),
        };
        let test = test_equivalence(&estimate, margins, 0.05).unwrap();
        let wide = estimate.interval(0.95).unwrap();
        for (found, name) in [
            (estimate.df, "df"),
            (test.interval.low, "ci90_low"),
            (test.interval.high, "ci90_high"),
            (wide.low, "ci95_low"),
            (wide.high, "ci95_high"),
            (estimate.statistic(margins.low), "t_lower"),
            (estimate.statistic(margins.high), "t_upper"),
            (test.p_lower, "p_lower"),
            (test.p_upper, "p_upper"),
        ] {
            // Seven digits are printed, six of t; margins are printed to seven themselves.
            if let Some(wanted) = at(name) {
                assert_near(name, found, wanted, 2e-6);
            }
        }
        assert!(test.equivalent);
    }
}

#[test]
fn pooled_groups_agree_with_the_two_sample_model() {
    let (a, b) = ([5.1, 4.8, 5.6, 5.0], [4.2, 4.9, 4.4]);
    let found = pooled(&summarise(&a).unwrap(), &summarise(&b).unwrap()).unwrap();
    let values: Vec<f64> = a.iter().chain(&b).copied().collect();
    let group = Factor::new(vec![0, 0, 0, 0, 1, 1, 1]);
    let design = Design::new(vec![Variable::Factor(group, Coding::Sum)], vec![vec![0]]).unwrap();
    let fit = fit_linear(&design, &values).unwrap();
    let weights = design.difference(0, 0, 1).unwrap();
    let wanted = fit.contrast(&weights).unwrap();
    assert_near("difference", found.value, wanted.value, 1e-12);
    assert_near("error", found.standard_error, wanted.standard_error, 1e-12);
    assert_near("df", found.df, wanted.df, 1e-12);
}
