//! Random studies as rows.

use doughtrace::compare::{Origin, ResultRow};
use doughtrace::schema::{Status, Test, Unit};
use doughtrace::study::{Study, parse};
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// Random numbers of one study.
pub struct Luck(ChaCha8Rng);

impl Luck {
    /// Returns the numbers of study `index` of a series.
    pub fn of(series: u64, index: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64((series << 32) | index))
    }

    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Returns a normal deviate (Box and Muller 1958).
    pub fn normal(&mut self, deviation: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        deviation * radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// Returns the study of one claim, `two-arm` against `spiral`, of three methods in blocks.
pub fn study(claim: &str) -> Study {
    study_with("", claim)
}

/// Returns that study with `head` among its first lines.
pub fn study_with(head: &str, claim: &str) -> Study {
    let text = format!(
        "title = \"t\"\narchives = [\"a\"]\nreference = \"spiral\"\n{head}\n[factors]\ntreatment = \
         [\"spiral\", \"two-arm\", \"high-speed\"]\n[[claims]]\nid = \"c\"\nsentence = \"s\"\n\
         metric = \"m.m\"\ntreatments = [\"two-arm\"]\n{claim}"
    );
    parse(&text).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

/// Returns the row of one piece.
pub fn row(treatment: &str, block: usize, dough: usize, piece: usize, value: f64) -> ResultRow {
    let batch = format!("{block}/{treatment}/{dough}");
    ResultRow {
        result_id: format!("{batch}/{piece}"),
        metric: "m.m".to_owned(),
        variant: String::new(),
        status: Status::Exact,
        value: Some(value),
        low: None,
        high: None,
        std_uncertainty: None,
        unit: Unit::Fu,
        test: Test::Mixing,
        run_id: format!("run {batch}/{piece}"),
        origin: Origin {
            sample: Some(format!("F{block}")),
            batch: Some(batch),
            treatment: Some(treatment.to_owned()),
            block: Some(format!("B{block}")),
            replicate: Some(dough.to_string()),
            subsample: Some(piece.to_string()),
            hydration_pct: Some(60.0),
            instrument: Some(format!("meter of {treatment}")),
            machine: Some(treatment.to_owned()),
        },
        age_d: None,
        rest_min: None,
        parameters: String::new(),
        excluded: None,
    }
}
