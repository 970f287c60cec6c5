//! Designs that cannot answer, and reservations.

use super::bench::{assess, blocks, close, judge, judge_with, noise, row, study};
use doughtrace::compare::ResultRow;
use doughtrace::record::Claim;
use doughtrace::schema::{Status, Unit, Verdict};

const EQUAL: &str = "kind = \"equivalent\"\nmargin = 30";
const RATIO: &str = "kind = \"ratio\"\ndirection = \"above\"\nmargin = 0.9";

/// Six blocks with both methods, two-arm `shift` above spiral, doughs scattering by 4.
fn pairs(shift: f64) -> Vec<ResultRow> {
    let scatter = noise(12);
    let lines: Vec<[f64; 2]> = (0..6)
        .map(|b| {
            let day = 500.0 + 10.0 * b as f64;
            [day + 4.0 * scatter[b], day + shift + 4.0 * scatter[b + 6]]
        })
        .collect();
    let table: Vec<&[f64]> = lines.iter().map(<[f64; 2]>::as_slice).collect();
    blocks(&["spiral", "two-arm"], &table)
}

fn refused(claim: &Claim, words: &str) {
    assert_eq!(claim.verdict, Verdict::Refused, "{}", claim.plain);
    let reason = claim.refusal.clone().unwrap_or_default();
    assert!(reason.contains(words), "{reason}");
    assert!(claim.contrast.is_none() && claim.plain.starts_with("Not answerable"));
}

fn with(mut rows: Vec<ResultRow>, change: impl Fn(usize, &mut ResultRow)) -> Vec<ResultRow> {
    for (place, row) in rows.iter_mut().enumerate() {
        change(place, row);
    }
    rows
}

fn is_two_arm(row: &ResultRow) -> bool {
    row.origin.treatment.as_deref() == Some("two-arm")
}

#[test]
fn every_verdict_comes_out_of_the_same_margin() {
    assert_eq!(judge(EQUAL, pairs(2.0)).verdict, Verdict::Supported);
    assert_eq!(judge(EQUAL, pairs(30.0)).verdict, Verdict::Undecided);
    assert_eq!(judge(EQUAL, pairs(60.0)).verdict, Verdict::Contradicted);
    let worse = "kind = \"not-worse\"\nbetter = \"lower\"\nmargin = 20";
    assert_eq!(judge(worse, pairs(-80.0)).verdict, Verdict::Supported);
    assert_eq!(judge(worse, pairs(20.0)).verdict, Verdict::Undecided);
    assert_eq!(judge(worse, pairs(60.0)).verdict, Verdict::Contradicted);
    assert_eq!(judge(RATIO, pairs(0.0)).verdict, Verdict::Supported);
    assert_eq!(judge(RATIO, pairs(-52.0)).verdict, Verdict::Undecided);
    assert_eq!(judge(RATIO, pairs(-100.0)).verdict, Verdict::Contradicted);
}

#[test]
fn a_tight_margin_is_undecided_and_said_never_refused() {
    let tight = judge("kind = \"equivalent\"\nmargin = 0.5", pairs(0.0));
    assert_eq!(tight.verdict, Verdict::Undecided);
    assert!(
        tight.warnings.iter().any(|w| w.contains("2.8 s/√n")),
        "{:?}",
        tight.warnings
    );
    let resolved = judge(EQUAL, pairs(0.0));
    assert!(!resolved.warnings.iter().any(|w| w.contains("2.8 s")));
}

#[test]
fn a_margin_wider_than_a_baker_notices_is_said() {
    let rows = with(pairs(0.0), |_, row| {
        row.metric = "extension.maximum_resistance".to_owned()
    });
    let of = |percent: f64| {
        let text = format!(
            "id = \"c\"\nmetric = \"extension.maximum_resistance\"\ntreatments = [\"two-arm\"]\n\
             kind = \"equivalent\"\nmargin_percent = {percent}"
        );
        assess(&study("", &[&text]), rows.clone()).claims.remove(0)
    };
    // HANDBOOK §12.3: R50/Rm 10–15 %.
    assert!(
        of(25.0)
            .warnings
            .iter()
            .any(|w| w.contains("15 % that a baker notices"))
    );
    assert!(!of(15.0).warnings.iter().any(|w| w.contains("baker")));
}

