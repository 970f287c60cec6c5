//! Least squares, blocks, contrasts and the checks of their assumptions.

use crate::data::{Table, assert_near, assert_printed, digits, list, path, reference};
use doughtrace::numerics::FitError;
use doughtrace::numerics::equivalence::paired;
use doughtrace::numerics::linear::{
    Centre, Coding, Contrasts, Design, Factor, Setting, Variable, analyse_blocks, compare_spread,
    fit_linear, shapiro_wilk,
};

/// HANDBOOK V-A1: five flours (blocks) by three methods, ml/g.
pub const FLOURS_BY_METHOD: [[f64; 3]; 5] = [
    [3.9, 4.1, 4.4],
    [4.2, 4.3, 4.5],
    [3.5, 3.8, 4.0],
    [4.6, 4.7, 4.9],
    [4.0, 4.0, 4.4],
];

/// Returns response, method and flour of V-A1.
pub fn flours_by_method() -> (Vec<f64>, Factor, Factor) {
    let values = FLOURS_BY_METHOD.iter().flatten().copied().collect();
    let method = Factor::new((0..15).map(|i| i % 3).collect());
    let flour = Factor::new((0..15).map(|i| i / 3).collect());
    (values, method, flour)
}

fn factor_of(part: &serde_json::Value, name: &str) -> Factor {
    Factor::new(list(part, name).iter().map(|v| *v as usize).collect())
}

#[test]
fn blocks_of_the_handbook() {
    // HANDBOOK V-A1 and V-A2 (printed digits).
    let (y, method, flour) = flours_by_method();
    let anova = analyse_blocks(&y, &method, &flour).unwrap();
    assert_printed("block", anova.blocks.sum, 1.4907, 1e-4);
    assert_printed("method", anova.treatments.sum, 0.4120, 1e-4);
    assert_printed("error", anova.error.sum, 0.0413, 1e-4);
    assert_printed("MSE", anova.error.mean_square(), 0.005167, 1e-6);
    assert_printed("F", anova.test.statistic, 39.87, 0.01);
    assert_printed("p", anova.test.p, 6.9e-5, 1e-6);
    assert!((anova.test.numerator_df - 2.0).abs() < 1e-12);
    assert!((anova.test.denominator_df - 8.0).abs() < 1e-12);

    let design = Design::blocked(&method, &flour).unwrap();
    let fit = fit_linear(&design, &y).unwrap();
    for (level, mean) in [4.04, 4.18, 4.44].into_iter().enumerate() {
        let weights = design.marginal_mean(Design::TREATMENT, level).unwrap();
        assert_near("mean", fit.contrast(&weights).unwrap().value, mean, 1e-12);
    }
    let weights = design.difference(Design::TREATMENT, 1, 0).unwrap();
    let difference = fit.contrast(&weights).unwrap();
    assert_printed("se", difference.standard_error, 0.0455, 1e-4);
    assert_printed("p", difference.p_two_sided(0.0), 0.015, 1e-3);
    let interval = difference.interval(0.90).unwrap();
    assert_printed("low", interval.low, 0.0555, 1e-4);
    assert_printed("high", interval.high, 0.2245, 1e-4);

    let column = |j: usize| FLOURS_BY_METHOD.map(|row| row[j]);
    let pairs = paired(&column(1), &column(0)).unwrap();
    assert_printed("se of pairs", pairs.standard_error, 0.0510, 1e-4);
    assert_printed("p of pairs", pairs.p_two_sided(0.0), 0.0516, 1e-4);
    let wide = pairs.interval(0.95).unwrap();
    assert_printed("low of pairs", wide.low, -0.0016, 1e-4);
    assert_printed("high of pairs", wide.high, 0.2816, 1e-4);
}

