//! Handing over: what an archive holds, as files that need no program of ours.

use super::super::ProcessError;
use super::book;
use super::crate_metadata;
use super::in_force::each_part;
use super::keeper::Keeper;
use super::known::{Known, RAW_KIND};
use super::place::find_archive;
use super::review::Hand;
use crate::archive::{Action, Archive, Entry, Item, Reader};
use crate::record::tables::{OBSERVATIONS, RESULTS, RUNS};
use crate::schema::{Digest, Table};
use crate::table::{self, StoredTable};
use serde::Serialize;
use std::collections::BTreeSet;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// In which form an archive is handed over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportForm {
    /// Originals, tables and ledger, with RO-Crate metadata.
    RoCrate,
    /// Tables as Parquet.
    Parquet,
    /// Tables as CSV.
    Csv,
    /// Tables as one workbook for a spreadsheet.
    Workbook,
}

/// What was handed over.
#[derive(Debug, Clone, Serialize)]
pub struct Exported {
    /// Folder.
    pub folder: PathBuf,
    /// Files written, without the list of their digests.
    pub files: usize,
    /// Results in force.
    pub results: usize,
    /// Results that others have taken the place of; in tables of their own.
    pub superseded: usize,
    /// Ledger line that records the hand-over.
    pub seq: u64,
}

/// Name of the list of digests, in the form that `sha256sum -c` reads.
pub(super) const SUMS: &str = "SHA256SUMS";

/// A file of an export.
#[derive(Debug, Clone)]
pub(super) struct Written {
    /// Path in the export.
    pub path: String,
    /// SHA-256.
    pub sha256: Digest,
    /// Size.
    pub bytes: u64,
    /// Ledger line of the event that it came out of; none for what the export itself made.
    pub seq: Option<u64>,
}

/// The export while it is written.
pub(super) struct Export<'a> {
    pub reader: &'a Reader,
    pub known: &'a Known,
    archive: &'a Path,
    folder: PathBuf,
    pub files: Vec<Written>,
    pub(super) results: usize,
    pub(super) superseded: usize,
}

/// Writes an archive's contents to `out`, which must be new or empty, and records that.
///
/// # Errors
/// [`ProcessError`] when something stands in `out`, or a kept file is damaged.
pub fn export(hand: &Hand<'_>, out: &Path, form: ExportForm) -> Result<Exported, ProcessError> {
    let folder = find_archive(hand.archive)?;
    let mut keeper = Keeper::open(&folder, hand.who, hand.when)?;
    let reader = Archive::at(&folder).read()?;
    let staging = prepare(out)?;
    let mut export = Export {
        reader: &reader,
        known: &keeper.known,
        archive: &folder,
        folder: staging.clone(),
        files: Vec::new(),
        results: 0,
        superseded: 0,
    };
    let written = export.write(form, hand);
    let (files, results, superseded) = (export.files.len(), export.results, export.superseded);
    let put = written.and_then(|sums| {
        if out.exists() {
            // Only an empty folder can be removed so.
            std::fs::remove_dir(out).map_err(ProcessError::file("replace", out))?;
        }
        std::fs::rename(&staging, out).map_err(ProcessError::file("put in place", out))?;
        Ok(sums)
    });
    let sums = match put {
        Ok(sums) => sums,
        Err(error) => {
            let _ = std::fs::remove_dir_all(&staging);
            return Err(error);
        }
    };
    let mut event = keeper.event(Action::Export);
    event.parameters = serde_json::json!({
        "form": match form {
            ExportForm::RoCrate => "ro-crate",
            ExportForm::Parquet => "parquet",
            ExportForm::Csv => "csv",
            ExportForm::Workbook => "xlsx",
        },
        "files": files,
        "note": hand.reason,
    });
    let bytes = sums.len() as u64;
    let list = Item::with_digest("export", SUMS, &Digest::of(sums.as_bytes()), bytes);
    event.outputs.push(list);
    let seq = keeper.commit(event, Vec::new())?.seq;
    Ok(Exported {
        folder: out.to_owned(),
        files,
        results,
        superseded,
        seq,
    })
}

