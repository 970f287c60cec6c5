//! What few graded pieces must come to, written out by hand.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests may stop at the first surprise"
)]

use super::*;
use crate::record::{Grade, MedianGrade, Outcome, RawFile, RowRange, TearEdge};
use crate::schema::{BatchId, Digest, Status};

/// Returns a graded line: dough, piece, grader and grade (`x` for overmixed, `x3` with a grade).
fn line(row: u64, dough: &str, piece: &str, grader: &str, grade: &str) -> Observation {
    let digit = grade.trim_start_matches('x');
    Observation {
        file: RawFile {
            name: "sheet.csv".into(),
            sha256: Digest::of(b"sheet"),
            bytes: 5,
        },
        rows: RowRange {
            first: row,
            last: row,
        },
        batch_id: BatchId::new(dough).unwrap(),
        treatment: Some("spiral".into()),
        block: Some("1".into()),
        mix_time_min: Some(6.0),
        rest_min: Some(10.0),
        piece: Some(piece.into()),
        grade: Grade::parse(digit),
        overmixed: grade.starts_with('x'),
        edge: (digit == "4").then_some(TearEdge::Clean),
        grader: Some(grader.into()),
        blind_code: None,
        order: Some(row as u32),
        codebook: Some("window-1".into()),
        photo: None,
        px_per_mm: None,
        sample_id: None,
        replicate: None,
        age_d: None,
        quantity: None,
        value: None,
        unit: None,
        note: None,
    }
}

fn by_treatment(lines: &[Observation]) -> GradeSummary {
    let groups = derive(lines).groups;
    groups.into_iter().find(|g| g.batch_id.is_none()).unwrap()
}

fn graded(grades: &[&str]) -> Vec<Observation> {
    let pieces = grades.iter().enumerate();
    pieces
        .map(|(i, grade)| line(i as u64 + 2, "D1", &format!("P{i}"), "g1", grade))
        .collect()
}

#[test]
fn the_median_is_a_grade_or_lies_between_two() {
    let odd = by_treatment(&graded(&["1", "4", "3"]));
    assert_eq!(odd.median, MedianGrade::Grade(Grade::MostlyEven));
    let even = by_treatment(&graded(&["1", "4", "3", "2"]));
    let (two, three) = (Grade::Patchy, Grade::MostlyEven);
    assert_eq!(even.median, MedianGrade::Between(two, three));
    assert_eq!(even.median.to_string(), "between 2 and 3");
    let rows = derive(&graded(&["1", "4", "3", "2"])).results;
    let of = |variant: &str| {
        let found = rows
            .iter()
            .find(|r| r.metric.id == "membrane.median_grade" && r.variant == variant);
        found.and_then(|r| r.outcome.value())
    };
    assert_eq!((of("lower"), of("upper")), (Some(2.0), Some(3.0)));
}

#[test]
fn overmixed_is_a_failure_of_the_window_and_never_a_grade() {
    // A grade written beside the flag does not count either.
    let summary = by_treatment(&graded(&["4", "4", "3", "x", "x4"]));
    assert_eq!(summary.counts.grades, [0, 0, 0, 1, 2]);
    assert_eq!(summary.counts.overmixed, 2);
    assert_eq!(summary.median, MedianGrade::Grade(Grade::FullWindow));
    let share = summary.full_window_pct.value().unwrap();
    assert!((share - 40.0).abs() < 1e-9, "two of five: {share}");
    let most = by_treatment(&graded(&["4", "x", "x", "x4"]));
    assert!(matches!(&most.median, MedianGrade::Unknown(why) if why.contains("3 of 4")));
    let all = by_treatment(&graded(&["x", "x"]));
    assert!(matches!(all.median, MedianGrade::Unknown(_)));
    assert_eq!(all.full_window_pct.value(), Some(0.0));
    assert_eq!(all.clean_edge_pct.status(), Status::NotComputable);
}

#[test]
fn two_graders_of_a_piece_are_one_trial() {
    let mut both = graded(&["4", "3", "4", "2"]);
    for (i, grade) in ["4", "3", "4", "2"].iter().enumerate() {
        both.push(line(20 + i as u64, "D1", &format!("P{i}"), "g2", grade));
    }
    let (one, two) = (
        by_treatment(&graded(&["4", "3", "4", "2"])),
        by_treatment(&both),
    );
    assert_eq!((one.pieces, two.pieces), (4, 4));
    assert_eq!(
        one.full_window_pct, two.full_window_pct,
        "no narrower interval"
    );
    // scipy 1.17.1, binomtest(2, 4).proportion_ci(method="wilson"): tests/reference.
    let share = two.full_window_pct.estimate().unwrap();
    assert!((share.low() - 15.0039).abs() < 1e-4 && (share.high() - 84.9961).abs() < 1e-4);
}

