//! T1 and T2: strips drawn out by a hook.

use super::super::facts::{decimal, decimal_comma, stated};
use super::super::strip::{DoughFacts, StripRun};
use super::push_fact;

/// Force of one gram, N.
const NEWTON_PER_GF: f64 = 0.009_806_65;

/// A layout of strips.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StripLayout {
    /// T1: one strip a file, force in N over hook travel; pipe, decimal point.
    Hook,
    /// T2: the strips of one dough stacked, force in gf over time; semicolon, decimal comma.
    Stacked,
}

impl StripLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            StripLayout::Hook => "strip-hook",
            StripLayout::Stacked => "strip-stacked",
        }
    }

    /// Returns the bytes of a file that holds `strips`: the first of them, or all of one dough.
    pub fn write(self, strips: &[StripRun]) -> Vec<u8> {
        let Some(first) = strips.first() else {
            return Vec::new();
        };
        match self {
            StripLayout::Hook => write_hook(first),
            StripLayout::Stacked => write_stacked(first, strips),
        }
        .into_bytes()
    }
}

fn write_hook(strip: &StripRun) -> String {
    let (facts, size) = (&strip.dough, &strip.stated);
    let mut out = String::from("strip on the hook\n");
    let sag = strip.sag_stated.then_some(size.sag_mm);
    for (key, value) in [
        ("strip", strip.run_id.clone()),
        ("dough", facts.batch_id.clone()),
        ("flour lot", facts.sample_id.clone()),
        ("mixed by", facts.treatment.clone()),
        ("block", facts.block.clone()),
        ("replicate", facts.replicate.clone()),
        ("half gap mm", decimal(size.half_gap_mm, 2)),
        ("sag mm", stated(sag, 2)),
        ("section mm2", decimal(size.section_mm2, 2)),
        ("hook speed mm/s", stated(strip.stated_speed_mm_s, 2)),
        ("rested min", stated(facts.rest_min, 0)),
        ("chamber C", stated(facts.thermostat_c, 1)),
        ("tore", strip.failure.to_owned()),
        ("left out because", strip.leave_out.clone()),
        ("operator", facts.operator.clone()),
    ] {
        push_fact(&mut out, key, " = ", &value);
    }
    out.push_str("hook mm|force N\n");
    for (x, force) in strip.samples() {
        out.push_str(&format!("{}|{}\n", decimal(x, 2), decimal(force, 4)));
    }
    out
}

fn push_dough(out: &mut String, facts: &DoughFacts) {
    for (key, value) in [
        ("dough", facts.batch_id.clone()),
        ("flour lot", facts.sample_id.clone()),
        ("mixed by", facts.treatment.clone()),
        ("block", facts.block.clone()),
        ("replicate", facts.replicate.clone()),
        ("rested (min)", stated(facts.rest_min, 0)),
        (
            "chamber (C)",
            stated(facts.thermostat_c, 1).replace('.', ","),
        ),
        ("operator", facts.operator.clone()),
    ] {
        push_fact(out, key, ";", &value);
    }
}

fn write_stacked(first: &StripRun, strips: &[StripRun]) -> String {
    let mut out = String::from("strips of one dough\n");
    push_dough(&mut out, &first.dough);
    let half_gap = decimal_comma(first.stated.half_gap_mm, 2);
    push_fact(&mut out, "half gap (mm)", ";", &half_gap);
    for strip in strips {
        let speed = strip.stated_speed_mm_s;
        let sag = strip.sag_stated.then_some(strip.stated.sag_mm);
        for (key, value) in [
            ("strip", strip.run_id.clone()),
            ("section (mm2)", decimal_comma(strip.stated.section_mm2, 2)),
            ("sag (mm)", stated(sag, 2).replace('.', ",")),
            ("hook (mm/s)", stated(speed, 2).replace('.', ",")),
            ("tore", strip.failure.to_owned()),
            ("left out because", strip.leave_out.clone()),
        ] {
            push_fact(&mut out, key, ";", &value);
        }
        out.push_str("s;gf\n");
        let samples = strip.samples();
        for (x, force) in &samples {
            let seconds = x / strip.model.speed_mm_s;
            out.push_str(&decimal_comma(seconds, 4));
            out.push(';');
            out.push_str(&decimal_comma(force / NEWTON_PER_GF, 2));
            out.push('\n');
        }
        out.push_str(&format!("end;{} readings\n", samples.len()));
    }
    out
}
