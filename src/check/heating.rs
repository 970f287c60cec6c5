//! Rules on heating runs: programme, set-points, make-up, the window of C1, noise, duplicates.

use super::{Rule, Seen, extremes, rule, strict_for_final};
use crate::record::{Day, Outcome, RunRecord};
use crate::schema::{Field, Purpose, Test};
use std::collections::BTreeMap;

fn is_heating(run: &RunRecord) -> bool {
    run.test == Test::Heating
}

rule! {
    /// C1 lies in 1.05–1.15 N m. A final run outside is rejected: its hydration is not the
    /// absorption, and all its torques are those of another dough. A titration run or a planned
    /// series is not judged by its level.
    C1_WINDOW {
        id: "heating.c1-window", title: "C1 outside 1.05–1.15 N m", level: Reject, revision: 1,
        source: ("ISO 17718", "first maximum", FromMemoryHigh),
        what_to_do: "Repeat the run with more water where C1 is too high, less where it is too low; two runs on either side of 1.10 N m give the absorption.",
        look: Run(see_c1),
    }
}

fn see_c1(run: &RunRecord) -> Vec<Seen> {
    let judged = !matches!(
        run.conditions.purpose,
        Some(Purpose::Titration | Purpose::Study)
    );
    let first = run.result("heating.c1").and_then(|r| r.outcome.value());
    let Some(c1) = first.filter(|_| is_heating(run) && judged) else {
        return Vec::new();
    };
    if (1.05..=1.15).contains(&c1) {
        return Vec::new();
    }
    let advice = if c1 > 1.15 { "more" } else { "less" };
    vec![
        Seen::new(format!(
            "C1 of {c1:.3} N m; a run for the absorption lies in 1.05–1.15 N m"
        ))
        .at_level(strict_for_final(run))
        .then(format!(
            "Repeat the run with {advice} water; two runs on either side of 1.10 N m give the absorption."
        )),
    ]
}

rule! {
    /// The dough is developed within the 8 min at 30 °C: C1 lies before their end.
    NOT_DEVELOPED {
        id: "heating.not-developed", title: "C1 not passed at 30 °C", level: Reject, revision: 1,
        source: ("ISO 17718", "first maximum", FromMemoryHigh),
        what_to_do: "Check flour and water; a dough that develops this slowly cannot be tested with this programme.",
        look: Run(see_not_developed),
    }
}

