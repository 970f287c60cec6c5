//! Counts over many studies on all cores.

use doughtrace::compare::{Evidence, ResultRow, evaluate};
use doughtrace::schema::Verdict;
use doughtrace::study::Study;

/// Studies of each series.
pub const STUDIES: u64 = 20_000;

/// How a series of studies came out.
#[derive(Debug, Default, Clone, Copy)]
pub struct Tally {
    pub studies: f64,
    pub supported: f64,
    pub contradicted: f64,
    /// Studies with an interval, bounded or not.
    pub intervals: f64,
    pub covered: f64,
    pub withheld: f64,
}

impl Tally {
    fn add(&mut self, other: Tally) {
        self.studies += other.studies;
        self.supported += other.supported;
        self.contradicted += other.contradicted;
        self.intervals += other.intervals;
        self.covered += other.covered;
        self.withheld += other.withheld;
    }

    pub fn supported_share(&self) -> f64 {
        self.supported / self.studies
    }

    pub fn contradicted_share(&self) -> f64 {
        self.contradicted / self.studies
    }

    pub fn coverage(&self) -> f64 {
        self.covered / self.studies
    }
}

/// Returns the outcome of the first claim over [`STUDIES`] studies drawn by `draw`; `truth` is the
/// true contrast.
pub fn run(study: &Study, truth: f64, draw: impl Fn(u64) -> Vec<ResultRow> + Sync) -> Tally {
    run_evidence(STUDIES, study, truth, |index| Evidence {
        results: draw(index),
        ..Evidence::default()
    })
}

/// Returns the outcome of the first claim over `studies` studies; the variable `STUDIES` of the
/// environment lowers their number for a quick look, which the printed figures then say.
pub fn run_evidence(
    studies: u64,
    study: &Study,
    truth: f64,
    draw: impl Fn(u64) -> Evidence + Sync,
) -> Tally {
    let wanted = std::env::var("STUDIES").ok().and_then(|n| n.parse().ok());
    let studies = wanted.map_or(studies, |most: u64| studies.min(most));
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get()) as u64;
    let mut total = Tally::default();
    std::thread::scope(|scope| {
        let parts: Vec<_> = (0..threads)
            .map(|thread| {
                let draw = &draw;
                scope.spawn(move || {
                    let mut tally = Tally::default();
                    for index in (thread..studies).step_by(threads as usize) {
                        count(study, truth, &draw(index), &mut tally);
                    }
                    tally
                })
            })
            .collect();
        for part in parts {
            total.add(part.join().unwrap());
        }
    });
    total
}

fn count(study: &Study, truth: f64, evidence: &Evidence, tally: &mut Tally) {
    let claim = evaluate(study, evidence).claims.remove(0);
    tally.studies += 1.0;
    match claim.verdict {
        Verdict::Supported => tally.supported += 1.0,
        Verdict::Contradicted => tally.contradicted += 1.0,
        Verdict::Undecided | Verdict::Refused => {}
    }
    tally.withheld += f64::from(u8::from(claim.plain.contains("No verdict is given")));
    let Some(contrast) = claim.contrast else {
        return;
    };
    let (low, high) = (
        contrast.low.unwrap_or(f64::NEG_INFINITY),
        contrast.high.unwrap_or(f64::INFINITY),
    );
    tally.intervals += 1.0;
    tally.covered += f64::from(u8::from(low <= truth && truth <= high));
}

/// Three standard errors of a share of `p` over the series.
pub fn allowance(p: f64, tally: &Tally) -> f64 {
    3.0 * (p * (1.0 - p) / tally.studies).sqrt()
}

/// Prints the figures, and requires that neither verdict is wrong more often than 5 % plus the
/// error of the simulation, and that intervals of 90 % cover within two points.
pub fn require_honest(name: &str, tally: &Tally) {
    report(name, tally);
    let most = 0.05 + allowance(0.05, tally);
    assert!(tally.supported_share() <= most, "{name}: {tally:?}");
    assert!(tally.contradicted_share() <= most, "{name}: {tally:?}");
    let off = (tally.coverage() - 0.90).abs();
    assert!(off <= allowance(0.90, tally).max(0.02), "{name}: {tally:?}");
}

pub fn report(name: &str, tally: &Tally) {
    println!(
        "{name}: supported {:.2} %, contradicted {:.2} %, interval covers {:.2} % of {} studies, \
         withheld {:.1} %",
        100.0 * tally.supported_share(),
        100.0 * tally.contradicted_share(),
        100.0 * tally.coverage(),
        tally.studies,
        100.0 * tally.withheld / tally.studies,
    );
}
