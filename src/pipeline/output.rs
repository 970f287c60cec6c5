//! The output folder: written beside its place and put there as a whole.

use super::discover::is_earlier_output;
use super::kept::{
    ARCHIVE, ReportStamp, is_archive, parent_of, part_prefix, put_back, refuse_buried_archive,
    remove_without_archive,
};
use super::{Plan, ProcessError};
use crate::record::describe;
use crate::record::tables::{BATCHES, FINDINGS, OBSERVATIONS, RESULTS, RUNS, SAMPLES};
use crate::record::{Day, Fault, Finding, MetricResult, RunRecord};
use crate::report::{DaySummary, Skipped};
use crate::schema::{Digest, Table};
use crate::table;
use serde::Serialize;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// A folder under construction; it takes the place of the output folder when it is complete.
#[derive(Debug)]
pub(super) struct Staging {
    folder: PathBuf,
    out: PathBuf,
    written: Mutex<Vec<WrittenFile>>,
}

/// A file of the output, as the manifest lists it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub(super) struct WrittenFile {
    path: String,
    sha256: String,
    bytes: u64,
}

impl WrittenFile {
    /// Returns its path in the output.
    pub(super) fn path(&self) -> &str {
        &self.path
    }
}

impl Staging {
    /// Returns an empty folder beside `out`.
    ///
    /// # Errors
    /// [`ProcessError`] when `out` holds files that are no earlier output, or nothing can be
    /// written there.
    pub(super) fn open(out: &Path) -> Result<Staging, ProcessError> {
        if out.exists() && !is_earlier_output(out) && !holds_only_archive(out)? {
            return Err(ProcessError::ForeignOutput(out.display().to_string()));
        }
        let parent = parent_of(out);
        std::fs::create_dir_all(&parent).map_err(ProcessError::file("make folder", &parent))?;
        put_back(out)?;
        refuse_buried_archive(out)?;
        let folder = parent.join(format!("{}{}", part_prefix(out), std::process::id()));
        if folder.exists() {
            std::fs::remove_dir_all(&folder).map_err(ProcessError::file("clear", &folder))?;
        }
        for sub in ["charts", "tables"] {
            let path = folder.join(sub);
            std::fs::create_dir_all(&path).map_err(ProcessError::file("make folder", &path))?;
        }
        Ok(Staging {
            folder,
            out: out.to_owned(),
            written: Mutex::new(Vec::new()),
        })
    }

    /// Writes one file of the output.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<(), ProcessError> {
        let path = self.folder.join(name);
        std::fs::write(&path, bytes).map_err(ProcessError::file("write", &path))?;
        self.note(WrittenFile {
            path: name.to_owned(),
            sha256: Digest::of(bytes).to_string(),
            bytes: bytes.len() as u64,
        });
        Ok(())
    }

    /// Writes one file of the output as readable JSON.
    pub(super) fn write_json(
        &self,
        name: &str,
        value: &impl Serialize,
    ) -> Result<(), ProcessError> {
        let text = serde_json::to_string_pretty(value)
            .map_err(|error| ProcessError::Internal(error.to_string()))?;
        self.write(name, format!("{text}\n").as_bytes())
    }

    /// Returns a file of the output to write to; it is not listed with a digest.
    pub(super) fn create(&self, name: &str) -> Result<std::fs::File, ProcessError> {
        let path = self.folder.join(name);
        std::fs::File::create(&path).map_err(ProcessError::file("write", &path))
    }

    fn note(&self, file: WrittenFile) {
        let mut list = self
            .written
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        list.push(file);
    }

    pub(super) fn listed(&self) -> Vec<WrittenFile> {
        let list = self
            .written
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        let mut files = list.clone();
        files.sort();
        files
    }

    /// Puts the folder in its place; an earlier output is replaced as a whole, but for an archive
    /// in it, which moves into the new one first. Returns whether there was an earlier output.
    pub(super) fn publish(self) -> Result<bool, ProcessError> {
        let replaced = self.out.join("manifest.json").exists();
        let (old, new) = (self.out.join(ARCHIVE), self.folder.join(ARCHIVE));
        let carried = is_archive(&old);
        if carried {
            std::fs::rename(&old, &new).map_err(ProcessError::file("carry over", &old))?;
        }
        let put = self.put_in_place();
        if put.is_err() && carried {
            // Where this fails too, the next `process` with this output puts it back.
            let _ = std::fs::rename(&new, &old);
        }
        put.map(|()| replaced)
    }

    fn put_in_place(&self) -> Result<(), ProcessError> {
        if !self.out.exists() {
            std::fs::rename(&self.folder, &self.out)
                .map_err(ProcessError::file("put in place", &self.out))?;
            return Ok(());
        }
        let mut aside = self.folder.clone().into_os_string();
        aside.push(".old");
        let aside = PathBuf::from(aside);
        std::fs::rename(&self.out, &aside).map_err(ProcessError::file("set aside", &self.out))?;
        if let Err(error) = std::fs::rename(&self.folder, &self.out) {
            // Leave the earlier output where it was.
            let _ = std::fs::rename(&aside, &self.out);
            return Err(ProcessError::file("put in place", &self.out)(error));
        }
        remove_without_archive(&aside);
        Ok(())
    }
}

