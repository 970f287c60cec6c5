//! Claims on whole curves.

use super::bench::{noise, study};
use doughtrace::compare::{Assessment, CurveRow, Evidence, Origin, evaluate};
use doughtrace::record::Claim;
use doughtrace::schema::{Unit, Verdict};

/// A rise to 500 at `peak` and a fall after it.
fn height(time: f64, peak: f64) -> f64 {
    let share = time / peak;
    500.0 * share * (1.0 - share).exp()
}

/// Seven blocks; two-arm peaks `late` s later and lies `bump` higher around its 600 s.
fn curves(late: f64, bump: f64) -> Vec<CurveRow> {
    let scatter = noise(42);
    let mut rows = Vec::new();
    for block in 0..7 {
        for (treated, method) in ["spiral", "two-arm"].into_iter().enumerate() {
            let luck = &scatter[6 * block + 3 * treated..];
            let peak = 240.0 + late * treated as f64 + 4.0 * luck[0];
            let (level, tilt) = (4.0 * luck[1], 2.0 * luck[2]);
            let x: Vec<f64> = (0..180).map(|i| 5.0 * f64::from(i)).collect();
            let y = x.iter().map(|t| {
                let place = (t - 600.0) / 60.0;
                let own = bump * treated as f64 * (-place * place).exp();
                height(*t, peak) + level + tilt * (t / 100.0).sin() + own
            });
            rows.push(CurveRow {
                curve_id: format!("{block}-{method}"),
                run_id: format!("run-{block}-{method}"),
                metric: "mixing.centre".to_owned(),
                origin: Origin {
                    sample: Some("F".to_owned()),
                    batch: Some(format!("{block}-{method}")),
                    treatment: Some(method.to_owned()),
                    block: Some(format!("B{block}")),
                    hydration_pct: Some(60.0),
                    ..Origin::default()
                },
                y: y.collect(),
                x,
                unit: Unit::Fu,
                landmarks: Some((0.0, peak)),
                excluded: None,
            });
        }
    }
    rows
}

fn assess(margin: f64, timing: f64, curves: Vec<CurveRow>) -> Assessment {
    let text = format!(
        "id = \"c\"\nmetric = \"mixing.centre\"\ntreatments = [\"two-arm\"]\nkind = \"same-curve\"\n\
         margin = {margin}\ntiming_margin = {timing}"
    );
    let evidence = Evidence {
        curves,
        ..Evidence::default()
    };
    evaluate(&study("", &[&text]), &evidence)
}

fn judge(margin: f64, timing: f64, curves: Vec<CurveRow>) -> Claim {
    assess(margin, timing, curves).claims.remove(0)
}

#[test]
fn same_means_within_the_band_margin_in_shape_and_in_timing() {
    let same = judge(30.0, 20.0, curves(0.0, 0.0));
    assert_eq!(same.verdict, Verdict::Supported, "{}", same.plain);
    assert!(same.plain.contains("timing taken out"), "{}", same.plain);
    let tight = judge(2.0, 20.0, curves(0.0, 0.0));
    assert_eq!(tight.verdict, Verdict::Undecided, "{}", tight.plain);
}

#[test]
fn another_shape_is_found_where_it_is() {
    let assessment = assess(15.0, 20.0, curves(0.0, 60.0));
    assert_eq!(assessment.claims[0].verdict, Verdict::Contradicted);
    let band = assessment.figures.claims[0].band.as_ref().unwrap();
    let region = band
        .regions
        .iter()
        .find(|r| r.above && r.from < 600.0 && r.to > 600.0);
    assert!(region.is_some(), "{:?}", band.regions);
}

#[test]
fn later_is_told_from_another_shape() {
    // Sixty seconds late, the same shape: contradicted by timing alone.
    let late = judge(30.0, 20.0, curves(60.0, 0.0));
    assert_eq!(late.verdict, Verdict::Contradicted, "{}", late.plain);
    assert!(
        late.assumptions
            .iter()
            .any(|a| a.name == "timing" && a.doubtful)
    );
    let allowed = judge(30.0, 90.0, curves(60.0, 0.0));
    assert_eq!(allowed.verdict, Verdict::Supported, "{}", allowed.plain);
}

#[test]
fn too_few_blocks_are_refused_with_the_number_that_would_do() {
    let mut few = curves(0.0, 0.0);
    few.retain(|c| ["B0", "B1", "B2"].contains(&c.origin.block.as_deref().unwrap_or("")));
    let claim = judge(30.0, 20.0, few);
    assert_eq!(claim.verdict, Verdict::Refused);
    let reason = claim.refusal.unwrap_or_default();
    assert!(
        reason.contains("3 blocks") && reason.contains("at least 5"),
        "{reason}"
    );
}

#[test]
fn curves_without_landmarks_are_left_out_and_said() {
    let mut rows = curves(0.0, 0.0);
    rows[0].landmarks = None;
    let claim = judge(30.0, 20.0, rows);
    assert!(
        claim
            .exclusions
            .iter()
            .any(|e| e.reason.contains("landmarks"))
    );
    assert_eq!(claim.doughs, (7, 6));
    let mut units = curves(0.0, 0.0);
    units[3].unit = Unit::NewtonMetre;
    assert!(
        judge(30.0, 20.0, units)
            .refusal
            .unwrap_or_default()
            .contains("different units")
    );
    let none = judge(30.0, 20.0, Vec::new());
    assert!(none.refusal.unwrap_or_default().contains("no curve"));
}
