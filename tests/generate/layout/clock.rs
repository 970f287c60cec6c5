//! L5: tab, byte-order mark, clock time and a units row; everything else is in the run sheet.

use super::super::facts::decimal;
use super::super::file::GeneratedRun;
use super::time_decimals;

/// Returns the text of layout L5, byte-order mark included.
pub fn write_clock(run: &GeneratedRun) -> String {
    let mut out = String::from("\u{feff}nr\tclock\ttorque\n-\thh:mm:ss.f\tFU\n");
    let samples = run.samples();
    let digits = time_decimals(run.spec.recorder.sampling.step_s).max(1);
    for (row, (time, value)) in samples.time_s.iter().zip(&samples.signal).enumerate() {
        out.push_str(&format!(
            "{}\t{}\t{}\n",
            row + 1,
            clock_text(*time, digits),
            decimal(*value, 1)
        ));
    }
    out
}

/// Returns `time_s` as hh:mm:ss with `digits` digits after the point.
fn clock_text(time_s: f64, digits: usize) -> String {
    let whole = time_s.max(0.0);
    let hours = (whole / 3600.0).floor();
    let minutes = ((whole - 3600.0 * hours) / 60.0).floor();
    let seconds = whole - 3600.0 * hours - 60.0 * minutes;
    let width = digits + 3;
    format!("{hours:02.0}:{minutes:02.0}:{seconds:0width$.digits$}")
}
