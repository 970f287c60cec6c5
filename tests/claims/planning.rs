//! Doughs that a claim needs, run orders, and the laboratory's own precision.

use super::bench::{assess, blocks, close, judge, noise, row, study};
use doughtrace::compare::{Evidence, Plan, ResultRow, plan, precision};
use doughtrace::schema::Verdict;

fn planned(head: &str, claims: &[&str], rows: Vec<ResultRow>) -> Plan {
    let evidence = Evidence {
        results: rows,
        ..Evidence::default()
    };
    plan(&study(head, claims), &evidence)
}

fn equal(rest: &str) -> String {
    format!(
        "id = \"c\"\nmetric = \"m.m\"\ntreatments = [\"two-arm\"]\nkind = \"equivalent\"\n\
         margin = 1.5\n{rest}"
    )
}

#[test]
fn the_number_of_doughs_is_that_of_t_and_not_of_the_normal_formula() {
    // HANDBOOK V-TOSTn: sigma 1, delta 1.5, alpha 0.05, power 0.80: 9 per group (two groups), where
    // the normal formula says 8. With the error of three groups 24 degrees of freedom help: 8 ... 9.
    let text = "title = \"t\"\narchives = [\"a\"]\nreference = \"a\"\nblock = \"none\"\n[factors]\n\
                treatment = [\"a\", \"b\"]\n[[claims]]\nsentence = \"s\"\nid = \"c\"\nmetric = \
                \"m.m\"\ntreatments = [\"b\"]\nkind = \"equivalent\"\nmargin = 1.5\nsd = 1.0";
    let two = doughtrace::study::parse(text).unwrap();
    let found = plan(&two, &Evidence::default());
    assert_eq!(found.claims[0].doughs, Some(9));
    close(found.claims[0].power, 0.838, 5e-4);
    assert_eq!(found.sheet.len(), 18);
}

#[test]
fn secondary_claims_are_planned_at_their_share_of_the_error_rate() {
    let primary = equal("sd = 1.0\nprimary = true");
    let more = |id: &str| equal("sd = 1.0").replace("id = \"c\"", &format!("id = \"{id}\""));
    let found = planned("", &[&primary, &more("d"), &more("e")], Vec::new());
    assert!((found.claims[1].alpha - 0.025).abs() < 1e-12);
    assert!(found.claims[1].doughs > found.claims[0].doughs);
    assert_eq!(found.doughs, found.claims[1].doughs.unwrap_or(0));
    // Every block holds three methods.
    assert_eq!(found.sheet.len(), 3 * found.doughs);
}

#[test]
fn without_scatter_or_effect_there_is_no_number_and_the_reason_is_said() {
    let found = planned("", &[&equal("")], Vec::new());
    assert!(
        found.claims[0]
            .reason
            .as_ref()
            .is_some_and(|r| r.contains("scatter"))
    );
    let gain = "id = \"c\"\nmetric = \"m.m\"\ntreatments = [\"two-arm\"]\nkind = \"difference\"\n\
                direction = \"above\"\nmargin = 0\nsd = 1.0";
    let found = planned("", &[gain], Vec::new());
    assert!(
        found.claims[0]
            .reason
            .as_ref()
            .is_some_and(|r| r.contains("`expected`"))
    );
    let hopeless = equal("sd = 900.0");
    let found = planned("", &[&hopeless], Vec::new());
    assert!(
        found.claims[0]
            .reason
            .as_ref()
            .is_some_and(|r| r.contains("more than 1000"))
    );
}

#[test]
fn own_replicates_give_the_scatter() {
    // Pairs of doughs made alike, 0.6 apart: sd = 0.6 / √2 with one degree of freedom each.
    let mut rows = Vec::new();
    for block in 0..5 {
        for replicate in 0..2 {
            let value = 60.0 + block as f64 + 0.6 * replicate as f64;
            for piece in 0..2 {
                let mut one = row("elsewhere", &format!("B{block}"), replicate, value);
                one.result_id.push_str(&format!("-{piece}"));
                one.value = Some(value + 0.1 * f64::from(piece));
                rows.push(one);
            }
        }
    }
    let evidence = Evidence {
        results: rows.clone(),
        ..Evidence::default()
    };
    let own = &precision(&evidence)[0];
    close(own.between_doughs.map(|s| s.sd), 0.6 / 2.0_f64.sqrt(), 1e-9);
    close(own.between_doughs.map(|s| s.df), 5.0, 0.0);
    close(own.within_doughs.map(|s| s.sd), 0.1 / 2.0_f64.sqrt(), 1e-9);
    close(own.within_doughs.map(|s| s.df), 10.0, 0.0);
    let found = planned("", &[&equal("")], rows);
    assert!(
        found.claims[0].sd_from.contains("replicate doughs"),
        "{}",
        found.claims[0].sd_from
    );
    close(found.claims[0].sd, 0.6 / 2.0_f64.sqrt(), 1e-9);
}

#[test]
fn an_undecided_claim_says_how_many_doughs_the_planned_effect_would_need() {
    let scatter = noise(8);
    let lines: Vec<[f64; 2]> = (0..4)
        .map(|b| [500.0 + 20.0 * scatter[b], 500.0 + 20.0 * scatter[b + 4]])
        .collect();
    let table: Vec<&[f64]> = lines.iter().map(<[f64; 2]>::as_slice).collect();
    let rows = blocks(&["spiral", "two-arm"], &table);
    let claim = judge("kind = \"equivalent\"\nmargin = 20", rows.clone());
    assert_eq!(claim.verdict, Verdict::Undecided);
    let needed = claim.doughs_needed.unwrap_or(0);
    assert!(needed > 4, "{needed}");
    assert!(
        claim.plain.contains(&format!("would need {needed} doughs")),
        "{}",
        claim.plain
    );
    // Of the planned effect, never of the one that was seen.
    let unplanned = "kind = \"difference\"\ndirection = \"above\"\nmargin = 5";
    assert_eq!(judge(unplanned, rows.clone()).doughs_needed, None);
    let stated = judge(&format!("{unplanned}\nexpected = 30"), rows.clone());
    assert!(stated.doughs_needed.is_some());
    // A decided claim needs none.
    let decided = judge("kind = \"equivalent\"\nmargin = 200", rows);
    assert_eq!(
        (decided.verdict, decided.doughs_needed),
        (Verdict::Supported, None)
    );
}

#[test]
fn a_run_sheet_goes_round_to_a_verdict() {
    let study = study("block = \"block\"", &[&equal("sd = 0.5")]);
    let plan = plan(&study, &Evidence::default());
    let scatter = noise(plan.sheet.len());
    let rows = plan
        .sheet
        .iter()
        .zip(scatter)
        .map(|(line, noise)| {
            let mut row = row(
                &line.treatment,
                &line.block,
                line.replicate,
                60.0 + 0.5 * noise,
            );
            row.origin.batch = Some(line.batch_id.clone());
            row.result_id.clone_from(&line.batch_id);
            row
        })
        .collect();
    let claim = assess(&study, rows).claims.remove(0);
    assert_eq!(claim.verdict, Verdict::Supported, "{}", claim.plain);
    assert_eq!(claim.doughs, (plan.doughs, plan.doughs));
}
