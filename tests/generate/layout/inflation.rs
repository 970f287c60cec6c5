//! B1 and B2: discs blown up into bubbles.

use super::super::facts::{decimal, decimal_comma, stated};
use super::super::inflation::DiscRun;
use super::push_fact;

/// A layout of bubbles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BubbleLayout {
    /// B1: the discs of one dough side by side, height over chart millimetres; comma, decimal point.
    Discs,
    /// B2: one disc a file, pressure over time; tab, decimal comma, units row.
    Pressure,
}

impl BubbleLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            BubbleLayout::Discs => "inflation-discs",
            BubbleLayout::Pressure => "inflation-pressure",
        }
    }

    /// Returns the bytes of a file that holds `discs`: all of one dough, or the first of them.
    pub fn write(self, discs: &[DiscRun]) -> Vec<u8> {
        let Some(first) = discs.first() else {
            return Vec::new();
        };
        match self {
            BubbleLayout::Discs => write_discs(first, discs),
            BubbleLayout::Pressure => write_pressure(first),
        }
        .into_bytes()
    }
}

/// Every disc must have the abscissae of the first, as far as it goes.
fn write_discs(first: &DiscRun, discs: &[DiscRun]) -> String {
    let facts = &first.dough;
    let mut out = String::from("bubbles of one dough\n");
    let (radius, thickness) = first.stated_disc.unzip();
    for (key, value) in [
        ("dough", facts.batch_id.clone()),
        ("flour lot", facts.sample_id.clone()),
        ("mixed by", facts.treatment.clone()),
        ("block", facts.block.clone()),
        ("replicate", facts.replicate.clone()),
        ("moisture %", stated(facts.moisture_pct, 1)),
        ("flour g", stated(facts.flour_g, 1)),
        ("salt water ml", stated(facts.water_ml, 1)),
        ("mixed min", stated(facts.mix_time_min, 0)),
        ("rested min", stated(facts.rest_min, 0)),
        ("dough C", stated(facts.dough_temp_c, 1)),
        ("chamber C", stated(facts.thermostat_c, 1)),
        ("opening radius mm", stated(radius, 2)),
        ("disc thickness mm", stated(thickness, 2)),
        ("air l/h", stated(first.stated_flow_l_h, 1)),
        ("operator", facts.operator.clone()),
    ] {
        push_fact(&mut out, key, ",", &value);
    }
    out.push_str("chart");
    for disc in discs {
        out.push_str(&format!(",height of {}", disc.run_id));
    }
    out.push('\n');
    let columns: Vec<Vec<(f64, f64)>> = discs.iter().map(DiscRun::samples).collect();
    let longest = columns.iter().max_by_key(|column| column.len());
    for (row, (x, _)) in longest.into_iter().flatten().enumerate() {
        out.push_str(&decimal(*x, 2));
        for column in &columns {
            out.push(',');
            if let Some((_, height)) = column.get(row) {
                out.push_str(&decimal(*height, 2));
            }
        }
        out.push('\n');
    }
    out
}

fn write_pressure(disc: &DiscRun) -> String {
    let facts = &disc.dough;
    let mut out = String::from("Bubble pressure\n");
    let comma = |value: Option<f64>, digits| stated(value, digits).replace('.', ",");
    let (radius, thickness) = disc.stated_disc.unzip();
    for (key, value) in [
        ("Disc", disc.run_id.clone()),
        ("Dough", facts.batch_id.clone()),
        ("Flour lot", facts.sample_id.clone()),
        ("Mixed by", facts.treatment.clone()),
        ("Block", facts.block.clone()),
        ("Replicate", facts.replicate.clone()),
        ("Moisture (%)", comma(facts.moisture_pct, 1)),
        ("Flour (g)", comma(facts.flour_g, 1)),
        ("Salt water (ml)", comma(facts.water_ml, 1)),
        ("Mixed (min)", comma(facts.mix_time_min, 0)),
        ("Rested (min)", comma(facts.rest_min, 0)),
        ("Dough (C)", comma(facts.dough_temp_c, 1)),
        ("Chamber (C)", comma(facts.thermostat_c, 1)),
        ("Air (l/h)", comma(disc.stated_flow_l_h, 1)),
        ("Radius (mm)", comma(radius, 2)),
        ("Thickness (mm)", comma(thickness, 2)),
        ("Left out", disc.leave_out.clone()),
        ("Operator", facts.operator.clone()),
    ] {
        push_fact(&mut out, key, ": ", &value);
    }
    out.push_str("time\toverpressure\ns\tPa\n");
    for (time, kpa) in disc.samples() {
        let pascal = decimal_comma(1000.0 * kpa, 1);
        out.push_str(&format!("{}\t{pascal}\n", decimal_comma(time, 3)));
    }
    out
}
