//! Studies that are right, and one wrong thing at a time.

use super::*;
use crate::schema::ClaimKind;

const STUDY: &str = r#"
title = "Two ways of mixing the wholemeal tin loaf"
archives = ["reports/day-1", "reports/day-2"]
unit = "dough"
reference = "spiral"
block = "block"
seed = 20_260

[factors]
treatment = ["spiral", "two-arm", "high-speed"]
hydration_pct = [58, 60.5, 63]

[[exclusions]]
dough = "D-07"
reason = "power failed while it was mixed"

[[claims]]
id = "strong-enough"
sentence = "Two-arm dough has at least 90 % of spiral's maximum resistance."
kind = "ratio"
metric = "extension.maximum"
direction = "above"
margin = 0.9
treatments = ["two-arm"]
primary = true
expected = 1.0
cv_percent = 5

[[claims]]
id = "more-water"
sentence = "Two-arm dough takes at least 2 points more water."
kind = "gain-at-equal"
metric = "mixing.maximum_consistency"
treatments = ["two-arm", "spiral"]
margin = 2
slope_margin = 0.25
basis = "same-consistency"
"#;

fn problems(text: &str) -> Vec<String> {
    match parse(text) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.iter().map(ToString::to_string).collect(),
    }
}

/// Returns the problems of the study above with `from` replaced by `to`.
fn with(from: &str, to: &str) -> Vec<String> {
    assert!(STUDY.contains(from), "{from}");
    problems(&STUDY.replacen(from, to, 1))
}

fn first(list: Vec<String>) -> String {
    assert_eq!(list.len(), 1, "{list:#?}");
    list.into_iter().next().unwrap_or_default()
}

#[test]
fn a_study_is_read_with_its_defaults() {
    let study = parse(STUDY);
    assert!(study.is_ok(), "{study:#?}");
    let Ok(study) = study else { return };
    assert_eq!((study.seed, study.block), (20_260, Blocking::Block));
    assert_eq!(study.factors.hydrations_pct, [58.0, 60.5, 63.0]);
    assert_eq!(study.exclusions[0].what, Excluded::Dough("D-07".to_owned()));
    let [ratio, gain] = study.claims.as_slice() else {
        unreachable!("two claims")
    };
    assert_eq!(
        (ratio.treatment.as_str(), ratio.reference.as_str()),
        ("two-arm", "spiral")
    );
    assert!(ratio.primary && !gain.primary);
    assert_eq!(ratio.sd, Some(0.05));
    assert_eq!(gain.basis, Basis::SameConsistency);
    assert_eq!(gain.kind(), ClaimKind::GainAtEqual);
}

#[test]
fn every_problem_is_reported_with_line_key_and_nearest_word() {
    let text = STUDY
        .replace("reference = \"spiral\"", "reference = \"spirl\"")
        .replace("kind = \"ratio\"", "kind = \"ration\"")
        .replace("slope_margin = 0.25", "slope_magin = 0.25")
        .replace("margin = 2\n", "margin = -2\n");
    let found = problems(&text);
    assert_eq!(found.len(), 5, "{found:#?}");
    assert!(
        found[0].starts_with("line 5, key `reference`: found `spirl`"),
        "{}",
        found[0]
    );
    assert!(found[0].ends_with("write `spiral` if that is what is meant"));
    assert!(found[1].contains("claims[1].kind") && found[1].contains("`ratio`"));
    assert!(found[2].contains("claims[2].slope_margin") || found[2].contains("claims[2].margin"));
    let unknown = found.iter().find(|p| p.contains("slope_magin"));
    assert!(
        unknown.is_some_and(|p| p.contains("write `slope_margin`")),
        "{found:#?}"
    );
}

#[test]
fn an_unknown_key_is_an_error_anywhere() {
    assert!(first(with("seed =", "sead =")).contains("write `seed`"));
    assert!(first(with("[factors]\n", "[factors]\nyeast = 1\n")).contains("factors.yeast"));
    assert!(first(with("reason = \"p", "grund = 1\nreason = \"p")).contains("exclusions[1].grund"));
    let other_kind = first(with(
        "slope_margin = 0.25",
        "slope_margin = 0.25\nbetter = \"lower\"",
    ));
    assert!(other_kind.contains("belongs to not-worse"), "{other_kind}");
}

#[test]
fn margins_and_shares_have_their_range() {
    assert!(first(with("margin = 0.9", "margin = 0")).contains("a ratio above 0"));
    assert!(first(with("margin = 0.9", "margin = \"0.9\"")).contains("type string"));
    assert!(first(with("seed =", "alpha = 0.5\nseed =")).contains("below 0.5"));
    assert!(first(with("expected = 1.0", "expected = 0.8")).contains("claim is true"));
    assert!(first(with("seed = 20_260", "seed = -1")).contains("whole number"));
}

