//! Models of ordered grades against published answers and general-purpose libraries
//! (tests/reference/statistics_ordinal.py).

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "tests may stop, and say when they are skipped"
)]

use doughtrace::numerics::ordinal::{
    Cluster, OrdinalData, OrdinalFault, Stratum, fit_proportional_odds, fit_random_intercepts,
    profile_interval, superiority_of_clusters, superiority_within_blocks, test_proportional_odds,
    van_elteren,
};
use doughtrace::numerics::{Estimate, Interval, Resampling};
use serde_json::Value;

#[track_caller]
fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}

#[track_caller]
fn ends(found: Interval, low: f64, high: f64, within: f64) {
    close(found.low, low, within);
    close(found.high, high, within);
}

#[track_caller]
fn estimates(found: &[Estimate], wanted: &[f64], within: f64) {
    assert_eq!(found.len(), wanted.len());
    for (found, wanted) in found.iter().zip(wanted) {
        close(found.value, *wanted, within);
    }
}

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/statistics_ordinal.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| v.as_f64().unwrap()).collect()
}

fn indices(value: &Value) -> Vec<usize> {
    numbers(value).iter().map(|v| *v as usize).collect()
}

fn indicator(labels: &[usize], of: usize) -> Vec<f64> {
    labels
        .iter()
        .map(|l| f64::from(u8::from(*l == of)))
        .collect()
}

/// Returns the columns of the reference model: treatment, and five of six blocks.
fn columns(data: &Value) -> Vec<Vec<f64>> {
    let block = indices(&data["block"]);
    let mut columns = vec![numbers(&data["treatment"])];
    columns.extend((1..6).map(|b| indicator(&block, b)));
    columns
}

struct Wine {
    rating: Vec<usize>,
    columns: Vec<Vec<f64>>,
    judge: Vec<usize>,
}

/// Returns 72 ratings of bitterness (Randall 1989), which lie beside the project.
fn wine() -> Option<Wine> {
    let root = std::env::var_os("DOUGHTRACE_SHARED_DATA").map_or_else(
        || std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        std::path::PathBuf::from,
    );
    let path = root.join("ordinal_wine/wine.csv");
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("SKIPPED: {} is not here", path.display());
        return None;
    };
    let rows: Vec<Vec<&str>> = text
        .lines()
        .skip(1)
        .map(|line| line.trim().split(',').collect())
        .collect();
    let is = |column: usize, word: &str| -> Vec<f64> {
        rows.iter()
            .map(|r| f64::from(u8::from(r[column] == word)))
            .collect()
    };
    let whole = |column: usize| rows.iter().map(|r| r[column].parse().unwrap()).collect();
    Some(Wine {
        rating: whole(1),
        columns: vec![is(2, "warm"), is(3, "yes")],
        judge: whole(5),
    })
}

#[test]
fn wine_with_fixed_factors() {
    let Some(wine) = wine() else { return };
    let data = OrdinalData {
        grades: &wine.rating,
        columns: &wine.columns,
    };
    let fit = fit_proportional_odds(data).unwrap();
    // Answers of the data set's SOURCE note (vignettes of its package; recomputed there).
    estimates(&fit.coefficients, &[2.50310, 1.52780], 5e-6);
    estimates(
        &fit.thresholds,
        &[-1.34438, 1.25081, 3.46689, 5.00640],
        1e-5,
    );
    close(fit.coefficients[0].standard_error, 0.52868, 5.1e-5);
    close(fit.coefficients[1].standard_error, 0.47662, 5.1e-5);
    close(fit.log_likelihood, -86.492, 5e-4);
    assert!(!fit.separated);
    assert_eq!(fit.levels, [1, 2, 3, 4, 5]);
    // Likelihood-ratio tests of the same hypotheses: 3.1750 (p 0.3654) for temperature, 0.5667
    // (p 0.904) for contact, 3 degrees of freedom (same vignettes; from memory). A score test
    // agrees with them in large samples only.
    for (column, wanted) in [(0, 3.1750), (1, 0.5667)] {
        let test = test_proportional_odds(data, &fit, &[column]).unwrap();
        assert_eq!(test.degrees, 3);
        close(test.statistic, wanted, 0.35 * wanted);
        assert!(test.p > 0.2);
    }
    // Profile intervals 1.5097 to 3.5952 and 0.6158 to 2.4929 (same vignettes; from memory).
    ends(
        profile_interval(data, &fit, 0, 0.95).unwrap(),
        1.5097,
        3.5952,
        2e-3,
    );
    ends(
        profile_interval(data, &fit, 1, 0.95).unwrap(),
        0.6158,
        2.4929,
        2e-3,
    );
}