fn see_not_developed(run: &RunRecord) -> Vec<Seen> {
    let first = run.result("heating.c1").map(|r| &r.outcome);
    match first {
        Some(Outcome::Above(bound)) if is_heating(run) => vec![Seen::new(format!(
            "the torque still rises at the end of the 30 °C phase, at {bound:.3} N m"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The blades turn at 80 1/min, as recorded, else as stated; the tolerance of 1 1/min is a choice
    /// of this project.
    SPEED {
        id: "heating.speed", title: "speed off 80 1/min", level: Warn, revision: 1,
        source: ("ISO 17718", "set-points", FromMemoryHigh),
        what_to_do: "Have the drive set to 80 1/min and repeat the run.",
        look: Run(see_speed),
    }
}

fn see_speed(run: &RunRecord) -> Vec<Seen> {
    match run.facts.tool_speed_per_min.filter(|_| is_heating(run)) {
        Some(speed) if (speed - 80.0).abs() > 1.0 + 1e-9 => vec![Seen::new(format!(
            "speed of {speed:.1} 1/min; the limit is 80 ± 1 1/min"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The dough weighs 75 g: as stated, else flour and water together; the tolerance of 0.5 g is a
    /// choice of this project.
    DOUGH_MASS {
        id: "heating.dough-mass", title: "dough mass off 75 g", level: Warn, revision: 1,
        source: ("ISO 17718", "dough mass", FromMemoryHigh),
        what_to_do: "Weigh flour and water for 75 g of dough and repeat the run: torque grows with the mass in the bowl.",
        look: Run(see_mass),
    }
}

fn see_mass(run: &RunRecord) -> Vec<Seen> {
    let c = &run.conditions;
    let dosed = c.flour_g.zip(c.water_ml).map(|(f, w)| f + w);
    match c.dough_g.or(dosed).filter(|_| is_heating(run)) {
        Some(mass) if (mass - 75.0).abs() > 0.5 + 1e-9 => vec![Seen::new(format!(
            "dough of {mass:.1} g; the limit is 75 ± 0.5 g"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// Flour and water are those that the stated hydration and flour moisture ask for, to within
    /// 0.3 g each.
    MAKE_UP {
        id: "heating.make-up", title: "flour or water does not fit the hydration", level: Warn,
        revision: 1,
        source: ("mass balance of a dough of 75 g", "make-up", Derived),
        what_to_do: "Check hydration and its basis, flour moisture and the masses weighed; correct the statement that is wrong, or repeat the run.",
        look: Run(see_make_up),
    }
}

fn see_make_up(run: &RunRecord) -> Vec<Seen> {
    let c = &run.conditions;
    let wanted = |id| run.result(id).and_then(|r| r.outcome.value());
    let mut found = Vec::new();
    for (what, weighed, wanted) in [
        ("flour", c.flour_g, wanted("heating.flour_to_weigh")),
        ("water", c.water_ml, wanted("heating.water_to_weigh")),
    ] {
        if let Some((weighed, wanted)) = weighed.zip(wanted).filter(|_| is_heating(run))
            && (weighed - wanted).abs() > 0.3
        {
            found.push(Seen::new(format!(
                "{weighed:.2} g {what} weighed; hydration and moisture ask for {wanted:.2} g"
            )));
        }
    }
    found
}

rule! {
    /// The block follows the programme: 30 °C to within 1 °C in the first phase, 90 °C and 50 °C to
    /// within 2 °C in the hot and the last. The tolerances are choices of this project.
    PHASE_TEMPERATURE {
        id: "heating.phase-temperature", title: "block temperature off the programme", level: Warn,
        revision: 1,
        source: ("ISO 17718", "temperature programme", FromMemoryHigh),
        what_to_do: "Check the block's thermometer and its cooling water, and repeat the run.",
        look: Run(see_phases),
    }
}

fn see_phases(run: &RunRecord) -> Vec<Seen> {
    let Some(programme) = run.facts.programme.filter(|_| is_heating(run)) else {
        return Vec::new();
    };
    [
        ("first", programme.start_c, 30.0, 1.0),
        ("hot", programme.hot_c, 90.0, 2.0),
        ("last", programme.end_c, 50.0, 2.0),
    ]
    .into_iter()
    .filter_map(|(phase, found, wanted, within)| {
        let found = found.filter(|c| (c - wanted).abs() > within + 1e-9)?;
        Some(Seen::new(format!(
            "block at {found:.1} °C in the {phase} phase; the limit is {wanted:.0} ± {within:.0} °C"
        )))
    })
    .collect()
}

rule! {
    /// The block heats and cools at 4 °C/min, to within 0.2 °C/min over the middle of the phase. The
    /// tolerance is a choice of this project.
    HEATING_RATE {
        id: "heating.heating-rate", title: "heating or cooling rate off 4 °C/min", level: Warn,
        revision: 1,
        source: ("ISO 17718", "temperature programme", FromMemoryHigh),
        what_to_do: "Check the block's heater and cooling water, and repeat the run: points of the curve move with the rate.",
        look: Run(see_rate),
    }
}

fn see_rate(run: &RunRecord) -> Vec<Seen> {
    let Some(programme) = run.facts.programme.filter(|_| is_heating(run)) else {
        return Vec::new();
    };
    [
        ("heating", programme.heating_c_per_min, 4.0),
        ("cooling", programme.cooling_c_per_min, -4.0),
    ]
    .into_iter()
    .filter_map(|(phase, found, wanted)| {
        let rate: f64 = found.filter(|rate: &f64| (rate - wanted).abs() > 0.2 + 1e-9)?;
        Some(Seen::new(format!(
            "{phase} at {:.2} °C/min; the limit is 4 ± 0.2 °C/min",
            rate.abs()
        )))
    })
    .collect()
}

rule! {
    /// The record holds the temperature of the dough; that of the block runs ahead of it and is not
    /// given in its place.
    NO_DOUGH_TEMPERATURE {
        id: "heating.no-dough-temperature", title: "dough temperature not recorded", level: Note,
        revision: 1,
        source: ("ISO 17718", "points of the curve", FromMemoryHigh),
        what_to_do: "Let the instrument write the dough temperature beside the torque.",
        look: Run(see_no_dough),
    }
}

fn see_no_dough(run: &RunRecord) -> Vec<Seen> {
    let recorded = run.facts.programme.is_some_and(|p| p.dough_recorded);
    if !is_heating(run) || recorded {
        return Vec::new();
    }
    vec![Seen::new(
        "no dough temperature: D1 to D5 are not known".into(),
    )]
}

rule! {
    /// The record lasts the 45 min of the programme.
    RECORD_LENGTH {
        id: "heating.record-length", title: "record shorter than the programme", level: Warn,
        revision: 1,
        source: ("ISO 17718", "temperature programme", FromMemoryHigh),
        what_to_do: "Let the recorder run for the whole 45 min, and repeat the run.",
        look: Run(see_length),
    }
}

fn see_length(run: &RunRecord) -> Vec<Seen> {
    let short = run
        .result("heating.c5")
        .is_some_and(|r| matches!(&r.outcome, Outcome::NotComputable(why) if why.starts_with("record too short")));
    if !is_heating(run) || !short {
        return Vec::new();
    }
    vec![Seen::new(format!(
        "record of {:.1} min; the programme lasts 45 min",
        run.facts.duration_s / 60.0
    ))]
}

rule! {
    /// A minimum follows C3 before the cooling begins. Where none does, there is no C4, and neither
    /// breakdown, setback nor slope gamma.
    NO_C4 {
        id: "heating.no-c4", title: "C4 not reached", level: Note, revision: 1,
        source: ("ISO 17718", "points of the curve", FromMemoryHigh),
        what_to_do: "Nothing, where the flour has very little amylase; else look at the curve and the flour's amylase.",
        look: Run(see_no_c4),
    }
}

fn see_no_c4(run: &RunRecord) -> Vec<Seen> {
    match run.result("heating.c4").map(|r| &r.outcome) {
        Some(Outcome::NotReached(reason)) if is_heating(run) => vec![Seen::new(reason.clone())],
        _ => Vec::new(),
    }
}

rule! {
    /// The torque is sampled fast enough for the blades, and not in step with them: at 80 1/min,
    /// readings every 0.25, 0.5 or 1 s fall on the same three places of a turn again and again.
    SLOW_SAMPLING {
        id: "heating.slow-sampling", title: "sampled in step with the blades", level: Note,
        revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Set the recorder to five readings a second, or to 0.4 s.",
        look: Run(see_slow),
    }
}

fn see_slow(run: &RunRecord) -> Vec<Seen> {
    let facts = &run.facts;
    let unknown = run.result("heating.amplitude").is_some_and(
        |r| matches!(&r.outcome, Outcome::NotComputable(why) if why.starts_with("sampled every")),
    );
    if !is_heating(run) || !unknown {
        return Vec::new();
    }
    vec![Seen::new(format!(
        "sampled every {:.2} s: the amplitude cannot be known",
        facts.sampling_s
    ))]
}

rule! {
    /// The centre scatters about its smoothed line by at most 3 % of C1.
    NOISE {
        id: "heating.noise", title: "noisy curve", level: Warn, revision: 1,
        source: ("choice of this project: 3 %", "", ProjectChoice),
        what_to_do: "Look at the curve: check that the bowl is seated and clean and the torque sensor is tight; repeat the run.",
        look: Run(see_noise),
    }
}

fn see_noise(run: &RunRecord) -> Vec<Seen> {
    let scatter = run.facts.scatter.filter(|_| is_heating(run));
    match scatter.zip(run.facts.maximum.filter(|top| *top > 0.0)) {
        Some((scatter, top)) if scatter > 0.03 * top => vec![Seen::new(format!(
            "the centre scatters by {:.1} % of C1; the limit is 3 %",
            100.0 * scatter / top
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// C1 of duplicates (same flour, treatment, block and hydration) range over at most 0.05 N m,
    /// half the window. No published repeatability is known to this project.
    DUPLICATES {
        id: "heating.duplicates", title: "duplicates too far apart", level: Warn, revision: 1,
        source: ("choice of this project: 0.05 N m", "", ProjectChoice),
        what_to_do: "Make a further run at this hydration and look for the one that differs; never average a pair that does not agree.",
        look: Day(see_duplicates),
    }
}

/// Greatest range of C1 of duplicates, N m (project choice).
const DUPLICATE_NM: f64 = 0.05;

fn see_duplicates(day: &Day) -> Vec<Seen> {
    let mut groups: BTreeMap<_, Vec<(usize, f64)>> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate() {
        let c = &run.conditions;
        let first = run.result("heating.c1").and_then(|r| r.outcome.value());
        let hydration = run.metadata.text(Field::HydrationPct);
        if let (true, Some(sample), Some(first), Some(hydration)) =
            (is_heating(run), &c.sample_id, first, hydration)
        {
            let key = (
                sample.clone(),
                c.treatment.clone(),
                c.block.clone(),
                hydration,
            );
            groups.entry(key).or_default().push((index, first));
        }
    }
    groups
        .iter()
        .filter_map(|((sample, _, _, hydration), runs)| {
            let (low, high) = extremes(runs)?;
            (high.1 - low.1 > DUPLICATE_NM).then(|| Seen {
                run: Some(low.0.max(high.0)),
                ..Seen::new(format!(
                    "C1 of {} runs of flour {sample} at {hydration} % range from {:.3} to {:.3} N m; the limit is {DUPLICATE_NM} N m",
                    runs.len(), low.1, high.1
                ))
            })
        })
        .collect()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &C1_WINDOW,
    &NOT_DEVELOPED,
    &SPEED,
    &DOUGH_MASS,
    &MAKE_UP,
    &PHASE_TEMPERATURE,
    &HEATING_RATE,
    &RECORD_LENGTH,
    &NO_DOUGH_TEMPERATURE,
    &NO_C4,
    &SLOW_SAMPLING,
    &NOISE,
    &DUPLICATES,
];
