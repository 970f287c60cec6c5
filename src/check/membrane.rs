//! Rules on graded membrane stretches: codebook, graders, photos, agreement.

use super::{Rule, Seen, rule};
use crate::record::{Day, Observation};
use crate::schema::Level;
use std::collections::{BTreeMap, BTreeSet};

fn is_graded(o: &Observation) -> bool {
    o.grade.is_some() || o.overmixed
}

/// Returns the graded lines of each sheet.
fn sheets(day: &Day) -> BTreeMap<&str, Vec<&Observation>> {
    let mut sheets: BTreeMap<&str, Vec<&Observation>> = BTreeMap::new();
    for o in day.observations.iter().filter(|o| is_graded(o)) {
        sheets.entry(o.file.name.as_str()).or_default().push(o);
    }
    sheets
}

/// Returns something seen in each sheet that holds lines `matches`: the words are given how many
/// of how many lines, and where.
fn see_lines(
    day: &Day,
    matches: impl Fn(&Observation) -> bool,
    words: impl Fn(&str) -> String,
) -> Vec<Seen> {
    let mut found = Vec::new();
    for (file, lines) in sheets(day) {
        let rows: Vec<u64> = lines
            .iter()
            .filter(|o| matches(o))
            .map(|o| o.rows.first)
            .collect();
        let Some(first) = rows.first() else { continue };
        let place = match rows.len() {
            1 => format!("1 of {} lines (line {first})", lines.len()),
            n => format!("{n} of {} lines (first: line {first})", lines.len()),
        };
        found.push(Seen {
            file: Some(file.to_owned()),
            row: Some(*first),
            ..Seen::new(words(&place))
        });
    }
    found
}

rule! {
    /// Each grade names the version of the codebook it refers to: no standard exists, and a grade
    /// without its codebook cannot be compared with another.
    NO_CODEBOOK {
        id: "membrane.no-codebook", title: "grade without codebook version", level: Warn, revision: 1,
        source: ("codebook of this project", "", ProjectChoice),
        what_to_do: "Write the version of the codebook into the sheet, for example window-1.",
        look: Day(see_no_codebook),
    }
}

fn see_no_codebook(day: &Day) -> Vec<Seen> {
    see_lines(
        day,
        |o| o.codebook.is_none(),
        |place| format!("{place} state no codebook version"),
    )
}

rule! {
    /// Each grade names its grader.
    NO_GRADER {
        id: "membrane.no-grader", title: "grade without grader", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Write who graded into the sheet; a code does.",
        look: Day(see_no_grader),
    }
}

fn see_no_grader(day: &Day) -> Vec<Seen> {
    see_lines(
        day,
        |o| o.grader.is_none(),
        |place| format!("{place} name no grader"),
    )
}

rule! {
    /// Two people grade each piece: with one, nothing shows how much of a grade is the grader. A
    /// whole sheet by one grader is a warning, single pieces are a note.
    SINGLE_GRADER {
        id: "membrane.single-grader", title: "graded by one person", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Let a second person grade the same pieces under blind codes.",
        look: Day(see_single_grader),
    }
}

fn see_single_grader(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (file, lines) in sheets(day) {
        let graders: BTreeSet<Option<&str>> = lines.iter().map(|o| o.grader.as_deref()).collect();
        let mut pieces: BTreeMap<_, BTreeSet<Option<&str>>> = BTreeMap::new();
        for o in &lines {
            let time = o.mix_time_min.map(f64::to_bits);
            let rest = o.rest_min.map(f64::to_bits);
            let key = (o.batch_id.as_str(), o.piece.as_deref(), time, rest);
            pieces.entry(key).or_default().insert(o.grader.as_deref());
        }
        let alone = pieces.values().filter(|graders| graders.len() < 2).count();
        let (words, level) = match graders.len() {
            0 | 1 => (
                "the whole sheet was graded by one person: there is no agreement figure".to_owned(),
                Level::Warn,
            ),
            _ if alone == 0 => continue,
            _ => (
                format!(
                    "{alone} of {} pieces were graded by one person only",
                    pieces.len()
                ),
                Level::Note,
            ),
        };
        let seen = Seen {
            file: Some(file.to_owned()),
            ..Seen::new(words)
        };
        found.push(seen.at_level(level));
    }
    found
}