#[test]
fn wine_with_random_judges() {
    let Some(wine) = wine() else { return };
    let data = OrdinalData {
        grades: &wine.rating,
        columns: &wine.columns,
    };
    // SOURCE note of the data set: ten-point adaptive Gauss–Hermite quadrature.
    let fit = fit_random_intercepts(data, std::slice::from_ref(&wine.judge), 10).unwrap();
    assert!(fit.converged);
    estimates(&fit.coefficients, &[3.06190, 1.83343], 2e-4);
    close(fit.deviations[0].powi(2), 1.28774, 1e-3);
    close(fit.log_likelihood, -81.532461, 2e-6);
    // Laplace: −81.56541, variance 1.279, standard errors 0.5954 and 0.5125 (tutorial of the same
    // package; from memory).
    let one = fit_random_intercepts(data, std::slice::from_ref(&wine.judge), 1).unwrap();
    close(one.log_likelihood, -81.56541, 2e-5);
    close(one.deviations[0].powi(2), 1.279, 2e-3);
    close(one.coefficients[0].standard_error, 0.5954, 5e-4);
    close(one.coefficients[1].standard_error, 0.5125, 5e-4);
    // The joint approximation over two groupings, one of them of a single group with nothing left
    // to explain, falls back to the same.
    let alone = vec![0; wine.rating.len()];
    let joint = fit_random_intercepts(data, &[wine.judge.clone(), alone], 10).unwrap();
    close(joint.log_likelihood, -81.56541, 1e-3);
    close(joint.deviations[1], 0.0, 0.05);
}

#[test]
fn fixed_factors_agree_with_a_general_library() {
    let file = reference();
    let grades = indices(&file["data"]["grade"]);
    let columns = columns(&file["data"]);
    let data = OrdinalData {
        grades: &grades,
        columns: &columns,
    };
    let fit = fit_proportional_odds(data).unwrap();
    let wanted = &file["fixed"];
    estimates(&fit.thresholds, &numbers(&wanted["thresholds"]), 2e-5);
    estimates(&fit.coefficients, &numbers(&wanted["coefficients"]), 2e-5);
    for (found, wanted) in fit
        .coefficients
        .iter()
        .zip(numbers(&wanted["standard_errors"]))
    {
        close(found.standard_error, wanted, 2e-4);
    }
    close(
        fit.log_likelihood,
        wanted["log_likelihood"].as_f64().unwrap(),
        1e-7,
    );
    let test = test_proportional_odds(data, &fit, &[0]).unwrap();
    let score = numbers(&wanted["score_test"]);
    close(test.statistic, score[0], 2e-4);
    close(test.p, score[2], 2e-4);
    let profile = numbers(&wanted["profile_of_treatment"]);
    ends(
        profile_interval(data, &fit, 0, 0.95).unwrap(),
        profile[0],
        profile[1],
        1e-4,
    );
    // Grades renamed without change of order, and one nobody gave, change nothing.
    let renamed: Vec<usize> = grades.iter().map(|g| 3 * g + 2).collect();
    let again = fit_proportional_odds(OrdinalData {
        grades: &renamed,
        ..data
    });
    assert_eq!(again.unwrap().coefficients, fit.coefficients);
    // Grades turned round turn the sign (algebra).
    let turned: Vec<usize> = grades.iter().map(|g| 4 - g).collect();
    let turned = fit_proportional_odds(OrdinalData {
        grades: &turned,
        ..data
    });
    close(
        turned.unwrap().coefficients[0].value,
        -fit.coefficients[0].value,
        1e-8,
    );
}

