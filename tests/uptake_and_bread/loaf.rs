//! The loaf method against the handbook and on awkward records.

use crate::made::{day_of, outcome, scalar, value};
use doughtrace::record::{MetricResult, Observation, Outcome};
use doughtrace::schema::{Status, Unit};

const ML: Unit = Unit::Millilitre;
const G: Unit = Unit::Gram;
const BOX: (&str, &str) = ("box", "");

fn results(records: Vec<Observation>) -> Vec<MetricResult> {
    day_of(Vec::new(), records).grading.results
}

/// The box of HANDBOOK V-S2 with a block that it measures as 2 ml too large, and one loaf.
pub fn one_loaf() -> Vec<Observation> {
    vec![
        scalar(2, BOX, None, "box_full_volume", (2800.0, ML)),
        scalar(3, BOX, None, "block_volume", (1000.0, ML)),
        scalar(4, BOX, None, "seeds_around_block", (1798.0, ML)),
        scalar(5, ("D-01", "a"), None, "seeds_around_loaf", (1075.0, ML)),
        scalar(6, ("D-01", "a"), None, "loaf_mass", (425.0, G)),
        scalar(
            7,
            ("D-01", "a"),
            None,
            "dough_piece_mass",
            (0.5, Unit::Kilogram),
        ),
    ]
}

#[test]
fn seeds_of_the_handbook_give_its_volume() {
    // HANDBOOK V-S2: 1725 ml, 4.0588 ml/g.
    let results = results(one_loaf());
    assert!((value(&outcome(&results, "loaf.volume", "")) - 1725.0).abs() < 1e-9);
    let specific = outcome(&results, "loaf.specific_volume", "");
    assert!((value(&specific) - 4.0588).abs() < 5e-5);
    // Analytic: 75 g of 500 g.
    assert!((value(&outcome(&results, "loaf.bake_loss", "")) - 15.0).abs() < 1e-9);
    let volume = outcome(&results, "loaf.volume", "").estimate().unwrap();
    // Analytic: two readings of 5 ml and a bias of 2 ml, rectangular.
    let wanted = (5.0_f64.powi(2) * 2.0 + 4.0 / 3.0).sqrt();
    assert!((volume.std_uncertainty() - wanted).abs() < 1e-9);
    let loaf = results
        .iter()
        .find(|r| r.metric.id == "loaf.volume")
        .unwrap();
    assert_eq!(loaf.run_id.as_str(), "dough D-01, loaf a");
    assert!(loaf.parameters.contains("box_checked=yes"));
    assert_eq!(loaf.rows.map(|r| (r.first, r.last)), Some((2, 7)));
}

#[test]
fn loaves_of_a_dough_are_sub_samples() {
    let mut records = one_loaf();
    for (i, (loaf, seeds)) in [("b", 1100.0), ("c", 1050.0)].iter().enumerate() {
        let row = 8 + 2 * i as u64;
        records.push(scalar(
            row,
            ("D-01", loaf),
            None,
            "seeds_around_loaf",
            (*seeds, ML),
        ));
        records.push(scalar(
            row + 1,
            ("D-01", loaf),
            None,
            "loaf_mass",
            (425.0, G),
        ));
    }
    let results = results(records);
    let dough = outcome(&results, "loaf.dough_specific_volume", "")
        .estimate()
        .unwrap();
    assert!((dough.value() - 1725.0 / 425.0).abs() < 1e-9);
    // Analytic: the standard error of 1700, 1725, 1750 ml is 25/√3; shared are one reading of the
    // full box and the bias.
    let scatter = 25.0 / 3.0_f64.sqrt() / 425.0;
    let shared = (25.0_f64 + 4.0 / 3.0).sqrt() / 425.0;
    assert!(
        (dough.std_uncertainty() - scatter.hypot(shared)).abs() < 1e-9,
        "{dough:?}"
    );
    let row = results
        .iter()
        .find(|r| r.metric.id == "loaf.dough_specific_volume");
    assert!(row.unwrap().parameters.contains("loaves=3 of 3"));
    assert_eq!(row.unwrap().run_id.as_str(), "dough D-01, bread");
}

