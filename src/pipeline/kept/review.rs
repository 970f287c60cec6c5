//! Second persons, calibrations and seals: what people add to the ledger beside measurements.

use super::super::ProcessError;
use super::super::rederive::CERTIFICATES;
use super::keeper::Keeper;
use super::known::{Known, REPORT_KIND, RUN_KIND, instrument_key, series_key};
use super::place::find_archive;
use crate::archive::{Action, Archive, Item, NewFile, SealKey};
use crate::record::iso_day;
use crate::schema::InstrumentId;
use serde_json::json;
use std::path::Path;

/// Who enters something into which archive, when and why.
#[derive(Debug, Clone, Copy)]
pub struct Hand<'a> {
    /// Archive, or output folder that holds one.
    pub archive: &'a Path,
    /// Person.
    pub who: &'a str,
    /// Time, as records state it.
    pub when: &'a str,
    /// Reason or remark.
    pub reason: &'a str,
}

/// Enters a review of a run, a report, or a day; returns the ledger line and what was reviewed.
/// The remark is the hand's reason.
///
/// # Errors
/// [`ProcessError::Request`] when nothing is called `of`.
pub fn review(
    hand: &Hand<'_>,
    of: &str,
    step: &str,
    outcome: &str,
) -> Result<(u64, String), ProcessError> {
    let folder = find_archive(hand.archive)?;
    let mut keeper = Keeper::open(&folder, hand.who, hand.when)?;
    let (item, words) = subject(&keeper.known, of)?;
    let mut event = keeper.event(Action::Review);
    event.inputs.push(item);
    event.parameters = json!({
        "of": words, "step": step, "outcome": outcome, "note": hand.reason,
    });
    let committed = keeper.commit(event, Vec::new())?;
    Ok((committed.seq, words))
}

fn subject(known: &Known, of: &str) -> Result<(Item, String), ProcessError> {
    let long = of.len() >= 8;
    let report = known
        .reports
        .iter()
        .rfind(|r| r.id == of || (long && r.id.starts_with(of)));
    if let Some(report) = report {
        let words = format!(
            "report {} of {}, version {}",
            report.id, report.series, report.version
        );
        return Ok((Item::with_id(REPORT_KIND, &report.id), words));
    }
    if known.reports.iter().any(|r| r.series == of) {
        return Ok((Item::with_id("day", &series_key(of)), format!("day {of}")));
    }
    let mut keys: Vec<(&str, &str)> = known
        .current()
        .filter(|line| line.name == of || (long && line.key.starts_with(of)))
        .map(|line| (line.key.as_str(), line.name.as_str()))
        .collect();
    keys.sort_unstable();
    keys.dedup();
    match keys.as_slice() {
        [(key, name)] => {
            let mut item = Item::with_id(RUN_KIND, key);
            item.name = Some((*name).to_owned());
            Ok((item, format!("run {name}")))
        }
        [] => Err(ProcessError::Request(format!(
            "nothing is called `{of}`; give a run, a report's identifier, or the name of a day folder"
        ))),
        many => Err(ProcessError::Request(format!(
            "{} runs are called `{of}`; give the identifier of the one you mean: {}",
            many.len(),
            many.iter()
                .map(|(key, _)| *key)
                .collect::<Vec<_>>()
                .join(", ")
        ))),
    }
}

/// A calibration to be entered.
#[derive(Debug, Clone)]
pub struct NewCalibration<'a> {
    /// Instrument, as runs name it.
    pub instrument: &'a str,
    /// What was calibrated.
    pub what: &'a str,
    /// Day of it, YYYY-MM-DD.
    pub on: &'a str,
    /// Last day on which it holds, YYYY-MM-DD.
    pub due: &'a str,
    /// Certificate file.
    pub certificate: &'a Path,
}

/// Enters a calibration with its certificate; returns the ledger line.
///
/// # Errors
/// [`ProcessError::Request`] when a day is none, or the certificate cannot be read.
pub fn calibrate(hand: &Hand<'_>, new: &NewCalibration<'_>) -> Result<u64, ProcessError> {
    for (name, day) in [("--on", new.on), ("--due", new.due)] {
        if iso_day(day) != Some(day) {
            return Err(ProcessError::Request(format!(
                "{name}: found `{day}`, expected a day as YYYY-MM-DD"
            )));
        }
    }
    if new.due < new.on {
        return Err(ProcessError::Request(format!(
            "--due: {} is before --on {}",
            new.due, new.on
        )));
    }
    let instrument = InstrumentId::new(new.instrument)
        .map_err(|e| ProcessError::Request(format!("instrument: {e}")))?;
    let bytes = std::fs::read(new.certificate)
        .map_err(ProcessError::file("read certificate", new.certificate))?;
    let file = new
        .certificate
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let folder = find_archive(hand.archive)?;
    let mut keeper = Keeper::open(&folder, hand.who, hand.when)?;
    let mut event = keeper.event(Action::Calibrate);
    event.inputs.push(Item::with_id(
        "instrument",
        &instrument_key(instrument.as_str()),
    ));
    event.parameters = json!({
        "instrument": instrument, "what": new.what, "on": new.on, "due": new.due,
        "note": hand.reason,
    });
    let certificate = NewFile::raw(&format!("{CERTIFICATES}{file}"), bytes);
    Ok(keeper.commit(event, vec![certificate])?.seq)
}

/// Signs the ledger's head; returns the line of the seal and the public key's digits.
///
/// # Errors
/// [`ProcessError`] when the key file holds no key, or the archive cannot be written.
pub fn seal(hand: &Hand<'_>, key_file: &Path) -> Result<(u64, String), ProcessError> {
    let folder = find_archive(hand.archive)?;
    // What cannot be relied on is not signed.
    let chain = crate::archive::verify_chain(&Archive::at(&folder), &Default::default())?;
    if let Some(first) = chain.first() {
        return Err(ProcessError::Kept(Box::new(first.fault.clone())));
    }
    let text =
        std::fs::read_to_string(key_file).map_err(ProcessError::file("read key", key_file))?;
    let key = SealKey::from_pem(&text)?;
    let mut keeper = Keeper::open(&folder, hand.who, hand.when)?;
    let committed = keeper.seal(&key)?;
    Ok((committed.seq, key.public().to_hex()))
}
