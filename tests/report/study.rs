//! The study report, on claims written by hand: claims first, every one of them there, and no text
//! breaks out of its place.

use super::cards::{METHODS, MIXING};
use super::page::{part, words};
use doughtrace::record::{Assumption, Claim, ClaimContrast, ContrastUnit, LeftOut};
use doughtrace::report::{DesignRow, Picture, Provenance, StudyPicture, StudyReport, StudySource};
use doughtrace::schema::{ClaimKind, Gate, Unit, Verdict};

/// Everything a study report borrows.
struct Study {
    claims: Vec<Claim>,
    planned: Vec<String>,
    design: Vec<DesignRow>,
    charts: Vec<StudyPicture>,
    sources: Vec<StudySource>,
    provenance: Provenance,
}

impl Study {
    fn report(&self) -> StudyReport<'_> {
        StudyReport {
            title: "Spiral or two-arm for the tin loaf",
            data_label: Some("Invented demonstration data"),
            claims: &self.claims,
            planned: &self.planned,
            design: &self.design,
            charts: &self.charts,
            methods: &METHODS[..],
            sources: &self.sources,
            study_file: ("study.toml", "5f3ac0de"),
            provenance: &self.provenance,
        }
    }

    fn page(&self) -> String {
        self.report().render().unwrap()
    }
}

fn claim(name: &str, verdict: Verdict) -> Claim {
    Claim {
        claim_id: format!("id-of-{name}"),
        study: "Spiral or two-arm".to_owned(),
        name: name.to_owned(),
        statement: format!("The sentence of {name}."),
        kind: ClaimKind::Difference,
        metric: MIXING[4].id.to_owned(),
        variant: "last".to_owned(),
        treatment: "two-arm".to_owned(),
        reference: "spiral".to_owned(),
        gate: Gate::Open,
        verdict,
        verdict_alone: verdict,
        contrast: Some(ClaimContrast {
            estimate: -1.234,
            low: Some(-2.04),
            high: Some(-0.43),
            confidence: 0.9,
            margin_low: Some(-3.0),
            margin_high: None,
            unit: ContrastUnit::Metric(Unit::Minute),
            df: Some(7.0),
            p: Some(0.000_2),
        }),
        plain: format!("In plain words, {name}."),
        doughs: (8, 7),
        blocks: 8,
        error_term: format!("error term of {name}"),
        results: vec![format!("{name}-result-1"), format!("{name}-result-2")],
        exclusions: vec![
            LeftOut {
                what: "dough D-07".to_owned(),
                reason: "power failed".to_owned(),
            },
            LeftOut {
                what: "dough D-09".to_owned(),
                reason: "power failed".to_owned(),
            },
        ],
        assumptions: vec![Assumption {
            name: "normal residuals",
            words: "W = 0.91 of 8 residuals".to_owned(),
            doubtful: true,
        }],
        warnings: vec![format!("warning of {name}")],
        inference: vec![format!("{name} holds for these machines")],
        refusal: None,
        doughs_needed: None,
    }
}

/// One claim of each verdict; the first is the primary one.
fn study() -> Study {
    let mut primary = claim("stronger", Verdict::Supported);
    primary.gate = Gate::Primary;
    let mut refused = claim("lighter", Verdict::Refused);
    refused.contrast = None;
    refused.results.clear();
    refused.refusal = Some("there is one dough of two-arm".to_owned());
    let mut undecided = claim("softer", Verdict::Undecided);
    undecided.doughs_needed = Some(21);
    let claims = vec![
        primary,
        undecided,
        claim("cheaper", Verdict::Contradicted),
        refused,
    ];
    let row = |treatment: &str, block: &str, doughs| DesignRow {
        treatment: treatment.to_owned(),
        block: block.to_owned(),
        doughs,
    };
    Study {
        planned: claims
            .iter()
            .map(|c| format!("{} was planned on line 4.", c.name))
            .collect(),
        claims,
        design: vec![
            row("spiral", "day 1", 2),
            row("spiral", "day 2", 1),
            row("two-arm", "day 1", 3),
        ],
        charts: Vec::new(),
        sources: vec![StudySource {
            archive: "reports/day-1/archive".to_owned(),
            head: "12:aa55".to_owned(),
            results: 240,
        }],
        provenance: Provenance {
            tool_version: "0.1.0".to_owned(),
            generated_at: "2031-03-20 09:00 UTC".to_owned(),
            ..Provenance::default()
        },
    }
}

