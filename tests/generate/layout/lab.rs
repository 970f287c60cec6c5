//! A2 and H2: pin-mixer curves stacked, and a heating curve with clock time.

use super::super::facts::{decimal, decimal_comma, stated};
use super::super::heating::HeatingRun;
use super::super::pin::PinRun;
use super::{latin_1, push_fact};

/// Identifier of the import profile of stacked pin-mixer curves.
pub const PIN_PROFILE: &str = "pin-mixing-stacked";
/// Identifier of the import profile of heating curves with clock time.
pub const HEATING_PROFILE: &str = "heating-clock";

/// Returns the text of a file that holds `runs` one below the other.
pub fn write_pins(runs: &[PinRun]) -> String {
    let mut out = String::from("pin mixer, one test below the other\n");
    for run in runs {
        let (facts, lab) = (&run.facts, &run.facts.lab);
        for (key, value) in [
            ("test", lab.run_id.clone()),
            ("flour lot", lab.sample_id.clone()),
            ("dough", lab.batch_id.clone()),
            ("treatment", lab.treatment.clone()),
            ("block", lab.block.clone()),
            ("replicate", lab.replicate.clone()),
            ("purpose", lab.purpose.clone()),
            ("bowl", stated(lab.bowl_g, 0)),
            ("flour", stated(lab.flour_g, 2)),
            ("water", stated(lab.water_ml, 2)),
            ("moisture", stated(lab.moisture_pct, 1)),
            ("protein", stated(facts.protein_pct, 1)),
            ("protein on", facts.protein_basis.clone()),
            ("mass", stated(facts.dough_g, 2)),
            ("room", "25.0".to_owned()),
            ("spring", facts.spring.clone()),
            ("torque of 1 %", stated(facts.torque_per_percent_nm, 4)),
            ("speed", stated(facts.speed_per_min, 1)),
            ("instrument", lab.instrument_id.clone()),
        ] {
            push_fact(&mut out, key, "\t", &value);
        }
        out.push_str("clock\tpct\n");
        let samples = run.samples();
        for (time, pct) in &samples {
            let minute = (time / 60.0 + 1e-9).floor();
            let second = time - 60.0 * minute;
            out.push_str(&format!("{minute:02}:{second:04.1}\t{}\n", decimal(*pct, 1)));
        }
        out.push_str(&format!("--\t{} readings\n", samples.len()));
    }
    out
}

/// Returns the bytes of the file of one heating run.
pub fn write_heating(run: &HeatingRun) -> Vec<u8> {
    let (facts, lab) = (&run.facts, &run.facts.lab);
    let comma = |value: Option<f64>, digits| stated(value, digits).replace('.', ",");
    let mut out = String::from("Kneading and heating\n");
    for (key, value) in [
        ("Test", lab.run_id.clone()),
        ("Flour lot", lab.sample_id.clone()),
        ("Dough", lab.batch_id.clone()),
        ("Treatment", lab.treatment.clone()),
        ("Block", lab.block.clone()),
        ("Replicate", lab.replicate.clone()),
        ("Purpose", lab.purpose.clone()),
        ("Hydration (%)", comma(lab.hydration_pct, 1)),
        ("Hydration basis", facts.hydration_basis.clone()),
        ("Moisture (%)", comma(lab.moisture_pct, 1)),
        ("Flour (g)", comma(lab.flour_g, 2)),
        ("Water (ml)", comma(lab.water_ml, 2)),
        ("Speed (1/min)", comma(facts.speed_per_min, 1)),
        ("Instrument", lab.instrument_id.clone()),
        ("Operator", lab.operator.clone()),
    ] {
        push_fact(&mut out, key, ": ", &value);
    }
    out.push_str("\nhh:mm:ss;M (Nm);dough (°C)\n");
    for sample in run.samples() {
        let seconds = sample.time_s.round() as u32;
        out.push_str(&format!(
            "{:02}:{:02}:{:02};{};{}\n",
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60,
            decimal_comma(sample.torque_nm, 3),
            decimal_comma(sample.dough_c, 1)
        ));
    }
    latin_1(&out)
}
