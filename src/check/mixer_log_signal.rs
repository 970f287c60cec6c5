//! Rules on the record of a process log: clock, gaps, ends, idle power, jet, units.

use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::{MetricResult, Outcome, RunRecord};
use crate::schema::{Field, Level, Status, Test};

pub(super) fn is_log(run: &RunRecord) -> bool {
    run.test == Test::MixerLog
}

/// Returns the result of a metric in a variant.
pub(super) fn result<'r>(run: &'r RunRecord, id: &str, variant: &str) -> Option<&'r MetricResult> {
    let mut all = run.results.iter();
    all.find(|r| r.metric.id == id && r.variant == variant)
}

/// Returns the value of a metric in a variant.
pub(super) fn value(run: &RunRecord, id: &str, variant: &str) -> Option<f64> {
    result(run, id, variant)?.outcome.value()
}

rule! {
    /// Each reading of a process log comes later than the one before. Nothing is read from the
    /// traces of a log whose time steps back.
    STEPS_BACK {
        id: "mixer-log.steps-back", title: "time steps back", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the log again; if the logger's clock was set during the run, or two logs run together in the file, separate them.",
        look: Run(see_steps_back),
    }
}

fn see_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_log(run), |line, _| {
        format!("the time steps back, first at line {line}")
    })
}

rule! {
    /// No pause in a process log is longer than two sampling periods. A gap counts with the line
    /// across it; the interval of the energy holds the least and the greatest power beside it.
    GAP {
        id: "mixer-log.gap", title: "gap in the log", level: Warn, revision: 1,
        source: ("choice of this project", "two sampling periods", ProjectChoice),
        what_to_do: "Use the energy with its interval; check logger and cable before the next dough.",
        look: Run(see_gaps),
    }
}

fn see_gaps(run: &RunRecord) -> Vec<Seen> {
    let gaps = &run.facts.gaps;
    let Some(first) = gaps.first().filter(|_| is_log(run)) else {
        return Vec::new();
    };
    let missing: f64 = gaps.iter().map(|gap| gap.to_s - gap.from_s).sum();
    let line = run.lines.line(first.index);
    let count = match gaps.len() {
        1 => "1 gap".to_owned(),
        n => format!("{n} gaps"),
    };
    vec![
        Seen::new(format!(
            "{count}, {missing:.0} s of {:.0} s together, first before line {line}; readings come every {:.1} s",
            run.facts.duration_s, run.facts.sampling_s
        ))
        .at_row(line),
    ]
}

rule! {
    /// A log holds the whole of the work: it begins and ends with the machine at rest, or the
    /// stated mixing time agrees with it. Else the energy is only known to be larger.
    CUT_SHORT {
        id: "mixer-log.cut-short", title: "log begins or ends under load", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Start the logger before the machine and stop it after; for this log, state mix_time_min if it covers the whole mixing.",
        look: Run(see_cut_short),
    }
}

