//! L6: three supplied traces, pipe, mm:ss.

use super::super::facts::{decimal, stated};
use super::super::file::GeneratedRun;
use super::{push_fact, time_decimals};

/// Returns the text of layout L6.
pub fn write_three_traces(run: &GeneratedRun) -> String {
    let facts = &run.spec.facts;
    let mut out = String::from("three traces\n");
    for (key, value) in [
        ("#run", facts.run_id.clone()),
        ("#bowl", stated(facts.bowl_g, 0)),
        ("#moisture", stated(facts.moisture_pct, 1)),
        ("#water", stated(facts.water_ml, 1)),
        ("#flour", stated(facts.flour_g, 1)),
        ("#thermostat", stated(facts.thermostat_c, 1)),
        ("#sample", facts.sample_id.clone()),
        ("#batch", facts.batch_id.clone()),
        ("#treatment", facts.treatment.clone()),
        ("#block", facts.block.clone()),
        ("#replicate", facts.replicate.clone()),
        ("#purpose", facts.purpose.clone()),
    ] {
        push_fact(&mut out, key, "|", &value);
    }
    out.push_str("time|upper|middle|lower\nmm:ss|FU|FU|FU\n");
    let contours = run.contours();
    let digits = time_decimals(run.spec.recorder.sampling.step_s);
    for (row, time) in contours.time_s.iter().enumerate() {
        out.push_str(&minute_text(*time, digits));
        for trace in [&contours.upper, &contours.middle, &contours.lower] {
            out.push('|');
            out.push_str(&decimal(trace[row], 1));
        }
        out.push('\n');
    }
    out
}

/// Returns `time_s` as mm:ss with `digits` digits after the point, if any.
fn minute_text(time_s: f64, digits: usize) -> String {
    let minutes = (time_s / 60.0).floor();
    let seconds = time_s - 60.0 * minutes;
    let width = if digits == 0 { 2 } else { digits + 3 };
    format!("{minutes:02.0}:{seconds:0width$.digits$}")
}
