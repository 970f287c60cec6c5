//! Builds studies and rows for the tests of this folder.

use doughtrace::compare::{Assessment, Evidence, Origin, ResultRow, evaluate};
use doughtrace::record::Claim;
use doughtrace::schema::{Status, Test, Unit};
use doughtrace::study::{Study, parse};

/// Returns the study with the given claims; treatments spiral, two-arm and high-speed.
pub fn study(head: &str, claims: &[&str]) -> Study {
    let mut text = format!(
        "title = \"Test\"\narchives = [\"a\"]\nreference = \"spiral\"\n{head}\n[factors]\n\
         treatment = [\"spiral\", \"two-arm\", \"high-speed\"]\n"
    );
    for claim in claims {
        text.push_str(&format!(
            "[[claims]]\nsentence = \"A sentence.\"\n{claim}\n"
        ));
    }
    parse(&text).unwrap_or_else(|problems| panic!("{problems:#?}\n{text}"))
}

/// Returns the one claim of a study that has one, two-arm against spiral in `metric` m.m.
pub fn judge(claim: &str, rows: Vec<ResultRow>) -> Claim {
    judge_with("", claim, rows)
}

/// Returns the one claim of a study with `head` among its first lines.
pub fn judge_with(head: &str, claim: &str, rows: Vec<ResultRow>) -> Claim {
    let text = format!("id = \"c\"\nmetric = \"m.m\"\ntreatments = [\"two-arm\"]\n{claim}");
    assess(&study(head, &[&text]), rows).claims.remove(0)
}

/// Returns the assessment of `study` from `rows`.
pub fn assess(study: &Study, rows: Vec<ResultRow>) -> Assessment {
    let evidence = Evidence {
        results: rows,
        ..Evidence::default()
    };
    evaluate(study, &evidence)
}

/// Returns one row of metric m.m: a dough of its own, named after all that is given.
pub fn row(treatment: &str, block: &str, replicate: usize, value: f64) -> ResultRow {
    let batch = format!("{block}-{treatment}-{replicate}");
    ResultRow {
        result_id: format!("id-{batch}"),
        metric: "m.m".to_owned(),
        variant: String::new(),
        status: Status::Exact,
        value: Some(value),
        low: None,
        high: None,
        std_uncertainty: None,
        unit: Unit::Fu,
        test: Test::Mixing,
        run_id: format!("run-{batch}"),
        origin: Origin {
            sample: Some("F-1".to_owned()),
            batch: Some(batch),
            treatment: Some(treatment.to_owned()),
            block: Some(block.to_owned()),
            replicate: Some(replicate.to_string()),
            subsample: None,
            hydration_pct: Some(60.0),
            instrument: Some("I-1".to_owned()),
            machine: Some(treatment.to_owned()),
        },
        age_d: None,
        rest_min: None,
        parameters: String::new(),
        excluded: None,
    }
}

/// Returns one dough per method and block: `table` has a line per block, methods in columns.
pub fn blocks(methods: &[&str], table: &[&[f64]]) -> Vec<ResultRow> {
    let mut rows = Vec::new();
    for (block, line) in table.iter().enumerate() {
        for (method, value) in methods.iter().zip(*line) {
            rows.push(row(method, &format!("B{block}"), 0, *value));
        }
    }
    rows
}

/// Returns values with mean 0 and standard deviation of about 1 that look random and never change
/// (the mixing function of Steele, Lea and Flood 2014, OOPSLA, made uniform).
pub fn noise(count: usize) -> Vec<f64> {
    (1..=count as u64)
        .map(|i| {
            let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
            x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            x ^= x >> 31;
            ((x >> 11) as f64 / (1_u64 << 53) as f64 - 0.5) * 12.0_f64.sqrt()
        })
        .collect()
}

pub fn close(found: Option<f64>, wanted: f64, within: f64) {
    let found = found.unwrap_or(f64::NAN);
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}
