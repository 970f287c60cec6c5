//! Many files of one size for the benchmark.

use super::facts::decimal;
use super::random::random_curve;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Sampling of the benchmark's files, s.
const STEP_S: f64 = 0.5;
/// Distinct curves; further files repeat them under another name, noise and all.
const DISTINCT: usize = 50;

/// Returns name and bytes of `runs` files of `rows` rows at 0.5 s, about 17 bytes a row.
///
/// Every tenth file is in the plain two-column layout, the others have the key/value block.
/// Shapes repeat after 50 files so that making the input does not take longer than reading it.
pub fn bench_day(runs: usize, rows: usize) -> impl Iterator<Item = (String, Vec<u8>)> {
    let bodies: Vec<(String, String)> = (0..DISTINCT.min(runs.max(1)))
        .map(|index| bench_body(index as u64, rows))
        .collect();
    (0..runs).map(move |index| {
        let (head, body) = &bodies[index % bodies.len()];
        let name = format!("bench-{:05}", index + 1);
        let text = if index % 10 == 9 {
            body.clone()
        } else {
            format!("mixing curve, one run\nrun: {name}\nbatch: {name}\n{head}\n{body}")
        };
        (format!("{name}.csv"), text.into_bytes())
    })
}

/// Writes the files of [`bench_day`] into `folder` and returns their paths.
///
/// # Errors
/// Whatever the file system says.
pub fn write_bench_day(folder: &Path, runs: usize, rows: usize) -> std::io::Result<Vec<PathBuf>> {
    std::fs::create_dir_all(folder)?;
    bench_day(runs, rows)
        .map(|(name, bytes)| {
            let path = folder.join(name);
            std::fs::File::create(&path)?.write_all(&bytes)?;
            Ok(path)
        })
        .collect()
}

/// Returns the block of facts and the table of one benchmark curve.
fn bench_body(seed: u64, rows: usize) -> (String, String) {
    let mut run = random_curve(seed);
    let sampling = &mut run.spec.recorder.sampling;
    sampling.step_s = STEP_S;
    sampling.last_s = STEP_S * rows.saturating_sub(1) as f64;
    let facts = &run.spec.facts;
    let head = format!(
        "sample: {}\ntreatment: {}\nblock: {}\nreplicate: 1\npurpose: study\nbowl g: {}\n\
         flour moisture %: {}\nflour g: {}\nwater ml: {}\nthermostat C: 30.0\n\
         water contact s: 0.0\n",
        facts.sample_id,
        facts.treatment,
        facts.block,
        facts.bowl_g.unwrap_or(300.0),
        facts.moisture_pct.unwrap_or(14.0),
        facts.flour_g.unwrap_or(300.0),
        facts.water_ml.unwrap_or(180.0),
    );
    let samples = run.samples();
    let mut body = String::from("time_s,consistency_fu\n");
    for (time, value) in samples.time_s.iter().zip(&samples.signal) {
        body.push_str(&decimal(*time, 2));
        body.push(',');
        body.push_str(&decimal(*value, 4));
        body.push('\n');
    }
    (head, body)
}
