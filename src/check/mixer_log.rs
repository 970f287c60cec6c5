//! Rules on the dough of a process log: temperature, mass balance, boundary of its totals.

use super::mixer_log_signal::{is_log, result, value};
use super::{Rule, Seen, rule};
use crate::record::{Day, Outcome, RunGroup, RunRecord};
use crate::schema::{Field, Level, Test};
use std::collections::BTreeMap;

rule! {
    /// The dough ends within 1 °C of the temperature aimed at.
    DOUGH_TEMPERATURE {
        id: "mixer-log.dough-temperature", title: "dough temperature off target", level: Warn, revision: 1,
        source: ("common practice: 1 °C", "", CommonPractice),
        what_to_do: "Take the water at the temperature that the balance gives for the target (water temperature for the target), with ice where it is colder than the tap; compare this dough only with doughs of its temperature.",
        look: Run(see_dough_temperature),
    }
}

/// Greatest difference from the target, K (common practice, no source).
const TARGET_LIMIT_K: f64 = 1.0;

fn see_dough_temperature(run: &RunRecord) -> Vec<Seen> {
    let target = run.metadata.number(Field::TargetDoughTempC);
    let found = run.metadata.number(Field::DoughTempC);
    match found.zip(target).filter(|_| is_log(run)) {
        Some((found, target)) if (found - target).abs() > TARGET_LIMIT_K + 1e-9 => {
            let wanted = value(run, "mixer-log.water_temperature", "balance");
            let advice = wanted.map_or(String::new(), |c| {
                format!("; the balance asks for water of {c:.1} °C")
            });
            vec![Seen::new(format!(
                "the dough ended at {found:.1} °C, aimed at were {target:.1} ± {TARGET_LIMIT_K:.0} °C{advice}"
            ))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// The measured dough temperature is what the heat balance gives, within its 95 % interval and
    /// 1 K. Beyond, a temperature, the work, the loss or the heat of hydration is not what was
    /// stated.
    HEAT_BALANCE {
        id: "mixer-log.heat-balance", title: "measured rise off the heat balance", level: Warn, revision: 1,
        source: ("heat balance", "dough temperature", Derived),
        what_to_do: "Check thermometer and masses; if they are right and the difference returns with this mixer, state its loss (heat_loss_pct), and the heat of hydration of the flour with its basis.",
        look: Run(see_heat_balance),
    }
}

/// Least difference from the balance that is told, K (project choice).
const BALANCE_LIMIT_K: f64 = 1.0;

fn see_heat_balance(run: &RunRecord) -> Vec<Seen> {
    if !is_log(run) {
        return Vec::new();
    }
    let basis = match run.metadata.text(Field::HeatOfHydrationBasis).as_deref() {
        Some("dough") => "dough",
        _ => "flour",
    };
    let excess = result(run, "mixer-log.predicted_less_measured", basis);
    let Some(excess) = excess.and_then(|r| r.outcome.estimate()) else {
        return Vec::new();
    };
    let outside = excess.low() > 0.0 || excess.high() < 0.0;
    if !outside || excess.value().abs() <= BALANCE_LIMIT_K {
        return Vec::new();
    }
    let rise = value(run, "mixer-log.measured_rise", "").unwrap_or(0.0);
    vec![Seen::new(format!(
        "the dough warmed by {rise:.1} K; the balance gives {:.1} K ({:+.1} K, 95 % {:+.1} to {:+.1} K; heat of hydration on {basis})",
        rise + excess.value(),
        excess.value(),
        excess.low(),
        excess.high()
    ))]
}

rule! {
    /// The moisture measured on the dough is that of what was dosed, within 0.5 percentage points.
    /// Where it is not, the measured one counts: water was lost on the way, or not all was dosed.
    MOISTURE_LOSS {
        id: "mixer-log.moisture-loss", title: "dough moisture off the mass balance", level: Warn, revision: 1,
        source: ("mass balance, 0.5 points", "dough moisture", ProjectChoice),
        what_to_do: "Look for leaks, spray and open lids, and for salt or other ingredients not stated; use the measured moisture for this dough.",
        look: Run(see_moisture_loss),
    }
}

/// Greatest loss of moisture, percentage points (HANDBOOK 19).
const LOSS_POINTS: f64 = 0.5;

fn see_moisture_loss(run: &RunRecord) -> Vec<Seen> {
    let loss = value(run, "mixer-log.moisture_loss", "");
    match loss.filter(|_| is_log(run)) {
        Some(loss) if loss.abs() > LOSS_POINTS => {
            let of = |variant| value(run, "mixer-log.dough_moisture", variant).unwrap_or(0.0);
            let what = if loss > 0.0 { "lost" } else { "gained" };
            vec![Seen::new(format!(
                "dosed {:.1} %, measured {:.1} %: {:.1} points {what}",
                of("dosed"),
                of("measured"),
                loss.abs()
            ))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// Energies of a dough are compared on one stated boundary, every stage of which has a log.
    BOUNDARY {
        id: "mixer-log.boundary", title: "energy boundary incomplete", level: Warn, revision: 1,
        source: ("energy balance", "one boundary for all", Derived),
        what_to_do: "State energy_boundary alike for all logs of the dough (such as `flour to dough: jet + after-mix`), and add the log of each stage that is missing; until then there is no total.",
        look: Day(see_boundary),
    }
}

fn log_groups(day: &Day) -> impl Iterator<Item = &RunGroup> {
    day.groups.iter().filter(|g| g.test == Test::MixerLog)
}

fn first_member(day: &Day, group: &RunGroup) -> Option<usize> {
    let first = group.members.first()?;
    day.runs.iter().position(|run| run.key() == *first)
}

fn see_boundary(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for group in log_groups(day) {
        let total = group
            .results
            .iter()
            .find(|r| r.metric.id == "mixer-log.dough_total_energy" && r.variant == "delivered");
        let Some(reason) = total.and_then(|r| r.outcome.reason()) else {
            continue;
        };
        let seen = Seen {
            run: first_member(day, group),
            ..Seen::new(format!("{}: no total energy: {reason}", group.name))
        };
        // Nobody need state a boundary where nothing is to be compared.
        let level = match reason.starts_with("energy_boundary not stated") {
            true => Level::Note,
            false => Level::Warn,
        };
        found.push(seen.at_level(level));
    }
    found
}

rule! {
    /// The doughs of a day have one boundary for their energies, by its name. Totals on unlike
    /// boundaries say nothing about each other.
    UNLIKE_BOUNDARIES {
        id: "mixer-log.unlike-boundaries", title: "energies on unlike boundaries", level: Warn, revision: 1,
        source: ("energy balance", "one boundary for all", Derived),
        what_to_do: "Give the boundary one name from the same beginning to the same end, and list under it the stages that each process has there: `flour to dough: mixing`, `flour to dough: jet + after-mix`.",
        look: Day(see_unlike_boundaries),
    }
}

fn see_unlike_boundaries(day: &Day) -> Vec<Seen> {
    let mut doughs: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for group in log_groups(day) {
        let totals = group.results.iter().filter(|r| {
            r.metric.id == "mixer-log.dough_total_energy"
                && matches!(r.outcome, Outcome::Exact(_) | Outcome::Above(_))
        });
        if let Some(name) = totals.filter_map(|r| r.parameter("boundary")).next() {
            doughs.entry(name).or_default().push(&group.name);
        }
    }
    if doughs.len() < 2 {
        return Vec::new();
    }
    let parts: Vec<String> = doughs
        .iter()
        .map(|(name, list)| format!("`{name}` ({} doughs)", list.len()))
        .collect();
    vec![Seen::new(format!(
        "the total energies stand on {} boundaries: {}",
        doughs.len(),
        parts.join(", ")
    ))]
}

/// The rules of this file, in report order.
pub static RULES: &[&Rule] = &[
    &DOUGH_TEMPERATURE,
    &HEAT_BALANCE,
    &MOISTURE_LOSS,
    &BOUNDARY,
    &UNLIKE_BOUNDARIES,
];
