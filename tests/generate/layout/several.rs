//! L2 and L7: several curves in one file, side by side or stacked.

use super::super::facts::{decimal, stated};
use super::super::file::GeneratedRun;
use super::{push_fact, time_decimals};

/// Returns the text of layout L2; every run must have the bowl and sampling of the first.
pub fn write_side_by_side(runs: &[GeneratedRun]) -> String {
    let mut out = String::from("curves side by side\n");
    let Some(first) = runs.first() else {
        return out;
    };
    let facts = &first.spec.facts;
    push_fact(&mut out, "bowl g", ",", &stated(facts.bowl_g, 0));
    push_fact(
        &mut out,
        "thermostat C",
        ",",
        &stated(facts.thermostat_c, 1),
    );
    out.push_str("clock_s");
    for run in runs {
        out.push_str(&format!(",{} [FU]", run.run_id));
    }
    out.push('\n');
    let columns: Vec<_> = runs.iter().map(GeneratedRun::samples).collect();
    let longest = columns.iter().max_by_key(|c| c.time_s.len());
    let digits = time_decimals(first.spec.recorder.sampling.step_s);
    for (row, time) in longest
        .map(|c| c.time_s.clone())
        .unwrap_or_default()
        .iter()
        .enumerate()
    {
        out.push_str(&decimal(*time, digits));
        for column in &columns {
            out.push(',');
            // A run that ended earlier leaves its cells empty.
            if let Some(value) = column.signal.get(row) {
                out.push_str(&decimal(*value, 1));
            }
        }
        out.push('\n');
    }
    out
}

/// Returns the text of layout L7.
pub fn write_stacked(runs: &[GeneratedRun]) -> String {
    let mut out = String::from("stacked curves\n");
    for run in runs {
        let facts = &run.spec.facts;
        out.push_str(&format!("curve;{}\n", run.run_id));
        for (key, value) in [
            ("bowl", stated(facts.bowl_g, 0)),
            ("moisture", stated(facts.moisture_pct, 1)),
            ("water", stated(facts.water_ml, 1)),
            ("flour", stated(facts.flour_g, 1)),
            ("thermostat", stated(facts.thermostat_c, 1)),
            ("sample", facts.sample_id.clone()),
            ("batch", facts.batch_id.clone()),
            ("treatment", facts.treatment.clone()),
            ("block", facts.block.clone()),
            ("replicate", facts.replicate.clone()),
            ("purpose", facts.purpose.clone()),
        ] {
            push_fact(&mut out, key, ";", &value);
        }
        out.push_str("seconds;fu\n");
        let samples = run.samples();
        let digits = time_decimals(run.spec.recorder.sampling.step_s);
        for (time, value) in samples.time_s.iter().zip(&samples.signal) {
            out.push_str(&decimal(*time, digits));
            out.push(';');
            out.push_str(&decimal(*value, 1));
            out.push('\n');
        }
        out.push_str(&format!("end;{} points\n", samples.time_s.len()));
    }
    out
}