fn prepare(out: &Path) -> Result<PathBuf, ProcessError> {
    if out.exists() {
        let mut entries = std::fs::read_dir(out).map_err(ProcessError::file("open", out))?;
        if entries.next().is_some() {
            return Err(ProcessError::Request(format!(
                "`{}` holds something; an export is written to a new or empty folder",
                out.display()
            )));
        }
    }
    let name = out
        .file_name()
        .map_or_else(|| "export".into(), |n| n.to_string_lossy().into_owned());
    let parent = super::place::parent_of(out);
    let staging = parent.join(format!(".{name}.export-{}", std::process::id()));
    std::fs::create_dir_all(&staging).map_err(ProcessError::file("make folder", &staging))?;
    Ok(staging)
}

impl Export<'_> {
    fn write(&mut self, form: ExportForm, hand: &Hand<'_>) -> Result<String, ProcessError> {
        if form == ExportForm::Workbook {
            let bytes = self.workbook(hand)?;
            self.put(book::FILE, &bytes, None)?;
            return self.write_sums();
        }
        let (csv, parquet, crate_too) = match form {
            ExportForm::RoCrate => (true, true, true),
            ExportForm::Parquet => (false, true, false),
            ExportForm::Csv | ExportForm::Workbook => (true, false, false),
        };
        if crate_too {
            self.write_originals()?;
            self.write_ledger()?;
        }
        self.write_tables(csv, parquet)?;
        if crate_too {
            let text = crate_metadata::describe(self, hand)?;
            self.put(crate_metadata::FILE, text.as_bytes(), None)?;
        }
        self.write_sums()
    }

    /// Writes the list of digests, and returns it.
    fn write_sums(&mut self) -> Result<String, ProcessError> {
        self.files.sort_by(|a, b| a.path.cmp(&b.path));
        let sums: String = self
            .files
            .iter()
            .map(|file| format!("{}  {}\n", file.sha256, file.path))
            .collect();
        let path = self.folder.join(SUMS);
        std::fs::write(&path, &sums).map_err(ProcessError::file("write", &path))?;
        Ok(sums)
    }

    fn put(&mut self, path: &str, bytes: &[u8], seq: Option<u64>) -> Result<(), ProcessError> {
        let full = self.folder.join(path);
        if let Some(parent) = full.parent() {
            std::fs::create_dir_all(parent).map_err(ProcessError::file("make folder", parent))?;
        }
        std::fs::write(&full, bytes).map_err(ProcessError::file("write", &full))?;
        self.files.push(Written {
            path: path.to_owned(),
            sha256: Digest::of(bytes),
            bytes: bytes.len() as u64,
            seq,
        });
        Ok(())
    }

    /// Writes every original: the latest version of each name under that name, earlier ones under
    /// their digest.
    fn write_originals(&mut self) -> Result<(), ProcessError> {
        let mut done = BTreeSet::new();
        for entry in self.reader.events()? {
            let entry = entry?;
            for item in entry.event.outputs.iter().filter(|i| i.kind == RAW_KIND) {
                let (Some(name), Some(digest)) = (&item.name, &item.digest) else {
                    continue;
                };
                let latest = self.known.versions.get(name) == Some(digest);
                let path = match latest {
                    true => format!("originals/{}", plain_path(name)),
                    false => format!("originals-earlier/{digest}/{}", plain_path(name)),
                };
                if let (true, Some(bytes)) =
                    (done.insert(path.clone()), self.reader.bytes_of(item)?)
                {
                    self.put(&path, &bytes, Some(entry.seq))?;
                }
            }
        }
        Ok(())
    }

    fn write_ledger(&mut self) -> Result<(), ProcessError> {
        for name in ["ledger.jsonl", "HEAD"] {
            let path = self.archive.join(name);
            let bytes = std::fs::read(&path).map_err(ProcessError::file("read", &path))?;
            self.put(&format!("ledger/{name}"), &bytes, None)?;
        }
        Ok(())
    }

    /// Writes the tables: those in force, and results that others have taken the place of.
    fn write_tables(&mut self, csv: bool, parquet: bool) -> Result<(), ProcessError> {
        let mut runs = Sink::new(&RUNS, "runs", csv, parquet);
        let mut results = Sink::new(&RESULTS, "results", csv, parquet);
        let mut old = Sink::new(&RESULTS, "superseded-results", csv, parquet);
        let mut observations = Sink::new(&OBSERVATIONS, "observations", csv, parquet);
        let (reader, known) = (self.reader, self.known);
        each_part(reader, known, |part| {
            let seq = part.seq;
            let rows = |table: &Option<StoredTable>| table.as_ref().map_or(0, |t| t.rows.len());
            self.results += rows(&part.results);
            self.superseded += rows(&part.superseded);
            self.pour(&mut results, part.results, seq)?;
            self.pour(&mut old, part.superseded, seq)?;
            self.pour(&mut runs, part.runs, seq)?;
            self.pour(&mut observations, part.observations, seq)
        })?;
        self.close(runs)?;
        self.close(results)?;
        self.close(old)?;
        self.close(observations)
    }

    /// Adds rows to a table: at once to its CSV text, as a part of its own to its Parquet folder.
    fn pour<R>(
        &mut self,
        sink: &mut Sink<R>,
        stored: Option<StoredTable>,
        seq: u64,
    ) -> Result<(), ProcessError> {
        let Some(stored) = stored.filter(|table| !table.rows.is_empty()) else {
            return Ok(());
        };
        if sink.csv {
            let path = self.folder.join(sink.csv_path());
            let parent = self.folder.join("tables");
            std::fs::create_dir_all(&parent).map_err(ProcessError::file("make folder", &parent))?;
            let mut file = std::fs::OpenOptions::new()
                .create(true)
                .append(true)
                .open(&path)
                .map_err(ProcessError::file("write", &path))?;
            let text = table::stored_csv(sink.table, &stored, sink.rows == 0)?;
            file.write_all(&text)
                .map_err(ProcessError::file("write", &path))?;
        }
        if sink.parquet {
            let bytes = table::stored_parquet(sink.table, &stored)?;
            let path = format!("tables/{}/part-{seq:06}.parquet", sink.name);
            self.put(&path, &bytes, Some(seq))?;
        }
        sink.rows += stored.rows.len();
        Ok(())
    }

    fn close<R>(&mut self, sink: Sink<R>) -> Result<(), ProcessError> {
        if sink.csv && sink.rows > 0 {
            let path = self.folder.join(sink.csv_path());
            let bytes = std::fs::read(&path).map_err(ProcessError::file("read", &path))?;
            self.files.push(Written {
                path: sink.csv_path(),
                sha256: Digest::of(&bytes),
                bytes: bytes.len() as u64,
                seq: None,
            });
        }
        Ok(())
    }
}

