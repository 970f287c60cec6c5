//! Parallel lines and slope ratios against statsmodels (tests/reference/statistics.py).

use crate::data::{assert_near, list, reference};
use doughtrace::numerics::dose_response::{
    Limits, ParallelLines, Ratio, analyse_slope_ratio, ratio_of_contrasts,
};
use doughtrace::numerics::linear::{Design, Factor, Variable, fit_linear};
use doughtrace::numerics::mixed::Blocks;
use doughtrace::numerics::{FisherTest, FitError};

#[track_caller]
fn assert_ratio(found: &Ratio, wanted: &[f64]) {
    let limits = found.limits.bounded().unwrap();
    assert_near("ratio", found.value, wanted[0], 1e-9);
    assert_near("low", limits.low, wanted[1], 1e-8);
    assert_near("high", limits.high, wanted[2], 1e-8);
}

#[track_caller]
fn assert_test(found: &FisherTest, wanted: &[f64]) {
    assert_near("F", found.statistic, wanted[0], 1e-7);
    assert_near("p", found.p, wanted[1], 1e-7);
}

#[test]
fn methods_over_water_agree_with_statsmodels() {
    let part = reference("parallel");
    let factor = |name: &str| Factor::new(list(&part, name).iter().map(|v| *v as usize).collect());
    let (y, dose, method) = (list(&part, "y"), list(&part, "dose"), factor("method"));
    let blocks = Blocks::Fixed(factor("block"));
    let lines = ParallelLines::new(&dose, &method, blocks.clone()).unwrap();
    let found = lines.compare(&y, 2, 0, 0.90).unwrap();
    assert_ratio(&found.shift, &list(&part, "shift"));
    assert_ratio(&found.slope_ratio, &list(&part, "slope_ratio"));
    assert_near(
        "slope",
        found.common_slope.value,
        list(&part, "slope")[0],
        1e-11,
    );
    assert_near(
        "its error",
        found.common_slope.standard_error,
        list(&part, "slope")[1],
        1e-10,
    );
    assert_test(&found.parallelism, &list(&part, "parallelism"));
    assert_test(&found.curvature.unwrap(), &list(&part, "curvature"));
    assert_test(&found.lack_of_fit.unwrap(), &list(&part, "lack_of_fit"));
    assert!(found.common_responses.is_some());
    assert_eq!(lines.slopes(&y).unwrap().len(), 3);

    // The shift has the sign of more water for the same consistency, and swaps with the roles.
    assert!(found.shift.value > 1.0);
    let swapped = lines.compare(&y, 0, 2, 0.90).unwrap();
    assert_near("swapped", swapped.shift.value, -found.shift.value, 1e-12);

    let from: Vec<f64> = dose.iter().map(|d| d - 50.0).collect();
    let start = analyse_slope_ratio(&y, &from, (&method, (2, 0)), &blocks, 0.90).unwrap();
    assert_ratio(&start.ratio, &list(&part, "from_start"));
    assert_test(&start.common_start.unwrap(), &list(&part, "common_start"));
}

#[test]
fn random_blocks_of_a_complete_design_give_the_same_shift() {
    // Complete blocks: between-block differences carry nothing about the shift.
    let dose: Vec<f64> = (0..24).map(|i| 56.0 + 2.0 * f64::from(i % 4)).collect();
    let method = Factor::new((0..24).map(|i| (i / 4) % 2).collect());
    let block = Factor::new((0..24).map(|i| i / 8).collect());
    let noise = [3.0, -2.0, 1.0, -4.0, 2.0, 0.5, -1.5];
    let y: Vec<f64> = (0..24)
        .map(|i| {
            let more = 2.0 * (i / 4 % 2) as f64;
            500.0 - 20.0 * (dose[i] - more - 59.0) + 15.0 * (i / 8) as f64 + noise[i % 7]
        })
        .collect();
    let compare = |blocks| {
        let lines = ParallelLines::new(&dose, &method, blocks).unwrap();
        lines.compare(&y, 1, 0, 0.95).unwrap()
    };
    let (fixed, random) = (
        compare(Blocks::Fixed(block.clone())),
        compare(Blocks::Random(vec![block])),
    );
    assert_near("shift", random.shift.value, fixed.shift.value, 1e-10);
    let (f, r) = (fixed.shift.limits.bounded(), random.shift.limits.bounded());
    assert_near("low", r.unwrap().low, f.unwrap().low, 1e-6);
    assert!(fixed.lack_of_fit.is_some() && random.lack_of_fit.is_none());
}

#[test]
fn a_slope_that_may_be_zero_leaves_the_shift_unbounded() {
    let dose: Vec<f64> = (0..12).map(|i| f64::from(i % 3)).collect();
    let method = Factor::new((0..12).map(|i| usize::from(i >= 6)).collect());
    let flat = [5.0, 5.3, 4.9, 5.1, 4.8, 5.2, 5.2, 5.0, 5.1, 4.9, 5.3, 5.0];
    let lines = ParallelLines::new(&dose, &method, Blocks::None).unwrap();
    let found = lines.compare(&flat, 1, 0, 0.95).unwrap();
    assert_eq!(found.shift.limits.bounded(), None);
    assert_eq!(found.shift.limits, Limits::Unbounded);
    // Far apart, with the same flat slope: all but the middle.
    let apart: Vec<f64> = flat
        .iter()
        .enumerate()
        .map(|(i, y)| y + 3.0 * f64::from(u8::from(i >= 6)))
        .collect();
    let found = lines.compare(&apart, 1, 0, 0.95).unwrap();
    assert!(matches!(found.shift.limits, Limits::Outside(gap) if gap.low < gap.high));
}

#[test]
fn lines_that_never_meet_in_height_are_said_to_extrapolate() {
    let dose: Vec<f64> = (0..8).map(|i| f64::from(i % 2)).collect();
    let method = Factor::new((0..8).map(|i| usize::from(i >= 4)).collect());
    let y = [0.0, 1.0, 0.1, 1.1, 5.0, 6.1, 5.1, 6.0];
    let lines = ParallelLines::new(&dose, &method, Blocks::None).unwrap();
    let found = lines.compare(&y, 1, 0, 0.95).unwrap();
    assert_eq!(found.common_responses, None);
    assert_eq!(found.curvature, None);
    assert!(matches!(
        lines.compare(&y, 2, 0, 0.95),
        Err(FitError::Unknown { .. })
    ));
}

#[test]
fn fieller_limits_satisfy_their_equation() {
    // At a limit the contrast numerator - ratio * denominator is significant exactly at 5 %.
    let x = vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let design = Design::new(vec![Variable::Measured(x)], vec![vec![0]]).unwrap();
    let fit = fit_linear(&design, &[2.1, 3.9, 6.2, 7.8, 10.1, 12.2]).unwrap();
    let (above, below) = ([1.0, 0.0], [0.0, 1.0]);
    let ratio = ratio_of_contrasts(&fit, &above, &below, 0.95).unwrap();
    let limits = ratio.limits.bounded().unwrap();
    for end in [limits.low, limits.high] {
        use doughtrace::numerics::linear::Contrasts;
        let at = fit.contrast(&[1.0, -end]).unwrap();
        assert_near("p", at.p_two_sided(0.0), 0.05, 1e-9);
    }
}