#[test]
fn loaf_volumes_of_larmour() {
    // Larmour 1941, 17 flours by 5 doses; answers recomputed in R 4.2.2 by loaf_volume_larmour.
    let Some(table) = Table::read("loaf_volume_larmour/bread.csv") else {
        return;
    };
    let (volume, variety) = (table.numbers("volume"), table.factor("variety"));
    let dose = table.factor("bromate");
    let anova = analyse_blocks(&volume, &dose, &variety).unwrap();
    assert_printed("variety", anova.blocks.sum, 776_939.0, 1.0);
    assert_printed("dose", anova.treatments.sum, 116_537.0, 1.0);
    assert_printed("residual", anova.error.sum, 109_643.0, 1.0);
    assert_printed("residual MS", anova.error.mean_square(), 1713.17, 0.01);
    assert_printed("F", anova.test.statistic, 17.0060, 1e-4);
    let varieties = analyse_blocks(&volume, &variety, &dose).unwrap();
    assert_printed("F of varieties", varieties.test.statistic, 28.3443, 1e-4);
    let design = Design::blocked(&dose, &variety).unwrap();
    let fit = fit_linear(&design, &volume).unwrap();
    for (level, mean) in [819.118, 907.941, 910.882, 869.412, 835.882]
        .into_iter()
        .enumerate()
    {
        let weights = design.marginal_mean(Design::TREATMENT, level).unwrap();
        assert_printed("mean", fit.contrast(&weights).unwrap().value, mean, 1e-3);
    }
    // Tukey's one degree of freedom for non-additivity: the squared fit as a covariate.
    let fitted: Vec<f64> = volume
        .iter()
        .zip(fit.residuals())
        .map(|(y, r)| y - r)
        .collect();
    let mean = fitted.iter().sum::<f64>() / fitted.len() as f64;
    let squares = fitted.iter().map(|f| (f - mean) * (f - mean)).collect();
    let design = Design::new(
        vec![
            Variable::Factor(variety, Coding::Sum),
            Variable::Factor(dose, Coding::Sum),
            Variable::Measured(squares),
        ],
        vec![vec![0], vec![1], vec![2]],
    )
    .unwrap();
    let test = fit_linear(&design, &volume).unwrap().test_term(2).unwrap();
    assert_printed("non-additivity", test.statistic, 10.063, 1e-3);
    assert_printed("its p", test.p, 0.0023, 1e-4);
}

#[test]
fn factorial_of_pizza_doughs() {
    // Cano, Moguerza and Redchuk 2012, 2^3 twice; effects recomputed in R by baking_doe.
    let Some(table) = Table::read("baking_doe/cano_doe1.csv") else {
        return;
    };
    let variables = ["flour", "salt", "bakPow"]
        .map(|name| Variable::Factor(table.factor(name), Coding::Sum))
        .to_vec();
    let terms = vec![
        vec![0],
        vec![1],
        vec![2],
        vec![0, 1],
        vec![0, 2],
        vec![1, 2],
        vec![0, 1, 2],
    ];
    let design = Design::new(variables, terms).unwrap();
    let fit = fit_linear(&design, &table.numbers("score")).unwrap();
    // Levels sort '+' before '-'; half the difference is the effect as printed.
    for (factor, wanted) in [(0, 1.226_875), (2, -0.933_125)] {
        let weights = design.difference(factor, 0, 1).unwrap();
        let effect = fit.contrast(&weights).unwrap().scaled(0.5);
        assert_printed("effect", effect.value, wanted, 1e-6);
        assert_printed("its error", effect.standard_error, 0.121_403, 1e-6);
    }
}

#[test]
fn unbalanced_cells_agree_with_statsmodels() {
    let part = reference("linear");
    let (y, x) = (list(&part, "y"), list(&part, "x"));
    let (method, flour) = (factor_of(&part, "method"), factor_of(&part, "flour"));
    for coding in [Coding::Sum, Coding::Treatment] {
        let design = Design::new(
            vec![
                Variable::Factor(method.clone(), coding),
                Variable::Factor(flour.clone(), coding),
                Variable::Measured(x.clone()),
            ],
            vec![vec![0], vec![1], vec![0, 1], vec![2]],
        )
        .unwrap();
        let fit = fit_linear(&design, &y).unwrap();
        let wanted = (list(&part, "means"), list(&part, "mean_errors"));
        for (level, (mean, error)) in wanted.0.iter().zip(&wanted.1).enumerate() {
            let found = fit
                .contrast(&design.marginal_mean(0, level).unwrap())
                .unwrap();
            assert_near("mean", found.value, *mean, 1e-11);
            assert_near("error", found.standard_error, *error, 1e-11);
        }
        let found = fit.contrast(&design.difference(0, 2, 0).unwrap()).unwrap();
        let wanted = list(&part, "difference");
        let interval = found.interval(0.90).unwrap();
        let values = [found.value, found.standard_error, found.p_two_sided(0.0)];
        for (value, wanted) in values
            .iter()
            .chain([&interval.low, &interval.high])
            .zip(&wanted)
        {
            assert_near("difference", *value, *wanted, 1e-10);
        }
        let standardised = fit.standardised_residuals();
        for (value, wanted) in standardised.iter().zip(list(&part, "standardised")) {
            assert!((value - wanted).abs() < 1e-10);
        }
        if coding == Coding::Sum {
            let (f, p) = (list(&part, "type3_F"), list(&part, "type3_p"));
            for term in 0..4 {
                let test = fit.test_term(term).unwrap();
                assert_near("type III F", test.statistic, f[term], 1e-10);
                assert_near("type III p", test.p, p[term], 1e-9);
            }
        }
    }
    let design = Design::new(
        vec![
            Variable::Factor(method, Coding::Sum),
            Variable::Factor(flour, Coding::Sum),
            Variable::Measured(x),
        ],
        vec![vec![0], vec![1], vec![2]],
    )
    .unwrap();
    let fit = fit_linear(&design, &y).unwrap();
    let wanted = list(&part, "sequential_sums");
    for (sum, wanted) in fit.sequential_sums().iter().zip(&wanted) {
        assert_near("sequential sum", sum.sum, *wanted, 1e-11);
    }
    assert_near("error sum", fit.error().sum, wanted[3], 1e-11);
}

