//! From raw bytes and a profile to records: the only place where text becomes numbers and where
//! units change inward.
//!
//! This room is given bytes and a name, never a path. It reads strictly: a cell that is no number
//! under the marks that the profile declares stops the file with a located
//! [`Fault`]; nothing is guessed cell by cell. What it cannot use but need
//! not refuse it hands back as notes.

mod curves;
mod desk;
mod fit;
mod head;
mod lines;
mod number;
mod observations;
mod preamble;
mod sheet;
mod statement;
mod text;
mod traces;
mod wide;

pub use fit::{Fit, FitReason, Point, explain_fit, select};
pub use head::{Head, head};

use crate::profile::{Arrangement, Form, Profile};
use crate::record::{Fault, Observation, RawFile, RowRange, Run, RunSheet};
use desk::Desk;

/// Returns the lines `rows` of a file as text, with their numbers, decoded as `profile` says.
///
/// # Errors
/// A [`Fault`] when the bytes are not in the profile's encoding.
pub fn raw_lines(
    file: &str,
    bytes: &[u8],
    profile: &Profile,
    rows: RowRange,
) -> Result<Vec<(u64, String)>, Fault> {
    let text = text::decode(file, bytes, profile.text.encoding)?;
    Ok(lines::Lines::of(&text)
        .skip_while(|line| line.number < rows.first)
        .take_while(|line| line.number <= rows.last)
        .map(|line| (line.number, line.text().to_owned()))
        .collect())
}

/// What a file held.
#[derive(Debug, Clone)]
pub enum Records {
    /// Runs with their curves, in the order of the file; at least one.
    Curves(Vec<Run>),
    /// A run sheet.
    Sheet(RunSheet),
    /// Observations, in the order of the file.
    Observations(Vec<Observation>),
}

/// What was read from a file.
#[derive(Debug, Clone)]
pub struct Intake {
    /// The records.
    pub records: Records,
    /// What was passed over, each with its place and what to do; nothing in it stops the file.
    pub notes: Vec<Fault>,
}

/// Returns the records in `bytes`, the content of `file`, as `profile` says they are written.
///
/// Times come out in s, lengths in mm, temperatures in °C, ordinates in the canonical unit of
/// their quantity, facts in the unit of their field.
///
/// # Errors
/// A [`Fault`] with file, line, column, found, expected and remedy at the first thing that the
/// profile does not allow. A faulty line of a run sheet or observation sheet is no error but a
/// note: the other lines are kept.
pub fn read(file: RawFile, bytes: &[u8], profile: &Profile) -> Result<Intake, Fault> {
    let text = text::decode(&file.name, bytes, profile.text.encoding)?;
    let desk = Desk::new(&file, profile);
    match &profile.form {
        Form::Curves(form) => match &form.arrangement {
            Arrangement::One => curves::read_one(&desk, form, &text),
            Arrangement::Stacked { starts_with } => {
                curves::read_stacked(&desk, form, starts_with, &text)
            }
            Arrangement::SideBySide => wide::read_wide(&desk, form, &text),
        },
        Form::RunSheet(columns) => sheet::read_run_sheet(&desk, columns, &text),
        Form::ObservationSheet(columns) => observations::read_observations(&desk, columns, &text),
    }
}