/// A table of an export.
struct Sink<R: 'static> {
    table: &'static Table<R>,
    name: &'static str,
    csv: bool,
    parquet: bool,
    rows: usize,
}

impl<R> Sink<R> {
    fn new(table: &'static Table<R>, name: &'static str, csv: bool, parquet: bool) -> Sink<R> {
        Sink {
            table,
            name,
            csv,
            parquet,
            rows: 0,
        }
    }

    fn csv_path(&self) -> String {
        format!("tables/{}.csv", self.name)
    }
}

/// Returns a kept name as a path that stays inside the export and that every file system bears.
fn plain_path(name: &str) -> String {
    let parts = name.split(['/', '\\']).map(|part| {
        let plain: String = part
            .chars()
            .map(|c| match c {
                c if c.is_control() => '_',
                ':' | '*' | '?' | '"' | '<' | '>' | '|' => '_',
                c => c,
            })
            .collect();
        match plain.trim_matches('.') {
            "" => "_".to_owned(),
            _ => plain,
        }
    });
    parts.collect::<Vec<_>>().join("/")
}

/// Returns what an event made, as paths of the export.
pub(super) fn made_by<'w>(files: &'w [Written], entry: &Entry) -> Vec<&'w str> {
    files
        .iter()
        .filter(|file| file.seq == Some(entry.seq))
        .map(|file| file.path.as_str())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::plain_path;

    #[test]
    fn a_kept_name_never_leads_out_of_the_export() {
        assert_eq!(plain_path("day/SM-101.csv"), "day/SM-101.csv");
        assert_eq!(plain_path("../../etc/x"), "_/_/etc/x");
        assert_eq!(plain_path("/a\\..\\b:c"), "_/a/_/b_c");
    }
}