#[test]
fn there_is_one_primary_claim() {
    let none = with("primary = true\n", "");
    assert!(first(none).contains("no primary claim"));
    let two = with("margin = 2\n", "margin = 2\nprimary = true\n");
    assert!(first(two).contains("a second primary claim"));
    // A study of one claim needs no word about it.
    let (start, _) = STUDY
        .split_once("[[claims]]\nid = \"more-water\"")
        .unwrap_or((STUDY, ""));
    assert_eq!(
        problems(&start.replace("primary = true\n", "")),
        Vec::<String>::new()
    );
}

#[test]
fn treatments_must_be_two_of_the_factor() {
    assert!(
        first(with(
            "treatments = [\"two-arm\"]",
            "treatments = [\"two-am\"]"
        ))
        .contains("write `two-arm`")
    );
    assert!(
        first(with(
            "[\"two-arm\", \"spiral\"]",
            "[\"spiral\", \"spiral\"]"
        ))
        .contains("twice")
    );
    assert!(
        !with(
            "[\"two-arm\", \"spiral\"]",
            "[\"spiral\", \"two-arm\", \"high-speed\"]"
        )
        .is_empty()
    );
    assert!(
        first(with(
            "[\"spiral\", \"two-arm\", \"high-speed\"]",
            "[\"spiral\", \"two-arm\", 3]"
        ))
        .contains("factors.treatment")
    );
}

#[test]
fn the_unit_of_replication_is_the_dough() {
    let slices = first(with("unit = \"dough\"", "unit = \"slice\""));
    assert!(slices.contains("expected one of dough"), "{slices}");
}

#[test]
fn an_exclusion_names_one_thing_and_a_reason() {
    assert!(first(with("dough = \"D-07\"\n", "")).contains("exactly one"));
    assert!(
        first(with(
            "dough = \"D-07\"\n",
            "dough = \"D-07\"\nrun = \"R\"\n"
        ))
        .contains("2 of dough")
    );
    assert!(
        first(with("reason = \"power failed while it was mixed\"\n", "")).contains("the reason")
    );
}

#[test]
fn text_that_is_no_toml_has_a_line() {
    let found = first(problems("title = \"x\"\narchives = [\n\"a\"\nfactors"));
    assert!(
        found.starts_with("line 4") || found.starts_with("line 3"),
        "{found}"
    );
}

#[test]
fn every_kind_can_be_written() {
    let claims = [
        "kind = \"difference\"\ndirection = \"below\"\nmargin = 0",
        "kind = \"equivalent\"\nmargin_percent = 15",
        "kind = \"equivalent\"\nmargin = 1.5\nsd = 0.4",
        "kind = \"not-worse\"\nbetter = \"lower\"\nmargin = 10",
        "kind = \"energy-share\"\nmargin = 0.7\nparts = [\"a.b\", \"a.c\"]",
        "kind = \"rate\"\ndirection = \"below\"\nmargin = 0.8",
        "kind = \"rate\"\nexponent = \"m.n\"\nhalf_time = \"m.t\"\ndirection = \"above\"\nmargin = 1.2",
        "kind = \"grade\"\nmargin = 0.35\nmix_time_min = [6, 10]",
        "kind = \"same-curve\"\nmargin = 20\ntiming_margin = 15\npermutations = 999",
    ];
    let (start, _) = STUDY.split_once("kind = \"ratio\"").unwrap_or((STUDY, ""));
    for claim in claims {
        let text = format!("{start}metric = \"m.m\"\ntreatments = [\"two-arm\"]\n{claim}\n");
        assert_eq!(problems(&text), Vec::<String>::new(), "{claim}");
    }
    let text = format!(
        "{start}metric = \"m.m\"\nkind = \"agreement\"\ninstruments = [\"I-1\", \"I-2\"]\nmargin = 20\n"
    );
    assert_eq!(problems(&text), Vec::<String>::new());
}

#[test]
fn a_margin_is_either_absolute_or_relative() {
    let (start, _) = STUDY.split_once("kind = \"ratio\"").unwrap_or((STUDY, ""));
    let equal = |rest: &str| {
        problems(&format!(
            "{start}metric = \"m.m\"\ntreatments = [\"two-arm\"]\nkind = \"equivalent\"\n{rest}\n"
        ))
    };
    assert!(first(equal("margin = 1\nmargin_percent = 10")).contains("both"));
    assert!(first(equal("")).contains("margin in the metric's unit or margin_percent"));
    assert!(first(equal("margin_percent = 100")).contains("below 100"));
    assert!(first(equal("margin_percent = 10\nsd = 1")).contains("sd"));
}
