//! P1, P2 and P3: process logs of mixers and of a water jet.

use super::super::facts::{decimal, decimal_comma, stated};
use super::super::mixer_log::{JetLogRun, LogFacts, MixerLogRun};
use super::push_fact;
use std::f64::consts::TAU;

/// A layout of mixer logs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogLayout {
    /// P1: semicolon, decimal comma, clock of the day, power in kW.
    Power,
    /// P2: tab, torque and speed, temperatures in °F.
    Torque,
}

impl LogLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            LogLayout::Power => "mixer-log-power",
            LogLayout::Torque => "mixer-log-torque",
        }
    }

    /// Returns the ending of file names in the layout.
    pub fn extension(self) -> &'static str {
        match self {
            LogLayout::Power => "csv",
            LogLayout::Torque => "tsv",
        }
    }

    /// Returns the bytes of a file that holds `run`.
    pub fn write(self, run: &MixerLogRun) -> Vec<u8> {
        match self {
            LogLayout::Power => write_power(run),
            LogLayout::Torque => write_torque(run),
        }
        .into_bytes()
    }
}

/// Identifier of the import profile that reads a water-jet log (P3).
pub const JET_PROFILE: &str = "mixer-log-jet";

fn comma(value: Option<f64>, decimals: usize) -> String {
    stated(value, decimals).replace('.', ",")
}

/// Hour of the day at which every log of the power layout starts, s.
const STARTS_AT_S: f64 = 5.0 * 3600.0 + 52.0 * 60.0;

fn write_power(run: &MixerLogRun) -> String {
    let f = &run.facts;
    let t = f.temperatures_c.map(|c| decimal_comma(c, 2));
    let mut out = String::from("Mixer power\n");
    for (key, value) in [
        ("Run", f.run_id.clone()),
        ("Dough", f.batch_id.clone()),
        ("Flour lot", f.sample_id.clone()),
        ("Method", f.treatment.clone()),
        ("Block", f.block.clone()),
        ("Replicate", f.replicate.clone()),
        ("Stage", f.stage.to_owned()),
        ("Boundary", f.boundary.clone()),
        ("Mixer", f.instrument_id.clone()),
        ("Operator", f.operator.clone()),
        ("Empty kW", comma(f.idle_w.map(|w| w / 1000.0), 4)),
        ("Dough kg", comma(f.dough_kg, 4)),
        ("Flour kg", decimal_comma(f.flour_kg, 4)),
        ("Water l", decimal_comma(f.water_l, 4)),
        ("Salt %", comma(f.salt_pct, 3)),
        ("Flour moisture %", decimal_comma(f.moisture_pct, 2)),
        ("Dough moisture %", comma(f.dough_moisture_pct, 2)),
        ("Protein %", decimal_comma(f.protein_pct, 2)),
        ("Protein basis", f.protein_basis.to_owned()),
        ("Room C", t[0].clone()),
        ("Flour C", t[1].clone()),
        ("Water C", t[2].clone()),
        ("Tap C", t[3].clone()),
        ("Aim C", t[4].clone()),
        ("Dough C", t[5].clone()),
        ("Hydration heat per", f.hydration_basis.to_owned()),
        ("Loss %", comma(f.loss_pct, 1)),
    ] {
        push_fact(&mut out, key, " = ", &value);
    }
    out.push_str("\nclock;power kW;dough C\n");
    for (s, watt, _) in run.samples() {
        let clock = clock_of_day(STARTS_AT_S + s);
        // The layout has a place for a probe; these mixers have none.
        out.push_str(&format!("{clock};{};\n", decimal_comma(watt / 1000.0, 4)));
    }
    out
}

fn clock_of_day(s: f64) -> String {
    let minutes = (s / 60.0).floor();
    let (hour, minute) = ((minutes / 60.0).floor(), minutes % 60.0);
    let second = decimal_comma(s - 60.0 * minutes, 1);
    let second = second.strip_suffix(",0").unwrap_or(&second);
    let pad = if second.split(',').next().is_some_and(|d| d.len() < 2) {
        "0"
    } else {
        ""
    };
    format!("{hour:02}:{minute:02}:{pad}{second}")
}

