//! Precision of a test against printed answers.

use crate::data::{Table, assert_near, assert_printed};
use doughtrace::numerics::FitError;
use doughtrace::numerics::precision::{
    Flag, Verdict, check_consistency, cochran_critical, critical_range_factor, estimate_precision,
    grubbs_critical, judge_replicates, mandel_h_critical, mandel_k_critical, pool_repeatability,
};

/// HANDBOOK V-P1, materials A and B: glucose ring test, 8 laboratories by 3.
const MATERIAL_A: [[f64; 3]; 8] = [
    [41.03, 41.45, 41.37],
    [41.17, 42.00, 41.15],
    [41.01, 40.68, 42.66],
    [39.37, 42.37, 42.63],
    [41.88, 41.19, 41.32],
    [43.28, 40.50, 42.28],
    [41.08, 41.27, 39.02],
    [43.36, 42.65, 41.72],
];
const MATERIAL_B: [[f64; 3]; 8] = [
    [78.28, 78.18, 78.49],
    [77.78, 80.38, 79.54],
    [79.18, 79.72, 80.81],
    [84.08, 78.60, 81.92],
    [78.16, 79.58, 78.33],
    [78.66, 79.27, 81.75],
    [79.76, 81.45, 77.35],
    [80.44, 80.80, 79.80],
];

/// HANDBOOK V-P2: an invented study of water absorption, 8 laboratories by 2.
const ABSORPTIONS: [[f64; 2]; 8] = [
    [60.2, 60.4],
    [59.8, 59.7],
    [60.9, 61.1],
    [60.1, 60.3],
    [59.5, 59.9],
    [60.6, 60.5],
    [60.0, 60.2],
    [62.4, 61.2],
];

fn lists<const N: usize>(rows: &[[f64; N]]) -> Vec<Vec<f64>> {
    rows.iter().map(|row| row.to_vec()).collect()
}

#[test]
fn ring_test_of_glucose() {
    // HANDBOOK V-P1 (printed digits).
    let a = estimate_precision(&lists(&MATERIAL_A)).unwrap();
    assert_printed("mean A", a.mean, 41.5183, 1e-4);
    assert_printed("s_d A", a.deviation_of_means, 0.6061, 1e-4);
    assert_printed("sr A", a.repeatability, 1.0632, 1e-4);
    assert!(a.negative_variance && a.between_variance < 0.0 && a.between() <= 0.0);
    assert_printed("sR A", a.reproducibility, 1.0632, 1e-4);
    let b = estimate_precision(&lists(&MATERIAL_B)).unwrap();
    assert_printed("mean B", b.mean, 79.6796, 1e-4);
    assert_printed("s_d B", b.deviation_of_means, 1.0028, 1e-4);
    assert_printed("sr B", b.repeatability, 1.4949, 1e-4);
    assert_printed("sR B", b.reproducibility, 1.5796, 1e-4);
    assert_printed("r B", b.repeatability_limit(), 4.186, 1e-3);
    assert_printed("R B", b.reproducibility_limit(), 4.423, 1e-3);
    assert!(!b.negative_variance);
}

#[test]
fn ring_test_materials_of_the_open_data() {
    // interlab_e691/SOURCE.md: materials A, D and E agree with the printed table.
    let Some(table) = Table::read("interlab_e691/glucose.csv") else {
        return;
    };
    let (values, material) = (table.numbers("Glucose"), table.text("Material"));
    let laboratory = table.factor("Laboratory");
    for (name, mean, sr, sd) in [
        ("A", 41.5183, 1.0632, 1.0632),
        ("D", 194.7171, 2.6251, 3.3657),
        ("E", 294.4921, 3.9350, 4.1923),
    ] {
        let mut cells = vec![Vec::new(); laboratory.levels()];
        for (row, value) in values
            .iter()
            .enumerate()
            .filter(|(r, _)| material[*r] == name)
        {
            cells[laboratory.codes()[row]].push(*value);
        }
        let found = estimate_precision(&cells).unwrap();
        assert_printed("mean", found.mean, mean, 1e-4);
        assert_printed("sr", found.repeatability, sr, 1e-4);
        assert_printed("sR", found.reproducibility, sd, 1e-4);
    }
}

#[test]
fn study_of_absorption() {
    // HANDBOOK V-P2 (printed digits).
    let found = estimate_precision(&lists(&ABSORPTIONS)).unwrap();
    assert_printed("mean", found.mean, 60.425, 1e-3);
    assert_printed("s_d", found.deviation_of_means, 0.6959, 1e-4);
    assert_printed("sr", found.repeatability, 0.3335, 1e-4);
    assert_printed("sL2", found.between_variance, 0.4287, 1e-4);
    assert_printed("sR", found.reproducibility, 0.7348, 1e-4);
    assert_printed("r", found.repeatability_limit(), 0.934, 1e-3);
    assert_printed("R", found.reproducibility_limit(), 2.057, 1e-3);
    let checks = check_consistency(&found).unwrap();
    let eighth = checks.laboratories[7];
    assert_printed("h", eighth.h, 1.98, 0.01);
    assert_eq!(eighth.h_flag, Flag::Straggler);
    assert_printed("k", eighth.k.unwrap(), 2.54, 0.01);
    assert_eq!(eighth.k_flag, Flag::Outlier);
    assert_printed("Cochran", checks.cochran.statistic, 0.8090, 1e-4);
    assert_eq!(
        (checks.cochran.laboratory, checks.cochran.flag),
        (7, Flag::Outlier)
    );
    assert_printed("Grubbs", checks.grubbs.statistic, 1.976, 1e-3);
    assert_eq!(
        (checks.grubbs.laboratory, checks.grubbs.flag),
        (7, Flag::Consistent)
    );
    assert!(
        checks.laboratories[..7]
            .iter()
            .all(|l| l.h_flag == Flag::Consistent)
    );
}

