//! E1 and E2: extension curves of rested dough pieces.

use super::super::extension::ExtensionRun;
use super::super::facts::{decimal, decimal_comma};
use super::push_fact;

/// A layout of extension curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExtensionLayout {
    /// E1: semicolon, decimal comma, chart millimetres.
    Block,
    /// E2: comma, decimal point, hook travel.
    Hook,
}

impl ExtensionLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            ExtensionLayout::Block => "extension-block",
            ExtensionLayout::Hook => "extension-hook",
        }
    }

    /// Returns the bytes of a file that holds `run`.
    pub fn write(self, run: &ExtensionRun) -> Vec<u8> {
        match self {
            ExtensionLayout::Block => write_block(run),
            ExtensionLayout::Hook => write_hook(run),
        }
        .into_bytes()
    }
}

fn write_block(run: &ExtensionRun) -> String {
    let facts = &run.facts;
    let scale = facts.eu_per_cm.map(|s| decimal_comma(s, 0));
    let mut out = String::from("Extension of rested dough\n");
    for (key, value) in [
        ("Run", facts.run_id.clone()),
        ("Dough", facts.batch_id.clone()),
        ("Sample", facts.sample_id.clone()),
        ("Treatment", facts.treatment.clone()),
        ("Block", facts.block.clone()),
        ("Replicate", facts.replicate.clone()),
        ("Piece", facts.piece.clone()),
        ("Rest min", decimal_comma(facts.rest_min, 0)),
        ("Rest planned min", decimal_comma(facts.rest_planned_min, 0)),
        ("EU per cm", scale.unwrap_or_default()),
        ("Break", run.failure.word().to_owned()),
        ("Thermostat C", decimal_comma(facts.thermostat_c, 1)),
        ("Operator", facts.operator.clone()),
    ] {
        push_fact(&mut out, key, ": ", &value);
    }
    out.push_str("\nchart mm;resistance EU\n");
    for (x, resistance) in run.samples() {
        out.push_str(&decimal_comma(x, 1));
        out.push(';');
        out.push_str(&decimal_comma(resistance, 1));
        out.push('\n');
    }
    out
}

fn write_hook(run: &ExtensionRun) -> String {
    let facts = &run.facts;
    let scale = facts.eu_per_cm.map(|s| decimal(s, 0));
    let mut out = String::from("hook travel record\n");
    for (key, value) in [
        ("run_id", facts.run_id.clone()),
        ("batch_id", facts.batch_id.clone()),
        ("sample_id", facts.sample_id.clone()),
        ("treatment", facts.treatment.clone()),
        ("block", facts.block.clone()),
        ("replicate", facts.replicate.clone()),
        ("piece", facts.piece.clone()),
        ("rest_min", decimal(facts.rest_min, 0)),
        ("rest_target_min", decimal(facts.rest_planned_min, 0)),
        ("eu_per_cm", scale.unwrap_or_default()),
        ("break", run.failure.word().to_owned()),
        ("thermostat_c", decimal(facts.thermostat_c, 1)),
        ("operator", facts.operator.clone()),
    ] {
        push_fact(&mut out, key, ",", &value);
    }
    out.push_str("travel_mm,force_eu\n");
    for (x, resistance) in run.samples() {
        out.push_str(&decimal(x, 1));
        out.push(',');
        out.push_str(&decimal(resistance, 1));
        out.push('\n');
    }
    out
}