fn see_cut_short(run: &RunRecord) -> Vec<Seen> {
    let time = result(run, "mixer-log.mixing_time", "").map(|r| &r.outcome);
    match time {
        Some(Outcome::Above(minutes)) if is_log(run) => vec![Seen::new(format!(
            "the log begins or ends under load and no stated mixing time confirms its {minutes:.1} min"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The power of a mixer is known above that of the empty mixer at the same speed. Without an
    /// empty run the energy is gross: it holds the losses of drive and gear, which the dough never
    /// saw, and must not be compared with a net one.
    GROSS_POWER {
        id: "mixer-log.gross-power", title: "no empty run: gross power only", level: Warn, revision: 1,
        source: ("mechanics", "work on the dough", Derived),
        what_to_do: "Run the mixer empty at the same speed and state idle_power_w (or idle_torque_nm).",
        look: Run(see_gross),
    }
}

fn see_gross(run: &RunRecord) -> Vec<Seen> {
    let of = |variant| result(run, "mixer-log.specific_energy", variant).map(|r| &r.outcome);
    let gross = of("gross").and_then(Outcome::value_or_bound);
    match (gross, of("net")) {
        (Some(gross), Some(net)) if net.status() == Status::NotComputable => {
            vec![Seen::new(format!(
                "gross_power: {gross:.1} kJ/kg, the empty mixer's share not known"
            ))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// No jet is faster than its pressure can drive it: measured speed over √(2 Δp/ρ) is at most
    /// 1.02. Above, pressure or speed was misread and neither is used; below 0.7 one of them is
    /// doubtful.
    JET_SPEED {
        id: "mixer-log.jet-speed", title: "jet speed does not fit its pressure", level: Warn, revision: 1,
        source: ("Bernoulli's equation", "outflow through a nozzle", Derived),
        what_to_do: "Check unit and place of the pressure gauge (before the nozzle, gauge pressure), the unit of the speed (m/s or km/h), and the nozzle for wear.",
        look: Run(see_jet_speed),
    }
}

fn see_jet_speed(run: &RunRecord) -> Vec<Seen> {
    let Some(ratio) = result(run, "mixer-log.jet_speed_ratio", "").filter(|_| is_log(run)) else {
        return Vec::new();
    };
    // The limits stand beside the number they judge.
    let limit = |name: &str| ratio.parameter(name)?.parse::<f64>().ok();
    let limits = limit("usual").zip(limit("possible"));
    let Some((share, (usual, possible))) = ratio.outcome.value().zip(limits) else {
        return Vec::new();
    };
    let speed = value(run, "mixer-log.jet_speed", "").unwrap_or(0.0);
    let bar = value(run, "mixer-log.jet_pressure", "").unwrap_or(0.0);
    let words = format!(
        "{speed:.0} m/s at {bar:.1} bar is {share:.2} of the ideal speed; possible is {possible}, usual {usual} or more"
    );
    if share > possible {
        vec![Seen::new(format!("{words}: impossible")).at_level(Level::Reject)]
    } else if share < usual {
        vec![Seen::new(words)]
    } else {
        Vec::new()
    }
}

rule! {
    /// The water that the flow meter counted is the water stated, to within 2 %.
    JET_WATER {
        id: "mixer-log.jet-water", title: "metered and stated water differ", level: Warn, revision: 1,
        source: ("choice of this project: 2 %", "", ProjectChoice),
        what_to_do: "Check the flow meter against a weighed bucket, and whether all water went through the nozzle.",
        look: Run(see_jet_water),
    }
}

/// Greatest difference of metered from stated water, as a share (project choice).
const WATER_SHARE: f64 = 0.02;

fn see_jet_water(run: &RunRecord) -> Vec<Seen> {
    let metered = value(run, "mixer-log.jet_water", "");
    let stated = run.metadata.number(Field::WaterMl).map(|ml| 0.9982 * ml);
    match metered.zip(stated).filter(|_| is_log(run)) {
        Some((metered, stated)) if (metered / stated - 1.0).abs() > WATER_SHARE => {
            vec![Seen::new(format!(
                "the flow adds up to {metered:.0} g, stated are {stated:.0} g"
            ))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// The efficiency of a jet's pump and motor is stated; without it there is no electric energy.
    NO_EFFICIENCY {
        id: "mixer-log.no-efficiency", title: "efficiency of the pump not stated", level: Note, revision: 1,
        source: ("energy balance", "efficiency", Derived),
        what_to_do: "State pump_efficiency_pct of pump and motor together (usually 70 to 90 %), or record the electric power of the pump.",
        look: Run(see_no_efficiency),
    }
}

fn see_no_efficiency(run: &RunRecord) -> Vec<Seen> {
    let outcome = result(run, "mixer-log.electric_energy", "").map(|r| &r.outcome);
    let reason = outcome.and_then(Outcome::reason).unwrap_or("");
    match reason.starts_with("pump_efficiency_pct not stated") {
        true => vec![Seen::new(reason.to_owned())],
        false => Vec::new(),
    }
}

rule! {
    /// A log of a water jet comes from a machine that can hurt: skin can be entered from about
    /// 7 bar on. This is a reminder beside the record, no judgement of the machine: the tool reads
    /// records and controls nothing, and no result of it is a statement on safety. Local codes and
    /// the maker's instructions come first.
    JET_CAUTION {
        id: "mixer-log.jet-caution", title: "water under pressure: usual caution", level: Note, revision: 1,
        source: ("general safety advice", "high-pressure water", CommonPractice),
        what_to_do: "Water under pressure can cut and can enter the body through intact-looking skin. Never put a hand in front of a nozzle or feel for a leak. Shut off, release pressure, lock out, then open. Interlocked guard, hose restraint, relief valve, eye and hearing protection. Any suspected injection injury: hospital at once, even if the wound looks small; tell them pressure and liquid. Follow the local codes.",
        look: Run(see_jet),
    }
}

fn see_jet(run: &RunRecord) -> Vec<Seen> {
    match value(run, "mixer-log.jet_pressure", "").filter(|_| is_log(run)) {
        Some(bar) => vec![Seen::new(format!(
            "the log is of a water jet at {bar:.0} bar; the tool only reads its record"
        ))],
        None => Vec::new(),
    }
}

rule! {
    /// Numbers stay within what their unit allows: temperatures of room, flour, water and dough
    /// below 45 °C and a friction factor below 25 K (else they are in °F), a dough of more than
    /// 100 g, 1 W to 1000 kW, 1 to 1000 bar, and 0.1 to 200 kJ/kg.
    UNITS {
        id: "mixer-log.units", title: "looks like another unit", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Check the unit in the file against the import profile (°F for °C, kW for W, kg for g, bar for kPa) and correct the profile or the run sheet; a friction factor in °F is 1.8 times one in K.",
        look: Run(see_units),
    }
}

fn see_units(run: &RunRecord) -> Vec<Seen> {
    if !is_log(run) {
        return Vec::new();
    }
    let mut found = Vec::new();
    let stated = |field: Field| run.metadata.number(field);
    for field in [
        Field::RoomTempC,
        Field::FlourTempC,
        Field::WaterTempC,
        Field::TapWaterTempC,
        Field::DoughTempC,
        Field::DoughTempBeforeC,
        Field::TargetDoughTempC,
    ] {
        if let Some(t) = stated(field).filter(|t| *t > 45.0) {
            let celsius = (t - 32.0) / 1.8;
            found.push(format!(
                "{field} {t:.0} °C: were it °F, it would be {celsius:.0} °C"
            ));
        }
    }
    if let Some(k) = stated(Field::FrictionFactorK).filter(|k| k.abs() > 25.0) {
        found.push(format!(
            "friction_factor_k {k:.0} K: were it in °F, it would be {:.0} K",
            k / 1.8
        ));
    }
    if let Some(g) = stated(Field::DoughG).filter(|g| *g < 100.0) {
        found.push(format!("dough_g {g} g: were it kg, it would be {g} kg"));
    }
    for (id, variant, low, high) in [
        ("mixer-log.peak_power", "", 1.0, 1e6),
        ("mixer-log.jet_pressure", "", 1.0, 1000.0),
        ("mixer-log.specific_energy", "gross", 0.1, 200.0),
    ] {
        let Some(read) = result(run, id, variant) else {
            continue;
        };
        let value = read.outcome.value_or_bound();
        if let Some(value) = value.filter(|v| *v > 0.0 && !(low..=high).contains(v)) {
            let name = read.metric.name;
            found.push(format!("{name} {value:.3} {}", read.unit));
        }
    }
    found.into_iter().map(Seen::new).collect()
}

/// The rules of this file, in report order.
pub static RULES: &[&Rule] = &[
    &STEPS_BACK,
    &GAP,
    &CUT_SHORT,
    &GROSS_POWER,
    &JET_SPEED,
    &JET_WATER,
    &NO_EFFICIENCY,
    &UNITS,
    &JET_CAUTION,
];