#[test]
fn critical_values_of_the_handbook() {
    // HANDBOOK V-P3, 5 % and 1 %.
    for (p, five, one) in [
        (8, 2.127, 2.274),
        (5, 1.715, 1.764),
        (10, 2.290, 2.482),
        (20, 2.708, 3.001),
    ] {
        assert_printed("Grubbs", grubbs_critical(0.05, p).unwrap(), five, 1e-3);
        assert_printed("Grubbs", grubbs_critical(0.01, p).unwrap(), one, 1e-3);
    }
    for (p, n, five, one) in [
        (8, 2, 0.680, 0.794),
        (8, 3, 0.516, 0.615),
        (5, 2, 0.841, 0.928),
        (10, 2, 0.602, 0.717),
    ] {
        assert_printed("Cochran", cochran_critical(0.05, p, n).unwrap(), five, 1e-3);
        assert_printed("Cochran", cochran_critical(0.01, p, n).unwrap(), one, 1e-3);
    }
    for (p, five, one) in [(8, 1.75, 2.06), (5, 1.57, 1.72), (10, 1.80, 2.18)] {
        assert_printed("h", mandel_h_critical(0.05, p).unwrap(), five, 0.01);
        assert_printed("h", mandel_h_critical(0.01, p).unwrap(), one, 0.01);
    }
    for (n, five, one) in [(2, 1.88, 2.26), (3, 1.67, 1.96)] {
        assert_printed("k", mandel_k_critical(0.05, 8, n).unwrap(), five, 0.01);
        assert_printed("k", mandel_k_critical(0.01, 8, n).unwrap(), one, 0.01);
    }
}

#[test]
fn unequal_laboratories_agree_with_the_analysis_of_variance() {
    // By hand: n = 2, 3, 1; N 6, mean 5, squares between 2*1 + 3*1 + 1*1 = 6 over 2 df = 3; within
    // (0.5 + 2) / 3; n typical = (6 - 14/6) / 2 = 11/6.
    let cells = [vec![3.5, 4.5], vec![5.0, 6.0, 7.0], vec![4.0]];
    let found = estimate_precision(&cells).unwrap();
    assert_near("mean", found.mean, 5.0, 1e-14);
    let sr2: f64 = 2.5 / 3.0;
    assert_near("sr", found.repeatability, sr2.sqrt(), 1e-14);
    assert_near(
        "sL2",
        found.between_variance,
        (3.0 - sr2) / (11.0 / 6.0),
        1e-13,
    );
    let checks = check_consistency(&found).unwrap();
    assert_eq!(checks.laboratories[2].k, None);
    assert!(matches!(
        estimate_precision(&[vec![1.0, 2.0]]),
        Err(FitError::TooFew { .. })
    ));
}

#[test]
fn replicates_are_accepted_repeated_or_replaced_by_their_median() {
    // HANDBOOK V-P4: 59.3 and 60.4 with sr 0.30: r 0.84, difference 1.1, rejected.
    let pair = judge_replicates(&[59.3, 60.4], 0.30).unwrap();
    assert_printed("r", pair.critical_range, 0.84, 0.01);
    assert_printed("difference", pair.range, 1.1, 0.1);
    assert_eq!(pair.verdict, Verdict::TakeMore { count: 2 });
    let at_limit = judge_replicates(&[59.30, 60.14], 0.30).unwrap();
    assert!(matches!(at_limit.verdict, Verdict::Accepted { .. }));
    let four = judge_replicates(&[59.3, 60.4, 59.6, 59.8], 0.30).unwrap();
    assert_eq!(four.verdict, Verdict::Median { median: 59.7 });
    let agreeing = judge_replicates(&[59.3, 60.3, 59.6, 59.8], 0.30).unwrap();
    assert_eq!(agreeing.verdict, Verdict::Accepted { mean: 59.75 });
    // ISO 5725-6 table 1 as HANDBOOK 11.2 prints it.
    for (n, factor) in [(2, 2.8), (3, 3.3), (4, 3.6), (5, 3.9), (6, 4.0)] {
        assert_near("f(n)", critical_range_factor(n).unwrap(), factor, 1e-12);
    }
    assert!(judge_replicates(&[1.0], 0.3).is_err());
    assert!(judge_replicates(&[1.0, 2.0], 0.0).is_err());
}

#[test]
fn one_laboratory_has_a_repeatability_only() {
    let groups = [vec![60.1, 60.3], vec![62.0], vec![58.2, 58.6, 58.4], vec![]];
    let found = pool_repeatability(&groups).unwrap();
    assert_near("sr", found.deviation, (0.1_f64 / 3.0).sqrt(), 1e-12);
    assert!((found.df - 3.0).abs() < 1e-12 && found.groups == 2);
    assert_near("r", found.limit(), 2.8 * found.deviation, 1e-14);
    // Chi-squared with 3 df: 0.2158 and 9.3484 (Abramowitz and Stegun 1964, table 26.8).
    let interval = found.interval(0.95).unwrap();
    assert_near(
        "low",
        interval.low,
        found.deviation * (3.0_f64 / 9.3484).sqrt(),
        1e-5,
    );
    assert_near(
        "high",
        interval.high,
        found.deviation * (3.0_f64 / 0.215795).sqrt(),
        1e-5,
    );
    assert!(pool_repeatability(&[vec![1.0], vec![2.0]]).is_err());
}
