//! P1 and P2: pin-mixer curves.

use super::super::facts::{decimal, decimal_comma, stated};
use super::super::noise::Noise;
use super::super::pin::PinRun;
use super::push_fact;

/// Scatter of the recorded speed of the head, 1/min; invented.
const SPEED_NOISE_PER_MIN: f64 = 0.08;

/// A layout of pin-mixer curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinLayout {
    /// P1: semicolon, decimal comma, recorded speed.
    Preamble,
    /// P2: tab, clock time, one test below the other.
    Stacked,
}

impl PinLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            PinLayout::Preamble => "pin-mixing-preamble",
            PinLayout::Stacked => "pin-mixing-stacked",
        }
    }

    /// Returns the bytes of a file that holds `runs`; P1 takes the first.
    pub fn write(self, runs: &[PinRun]) -> Vec<u8> {
        match (self, runs.first()) {
            (PinLayout::Preamble, Some(first)) => write_preamble(first),
            (PinLayout::Preamble, None) => String::new(),
            (PinLayout::Stacked, _) => write_stacked(runs),
        }
        .into_bytes()
    }
}

fn write_preamble(run: &PinRun) -> String {
    let (facts, lab) = (&run.facts, &run.facts.lab);
    let comma = |value: Option<f64>, digits| stated(value, digits).replace('.', ",");
    let mut out = String::from("Pin mixer record\n");
    for (key, value) in [
        ("Run", lab.run_id.clone()),
        ("Sample", lab.sample_id.clone()),
        ("Dough", lab.batch_id.clone()),
        ("Treatment", lab.treatment.clone()),
        ("Block", lab.block.clone()),
        ("Replicate", lab.replicate.clone()),
        ("Purpose", lab.purpose.clone()),
        ("Bowl, g", comma(lab.bowl_g, 0)),
        ("Flour, g", comma(lab.flour_g, 2)),
        ("Water, ml", comma(lab.water_ml, 2)),
        ("Moisture, %", comma(lab.moisture_pct, 1)),
        ("Protein, %", comma(facts.protein_pct, 1)),
        ("Protein basis", facts.protein_basis.clone()),
        ("Dough mass, g", comma(facts.dough_g, 2)),
        ("Temperature, °C", comma(lab.thermostat_c, 1)),
        ("Spring", facts.spring.clone()),
        ("N m per %", comma(facts.torque_per_percent_nm, 4)),
        ("Start of mixing, s", comma(lab.water_contact_s, 1)),
        ("Instrument", lab.instrument_id.clone()),
        ("Operator", lab.operator.clone()),
    ] {
        push_fact(&mut out, key, " > ", &value);
    }
    out.push_str("\ns;deflection %;head 1/min\n");
    let mut noise = Noise::new(run.seed ^ 1);
    for (time, deflection) in run.samples() {
        let speed = run.model.speed_per_min + SPEED_NOISE_PER_MIN * noise.normal();
        out.push_str(&decimal_comma(time, 2));
        out.push(';');
        out.push_str(&decimal_comma(deflection, 2));
        out.push(';');
        out.push_str(&decimal_comma(speed, 1));
        out.push('\n');
    }
    out
}

fn write_stacked(runs: &[PinRun]) -> String {
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
            ("room", stated(lab.thermostat_c, 1)),
            ("spring", facts.spring.clone()),
            ("torque of 1 %", stated(facts.torque_per_percent_nm, 4)),
            ("speed", stated(facts.speed_per_min, 1)),
            ("instrument", lab.instrument_id.clone()),
        ] {
            push_fact(&mut out, key, "\t", &value);
        }
        out.push_str("clock\tpct\n");
        let samples = run.samples();
        for (time, deflection) in &samples {
            let minutes = (time / 60.0 + 1e-9).floor();
            let seconds = (time - 60.0 * minutes).max(0.0);
            out.push_str(&format!("{minutes:02.0}:{seconds:05.2}\t"));
            out.push_str(&decimal(*deflection, 2));
            out.push('\n');
        }
        out.push_str(&format!("--\t{} readings\n", samples.len()));
    }
    out
}