#[test]
fn a_blind_repeat_counts_once_whether_noted_or_not() {
    let mut lines = graded(&["4", "3", "2", "1", "0"]);
    for (i, grade) in ["4", "3", "1", "1", "0"].iter().enumerate() {
        lines.push(line(20 + i as u64, "D1", &format!("P{i}"), "g2", grade));
    }
    let mut again = line(30, "D1", "P0", "g1", "2");
    lines.push(again.clone());
    again.order = Some(1);
    again.note = Some("Blind repeat".into());
    again.rows = RowRange {
        first: 31,
        last: 31,
    };
    lines.push(again);
    let grading = derive(&lines);
    let group = grading
        .groups
        .iter()
        .find(|g| g.batch_id.is_none())
        .unwrap();
    assert_eq!(group.counts.grades, [2, 3, 1, 2, 2]);
    let kappa = |within: bool| {
        let mut all = grading.agreement.iter();
        all.find(|a| a.within_grader == within && a.metric == "membrane.weighted_kappa")
            .unwrap()
    };
    assert_eq!(kappa(false).pieces, 5);
    assert_eq!(kappa(true).graders, ["g1", "g1"]);
    assert_eq!(
        kappa(true).outcome.status(),
        Status::NotComputable,
        "one repeat is too few"
    );
}

#[test]
fn agreement_needs_two_graders_enough_pieces_and_some_variation() {
    let alone = derive(&graded(&["4", "3", "2", "1", "0"]));
    let why = |grading: &Grading| {
        let alpha = grading
            .agreement
            .iter()
            .find(|a| a.metric == "membrane.krippendorff_alpha" && a.variant == "ordinal");
        match &alpha.unwrap().outcome {
            Outcome::NotComputable(why) => why.clone(),
            other => panic!("{other:?}"),
        }
    };
    assert!(why(&alone).contains("one grader"));
    let mut same = Vec::new();
    for i in 0..6 {
        for grader in ["g1", "g2"] {
            same.push(line(
                2 + same.len() as u64,
                "D1",
                &format!("P{i}"),
                grader,
                "3",
            ));
        }
    }
    assert!(why(&derive(&same)).contains("all grades are the same"));
    assert!(why(&derive(&same[..4])).contains("at least 5"));
    assert!(derive(&[]).agreement.is_empty());
}

#[test]
fn pieces_that_one_grader_left_ungraded_are_left_out_and_counted() {
    let mut lines = graded(&["4", "3", "2", "1", "0", "x"]);
    for (i, grade) in ["4", "3", "2", "1", "1", "2"].iter().enumerate() {
        lines.push(line(20 + i as u64, "D1", &format!("P{i}"), "g2", grade));
    }
    let grading = derive(&lines);
    let kappa = grading
        .agreement
        .iter()
        .find(|a| a.variant == "linear")
        .unwrap();
    assert_eq!((kappa.pieces, kappa.left_out), (5, 1));
    // Written out: observed disagreement 1/5; expected |i−j| over all pairs of {4,3,2,1,0} with
    // {4,3,2,1,1} sums to 9 + 6 + 5 + 6 + 11 = 37 over 25 pairs.
    let wanted = 1.0 - (1.0 / 5.0) / (37.0 / 25.0);
    assert!((kappa.outcome.value().unwrap() - wanted).abs() < 1e-12);
}

#[test]
fn scalar_records_are_no_grades() {
    let mut scalar = line(2, "D1", "P1", "g1", "");
    scalar.quantity = Some("loaf volume".into());
    scalar.value = Some(2100.0);
    assert!(derive(&[scalar]).groups.is_empty());
}

#[test]
fn the_order_of_lines_changes_nothing() {
    let mut lines = graded(&["4", "3", "2", "1", "0", "3"]);
    for (i, grade) in ["4", "2", "2", "1", "1", "3"].iter().enumerate() {
        lines.push(line(20 + i as u64, "D1", &format!("P{i}"), "g2", grade));
    }
    let one = derive(&lines);
    lines.reverse();
    let two = derive(&lines);
    let values = |g: &Grading| -> Vec<Option<f64>> {
        g.agreement.iter().map(|a| a.outcome.value()).collect()
    };
    for (a, b) in values(&one).into_iter().zip(values(&two)) {
        assert!((a.unwrap() - b.unwrap()).abs() < 1e-12);
    }
    assert_eq!(by_treatment(&lines).counts, one.groups[0].counts);
}