#[test]
fn a_loaf_without_box_or_mass_has_no_specific_volume() {
    let mut records = one_loaf();
    let without_box = results(records.split_off(3));
    let reason = outcome(&without_box, "loaf.volume", "");
    assert!(
        reason.reason().unwrap().contains("box_full_volume"),
        "{reason:?}"
    );
    let mut records = one_loaf();
    records.remove(4);
    let without_mass = results(records);
    let reason = outcome(&without_mass, "loaf.specific_volume", "");
    assert!(reason.reason().unwrap().contains("loaf_mass"), "{reason:?}");
    let mut records = one_loaf();
    records[3].value = Some(2900.0);
    let slip = outcome(&results(records), "loaf.volume", "");
    assert_eq!(slip.status(), Status::Rejected);
}

#[test]
fn mould_is_known_between_two_looks() {
    let looks = |clean: &[f64], seen: &[f64]| -> Outcome {
        let mut records = Vec::new();
        for (word, days) in [("mould_free_until", clean), ("mould_seen_at", seen)] {
            for day in days {
                records.push(scalar(2, ("D-01", "a"), None, word, (*day, Unit::Day)));
            }
        }
        outcome(&results(records), "loaf.mould_free_days", "")
    };
    assert_eq!(looks(&[3.0, 7.0], &[]), Outcome::Above(7.0));
    assert_eq!(looks(&[], &[4.0, 5.0]), Outcome::Below(4.0));
    let between = looks(&[3.0, 5.0], &[7.0, 8.0]).estimate().unwrap();
    assert!((between.value() - 6.0).abs() < 1e-12);
    assert!((between.low() - 5.0).abs() < 1e-12 && (between.high() - 7.0).abs() < 1e-12);
    assert_eq!(looks(&[7.0], &[5.0]).status(), Status::Rejected);
}

#[test]
fn density_gas_and_retention_follow_their_formulas() {
    let per_ml = Unit::GramPerMillilitre;
    let pct = Unit::Percent;
    let tube = ("D-01", "water");
    let records = vec![
        scalar(2, ("D-01", ""), None, "dough_density", (1.12, per_ml)),
        scalar(3, ("D-01", ""), None, "dough_density", (1.14, per_ml)),
        scalar(4, ("D-01", ""), None, "gas_free_density", (1.25, per_ml)),
        scalar(5, tube, None, "retention_flour_mass", (5.0, G)),
        scalar(6, tube, None, "retention_gel_mass", (9.0, G)),
        scalar(7, tube, None, "retention_flour_moisture", (12.5, pct)),
        scalar(8, ("D-01", ""), Some(3.0), "crumb_moisture", (44.0, pct)),
        scalar(9, ("D-01", ""), Some(3.0), "crumb_moisture", (44.4, pct)),
        scalar(
            10,
            ("D-01", ""),
            None,
            "stickiness_force",
            (0.4, Unit::Newton),
        ),
        scalar(11, ("D-01", ""), None, "free_water", (12.0, pct)),
    ];
    let results = results(records);
    // HANDBOOK V-U4: 76.91 %.
    assert!((value(&outcome(&results, "loaf.solvent_retention", "")) - 76.91).abs() < 5e-3);
    // Analytic: 1 - 1.13/1.25.
    assert!((value(&outcome(&results, "loaf.gas_fraction", "")) - 9.6).abs() < 1e-9);
    let moisture = outcome(&results, "loaf.crumb_moisture", "")
        .estimate()
        .unwrap();
    assert!((moisture.value() - 44.2).abs() < 1e-9);
    // Analytic: Student's t of one degree of freedom, 12.706, times 0.2.
    assert!(
        (moisture.high() - moisture.value() - 2.541_24).abs() < 1e-4,
        "{moisture:?}"
    );
    let at_age = results
        .iter()
        .find(|r| r.metric.id == "loaf.crumb_moisture");
    assert_eq!(at_age.unwrap().run_id.as_str(), "dough D-01 at 3 d");
    assert!((value(&outcome(&results, "loaf.stickiness_force", "")) - 0.4).abs() < 1e-12);
    assert!((value(&outcome(&results, "loaf.free_water", "")) - 12.0).abs() < 1e-12);
}

#[test]
fn a_record_in_the_wrong_unit_is_no_record() {
    let wrong = scalar(2, ("D-01", "a"), None, "loaf_mass", (425.0, ML));
    assert!(results(vec![wrong]).is_empty());
}