#[test]
fn missing_and_repeated_cells_agree_with_statsmodels() {
    let part = reference("blocks");
    let y = list(&part, "y");
    let (treatment, block) = (factor_of(&part, "treatment"), factor_of(&part, "block"));
    let anova = analyse_blocks(&y, &treatment, &block).unwrap();
    let (sums, dfs) = (list(&part, "sums"), list(&part, "dfs"));
    for (line, (sum, df)) in [anova.blocks, anova.treatments, anova.error]
        .iter()
        .zip(sums.iter().zip(&dfs))
    {
        assert_near("sum", line.sum, *sum, 1e-11);
        assert_near("df", line.df, *df, 1e-12);
    }
    assert_near(
        "F",
        anova.test.statistic,
        part["F"].as_f64().unwrap(),
        1e-11,
    );
    assert_near("p", anova.test.p, part["p"].as_f64().unwrap(), 1e-10);
    let design = Design::blocked(&treatment, &block).unwrap();
    let fit = fit_linear(&design, &y).unwrap();
    let wanted = (list(&part, "means"), list(&part, "mean_errors"));
    for (level, (mean, error)) in wanted.0.iter().zip(&wanted.1).enumerate() {
        let found = fit
            .contrast(&design.marginal_mean(1, level).unwrap())
            .unwrap();
        assert_near("mean", found.value, *mean, 1e-11);
        assert_near("its error", found.standard_error, *error, 1e-11);
    }
    let found = fit.contrast(&design.difference(1, 2, 0).unwrap()).unwrap();
    let wanted = list(&part, "difference");
    assert_near("difference", found.value, wanted[0], 1e-11);
    assert_near("its error", found.standard_error, wanted[1], 1e-11);
    assert_near("its p", found.p_two_sided(0.0), wanted[2], 1e-9);
}

#[test]
fn a_design_that_cannot_answer_says_so() {
    // Each method on a day of its own: confounded.
    let method = Factor::new(vec![0, 0, 1, 1]);
    let confounded = Design::blocked(&method, &method).unwrap();
    let fit = fit_linear(&confounded, &[1.0, 2.0, 3.0, 4.0]).unwrap();
    let weights = confounded.difference(1, 1, 0).unwrap();
    assert_eq!(fit.contrast(&weights), Err(FitError::NotEstimable));
    assert_eq!(
        analyse_blocks(&[1.0, 2.0, 3.0, 4.0], &method, &method),
        Err(FitError::NotEstimable)
    );
    // An interaction with an empty cell: the mean over it is unknown, the filled cells are not.
    let a = Factor::new(vec![0, 0, 0, 1, 1, 0]);
    let b = Factor::new(vec![0, 0, 1, 0, 0, 1]);
    let design = Design::new(
        vec![
            Variable::Factor(a, Coding::Sum),
            Variable::Factor(b, Coding::Sum),
        ],
        vec![vec![0], vec![1], vec![0, 1]],
    )
    .unwrap();
    let fit = fit_linear(&design, &[1.0, 2.0, 5.0, 7.0, 9.0, 5.5]).unwrap();
    let marginal = design.marginal_mean(0, 1).unwrap();
    assert_eq!(fit.contrast(&marginal), Err(FitError::NotEstimable));
    let cell = design
        .mean_at(&[(0, Setting::Level(1)), (1, Setting::Level(0))])
        .unwrap();
    assert_near("cell", fit.contrast(&cell).unwrap().value, 8.0, 1e-12);
    assert_eq!(fit.test_term(2).err(), Some(FitError::NotEstimable));
}