fn write_torque(run: &MixerLogRun) -> String {
    let f = &run.facts;
    let per_min = match run.recorded {
        super::super::mixer_log::Recorded::TorqueAt(speed) => speed,
        super::super::mixer_log::Recorded::Power => 0.0,
    };
    let empty = f.idle_w.map(|w| w / (TAU * per_min / 60.0));
    let t = f.temperatures_c.map(|c| decimal(32.0 + 1.8 * c, 2));
    let gram = |kg: f64| decimal(1000.0 * kg, 1);
    let mut out = String::from("torque and speed\n");
    for (key, value) in [
        ("run", f.run_id.clone()),
        ("dough", f.batch_id.clone()),
        ("flour lot", f.sample_id.clone()),
        ("method", f.treatment.clone()),
        ("block", f.block.clone()),
        ("replicate", f.replicate.clone()),
        ("part of process", f.stage.to_owned()),
        ("counted", f.boundary.clone()),
        ("machine", f.instrument_id.clone()),
        ("operator", f.operator.clone()),
        ("empty torque (N m)", stated(empty, 3)),
        ("dough (g)", f.dough_kg.map(gram).unwrap_or_default()),
        ("flour (g)", gram(f.flour_kg)),
        ("water (ml)", gram(f.water_l)),
        ("salt (%)", stated(f.salt_pct, 3)),
        ("flour moisture (%)", decimal(f.moisture_pct, 2)),
        ("dough moisture (%)", stated(f.dough_moisture_pct, 2)),
        ("protein (%)", decimal(f.protein_pct, 2)),
        ("protein on", f.protein_basis.to_owned()),
        ("room (F)", t[0].clone()),
        ("flour (F)", t[1].clone()),
        ("water (F)", t[2].clone()),
        ("tap (F)", t[3].clone()),
        ("aim (F)", t[4].clone()),
        ("dough temperature (F)", t[5].clone()),
        ("loss (%)", stated(f.loss_pct, 1)),
    ] {
        push_fact(&mut out, key, "\t", &value);
    }
    out.push_str("\ns\tN m\t1/min\n");
    for (s, torque, speed) in run.samples() {
        let cells = [decimal(s, 1), decimal(torque, 3), decimal(speed, 2)];
        out.push_str(&cells.join("\t"));
        out.push('\n');
    }
    out
}

/// Returns the bytes of a file that holds the log of a water jet.
pub fn write_jet(run: &JetLogRun) -> Vec<u8> {
    let f: &LogFacts = &run.facts;
    let t = f.temperatures_c.map(|c| decimal(c, 2));
    let gram = |kg: f64| decimal(1000.0 * kg, 1);
    let mut out = String::from("# water jet\n");
    for (key, value) in [
        ("run_id", f.run_id.clone()),
        ("batch_id", f.batch_id.clone()),
        ("sample_id", f.sample_id.clone()),
        ("treatment", f.treatment.clone()),
        ("block", f.block.clone()),
        ("replicate", f.replicate.clone()),
        ("stage", f.stage.to_owned()),
        ("energy_boundary", f.boundary.clone()),
        ("instrument_id", f.instrument_id.clone()),
        ("operator", f.operator.clone()),
        ("dough_g", f.dough_kg.map(gram).unwrap_or_default()),
        ("flour_g", gram(f.flour_kg)),
        ("water_ml", gram(f.water_l)),
        ("salt_pct", stated(f.salt_pct, 3)),
        ("flour_moisture_pct", decimal(f.moisture_pct, 2)),
        ("dough_moisture_pct", stated(f.dough_moisture_pct, 2)),
        ("protein_pct", decimal(f.protein_pct, 2)),
        ("protein_basis", f.protein_basis.to_owned()),
        ("pump_efficiency_pct", stated(f.efficiency_pct, 1)),
        ("room_temp_c", t[0].clone()),
        ("flour_temp_c", t[1].clone()),
        ("water_temp_c", t[2].clone()),
        ("tap_water_temp_c", t[3].clone()),
        ("target_dough_temp_c", t[4].clone()),
        ("dough_temp_c", t[5].clone()),
        ("heat_of_hydration_basis", f.hydration_basis.to_owned()),
        ("heat_loss_pct", stated(f.loss_pct, 1)),
    ] {
        push_fact(&mut out, key, "|", &value);
    }
    out.push_str("\ntime|pressure|flow|jet\nmm:ss|bar|l/min|km/h\n");
    for [s, bar, flow, m_s] in run.samples() {
        let minutes = (s / 60.0).floor();
        let second = s - 60.0 * minutes;
        let cells = [decimal(bar, 2), decimal(flow, 3), decimal(3.6 * m_s, 1)];
        out.push_str(&format!("{minutes:02}:{second:04.1}|{}\n", cells.join("|")));
    }
    out.into_bytes()
}
