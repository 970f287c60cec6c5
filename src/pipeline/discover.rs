//! Which files of a day folder are data.

use super::ProcessError;
use super::kept::is_archive;
use crate::report::Skipped;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Endings of data files; anything else in a day folder is counted and left alone.
pub const DATA_ENDINGS: &[&str] = &["csv", "tsv", "txt", "dat"];

/// A file that will be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundFile {
    /// Where it is.
    pub path: PathBuf,
    /// Its name relative to the day folder, with `/` between folders.
    pub name: String,
    /// Its name in the archive: that of the day folder comes first.
    pub kept_as: String,
}

/// What a search found.
#[derive(Debug, Clone, Default)]
pub struct Discovered {
    /// Data files, ordered by name.
    pub files: Vec<FoundFile>,
    /// Files left alone, by reason.
    pub skipped: Vec<Skipped>,
}

/// Returns the data files below `inputs`, ordered by name.
///
/// Folders are searched recursively. Left alone and counted are hidden files, files whose ending
/// is not that of a data file, and everything in the output folder or an earlier output (a folder
/// with a `manifest.json` beside a `report.html`) or in an archive.
///
/// # Errors
/// [`ProcessError`] when an input does not exist or cannot be searched.
pub fn discover(inputs: &[PathBuf], out: &Path) -> Result<Discovered, ProcessError> {
    let out = out.canonicalize().ok();
    let mut files = Vec::new();
    let mut skipped: BTreeMap<String, usize> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    let mut labels: BTreeMap<PathBuf, String> = BTreeMap::new();
    for input in inputs {
        let full = input
            .canonicalize()
            .map_err(ProcessError::file("find", input))?;
        let top = if full.is_file() {
            full.parent().unwrap_or(&full).to_owned()
        } else {
            full.clone()
        };
        let label = label_of(&mut labels, &top, day_label(input));
        // Several day folders may hold files of one name: their own name keeps them apart.
        let prefix = (inputs.len() > 1).then(|| label.clone());
        for path in walk(&full, &mut skipped)? {
            match reason_to_skip(&path, &top, out.as_deref()) {
                Some(reason) if full != path => *skipped.entry(reason).or_default() += 1,
                _ if !seen.insert(path.clone()) => {
                    *skipped.entry("named twice".into()).or_default() += 1;
                }
                _ => files.push(FoundFile {
                    name: name_below(&top, &path, &prefix),
                    kept_as: name_below(&top, &path, &Some(label.clone())),
                    path,
                }),
            }
        }
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let skipped = skipped
        .into_iter()
        .map(|(reason, files)| Skipped { reason, files })
        .collect();
    Ok(Discovered { files, skipped })
}

/// Returns the label of the folder `top`: `wanted`, or `wanted (n)` where another folder has it.
fn label_of(labels: &mut BTreeMap<PathBuf, String>, top: &Path, wanted: String) -> String {
    if let Some(known) = labels.get(top) {
        return known.clone();
    }
    let taken: BTreeSet<String> = labels.values().cloned().collect();
    let free = std::iter::once(wanted.clone())
        .chain((2..).map(|n| format!("{wanted} ({n})")))
        .find(|label| !taken.contains(label));
    let label = free.unwrap_or(wanted);
    labels.insert(top.to_owned(), label.clone());
    label
}

/// Returns the name of the day that an input is: that of the folder, or of the folder that holds
/// the file.
pub(super) fn day_label(input: &Path) -> String {
    let full = input.canonicalize().unwrap_or_else(|_| input.to_owned());
    let folder = if full.is_file() {
        full.parent().unwrap_or(&full)
    } else {
        &full
    };
    folder
        .file_name()
        .map_or_else(|| "day".to_owned(), |n| n.to_string_lossy().into_owned())
}

/// Returns the files below `full`, a path without links; `full` itself when it is a file.
fn walk(full: &Path, skipped: &mut BTreeMap<String, usize>) -> Result<Vec<PathBuf>, ProcessError> {
    if full.is_file() {
        return Ok(vec![full.to_owned()]);
    }
    let pattern = format!("{}/**/*", glob::Pattern::escape(&full.to_string_lossy()));
    let paths = glob::glob(&pattern).map_err(|source| ProcessError::Search {
        path: full.display().to_string(),
        source,
    })?;
    let mut files = Vec::new();
    for path in paths {
        match path {
            // A link is read where it leads, if that is in the day: following it could go round
            // in circles, or read one file twice.
            Ok(path) if path.canonicalize().is_ok_and(|real| real != path) => {
                *skipped.entry("reached through a link".into()).or_default() += 1;
            }
            Ok(path) if path.is_file() => files.push(path),
            Ok(_) => {}
            Err(_) => {
                *skipped
                    .entry("folder that cannot be opened".into())
                    .or_default() += 1
            }
        }
    }
    Ok(files)
}

fn name_below(folder: &Path, path: &Path, prefix: &Option<String>) -> String {
    let below = path.strip_prefix(folder).unwrap_or(path);
    let parts: Vec<String> = prefix
        .iter()
        .cloned()
        .chain(
            below
                .components()
                .map(|part| part.as_os_str().to_string_lossy().into_owned()),
        )
        .collect();
    parts.join("/")
}

fn reason_to_skip(path: &Path, input: &Path, out: Option<&Path>) -> Option<String> {
    let below = path.strip_prefix(input).unwrap_or(path);
    if below
        .components()
        .any(|part| part.as_os_str().to_string_lossy().starts_with('.'))
    {
        return Some("hidden file".into());
    }
    let full = path.canonicalize().ok();
    if let (Some(full), Some(out)) = (&full, out)
        && full.starts_with(out)
    {
        return Some("in the output folder".into());
    }
    let mut folder = path.parent();
    while let Some(current) = folder.filter(|f| f.starts_with(input)) {
        if is_earlier_output(current) {
            return Some("earlier output of doughtrace".into());
        }
        if is_archive(current) {
            return Some("in an archive of doughtrace".into());
        }
        folder = current.parent();
    }
    let ending = path
        .extension()
        .map(|e| e.to_string_lossy().to_ascii_lowercase());
    match ending {
        Some(ending) if DATA_ENDINGS.contains(&ending.as_str()) => None,
        Some(ending) => Some(format!("no data file (.{ending})")),
        None => Some("no data file (no ending)".into()),
    }
}

/// Returns whether `folder` was written by an earlier run of this program.
pub(super) fn is_earlier_output(folder: &Path) -> bool {
    folder.join("report.html").is_file()
        && std::fs::read_to_string(folder.join("manifest.json"))
            .is_ok_and(|text| text.contains("\"software\": \"doughtrace "))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::*;

    #[test]
    fn data_files_are_found_in_order_and_the_rest_is_counted() {
        let day = tempfile::tempdir().unwrap();
        let put = |name: &str, text: &str| {
            let path = day.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, text).unwrap();
        };
        put("b.csv", "x");
        put("a [1].txt", "x");
        put("sub/c.TSV", "x");
        put("photo.jpg", "x");
        put(".hidden.csv", "x");
        put("earlier/report.html", "x");
        put("earlier/manifest.json", "{\"software\": \"doughtrace 0\"}");
        put("earlier/tables/results.csv", "x");
        put("out/partial.csv", "x");
        let found = discover(&[day.path().to_owned()], &day.path().join("out")).unwrap();
        let names: Vec<&str> = found.files.iter().map(|f| f.name.as_str()).collect();
        assert_eq!(names, ["a [1].txt", "b.csv", "sub/c.TSV"]);
        let counts: Vec<(String, usize)> = found
            .skipped
            .into_iter()
            .map(|s| (s.reason, s.files))
            .collect();
        assert_eq!(
            counts,
            [
                ("earlier output of doughtrace".to_owned(), 3),
                ("hidden file".to_owned(), 1),
                ("in the output folder".to_owned(), 1),
                ("no data file (.jpg)".to_owned(), 1),
            ]
        );
    }

    #[test]
    fn folders_of_one_name_links_and_repeats_are_kept_apart() {
        let root = tempfile::tempdir().unwrap();
        for month in ["m1", "m2"] {
            let day = root.path().join(month).join("day");
            std::fs::create_dir_all(&day).unwrap();
            std::fs::write(day.join("K-01.csv"), month).unwrap();
        }
        let day = |month: &str| root.path().join(month).join("day");
        #[cfg(unix)]
        std::os::unix::fs::symlink(day("m1"), day("m1").join("loop")).unwrap();
        let inputs = [
            day("m1"),
            day("m2"),
            day("m1").join("K-01.csv"),
            day("m1").join("../day"),
        ];
        let found = discover(&inputs, &root.path().join("out")).unwrap();
        let names: Vec<&str> = found.files.iter().map(|f| f.name.as_str()).collect();
        assert_eq!(names, ["day (2)/K-01.csv", "day/K-01.csv"]);
        let skipped: usize = found.skipped.iter().map(|s| s.files).sum();
        assert!(skipped >= 2, "{:?}", found.skipped);
    }
}
