//! Rules on what the archive knows: changed files, excluded runs, calibrations.

use super::{Rule, Seen, rule};
use crate::record::{Calibration, Day, RunRecord, iso_day};
use crate::schema::Field;

rule! {
    /// A file that bears a known name has the bytes it had before. Where it does not, both versions
    /// are kept, and the results are those of the version handed in last.
    CHANGED_FILE {
        id: "day.changed-file", title: "file changed since it was first taken in", level: Warn,
        revision: 1,
        source: ("ISO/IEC 17025", "7.5.2", Published),
        what_to_do: "Find out who changed the file and why. A fact that was wrong is corrected with `amend`, which keeps the earlier value; a raw file is not edited.",
        look: Day(see_changed_files),
    }
}

fn see_changed_files(day: &Day) -> Vec<Seen> {
    day.changed_files
        .iter()
        .map(|file| Seen {
            file: Some(file.name.clone()),
            ..Seen::new(format!(
                "SHA-256 is now {}, and was {} when a file of this name was last taken in; both are kept",
                file.sha256, file.earlier
            ))
        })
        .collect()
}

rule! {
    /// A run that a person excluded stays in every list with its reason; its numbers are rejected
    /// and enter no mean.
    EXCLUDED_RUN {
        id: "day.excluded-run", title: "run excluded by a person", level: Note, revision: 1,
        source: ("ISO/IEC 17025", "7.5.2", Published),
        what_to_do: "Nothing, if the reason holds; `amend --include` takes an exclusion back.",
        look: Day(see_excluded_runs),
    }
}

fn see_excluded_runs(day: &Day) -> Vec<Seen> {
    let all = day.runs.len();
    let used = day.runs.iter().filter(|run| run.excluded.is_none()).count();
    let excluded = day.runs.iter().enumerate();
    excluded
        .filter_map(|(index, run)| {
            let why = run.excluded.as_ref()?;
            Some(Seen {
                run: Some(index),
                ..Seen::new(format!(
                    "excluded by {} on {} (ledger line {}): {}; {used} of {all} runs used",
                    why.who, why.when, why.seq, why.reason
                ))
            })
        })
        .collect()
}

rule! {
    /// Where the archive holds calibrations of a run's instrument, one of them covers the day of
    /// the run: the day that the record states in the form YYYY-MM-DD, else the day on which the
    /// file was taken in.
    CALIBRATION {
        id: "day.calibration", title: "instrument without a valid calibration", level: Warn,
        revision: 1,
        source: ("ISO/IEC 17025", "6.4", FromMemoryHigh),
        what_to_do: "Have the instrument calibrated and enter the certificate with `calibrate`; until then use its numbers with that reservation.",
        look: Day(see_calibrations),
    }
}

fn see_calibrations(day: &Day) -> Vec<Seen> {
    day.runs
        .iter()
        .enumerate()
        .filter_map(|(index, run)| {
            Some(Seen {
                run: Some(index),
                ..Seen::new(lack_of_calibration(day, run)?)
            })
        })
        .collect()
}

fn lack_of_calibration(day: &Day, run: &RunRecord) -> Option<String> {
    let instrument = run.conditions.instrument_id.as_ref()?;
    let known: Vec<&Calibration> = day
        .calibrations
        .iter()
        .filter(|calibration| calibration.instrument == *instrument)
        .collect();
    if known.is_empty() {
        return None;
    }
    let stated = run.metadata.text(Field::StartedAt);
    let (on, how) = match stated.as_deref().and_then(iso_day) {
        Some(on) => (on, "the day of the run"),
        None => (iso_day(&day.taken_in_on)?, "the day the file was taken in"),
    };
    if known.iter().any(|c| covers(c, on)) {
        return None;
    }
    let last = known
        .iter()
        .filter(|c| c.on.as_str() <= on)
        .max_by(|a, b| a.due.cmp(&b.due));
    Some(match last {
        Some(last) => format!(
            "the calibration of {instrument} ({}) was due on {}; {on} is {how}",
            last.certificate, last.due
        ),
        None => format!("no calibration of {instrument} is from {on} or before, {how}"),
    })
}

fn covers(calibration: &Calibration, on: &str) -> bool {
    calibration.on.as_str() <= on && on <= calibration.due.as_str()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[&CHANGED_FILE, &EXCLUDED_RUN, &CALIBRATION];