#[test]
fn assumptions_agree_with_scipy() {
    let part = reference("assumptions");
    for case in part["shapiro"].as_array().unwrap() {
        let found = shapiro_wilk(&list(case, "values")).unwrap();
        assert_near("W", found.statistic, case["w"].as_f64().unwrap(), 1e-6);
        assert!(
            (found.p - case["p"].as_f64().unwrap()).abs() < 1e-5,
            "{found:?} {case}"
        );
    }
    assert_eq!(shapiro_wilk(&[2.0; 8]), Err(FitError::NoVariation));
    let (values, groups) = (list(&part, "values"), factor_of(&part, "groups"));
    for (centre, name) in [(Centre::Mean, "levene"), (Centre::Median, "brown_forsythe")] {
        let found = compare_spread(&values, &groups, centre).unwrap();
        assert_near(name, found.statistic, list(&part, name)[0], 1e-11);
        assert_near(name, found.p, list(&part, name)[1], 1e-10);
    }
}

/// Returns the certified coefficients and residual sum of squares, the columns of the data (y
/// first), and the degree where the model is a polynomial.
fn certified(name: &str) -> Option<(Vec<f64>, f64, Vec<Vec<f64>>)> {
    let text = std::fs::read_to_string(path(&format!("nist_strd/{name}.dat"))?).unwrap();
    let numbers = |line: &str| -> Vec<f64> {
        let words = line.split_whitespace();
        words.filter_map(|w| w.parse().ok()).collect()
    };
    let coefficients = text
        .lines()
        .filter(|l| l.trim_start().starts_with('B') && l.trim().as_bytes()[1].is_ascii_digit())
        .filter_map(|l| numbers(l).first().copied())
        .collect();
    let residual = text
        .lines()
        .find_map(|l| l.trim_start().strip_prefix("Residual"))
        .map(|_| ());
    residual?;
    let sum = text
        .lines()
        .filter(|l| l.trim_start().starts_with("Residual"))
        .find_map(|l| numbers(l).get(1).copied())?;
    let data = text
        .lines()
        .skip_while(|l| !(l.starts_with("Data:") && l.contains(" x")));
    let rows: Vec<Vec<f64>> = data.skip(1).map(numbers).filter(|r| r.len() > 1).collect();
    let columns = (0..rows[0].len())
        .map(|j| rows.iter().map(|row| row[j]).collect())
        .collect();
    Some((coefficients, sum, columns))
}

#[test]
fn regressions_of_nist() {
    // NIST StRD, linear regression: digits that plain doubles can be expected to keep.
    for (name, least) in [
        ("Norris", 11.0),
        ("Pontius", 11.0),
        ("Longley", 10.0),
        ("Filip", 7.0),
        ("Wampler1", 9.0),
        ("Wampler2", 12.0),
        ("Wampler3", 9.0),
        ("Wampler4", 8.0),
        ("Wampler5", 6.0),
    ] {
        let Some((wanted, residual, columns)) = certified(name) else {
            return;
        };
        let powers = columns.len() == 2;
        let measured: Vec<Variable> = if powers {
            (1..wanted.len())
                .map(|d| columns[1].iter().map(|x| x.powi(d as i32)).collect())
                .map(Variable::Measured)
                .collect()
        } else {
            columns[1..]
                .iter()
                .cloned()
                .map(Variable::Measured)
                .collect()
        };
        let terms = (0..measured.len()).map(|i| vec![i]).collect();
        let design = Design::new(measured, terms).unwrap();
        let fit = fit_linear(&design, &columns[0]).unwrap();
        let worst = fit
            .coefficients()
            .iter()
            .zip(&wanted)
            .map(|(found, wanted)| digits(*found, *wanted))
            .fold(16.0, f64::min);
        let of_sum = digits(fit.error().sum, residual);
        println!("{name}: {worst:.1} digits of coefficients, {of_sum:.1} of the residual sum");
        assert!(worst >= least, "{name}: {worst} digits");
        assert!(
            residual < 1e-9 || of_sum >= least,
            "{name}: {of_sum} digits"
        );
    }
}
