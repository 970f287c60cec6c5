//! Power and numbers of doughs.

use crate::data::{assert_near, assert_printed, list, reference};
use doughtrace::numerics::distribution::noncentral_t_upper;
use doughtrace::numerics::power::{Aim, Layout, power, smallest_count};
use doughtrace::numerics::{FitError, Interval};

fn within(half: f64) -> Aim {
    Aim::Within(Interval {
        low: -half,
        high: half,
    })
}

#[test]
fn the_handbook_needs_nine_where_the_normal_formula_says_eight() {
    // HANDBOOK V-TOSTn: sigma 1, delta 1.5, alpha 0.05, power 0.80.
    let layout = Layout::Groups { treatments: 2 };
    let at = |count| {
        let (error, df) = layout.error(count, 1.0).unwrap();
        power(within(1.5), 0.0, error, df, 0.05).unwrap()
    };
    assert_printed("n 8", at(8), 0.772, 1e-3);
    assert_printed("n 9", at(9), 0.838, 1e-3);
    let question = (within(1.5), 0.0);
    let planned = smallest_count(layout, question, 1.0, (0.05, 0.80), 100).unwrap();
    let planned = planned.unwrap();
    assert_eq!(planned.count, 9);
    assert_near("power", planned.power, at(9), 1e-14);
    assert_eq!(
        smallest_count(layout, question, 1.0, (0.05, 0.80), 8),
        Ok(None)
    );
}

#[test]
fn powers_agree_with_scipy_and_statsmodels() {
    let part = reference("power");
    let rows = |name: &str| -> Vec<Vec<f64>> {
        let rows = part[name].as_array().unwrap().iter();
        rows.map(|row| {
            row.as_array()
                .unwrap()
                .iter()
                .map(|v| v.as_f64().unwrap())
                .collect()
        })
        .collect()
    };
    for row in rows("noncentral") {
        let found = noncentral_t_upper(row[0], row[1], row[2]);
        assert!((found - row[3]).abs() < 1e-9, "{row:?}: {found}");
    }
    for row in rows("equivalence") {
        let found = power(within(row[0]), row[1], row[2], row[3], row[4]).unwrap();
        assert!((found - row[5]).abs() < 1e-9, "{row:?}: {found}");
    }
    for (n, wanted) in [4, 10, 25].into_iter().zip(list(&part, "two_groups")) {
        let (error, df) = Layout::Groups { treatments: 2 }.error(n, 1.0).unwrap();
        let found = power(Aim::Differs(0.0), 1.2, error, df, 0.05).unwrap();
        assert_near("two groups", found, wanted, 1e-8);
    }
    for (n, wanted) in [5, 12, 30].into_iter().zip(list(&part, "pairs_above")) {
        let (error, df) = Layout::Pairs.error(n, 1.0).unwrap();
        let found = power(Aim::Above(0.0), 0.8, error, df, 0.025).unwrap();
        assert_near("pairs", found, wanted, 1e-8);
        let mirrored = power(Aim::Below(0.0), -0.8, error, df, 0.025).unwrap();
        assert_near("mirrored", mirrored, found, 1e-12);
    }
}

#[test]
fn at_the_margin_power_is_the_level_and_blocks_lose_degrees_of_freedom() {
    let at_margin = power(Aim::Above(-0.4), -0.4, 0.1, 7.0, 0.05).unwrap();
    assert_near("level", at_margin, 0.05, 1e-8);
    assert!(power(within(0.4), 0.4, 0.1, 7.0, 0.05).unwrap() <= 0.05 + 1e-9);
    let (error, df) = Layout::Blocks { treatments: 3 }.error(5, 2.0).unwrap();
    assert_near("error", error, 2.0 * (0.4_f64).sqrt(), 1e-14);
    assert_near("df", df, 8.0, 1e-14);
    let range = |found| matches!(found, Err(FitError::OutOfRange { .. }));
    assert!(range(power(within(-1.0), 0.0, 1.0, 5.0, 0.05)));
    assert!(range(power(within(1.0), 0.0, 0.0, 5.0, 0.05)));
    assert!(range(power(within(1.0), 0.0, 1.0, 5.0, 0.6)));
    assert!(Layout::Pairs.error(1, 1.0).is_err());
}