#[test]
fn one_dough_per_method_is_refused_however_many_pieces_it_has() {
    let mut rows = pairs(0.0);
    rows.retain(|r| !is_two_arm(r) || r.origin.block.as_deref() == Some("B0"));
    let many: Vec<ResultRow> = (0..9)
        .flat_map(|piece| {
            with(rows.clone(), |_, row| {
                row.result_id.push_str(&format!("-{piece}"))
            })
        })
        .collect();
    refused(&judge(EQUAL, many), "one dough of `two-arm`");
}

#[test]
fn methods_that_share_no_block_are_refused() {
    let apart = with(pairs(0.0), |_, row| {
        if is_two_arm(row) {
            let block = row.origin.block.take().unwrap_or_default();
            row.origin.block = Some(format!("later-{block}"));
        }
    });
    refused(
        &judge(EQUAL, apart.clone()),
        "no block holds doughs of both",
    );
    // Made on one day each: the method is confounded with the day.
    let confounded = with(pairs(0.0), |_, row| {
        row.origin.block = row.origin.treatment.clone();
    });
    refused(
        &judge(EQUAL, confounded),
        "cannot be told from that of the blocks",
    );
    // Where the author says there are no blocks, the doughs are compared as two groups.
    let groups = judge_with("block = \"none\"", EQUAL, apart);
    assert!(
        groups.error_term.contains("pooled over 2 methods"),
        "{}",
        groups.error_term
    );
    assert_eq!((groups.verdict, groups.blocks), (Verdict::Supported, 1));
}

#[test]
fn methods_that_meet_only_through_a_third_one_are_compared_with_a_warning() {
    let line = |block: &str, method: &str, value: f64| row(method, block, 0, value);
    let mut rows = Vec::new();
    for (i, scatter) in noise(16).chunks(4).enumerate() {
        let (early, late) = (format!("E{i}"), format!("L{i}"));
        rows.push(line(&early, "spiral", 500.0 + scatter[0]));
        rows.push(line(&early, "high-speed", 510.0 + scatter[1]));
        rows.push(line(&late, "two-arm", 605.0 + scatter[2]));
        rows.push(line(&late, "high-speed", 610.0 + scatter[3]));
    }
    let claim = judge(EQUAL, rows);
    close(claim.contrast.map(|c| c.estimate), 5.0, 2.0);
    assert!(
        claim
            .warnings
            .iter()
            .any(|w| w.contains("only through other methods"))
    );
}

#[test]
fn methods_of_different_flours_are_refused() {
    let rows = with(pairs(0.0), |_, row| {
        row.origin.sample = row.origin.treatment.clone();
    });
    refused(&judge(EQUAL, rows), "different flour lots");
}

#[test]
fn a_claim_over_flours_needs_several() {
    let text = format!("{EQUAL}\nscope = \"flours\"");
    refused(&judge(&text, pairs(0.0)), "1 flour lots");
}

#[test]
fn different_water_is_refused_where_the_same_is_assumed() {
    let wetter = with(pairs(0.0), |_, row| {
        if is_two_arm(row) {
            row.origin.hydration_pct = Some(62.0);
        }
    });
    refused(&judge(EQUAL, wetter.clone()), "62.0");
    let text = format!("{EQUAL}\nbasis = \"same-consistency\"");
    let claim = judge(&text, wetter);
    assert_eq!(claim.verdict, Verdict::Supported);
    assert!(
        claim
            .inference
            .iter()
            .any(|w| w.contains("same consistency"))
    );
    let unknown = with(pairs(0.0), |_, row| row.origin.hydration_pct = None);
    let claim = judge(EQUAL, unknown);
    assert!(
        claim
            .warnings
            .iter()
            .any(|w| w.contains("water of some doughs"))
    );
}

