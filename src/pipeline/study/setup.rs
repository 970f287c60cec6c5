//! A study file with the archives it names, opened.

use super::super::ProcessError;
use super::super::kept::{Keeper, Known, find_archive};
use super::compare::STUDIES;
use super::evidence::add_archive;
use crate::archive::{Archive, Event, Head, Item, NewFile, Reader};
use crate::compare::Evidence;
use crate::derive::METHODS;
use crate::schema::{ClaimKind, Digest, MetricCard};
use crate::study::{self, PlannedClaim, Study};
use std::path::{Path, PathBuf};

/// A study file, read.
pub(super) struct StudyFile {
    /// Name of the file.
    pub name: String,
    /// Its text.
    pub text: String,
    /// SHA-256 of the text.
    pub digest: Digest,
    /// What it says.
    pub study: Study,
    /// Folders of the archives, as far as they exist; the first is the study's own.
    pub folders: Vec<PathBuf>,
}

impl StudyFile {
    /// Reads the study at `path`. Archives in it are named relative to its folder; `archives`, where
    /// there are any, take their place.
    ///
    /// # Errors
    /// [`ProcessError::Request`] with every problem of the file.
    pub fn read(path: &Path, archives: &[PathBuf]) -> Result<StudyFile, ProcessError> {
        let text = std::fs::read_to_string(path).map_err(ProcessError::file("read study", path))?;
        let name = path
            .file_name()
            .map_or_else(|| "study.toml".to_owned(), |n| n.to_string_lossy().into());
        let study = study::parse(&text).map_err(|problems| {
            let lines: Vec<String> = problems
                .iter()
                .map(|problem| format!("{name}: {problem}"))
                .collect();
            ProcessError::Request(lines.join("\n"))
        })?;
        check_metrics(&name, &study)?;
        let beside = path.parent().unwrap_or(Path::new(""));
        let named: Vec<PathBuf> = match archives {
            [] => study.archives.iter().map(|a| beside.join(a)).collect(),
            given => given.to_vec(),
        };
        Ok(StudyFile {
            digest: Digest::of(text.as_bytes()),
            name,
            text,
            study,
            folders: named,
        })
    }
}

impl StudyFile {
    /// Returns the name under which the archive keeps the file.
    pub fn kept_as(&self) -> String {
        format!("{STUDIES}{}", self.name)
    }

    /// Makes the file part of `event`: as what went in where the archive has it, else as a file to
    /// be kept.
    pub fn keep(&self, keeper: &Keeper, event: &mut Event) -> Option<NewFile> {
        let name = self.kept_as();
        if !keeper.known.is_latest(&name, &self.digest) {
            return Some(NewFile::raw(&name, self.text.clone().into_bytes()));
        }
        let size = self.text.len() as u64;
        let item = Item::with_digest("study", &name, &self.digest, size);
        event.inputs.push(item);
        None
    }
}

/// Checks that every claim names a metric (or curve) of this version.
fn check_metrics(name: &str, study: &Study) -> Result<(), ProcessError> {
    let cards: Vec<MetricCard> = METHODS.iter().flat_map(|m| (m.card)().metrics).collect();
    let mut problems = Vec::new();
    for claim in &study.claims {
        // Grades and curves are compared as they are, not as a metric.
        let as_it_is = matches!(claim.kind(), ClaimKind::Grade | ClaimKind::SameCurve);
        if as_it_is || cards.iter().any(|card| card.id == claim.metric) {
            continue;
        }
        let remedy = study::suggest(&claim.metric, cards.iter().map(|card| card.id));
        problems.push(format!(
            "{name}: claim `{}`, key `metric`: found `{}`; expected the identifier of a metric; {remedy}; list them with `doughtrace explain`",
            claim.id, claim.metric
        ));
    }
    match problems.is_empty() {
        true => Ok(()),
        false => Err(ProcessError::Request(problems.join("\n"))),
    }
}

/// An archive that a study reads.
pub(super) struct Source {
    /// Folder.
    pub folder: PathBuf,
    /// Last line of its ledger.
    pub head: Head,
    /// The archive.
    pub reader: Reader,
    /// What its ledger says.
    pub known: Known,
    /// Results taken from it.
    pub results: usize,
}

impl Source {
    /// Returns the name of the archive's folder: of the output folder, where it lies in one.
    pub fn name(&self) -> String {
        let mut names = self.folder.iter().rev().map(|part| part.to_string_lossy());
        let name = names.next().unwrap_or_default();
        match (name.as_ref(), names.next()) {
            ("archive", Some(parent)) => format!("{parent}/archive"),
            _ => name.into_owned(),
        }
    }
}

/// Opens the archives of a study and gathers what they hold.
///
/// # Errors
/// [`ProcessError`] when one is not there or cannot be read.
pub(super) fn gather(folders: &[PathBuf]) -> Result<(Evidence, Vec<Source>), ProcessError> {
    let mut evidence = Evidence::default();
    let mut sources = Vec::new();
    for named in folders {
        let folder = find_archive(named)?;
        let reader = Archive::at(&folder).read()?;
        let known = Known::load(&reader)?;
        let before = evidence.results.len();
        add_archive(&mut evidence, &reader, &known)?;
        let head = reader.head().clone();
        sources.push(Source {
            folder,
            head,
            results: evidence.results.len() - before,
            reader,
            known,
        });
    }
    Ok((evidence, sources))
}

/// Returns the text of everything in a claim that must be fixed before the data: not its sentence,
/// nor what it was planned with.
pub(super) fn commitment(study: &Study, claim: &PlannedClaim) -> String {
    let fixed = PlannedClaim {
        sentence: String::new(),
        expected: None,
        sd: None,
        ..claim.clone()
    };
    format!("{:?} {:?} {fixed:?}", study.block, study.exclusions)
}