#[test]
fn separated_grades_fall_back_to_a_penalised_fit() {
    let file = reference();
    let four = &file["four_grades_separated"];
    let grades = indices(&four["grade"]);
    let columns = vec![
        (0..14)
            .map(|i| f64::from(u8::from(i >= 7)))
            .collect::<Vec<f64>>(),
    ];
    let check = |grades: &[usize], wanted: &Value| {
        let data = OrdinalData {
            grades,
            columns: &columns,
        };
        let fit = fit_proportional_odds(data).unwrap();
        assert!(fit.separated);
        let best = numbers(&wanted["estimates"]);
        let (thresholds, coefficients) = best.split_at(best.len() - 1);
        estimates(&fit.thresholds, thresholds, 5e-5);
        estimates(&fit.coefficients, coefficients, 5e-5);
        let profile = numbers(&wanted["profile_of_first"]);
        let found = profile_interval(data, &fit, 0, 0.95).unwrap();
        ends(found, profile[0], profile[1], 1e-4);
        assert_eq!(test_proportional_odds(data, &fit, &[0]), None);
        let groups = vec![vec![0; 14]];
        let mixed = fit_random_intercepts(data, &groups, 10);
        assert_eq!(mixed, Err(OrdinalFault::Separated));
    };
    check(&grades, four);
    let two: Vec<usize> = grades.iter().map(|g| usize::from(*g > 1)).collect();
    check(&two, &file["two_grades_separated"]);
    // With two groups of seven and no overlap, Firth's estimate is that of half a count added to
    // each cell: 2 ln(7.5/0.5) (Heinze and Schemper 2002; saturated model).
    let data = OrdinalData {
        grades: &two,
        columns: &columns,
    };
    let fit = fit_proportional_odds(data).unwrap();
    close(fit.coefficients[0].value, 2.0 * 15.0_f64.ln(), 1e-7);
}

#[test]
fn random_doughs_and_graders_agree_with_another_program() {
    let file = reference();
    let grades = indices(&file["data"]["grade"]);
    let columns = vec![numbers(&file["data"]["treatment"])];
    let data = OrdinalData {
        grades: &grades,
        columns: &columns,
    };
    let dough = indices(&file["data"]["dough"]);
    let grader = indices(&file["data"]["grader"]);
    let cases = [
        ("random_dough", vec![dough.clone()]),
        ("random_dough_and_grader_laplace", vec![dough, grader]),
    ];
    for (key, groupings) in cases {
        let fit = fit_random_intercepts(data, &groupings, 25).unwrap();
        let wanted = numbers(&file[key]["estimates"]);
        assert!(fit.converged, "{key}");
        close(
            fit.log_likelihood,
            file[key]["log_likelihood"].as_f64().unwrap(),
            2e-6,
        );
        estimates(&fit.thresholds, &wanted[..4], 5e-3);
        estimates(&fit.coefficients, &wanted[4..5], 5e-3);
        for (found, wanted) in fit.deviations.iter().zip(&wanted[5..]) {
            close(*found, wanted.abs(), 5e-3);
        }
    }
}

