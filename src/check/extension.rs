//! Rules on stretched pieces: clamp, rest, rupture, area of the pieces of a dough.

use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::{AREA_LIMIT_PCT, Day, RunRecord, piece_groups};
use crate::schema::{Axis, Field, Status, Test};

fn is_extension(run: &RunRecord) -> bool {
    run.test == Test::Extension
}

fn stated_break(run: &RunRecord) -> Option<String> {
    run.metadata.text(Field::Break)
}

fn failed_at_clamp(run: &RunRecord) -> bool {
    matches!(stated_break(run).as_deref(), Some("slipped" | "clamp"))
}

rule! {
    /// A piece tears in the middle: what was read of one that slipped or tore at its clamp does not
    /// show the dough and is rejected.
    BREAK {
        id: "extension.break", title: "piece slipped or tore at the clamp", level: Reject, revision: 1,
        source: ("ISO 5530-2", "replicates", FromMemoryMedium),
        what_to_do: "Stretch another piece of the same dough at the same rest; wet or regrease the clamps as your procedure says.",
        look: Run(see_break),
    }
}

fn see_break(run: &RunRecord) -> Vec<Seen> {
    if !is_extension(run) {
        return Vec::new();
    }
    let words = match stated_break(run).as_deref() {
        Some("slipped") => "the piece slipped in its clamp",
        Some("clamp") => "the piece tore at the clamp",
        _ => return Vec::new(),
    };
    let seen = Seen::new(format!("{words}; none of its results is used"));
    let origin = run.metadata.statement(Field::Break).map(|s| &s.origin);
    vec![match origin {
        Some(crate::record::Origin::File { line }) => seen.at_row(*line),
        _ => seen,
    }]
}

rule! {
    /// A piece loses no load suddenly before it tears: a loss of more than a tenth of the maximum
    /// within 2 mm, in a piece whose file names no fault, looks like a slip.
    SUDDEN_LOSS {
        id: "extension.sudden-loss", title: "sudden loss of load before rupture", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Look at the curve and the piece; if it slipped, state `break: slipped` and stretch another piece.",
        look: Run(see_sudden_loss),
    }
}

fn see_sudden_loss(run: &RunRecord) -> Vec<Seen> {
    match run.facts.sudden_loss {
        Some((index, share)) if is_extension(run) && !failed_at_clamp(run) => {
            let line = run.lines.line(index);
            vec![
                Seen::new(format!(
                    "{:.0} % of the maximum is lost within 2 mm, long before rupture",
                    100.0 * share
                ))
                .at_row(line),
            ]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// Each reading of an extension curve lies further along the abscissa than the one before, or
    /// at the same place. A record that steps back is not read at all.
    STEPS_BACK {
        id: "extension.steps-back", title: "abscissa steps back", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the record again from the instrument; if two records run together in it, separate them.",
        look: Run(see_steps_back),
    }
}

fn see_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_extension(run), |line, count| {
        format!("abscissa steps back {count}×, first at line {line}")
    })
}

rule! {
    /// The record shows the rupture. Where it ends before, extensibility and energy are only known
    /// to be larger.
    NOT_TORN {
        id: "extension.not-torn", title: "record ends before rupture", level: Warn, revision: 1,
        source: ("ISO 5530-2", "extensibility", FromMemoryHigh),
        what_to_do: "Let the recorder run until the hook is free, and stretch another piece.",
        look: Run(see_not_torn),
    }
}

fn see_not_torn(run: &RunRecord) -> Vec<Seen> {
    let torn = run.facts.rupture_mm.is_some() || run.facts.contact_mm.is_none();
    if !is_extension(run) || torn || failed_at_clamp(run) {
        return Vec::new();
    }
    vec![Seen::new(
        "the force does not fall by half of its maximum before the record ends".into(),
    )]
}

rule! {
    /// A piece stretches beyond 50 mm; one that tears before has no resistance at 50 mm, and says
    /// more about how it was shaped than about the dough.
    SHORT {
        id: "extension.short", title: "extensibility below 50 mm", level: Warn, revision: 1,
        source: ("ISO 5530-2", "resistance to constant deformation", FromMemoryHigh),
        what_to_do: "Look for a seam, dry skin or a cut in the piece, and stretch another of the same dough and rest.",
        look: Run(see_short),
    }
}

