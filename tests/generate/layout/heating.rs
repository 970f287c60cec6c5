//! H1 and H2: mixing and heating curves.

use super::super::facts::{decimal, decimal_comma, stated};
use super::super::heating::HeatingRun;
use super::{latin_1, push_fact};

/// A layout of heating curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatingLayout {
    /// H1: comma, decimal point, dough and block temperature, units row.
    UnitsRow,
    /// H2: semicolon, decimal comma, Latin-1, dough temperature, clock time.
    Clock,
}

impl HeatingLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            HeatingLayout::UnitsRow => "heating-units-row",
            HeatingLayout::Clock => "heating-clock",
        }
    }

    /// Returns the bytes of a file that holds `run`.
    pub fn write(self, run: &HeatingRun) -> Vec<u8> {
        match self {
            HeatingLayout::UnitsRow => write_units_row(run).into_bytes(),
            HeatingLayout::Clock => latin_1(&write_clock(run)),
        }
    }
}

fn write_units_row(run: &HeatingRun) -> String {
    let (facts, lab) = (&run.facts, &run.facts.lab);
    let mut out = String::from("mixing with heating\n");
    for (key, value) in [
        ("run", lab.run_id.clone()),
        ("sample", lab.sample_id.clone()),
        ("dough", lab.batch_id.clone()),
        ("treatment", lab.treatment.clone()),
        ("block", lab.block.clone()),
        ("replicate", lab.replicate.clone()),
        ("purpose", lab.purpose.clone()),
        ("hydration %", stated(lab.hydration_pct, 2)),
        ("hydration basis", facts.hydration_basis.clone()),
        ("moisture %", stated(lab.moisture_pct, 1)),
        ("flour g", stated(lab.flour_g, 2)),
        ("water g", stated(lab.water_ml, 2)),
        ("dough g", stated(facts.dough_g, 2)),
        ("speed 1/min", stated(facts.speed_per_min, 1)),
        ("start s", stated(lab.water_contact_s, 1)),
        ("instrument", lab.instrument_id.clone()),
        ("operator", lab.operator.clone()),
        ("started", lab.started_at.clone()),
    ] {
        push_fact(&mut out, key, "=", &value);
    }
    out.push_str("time,torque,dough,block\nmin,N m,°C,°C\n");
    for sample in run.samples() {
        for (value, digits, end) in [
            (sample.time_s / 60.0, 5, ','),
            (sample.torque_nm, 4, ','),
            (sample.dough_c, 1, ','),
            (sample.block_c, 1, '\n'),
        ] {
            out.push_str(&decimal(value, digits));
            out.push(end);
        }
    }
    out
}

fn write_clock(run: &HeatingRun) -> String {
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
        ("Hydration (%)", comma(lab.hydration_pct, 2)),
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
        let minutes = (sample.time_s / 60.0 + 1e-9).floor();
        let seconds = (sample.time_s - 60.0 * minutes).max(0.0);
        let clock = format!("00:{minutes:02.0}:{seconds:04.1}");
        out.push_str(&clock.replace('.', ","));
        out.push(';');
        out.push_str(&decimal_comma(sample.torque_nm, 3));
        out.push(';');
        out.push_str(&decimal_comma(sample.dough_c, 1));
        out.push('\n');
    }
    out
}
