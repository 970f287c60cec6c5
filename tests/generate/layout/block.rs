//! L1 and L4: one curve below a block of key/value lines.

use super::super::facts::{decimal, decimal_comma, marker_list, stated};
use super::super::file::GeneratedRun;
use super::{push_fact, time_decimals};

/// Temperature of the dough when water meets flour, °C; invented.
const DOUGH_START_C: f64 = 28.4;
/// Rise of the dough temperature over a long mixing, K; invented.
const DOUGH_RISE_K: f64 = 2.3;
/// Time constant of that rise, min; invented.
const DOUGH_RISE_MIN: f64 = 7.0;

/// Returns the text of layout L1.
pub fn write_block(run: &GeneratedRun) -> String {
    let facts = &run.spec.facts;
    let mut out = String::from("mixing curve, one run\n");
    for (key, value) in [
        ("run", facts.run_id.clone()),
        ("sample", facts.sample_id.clone()),
        ("batch", facts.batch_id.clone()),
        ("treatment", facts.treatment.clone()),
        ("block", facts.block.clone()),
        ("replicate", facts.replicate.clone()),
        ("purpose", facts.purpose.clone()),
        ("procedure", facts.procedure.clone()),
        ("bowl g", stated(facts.bowl_g, 0)),
        ("flour moisture %", stated(facts.moisture_pct, 1)),
        ("flour g", stated(facts.flour_g, 1)),
        ("water ml", stated(facts.water_ml, 1)),
        ("thermostat C", stated(facts.thermostat_c, 1)),
        ("instrument", facts.instrument_id.clone()),
        ("operator", facts.operator.clone()),
        ("started", facts.started_at.clone()),
        ("water contact s", stated(facts.water_contact_s, 1)),
        ("markers s", marker_list(&facts.markers_s)),
        ("hydration %", stated(facts.hydration_pct, 1)),
        ("full scale FU", stated(facts.full_scale_fu, 0)),
    ] {
        push_fact(&mut out, key, ": ", &value);
    }
    out.push_str("\ntime_s,consistency_fu\n");
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

/// Returns the text of layout L4, still to be put into Latin-1.
pub fn write_semicolon(run: &GeneratedRun) -> String {
    let facts = &run.spec.facts;
    let comma = |value: Option<f64>, digits| stated(value, digits).replace('.', ",");
    let mut out = String::from("Mixing record\n");
    for (key, value) in [
        ("Run", facts.run_id.clone()),
        ("Sample", facts.sample_id.clone()),
        ("Batch", facts.batch_id.clone()),
        ("Treatment", facts.treatment.clone()),
        ("Block", facts.block.clone()),
        ("Replicate", facts.replicate.clone()),
        ("Purpose", facts.purpose.clone()),
        ("Bowl (g)", comma(facts.bowl_g, 0)),
        ("Moisture (%)", comma(facts.moisture_pct, 1)),
        ("Flour (g)", comma(facts.flour_g, 1)),
        ("Water (ml)", comma(facts.water_ml, 1)),
        ("Thermostat (°C)", comma(facts.thermostat_c, 1)),
        ("Instrument", facts.instrument_id.clone()),
        ("Operator", facts.operator.clone()),
        ("Start", facts.started_at.clone()),
        ("Hydration (%)", comma(facts.hydration_pct, 1)),
    ] {
        push_fact(&mut out, key, " = ", &value);
    }
    out.push_str("\nt (min);M (FU);T (°C)\n");
    let samples = run.samples();
    let sampling = run.spec.recorder.sampling;
    for (time, value) in samples.time_s.iter().zip(&samples.signal) {
        let since = sampling.since_contact_min(*time).max(0.0);
        let dough = DOUGH_START_C + DOUGH_RISE_K * (1.0 - libm::exp(-since / DOUGH_RISE_MIN));
        out.push_str(&decimal_comma(time / 60.0, 4));
        out.push(';');
        out.push_str(&decimal_comma(*value, 1));
        out.push(';');
        out.push_str(&decimal_comma(dough, 1));
        out.push('\n');
    }
    out
}