/// Places of `texts` in `page`, all of which must be there.
fn places(page: &str, texts: &[&str]) -> Vec<usize> {
    let found = texts.iter().map(|text| page.find(text));
    found
        .zip(texts)
        .map(|(place, text)| {
            assert!(place.is_some(), "{text}");
            place.unwrap()
        })
        .collect()
}

#[test]
fn the_answer_comes_first_and_the_parts_follow_in_order() {
    let page = study().page();
    let order = places(
        &page,
        &[
            "Invented demonstration data",
            "1 of 4 claims supported, 1 undecided, 1 contradicted, 1 refused; the primary claim, stronger, is supported.",
            "<h2 id=\"claims\">",
            "two one-sided tests",
            "<h2 id=\"design\">",
            "<h2 id=\"each\">",
            "<h2 id=\"definitions\">",
            "<h2 id=\"safety\">",
            "<h2 id=\"origin\">",
        ],
    );
    assert!(order.is_sorted(), "{order:?}");
}

#[test]
fn every_claim_stands_in_the_table_with_its_numbers() {
    let study = study();
    let page = study.page();
    let table = words(part(&page, "claims"));
    for claim in &study.claims {
        assert!(table.contains(&claim.statement), "{}", claim.name);
        assert!(table.contains(&claim.plain), "{}", claim.name);
    }
    // Two figures of the half width 0.8 min: two decimals.
    let row = "stronger; primary supported In plain words, stronger. −1.23 min [−2.04 to −0.43] 90 % confidence above −3 min 8 two-arm 7 spiral 8 blocks";
    assert!(table.contains(row), "{table}");
    assert!(table.contains("lighter; secondary refused In plain words, lighter. – – –"));
}

#[test]
fn each_claim_has_its_grounds() {
    let study = study();
    let page = study.page();
    let each = words(part(&page, "each"));
    for claim in &study.claims {
        let name = &claim.name;
        for said in [
            format!("warning of {name}"),
            format!("{name} holds for these machines"),
            format!("{name} was planned on line 4."),
            claim.claim_id.clone(),
        ] {
            assert!(each.contains(&said), "{said}");
        }
        for result in &claim.results {
            assert!(each.contains(result), "{result}");
        }
    }
    assert!(each.contains("Why not answerable there is one dough of two-arm"));
    assert!(each.contains("a new study of the planned effect would need 21 doughs per method"));
    assert!(
        each.contains("p < 0.001 against the margin, before any adjustment; 7 degrees of freedom")
    );
    assert!(each.contains("normal residuals W = 0.91 of 8 residuals doubtful"));
    assert!(each.contains("2 × power failed"));
    assert!(each.contains("dough D-07, dough D-09"));
    assert!(each.contains("error term of softer") && !each.contains("error term of lighter"));
}

#[test]
fn a_claim_that_does_not_count_says_so() {
    let mut study = study();
    study.claims[0].verdict = Verdict::Undecided;
    study.claims[2].gate = Gate::Closed;
    study.claims[2].verdict = Verdict::Undecided;
    study.claims[2].verdict_alone = Verdict::Supported;
    let page = study.page();
    let text = words(&page);
    assert!(text.contains("None of 4 claims supported, 3 undecided, 1 refused; the primary claim, stronger, is undecided."));
    assert!(text.contains(
        "does not count, since the primary claim is not supported; by itself it would be supported"
    ));
}

#[test]
fn verdicts_and_metrics_are_defined_and_the_design_adds_up() {
    let page = study().page();
    let definitions = words(part(&page, "definitions"));
    for verdict in Verdict::ALL {
        let defined = format!("{verdict} {}", verdict.meaning());
        assert!(definitions.contains(&defined), "{defined}");
    }
    assert!(definitions.contains(MIXING[4].definition));
    assert!(!definitions.contains(MIXING[5].definition));
    let design = words(part(&page, "design"));
    assert!(
        design.contains("day 1 2 3 5 day 2 1 – 1 All 3 3 6"),
        "{design}"
    );
    let origin = words(part(&page, "origin"));
    assert!(origin.contains("reports/day-1/archive 240 12:aa55"));
    assert!(origin.contains("study.toml, SHA-256 5f3ac0de"));
}