#[test]
fn a_model_that_cannot_be_is_refused() {
    let fault = |grades: &[usize], columns: &[Vec<f64>]| {
        fit_proportional_odds(OrdinalData { grades, columns }).unwrap_err()
    };
    assert_eq!(fault(&[2, 2, 2], &[]), OrdinalFault::OneGrade);
    assert_eq!(fault(&[1, 2, 2], &[vec![1.0]]), OrdinalFault::Length);
    let column = vec![1.0, 0.0, 1.0, 0.0];
    let twice = vec![column.clone(), column];
    assert_eq!(fault(&[1, 2, 2, 1], &twice), OrdinalFault::Dependent);
    assert_eq!(
        fault(&[1, 2, 2, 1], &[vec![1.0; 4]]),
        OrdinalFault::Dependent
    );
}

/// Returns one cluster for each label.
fn clusters(grades: &[usize], treatment: &[f64], labels: &[usize]) -> Vec<Cluster<usize>> {
    let count = labels.iter().max().map_or(0, |l| l + 1);
    let mut clusters = vec![
        Cluster {
            above: Vec::new(),
            below: Vec::new(),
        };
        count
    ];
    for ((grade, treatment), label) in grades.iter().zip(treatment).zip(labels) {
        if *treatment > 0.5 {
            clusters[*label].above.push(*grade);
        } else {
            clusters[*label].below.push(*grade);
        }
    }
    clusters
}

#[test]
fn superiority_by_cluster_agrees_with_other_programs() {
    let file = reference();
    let grades = indices(&file["data"]["grade"]);
    let treatment = numbers(&file["data"]["treatment"]);
    for (key, label) in [
        ("superiority_by_dough", "dough"),
        ("superiority_by_block", "block"),
    ] {
        let groups = clusters(&grades, &treatment, &indices(&file["data"][label]));
        let found = superiority_of_clusters(&groups, 0.95).unwrap();
        let wanted = numbers(&file[key]);
        close(found.probability, wanted[0], 1e-9);
        close(found.standard_error, wanted[1], 1e-9);
        assert!(found.interval.contains(found.probability));
        let expected_degrees = if label == "block" {
            5.0..=5.0
        } else {
            5.0..=10.0
        };
        assert!(
            expected_degrees.contains(&found.degrees),
            "{}",
            found.degrees
        );
    }
    // Single grades: the statistic of Brunner and Munzel (scipy) is (P − ½) over the same error.
    let each: Vec<usize> = (0..grades.len()).collect();
    let single = superiority_of_clusters(&clusters(&grades, &treatment, &each), 0.95).unwrap();
    let statistic = (single.probability - 0.5) / single.standard_error;
    close(statistic, numbers(&file["brunner_munzel"])[0], 1e-8);
}

#[test]
fn superiority_of_the_handbook() {
    // HANDBOOK §15, V-O1: probability 0.6675.
    let counts = [(0, 1, 0), (1, 4, 2), (2, 9, 6), (3, 6, 12)];
    let mut groups = Vec::new();
    for (grade, a, b) in counts {
        let cluster = |above: Vec<usize>, below| Cluster { above, below };
        groups.extend((0..b).map(|_| cluster(vec![grade], Vec::new())));
        groups.extend((0..a).map(|_| cluster(Vec::new(), vec![grade])));
    }
    let found = superiority_of_clusters(&groups, 0.95).unwrap();
    close(found.probability, 0.6675, 1e-12);
    assert!(
        found.interval.low < 0.52 && found.interval.low > 0.48,
        "{found:?}"
    );
}

#[test]
fn doughs_that_all_say_the_same_have_an_exact_bound() {
    let block = Cluster {
        above: vec![3, 4],
        below: vec![1, 2],
    };
    let blocks = vec![block; 5];
    // Five independent pairs, all above: the chance of that is at most P⁵, so P ≥ 0.025^(1/5).
    let found = superiority_within_blocks(&blocks, 0.95).unwrap();
    close(found.probability, 1.0, 0.0);
    close(found.interval.low, 0.478_176_25, 1e-7);
    close(found.interval.high, 1.0, 0.0);
    let pooled = superiority_of_clusters(&blocks, 0.95).unwrap();
    close(pooled.interval.low, 0.478_176_25, 1e-7);
    assert_eq!(superiority_within_blocks(&blocks[..1], 0.95), None);
}

