//! What people added to the record later: exclusions, calibrations, reviews, changed files.
//!
//! Each carries the ledger line that keeps it, who stated it and when, by their own statement.

use crate::schema::{Digest, InstrumentId};
use serde::Serialize;

/// A run that somebody excluded: it stays visible, and its numbers are rejected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Exclusion {
    /// Why.
    pub reason: String,
    /// By whom.
    pub who: String,
    /// When.
    pub when: String,
    /// Ledger line.
    pub seq: u64,
}

/// One calibration of one instrument.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Calibration {
    /// Instrument.
    pub instrument: InstrumentId,
    /// What was calibrated.
    pub what: String,
    /// Day of the calibration, YYYY-MM-DD.
    pub on: String,
    /// Last day on which it holds, YYYY-MM-DD.
    pub due: String,
    /// Name of the certificate file.
    pub certificate: String,
    /// SHA-256 of the certificate file.
    pub sha256: Digest,
    /// Who entered it.
    pub who: String,
    /// Ledger line.
    pub seq: u64,
}

/// What a second person said of a run, a day or a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Review {
    /// What was looked at, in words.
    pub of: String,
    /// Identifier of what was looked at.
    pub id: String,
    /// `prepared`, `checked` or `approved`.
    pub step: String,
    /// `accepted` or `returned`.
    pub outcome: String,
    /// Remark.
    pub note: String,
    /// By whom.
    pub who: String,
    /// When.
    pub when: String,
    /// Ledger line.
    pub seq: u64,
}

/// A file that came with other bytes than the file of the same name before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChangedFile {
    /// Name as found.
    pub name: String,
    /// SHA-256 of the bytes now.
    pub sha256: Digest,
    /// SHA-256 of the bytes before.
    pub earlier: Digest,
}

/// Returns the day that a text begins with, in the form YYYY-MM-DD; other forms could be read
/// more than one way and are not guessed.
pub fn iso_day(text: &str) -> Option<&str> {
    let day = text.trim().get(..10)?;
    let shape = day.bytes().enumerate().all(|(at, byte)| match at {
        4 | 7 => byte == b'-',
        _ => byte.is_ascii_digit(),
    });
    let within = |from: usize, to: usize, most: u32| {
        day.get(from..to)
            .and_then(|part| part.parse::<u32>().ok())
            .is_some_and(|value| (1..=most).contains(&value))
    };
    (shape && within(5, 7, 12) && within(8, 10, 31)).then_some(day)
}

#[cfg(test)]
mod tests {
    use super::iso_day;

    #[test]
    fn only_days_that_can_be_read_one_way_are_days() {
        assert_eq!(iso_day("2026-03-12 06:15"), Some("2026-03-12"));
        for text in ["12.03.2026", "2026-13-01", "2026-3-12", "", "03/12/2026 1"] {
            assert_eq!(iso_day(text), None, "{text}");
        }
    }
}