rule! {
    /// A photo of a membrane states its scale in pixels per millimetre, or nothing can be measured
    /// on it.
    PHOTO_WITHOUT_SCALE {
        id: "membrane.photo-without-scale", title: "photo without scale", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Put a scale bar into the picture and write px/mm into the sheet.",
        look: Day(see_no_scale),
    }
}

fn see_no_scale(day: &Day) -> Vec<Seen> {
    see_lines(
        day,
        |o| o.photo.is_some() && o.px_per_mm.is_none_or(|scale| scale <= 0.0),
        |place| format!("{place} name a photo without px/mm"),
    )
}

rule! {
    /// At least one piece in ten is shown to a grader once more under another code, so that the
    /// grader's own scatter is known.
    FEW_REPEATS {
        id: "membrane.few-repeats", title: "few blind repeats", level: Note, revision: 1,
        source: ("choice of this project: one in ten", "", ProjectChoice),
        what_to_do: "Show one piece in ten again under a new code, and note `blind repeat`.",
        look: Day(see_few_repeats),
    }
}

fn see_few_repeats(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (file, lines) in sheets(day) {
        let mut pieces: BTreeMap<_, BTreeMap<Option<&str>, usize>> = BTreeMap::new();
        for o in &lines {
            let time = o.mix_time_min.map(f64::to_bits);
            let rest = o.rest_min.map(f64::to_bits);
            let key = (o.batch_id.as_str(), o.piece.as_deref(), time, rest);
            let shown = pieces.entry(key).or_default();
            *shown.entry(o.grader.as_deref()).or_default() += 1;
        }
        let again = pieces
            .values()
            .filter(|by| by.values().any(|n| *n > 1))
            .count();
        if 10 * again < pieces.len() {
            found.push(Seen {
                file: Some(file.to_owned()),
                ..Seen::new(format!(
                    "{again} of {} pieces were shown again to the same grader; one in ten is wanted",
                    pieces.len()
                ))
            });
        }
    }
    found
}

rule! {
    /// Graders agree: an ordinal alpha of 0.80 and above is customarily read as good, 0.667 to
    /// 0.80 as tentative. Below 0.667 the grades do not bear a conclusion.
    LOW_AGREEMENT {
        id: "membrane.low-agreement", title: "graders disagree", level: Warn, revision: 1,
        source: ("Krippendorff, Content Analysis", "reliability", FromMemoryHigh),
        what_to_do: "Grade ten pieces together, settle the codebook's steps, and grade the sheet again under new codes.",
        look: Day(see_low_agreement),
    }
}

/// Customary bounds of alpha: tentative from here, good from here (from memory, high confidence).
const ALPHA_BOUNDS: (f64, f64) = (0.667, 0.80);

fn see_low_agreement(day: &Day) -> Vec<Seen> {
    let ordinal = day
        .grading
        .agreement
        .iter()
        .filter(|a| a.metric == "membrane.krippendorff_alpha" && a.variant == "ordinal");
    let mut found = Vec::new();
    for (summary, file) in ordinal.filter_map(|a| Some((a, a.file.as_ref()?))) {
        let Some(alpha) = summary.outcome.value().filter(|v| *v < ALPHA_BOUNDS.1) else {
            continue;
        };
        let (reading, level) = if alpha < ALPHA_BOUNDS.0 {
            ("too low to conclude from", Level::Warn)
        } else {
            ("tentative", Level::Note)
        };
        let seen = Seen {
            file: Some(file.clone()),
            ..Seen::new(format!(
                "alpha of {} is {alpha:.2} over {} pieces: {reading}",
                summary.graders.join(", "),
                summary.pieces
            ))
        };
        found.push(seen.at_level(level));
    }
    found
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &NO_CODEBOOK,
    &NO_GRADER,
    &SINGLE_GRADER,
    &PHOTO_WITHOUT_SCALE,
    &FEW_REPEATS,
    &LOW_AGREEMENT,
];