#[test]
fn only_doughs_of_one_block_are_compared() {
    // The better flour got the worse treatment more often: within blocks the first treatment
    // always wins or ties, over all pairs it does not.
    let blocks = vec![
        Cluster {
            above: vec![4],
            below: vec![3, 3, 4],
        },
        Cluster {
            above: vec![1, 1, 2],
            below: vec![0],
        },
    ];
    // By hand: blocks (1 + 1 + ½)/3 and 1; all 16 pairs: 2.5 + 0 + 3.
    let within = superiority_within_blocks(&blocks, 0.95).unwrap();
    close(within.probability, 0.5 * (2.5 / 3.0 + 1.0), 1e-12);
    let pooled = superiority_of_clusters(&blocks, 0.95).unwrap();
    close(pooled.probability, 6.5 / 16.0, 1e-12);
}

#[test]
fn the_interval_holds_as_often_as_it_says() {
    // Twelve doughs a treatment, four grades each, doughs that differ: the true probability is
    // known by symmetry to be ½, and the interval must hold it in about 95 of 100 studies.
    use rand_core::{Rng, SeedableRng};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(21);
    let mut below = move |bound: u64| (rng.next_u64() >> 33) % bound;
    let studies = 400;
    let held = (0..studies)
        .filter(|_| {
            let groups: Vec<Cluster<u64>> = (0..24)
                .map(|i| {
                    let lean = below(4);
                    let grades: Vec<u64> = (0..4).map(|_| lean + below(3)).collect();
                    let (above, below) = if i % 2 == 0 {
                        (grades, Vec::new())
                    } else {
                        (Vec::new(), grades)
                    };
                    Cluster { above, below }
                })
                .collect();
            superiority_of_clusters(&groups, 0.95).is_some_and(|s| s.interval.contains(0.5))
        })
        .count();
    let share = held as f64 / f64::from(studies);
    // Binomial standard error 0.011.
    assert!((0.915..=0.985).contains(&share), "{share}");
}

#[test]
fn the_stratified_rank_test_agrees_with_other_programs() {
    let file = reference();
    let grades = indices(&file["data"]["grade"]);
    let treatment = numbers(&file["data"]["treatment"]);
    let of = |wanted: bool| -> Vec<usize> {
        let pairs = grades.iter().zip(&treatment);
        pairs
            .filter(|(_, t)| (**t > 0.5) == wanted)
            .map(|(g, _)| *g)
            .collect()
    };
    let settings = Resampling {
        times: 4000,
        seed: 4,
    };
    // One stratum: the rank-sum test of scipy, without continuity correction.
    let one = [Stratum {
        above: of(true),
        below: of(false),
    }];
    let found = van_elteren(&one, settings).unwrap();
    close(found.p_normal, file["rank_sum_p"].as_f64().unwrap(), 1e-10);
    // Strata: weighted by hand in numpy, exact p by every arrangement.
    let wanted = &file["stratified"];
    let strata: Vec<Stratum<usize>> = wanted["strata"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| Stratum {
            above: indices(&s[0]),
            below: indices(&s[1]),
        })
        .collect();
    let found = van_elteren(&strata, settings).unwrap();
    close(found.z, wanted["z"].as_f64().unwrap(), 1e-9);
    close(found.p_normal, wanted["p_normal"].as_f64().unwrap(), 1e-9);
    // Standard error of 4,000 shuffles: 0.005.
    close(found.p_permuted, wanted["p_exact"].as_f64().unwrap(), 0.02);
    close(found.smallest_p, 2.0 / 216.0, 1e-12);
    assert_eq!(van_elteren(&strata, settings), Some(found));
    let same = [Stratum {
        above: vec![1, 1],
        below: vec![1],
    }];
    assert_eq!(van_elteren(&same, settings), None);
}