impl Drop for Staging {
    fn drop(&mut self) {
        // After publishing the folder is gone; after an error nothing half-made stays behind.
        remove_without_archive(&self.folder);
    }
}

/// Returns whether `out` is empty or holds an archive alone, as a stopped process leaves it.
fn holds_only_archive(out: &Path) -> Result<bool, ProcessError> {
    let entries = std::fs::read_dir(out).map_err(ProcessError::file("open", out))?;
    Ok(entries.flatten().all(|entry| entry.file_name() == ARCHIVE))
}

/// What the manifest says of the archive.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Kept<'a> {
    /// Last line of the ledger: beside the time the one value that depends on what was kept before.
    pub ledger_head: String,
    /// The report's place among those of its series.
    pub report: &'a ReportStamp,
}

/// Writes every table as CSV and Parquet, with the data package that describes the CSV files.
pub(super) fn write_tables(
    staging: &Staging,
    day: &Day,
    findings: &[Finding],
) -> Result<(), ProcessError> {
    let samples = first_of_each(day, |run| {
        run.conditions.sample_id.as_ref().map(ToString::to_string)
    });
    let batches = first_of_each(day, |run| {
        run.conditions.batch_id.as_ref().map(ToString::to_string)
    });
    let results: Vec<&MetricResult> = day.results().collect();
    write_table(staging, &SAMPLES, &samples)?;
    write_table(staging, &BATCHES, &batches)?;
    write_table(staging, &RUNS, &day.runs.iter().collect::<Vec<_>>())?;
    write_table(
        staging,
        &OBSERVATIONS,
        &day.observations.iter().collect::<Vec<_>>(),
    )?;
    write_table(staging, &RESULTS, &results)?;
    write_table(staging, &FINDINGS, &findings.iter().collect::<Vec<_>>())?;
    staging.write_json("datapackage.json", &describe::data_package())
}

fn first_of_each(day: &Day, key: impl Fn(&RunRecord) -> Option<String>) -> Vec<&RunRecord> {
    let mut seen = BTreeSet::new();
    day.runs
        .iter()
        .filter(|run| key(run).is_some_and(|key| seen.insert(key)))
        .collect()
}

pub(super) fn write_table<R>(
    staging: &Staging,
    table: &Table<R>,
    rows: &[&R],
) -> Result<(), ProcessError> {
    let (mut csv, mut parquet) = (Vec::new(), Vec::new());
    table::write(table, rows, &mut csv, &mut parquet)?;
    staging.write(&format!("tables/{}.csv", table.name), &csv)?;
    staging.write(&format!("tables/{}.parquet", table.name), &parquet)
}

/// What `manifest.json` holds.
#[derive(Serialize)]
struct Manifest<'a> {
    software: &'a str,
    /// The one value that differs between two runs over the same input.
    made_at: &'a str,
    verdict: &'a str,
    plan: &'a Plan,
    raw_files: Vec<RawLine<'a>>,
    unreadable: &'a [Fault],
    skipped: &'a [Skipped],
    #[serde(skip_serializing_if = "Option::is_none")]
    archive: Option<Kept<'a>>,
    outputs: Vec<WrittenFile>,
}

#[derive(Serialize)]
struct RawLine<'a> {
    name: &'a str,
    sha256: &'a str,
    bytes: u64,
    profile: &'a str,
    runs: usize,
}

/// Writes the manifest: what was read with which plan, and what was written.
pub(super) fn write_manifest(
    staging: &Staging,
    plan: &Plan,
    day: &Day,
    summary: &DaySummary,
    (made_at, archive): (&str, Option<Kept<'_>>),
) -> Result<(), ProcessError> {
    let mut raw_files: Vec<RawLine<'_>> = Vec::new();
    for run in &day.runs {
        match raw_files.last_mut() {
            Some(last) if last.name == run.file.name => last.runs += 1,
            _ => raw_files.push(RawLine {
                name: &run.file.name,
                sha256: run.file.sha256.as_str(),
                bytes: run.file.bytes,
                profile: &run.profile.id,
                runs: 1,
            }),
        }
    }
    for sheet in &day.sheets {
        raw_files.push(RawLine {
            name: &sheet.file.name,
            sha256: sheet.file.sha256.as_str(),
            bytes: sheet.file.bytes,
            profile: "run sheet",
            runs: 0,
        });
    }
    // The report states the time it was made, so its digest would differ from run to run.
    let outputs = staging
        .listed()
        .into_iter()
        .filter(|f| f.path != "report.html")
        .collect();
    let manifest = Manifest {
        software: &plan.software,
        made_at,
        verdict: summary.verdict.word(),
        plan,
        raw_files,
        unreadable: &day.faults,
        skipped: &summary.skipped,
        archive,
        outputs,
    };
    staging.write_json("manifest.json", &manifest)
}