fn see_short(run: &RunRecord) -> Vec<Seen> {
    let extensibility = run
        .result("extension.extensibility")
        .and_then(|r| r.outcome.value());
    match extensibility {
        Some(e) if is_extension(run) && e < 50.0 => vec![Seen::new(format!(
            "the piece tore at {e:.0} mm; there is no resistance at 50 mm"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// A piece rests as long as planned, to within 2 min: resistance rises and extensibility falls
    /// with rest.
    REST_TIME {
        id: "extension.rest-time", title: "rest off the plan", level: Warn, revision: 1,
        source: ("choice of this project: 2 min", "", ProjectChoice),
        what_to_do: "Do not compare this piece with others of the planned rest; stretch the next pieces on time.",
        look: Run(see_rest),
    }
}

/// Greatest difference of a rest from its plan, min (project choice).
const REST_LIMIT_MIN: f64 = 2.0;

fn see_rest(run: &RunRecord) -> Vec<Seen> {
    let rest = run.metadata.number(Field::RestMin);
    let planned = run.metadata.number(Field::RestTargetMin);
    match rest.zip(planned).filter(|_| is_extension(run)) {
        Some((rest, planned)) if (rest - planned).abs() > REST_LIMIT_MIN + 1e-9 => {
            vec![Seen::new(format!(
                "rested {rest:.0} min instead of {planned:.0} min; the limit is {REST_LIMIT_MIN:.0} min"
            ))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// A stretched piece states its rest.
    REST_NOT_STATED {
        id: "extension.rest-not-stated", title: "rest not stated", level: Warn, revision: 1,
        source: ("ISO 5530-2", "procedure", FromMemoryHigh),
        what_to_do: "Write the rest into the run sheet (rest_min, and rest_target_min for the plan).",
        look: Run(see_no_rest),
    }
}

fn see_no_rest(run: &RunRecord) -> Vec<Seen> {
    if !is_extension(run) || run.metadata.number(Field::RestMin).is_some() {
        return Vec::new();
    }
    vec![Seen::new(
        "neither the file nor the run sheet states the rest: the piece cannot be compared".into(),
    )]
}

rule! {
    /// A record over chart millimetres states the recorder's ordinate scale in EU per cm; without
    /// it there is no area in cm², while the work in J needs no scale.
    NO_SCALE {
        id: "extension.no-scale", title: "ordinate scale not stated", level: Note, revision: 1,
        source: ("ISO 5530-2", "energy", Derived),
        what_to_do: "State the scale of the recorder's chart in the run sheet (eu_per_cm).",
        look: Run(see_no_scale),
    }
}

fn see_no_scale(run: &RunRecord) -> Vec<Seen> {
    let on_chart = is_extension(run) && run.facts.axis == Some(Axis::ChartMm);
    if !on_chart || failed_at_clamp(run) || run.metadata.number(Field::EuPerCm).is_some() {
        return Vec::new();
    }
    vec![Seen::new(
        "no EU per cm: the energy is given in J only, not as chart area".into(),
    )]
}

rule! {
    /// The cabinet or thermostat of the rested pieces stands at 30 ± 0.2 °C.
    THERMOSTAT {
        id: "extension.thermostat", title: "thermostat off 30 °C", level: Warn, revision: 1,
        source: ("ISO 5530-2", "apparatus", FromMemoryHigh),
        what_to_do: "Let the cabinet settle at 30 ± 0.2 °C and check it with a calibrated thermometer.",
        look: Run(see_thermostat),
    }
}

fn see_thermostat(run: &RunRecord) -> Vec<Seen> {
    match run.conditions.thermostat_c.filter(|_| is_extension(run)) {
        Some(t) if (t - 30.0).abs() > 0.2 + 1e-9 => vec![Seen::new(format!(
            "thermostat at {t:.1} °C; the limit is 30 ± 0.2 °C"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The areas of the pieces of one dough at one rest lie within 15 % of their mean; else the
    /// test is repeated and the pieces are not averaged.
    AREAS_APART {
        id: "extension.areas-apart", title: "areas of the pieces too far apart", level: Reject, revision: 1,
        source: ("ISO 5530-2", "replicates", FromMemoryMedium),
        what_to_do: "Repeat the test with two new pieces of the dough; do not average these.",
        look: Day(see_areas_apart),
    }
}

fn see_areas_apart(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for group in piece_groups(&day.runs) {
        let deviations = group.area_deviations_pct();
        let worst = deviations
            .iter()
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        let Some((_, off)) = worst.filter(|(_, off)| off.abs() > AREA_LIMIT_PCT) else {
            continue;
        };
        let names: Vec<&str> = deviations
            .iter()
            .filter_map(|(index, _)| day.runs.get(*index))
            .map(|run| run.id.as_str())
            .collect();
        found.push(Seen {
            run: deviations.last().map(|(index, _)| *index),
            ..Seen::new(format!(
                "areas of {} lie up to {:.0} % from their mean; the limit is {AREA_LIMIT_PCT:.0} %",
                names.join(" and "),
                off.abs()
            ))
        });
    }
    found
}

rule! {
    /// The result of a dough at one rest is the mean of two pieces; with one usable piece there is
    /// no mean, and nothing shows whether the piece was typical.
    ONE_PIECE {
        id: "extension.one-piece", title: "one usable piece", level: Warn, revision: 1,
        source: ("ISO 5530-2", "replicates", FromMemoryMedium),
        what_to_do: "Stretch a second piece of this dough at this rest.",
        look: Day(see_one_piece),
    }
}

fn see_one_piece(day: &Day) -> Vec<Seen> {
    let usable = |run: &RunRecord| {
        let outcome = run
            .result("extension.extensibility")
            .map(|r| r.outcome.status());
        !matches!(outcome, None | Some(Status::Rejected))
    };
    let mut found = Vec::new();
    for group in piece_groups(&day.runs) {
        let mut kept = group.pieces.iter().filter(|(_, run)| usable(run));
        let (Some((index, run)), None) = (kept.next(), kept.next()) else {
            continue;
        };
        let rest = group.rest_min.map_or(String::new(), |rest| {
            format!(" after {rest:.0} min of rest")
        });
        found.push(Seen {
            run: Some(*index),
            ..Seen::new(format!(
                "{} is the only usable piece of {} stretched{rest}",
                run.id,
                group.pieces.len()
            ))
        });
    }
    found
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &STEPS_BACK,
    &BREAK,
    &SUDDEN_LOSS,
    &NOT_TORN,
    &SHORT,
    &AREAS_APART,
    &ONE_PIECE,
    &REST_TIME,
    &REST_NOT_STATED,
    &NO_SCALE,
    &THERMOSTAT,
];