#[test]
fn the_caution_about_jets_stands_only_where_there_is_one() {
    let mut study = study();
    assert!(!study.page().contains("High-pressure jet"));
    study.claims[0].treatment = "water jet".to_owned();
    assert!(study.page().contains("High-pressure jet"));
}

#[test]
fn no_text_breaks_out_of_its_place() {
    const BAD: &str = "</script><img src=x onerror=alert(1)>\"'&{{ 7 * 7 }}";
    let mut study = study();
    let bad = || BAD.to_owned();
    for claim in &mut study.claims {
        claim.claim_id = bad();
        claim.name = bad();
        claim.statement = bad();
        claim.metric = bad();
        claim.variant = bad();
        claim.treatment = bad();
        claim.reference = bad();
        claim.plain = bad();
        claim.error_term = bad();
        claim.results = vec![bad()];
        claim.exclusions = vec![LeftOut {
            what: bad(),
            reason: bad(),
        }];
        claim.assumptions[0].words = bad();
        claim.warnings = vec![bad()];
        claim.inference = vec![bad()];
        claim.refusal = Some(bad());
    }
    study.planned = vec![bad(); 4];
    study.design[0].treatment = bad();
    study.design[0].block = bad();
    study.sources[0].archive = bad();
    study.sources[0].head = bad();
    // The least bytes of a picture: its first chunk.
    let mut png = b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR".to_vec();
    png.extend([0, 0, 0, 3, 0, 0, 0, 2]);
    study.charts = vec![StudyPicture {
        claim: Some(bad()),
        picture: Picture::embedded(BAD, BAD, &png).unwrap(),
    }];
    let report = StudyReport {
        title: BAD,
        data_label: Some(BAD),
        study_file: (BAD, BAD),
        ..study.report()
    };
    let page = report.render().unwrap();
    assert!(!page.contains("<img src=x"), "a tag came through");
    assert!(page.contains("&lt;img src=x") && page.contains("{{ 7 * 7 }}"));
    assert_eq!(page.matches("<script>").count(), 1);
    assert_eq!(page.matches("</script>").count(), 1);
    // Pictures aside, no address leads out.
    for outside in ["http:", "https:", "//cdn", "src=\"//"] {
        assert!(!page.contains(outside), "{outside}");
    }
}

#[test]
fn the_same_study_gives_the_same_page_and_links_lead_somewhere() {
    let study = study();
    let page = study.page();
    assert_eq!(page, study.page());
    let mut links = 0;
    for rest in page.split("href=\"#").skip(1) {
        let target = &rest[..rest.find('"').unwrap()];
        assert!(page.contains(&format!("id=\"{target}\"")), "{target}");
        links += 1;
    }
    assert!(links > 10);
    let mut ids: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .map(|rest| &rest[..rest.find('"').unwrap()])
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(all, ids.len(), "an anchor twice");
}

#[test]
fn pictures_stand_with_their_claim() {
    let mut study = study();
    let mut png = b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR".to_vec();
    png.extend([0, 0, 0, 3, 0, 0, 0, 2]);
    let picture = |claim: Option<&str>, title: &str| StudyPicture {
        claim: claim.map(str::to_owned),
        picture: Picture::embedded(title, "alt", &png).unwrap(),
    };
    study.charts = vec![
        picture(None, "picture of all"),
        picture(Some("cheaper"), "picture of cheaper"),
    ];
    let page = study.page();
    assert!(part(&page, "claims").contains("picture of all"));
    let section = page.find("id=\"claim-3\"").unwrap();
    let next = page.find("id=\"claim-4\"").unwrap();
    assert!(page[section..next].contains("picture of cheaper"));
    assert_eq!(page.matches("<figure").count(), 2);
}

#[test]
fn the_terminal_says_the_same() {
    let study = study();
    let lines = study.report().summary().lines();
    assert_eq!(lines.len(), 5);
    assert!(lines[0].starts_with("1 of 4 claims supported, 1 undecided"));
    assert_eq!(
        lines[1],
        "supported     stronger: In plain words, stronger."
    );
    assert_eq!(lines[3], "contradicted  cheaper: In plain words, cheaper.");
}
