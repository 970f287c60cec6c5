//! L3 and L8: columns with a header and nothing else.

use super::super::facts::decimal;
use super::super::file::GeneratedRun;
use super::time_decimals;

/// Returns the text of layout L3.
pub fn write_plain(run: &GeneratedRun) -> String {
    let mut out = String::from("time_s,consistency_fu\n");
    let samples = run.samples();
    let digits = time_decimals(run.spec.recorder.sampling.step_s);
    for (time, value) in samples.time_s.iter().zip(&samples.signal) {
        out.push_str(&decimal(*time, digits));
        out.push(',');
        out.push_str(&decimal(*value, 1));
        out.push('\n');
    }
    out
}

/// Returns the text of layout L8; every run must have the times of the first.
pub fn write_wide(runs: &[GeneratedRun]) -> String {
    let mut out = String::from("time_s");
    let mut columns = Vec::new();
    for run in runs {
        out.push(',');
        out.push_str(&run.selector);
        columns.push(run.samples());
    }
    out.push('\n');
    let digits = runs
        .first()
        .map_or(0, |run| time_decimals(run.spec.recorder.sampling.step_s));
    let times = columns
        .first()
        .map(|c| c.time_s.clone())
        .unwrap_or_default();
    for (row, time) in times.iter().enumerate() {
        out.push_str(&decimal(*time, digits));
        for column in &columns {
            out.push(',');
            if let Some(value) = column.signal.get(row) {
                out.push_str(&decimal(*value, 0));
            }
        }
        out.push('\n');
    }
    out
}
