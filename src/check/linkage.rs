//! Rules on who is who: run sheet, conflicts, names.

use super::{Rule, Seen, rule};
use crate::record::{Day, RunRecord};
use crate::schema::{Field, Level};
use std::collections::BTreeMap;

rule! {
    /// A day that has a run sheet has a line in it for every run.
    MISSING_SHEET_LINE {
        id: "day.missing-sheet-line", title: "run without a line in the run sheet", level: Warn,
        revision: 1,
        source: ("ISO/IEC 17025", "7.5.1", Published),
        what_to_do: "Add a line for this file to the run sheet (file, sample, dough, treatment), then process the day again.",
        look: Day(see_missing_lines),
    }
}

fn see_missing_lines(day: &Day) -> Vec<Seen> {
    if day.sheets.is_empty() {
        return Vec::new();
    }
    let missing = day
        .runs
        .iter()
        .enumerate()
        .filter(|(_, run)| !run.in_run_sheet);
    missing
        .map(|(index, run)| Seen {
            run: Some(index),
            ..Seen::new(format!("no line of the run sheet names {}", place(run)))
        })
        .collect()
}

fn place(run: &RunRecord) -> String {
    if run.selector.is_empty() {
        format!("file {}", run.file.name)
    } else {
        format!("curve {} of file {}", run.selector, run.file.name)
    }
}

rule! {
    /// Every line of a run sheet names a file (and curve) that the day holds.
    SHEET_LINE_WITHOUT_FILE {
        id: "day.sheet-line-without-file", title: "run-sheet line without its file", level: Warn,
        revision: 1,
        source: ("ISO/IEC 17025", "7.5.1", Published),
        what_to_do: "Copy the missing file into the day folder, or correct the name in the run sheet; names must match letter by letter.",
        look: Day(see_lines_without_file),
    }
}

fn see_lines_without_file(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for sheet in &day.sheets {
        for line in &sheet.lines {
            let known = day.runs.iter().any(|run| {
                sheet.speaks_of(line, &run.file.name)
                    && (line.curve.is_empty() || line.curve == run.selector)
            });
            // A file that could not be read has a message of its own.
            let unreadable = day
                .faults
                .iter()
                .any(|fault| sheet.speaks_of(line, &fault.file));
            if !known && !unreadable {
                let curve = if line.curve.is_empty() {
                    String::new()
                } else {
                    format!(", curve {}", line.curve)
                };
                found.push(Seen {
                    file: Some(sheet.file.name.clone()),
                    row: Some(line.line),
                    ..Seen::new(format!(
                        "the line names {}{curve}; the day has no such run",
                        line.file
                    ))
                });
            }
        }
    }
    found
}

rule! {
    /// File and run sheet state the same value of the same fact. Where they do not, the file's
    /// statement is used and both are kept. A difference in a value that enters a result (bowl,
    /// masses, moisture, procedure, purpose, water contact, line, full scale, markers) is a reject:
    /// the results stand as computed from the file's statement, and are not to be used until it is
    /// settled.
    CONFLICT {
        id: "day.conflict", title: "run sheet and file disagree", level: Warn, revision: 1,
        source: ("ISO/IEC 17025", "7.5.2", Published),
        what_to_do: "Find out which statement is right, correct the other, and process the day again.",
        look: Run(see_conflicts),
    }
}

fn see_conflicts(run: &RunRecord) -> Vec<Seen> {
    let enters_result = [
        Field::BowlG,
        Field::FlourMoisturePct,
        Field::FlourG,
        Field::WaterMl,
        Field::DoughG,
        Field::Procedure,
        Field::Purpose,
        Field::WaterContactS,
        Field::LineRule,
        Field::FullScale,
        Field::MarkersS,
        Field::EuPerCm,
        Field::RestMin,
    ];
    run.metadata
        .conflicts()
        .iter()
        .map(|conflict| {
            let level = if enters_result.contains(&conflict.field) {
                Level::Reject
            } else {
                Level::Warn
            };
            Seen::new(format!(
                "{} is {} in {} but {} in {}; the first is used",
                conflict.field,
                conflict.used.value,
                conflict.used.origin,
                conflict.other.value,
                conflict.other.origin
            ))
            .at_level(level)
        })
        .collect()
}

rule! {
    /// Every run of a day has a name of its own.
    REPEATED_RUN_NAME {
        id: "day.repeated-run-name", title: "two runs with one name", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Give each run its own name in the file or in the run sheet.",
        look: Day(see_repeated_names),
    }
}

fn see_repeated_names(day: &Day) -> Vec<Seen> {
    let mut first: BTreeMap<String, usize> = BTreeMap::new();
    let mut found = Vec::new();
    for (index, run) in day.runs.iter().enumerate() {
        let stated = run
            .metadata
            .text(Field::RunId)
            .unwrap_or_else(|| run.id.to_string());
        if let Some(earlier) = first.get(stated.as_str()) {
            found.push(Seen {
                run: Some(index),
                ..Seen::new(format!(
                    "run name {stated} already stands for {}",
                    place(&day.runs[*earlier])
                ))
            });
        } else {
            first.insert(stated, index);
        }
    }
    found
}

rule! {
    /// Everything in a readable file is understood: keys of its block, cells of a run sheet. What
    /// is not is passed over and named here. A line of a sheet that is passed over may leave a run
    /// without its dough, so it is a warning.
    PASSED_OVER {
        id: "day.passed-over", title: "something in a file was passed over", level: Note,
        revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Correct the place named, or add the key to the import profile.",
        look: Day(see_passed_over),
    }
}

fn see_passed_over(day: &Day) -> Vec<Seen> {
    day.notes
        .iter()
        .map(|note| {
            let in_sheet = day.sheets.iter().any(|sheet| sheet.file.name == note.file);
            let column = note
                .column
                .as_ref()
                .map(|c| format!("column `{c}`: "))
                .unwrap_or_default();
            Seen {
                file: Some(note.file.clone()),
                row: note.line,
                ..Seen::new(format!(
                    "{column}found {}; expected {}",
                    note.found, note.expected
                ))
            }
            .at_level(if in_sheet { Level::Warn } else { Level::Note })
            .then(note.remedy.clone())
        })
        .collect()
}

rule! {
    /// No two files of a day hold the same bytes: a copy is no second run, and must not stand as a
    /// duplicate of itself.
    SAME_BYTES {
        id: "day.same-bytes", title: "the same bytes under two names", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Remove the copy from the day folder, or replace it by the record that was meant.",
        look: Day(see_same_bytes),
    }
}

fn see_same_bytes(day: &Day) -> Vec<Seen> {
    let mut first: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    let mut found = Vec::new();
    for (index, run) in day.runs.iter().enumerate() {
        let key = (run.file.sha256.as_str(), run.selector.as_str());
        match first.get(&key) {
            Some(&earlier) if day.runs[earlier].file.name != run.file.name => found.push(Seen {
                run: Some(index),
                ..Seen::new(format!(
                    "{} holds the same bytes as {}",
                    place(run),
                    day.runs[earlier].file.name
                ))
            }),
            Some(_) => {}
            None => {
                first.insert(key, index);
            }
        }
    }
    found
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &PASSED_OVER,
    &MISSING_SHEET_LINE,
    &SHEET_LINE_WITHOUT_FILE,
    &CONFLICT,
    &SAME_BYTES,
    &REPEATED_RUN_NAME,
];