#[test]
fn contradictions_of_the_records_are_refused() {
    let units = with(pairs(0.0), |place, row| {
        if place == 3 {
            row.unit = Unit::NewtonMetre;
        }
    });
    refused(&judge(EQUAL, units), "different units");
    let mut twice = pairs(0.0);
    let mut other = twice[0].clone();
    other.result_id.push('x');
    other.origin.treatment = Some("two-arm".to_owned());
    twice.push(other);
    refused(
        &judge(EQUAL, twice),
        "two different words for its treatment",
    );
    let readings = with(pairs(0.0), |place, row| {
        row.variant = ["iso", "plateau"][place % 2].to_owned();
    });
    refused(&judge(EQUAL, readings), "several readings: iso, plateau");
    let ages = with(pairs(0.0), |place, row| {
        row.age_d = Some((place % 2) as f64)
    });
    refused(&judge(EQUAL, ages.clone()), "different ages");
    refused(
        &judge(&format!("{EQUAL}\nage_d = 7"), ages),
        "reading, age or rest",
    );
    refused(
        &judge(&format!("{EQUAL}\nunit = \"EU\""), pairs(0.0)),
        "written in EU",
    );
    refused(&judge(EQUAL, Vec::new()), "the results hold no `m.m`");
}

#[test]
fn nothing_is_left_out_in_silence() {
    let rows = with(pairs(0.0), |place, row| match place {
        0 => row.status = Status::NotReached,
        1 => row.excluded = Some("rejected by a rule".to_owned()),
        2 => row.origin.batch = None,
        3 => row.origin.block = None,
        _ => {}
    });
    let head = "exclusions = [{ dough = \"B5-spiral-0\", reason = \"yeast forgotten\" }]";
    let claim = judge_with(head, EQUAL, rows);
    let reasons: Vec<&str> = claim.exclusions.iter().map(|e| e.reason.as_str()).collect();
    for words in [
        "gave no value",
        "rejected by a rule",
        "no dough",
        "no block",
        "yeast forgotten",
    ] {
        assert!(
            reasons.iter().any(|r| r.contains(words)),
            "{words}: {reasons:?}"
        );
    }
    assert_eq!(claim.exclusions.len() + claim.results.len(), 12);
    assert!(
        claim
            .warnings
            .iter()
            .any(|w| w.contains("1 results gave no value"))
    );
}

#[test]
fn values_without_a_logarithm_are_left_out_of_ratios_and_said() {
    let rows = with(pairs(0.0), |place, row| {
        if place == 4 {
            row.value = Some(-1.0);
        }
    });
    let claim = judge(RATIO, rows);
    assert!(
        claim
            .exclusions
            .iter()
            .any(|e| e.reason.contains("no logarithm"))
    );
}

#[test]
fn the_same_result_out_of_two_archives_counts_once() {
    let mut rows = pairs(0.0);
    rows.extend(pairs(0.0));
    let (once, twice) = (judge(EQUAL, pairs(0.0)), judge(EQUAL, rows));
    assert_eq!(once, twice);
}

#[test]
fn rows_in_any_order_give_the_same_record() {
    let mut turned = pairs(2.0);
    turned.reverse();
    turned.swap(1, 7);
    let (one, other) = (judge(EQUAL, pairs(2.0)), judge(EQUAL, turned));
    assert_eq!(one, other);
    assert_eq!(one.claim_id.len(), 32);
    assert_ne!(one.claim_id, judge(EQUAL, pairs(2.001)).claim_id);
}

#[test]
fn one_machine_per_method_is_said() {
    let words = |rows| judge(EQUAL, rows).inference.join("; ");
    assert!(words(pairs(0.0)).contains("these machines"));
    let several = with(pairs(0.0), |place, row| {
        let machine = format!(
            "{}-{}",
            row.origin.treatment.clone().unwrap_or_default(),
            place / 6
        );
        row.origin.machine = Some(machine);
    });
    assert!(!words(several).contains("these machines"));
}

#[test]
fn shared_uncertainty_is_added_once_and_does_not_average_out() {
    let share = "kind = \"energy-share\"\nmargin = 1.2";
    let half = |rows: Vec<ResultRow>| {
        let contrast = judge(share, rows).contrast.unwrap();
        0.5 * (contrast.high.unwrap() / contrast.low.unwrap()).ln()
    };
    let stated = |rows: Vec<ResultRow>, u: f64, other_meter: bool| {
        with(rows, |_, row| {
            row.parameters = format!("settings x; shared_u={u}; boundary=mixer");
            if other_meter && is_two_arm(row) {
                row.origin.instrument = Some("I-2".to_owned());
            }
        })
    };
    // 5 % shared uncertainty of ~500 dwarfs the scatter of 4 in 500 over six doughs.
    let none = half(pairs(0.0));
    let one = half(stated(pairs(0.0), 25.0, false));
    let two = half(stated(pairs(0.0), 25.0, true));
    assert!(none < 0.02, "{none}");
    // t of many degrees of freedom: 1.645 · 5 % once, · √2 for two meters.
    close(Some(one), 1.645 * 0.0477, 0.006);
    close(Some(two), 1.645 * 0.0477 * 2.0_f64.sqrt(), 0.008);
}

#[test]
fn energies_of_different_boundaries_are_refused() {
    let share = "kind = \"energy-share\"\nmargin = 0.7\nparts = [\"m.part\"]";
    let rows = with(pairs(0.0), |_, row| {
        row.parameters = match is_two_arm(row) {
            true => "boundary=mixer".to_owned(),
            false => "boundary=mixer and pump".to_owned(),
        };
    });
    refused(&judge(share, rows), "different system boundaries");
    let claim = judge(share, pairs(-250.0));
    assert_eq!(claim.verdict, Verdict::Supported);
    assert!(claim.warnings.iter().any(|w| w.contains("system boundary")));
    assert!(claim.warnings.iter().any(|w| w.contains("part `m.part`")));
    assert_eq!(judge(share, pairs(0.0)).verdict, Verdict::Contradicted);
}

#[test]
fn unequal_scatter_falls_back_to_the_methods_own_error() {
    let scatter = noise(30);
    let mut rows = Vec::new();
    for b in 0..10 {
        let block = format!("B{b}");
        rows.push(row("spiral", &block, 0, 500.0 + scatter[b]));
        rows.push(row("two-arm", &block, 0, 502.0 + scatter[b + 10]));
        rows.push(row("high-speed", &block, 0, 500.0 + 60.0 * scatter[b + 20]));
    }
    let claim = judge(EQUAL, rows.clone());
    assert!(claim.error_term.contains("paired"), "{}", claim.error_term);
    assert!(
        claim
            .assumptions
            .iter()
            .any(|a| a.doubtful && a.name == "equal scatter")
    );
    assert_eq!(claim.verdict, Verdict::Supported);
    let forced = judge(&format!("{EQUAL}\nerror = \"pooled\""), rows);
    assert!(
        forced.error_term.contains("pooled"),
        "{}",
        forced.error_term
    );
}

#[test]
fn two_methods_that_never_meet_in_two_blocks_have_no_paired_error() {
    let rows = vec![
        row("spiral", "B0", 0, 500.0),
        row("two-arm", "B0", 0, 501.0),
        row("spiral", "B1", 0, 503.0),
        row("two-arm", "B2", 0, 504.0),
    ];
    refused(
        &judge(&format!("{EQUAL}\nerror = \"paired\""), rows.clone()),
        "at least two",
    );
    refused(&judge(EQUAL, rows), "no dough left over");
}
