//! From what was asked to what will be done.

use super::kept::{ARCHIVE, is_archive, refuse_overlap};
use super::{ChartOptions, Discovered, ProcessError, day_label, discover, rederive};
use crate::derive::METHODS;
use crate::limits::{self, Limits};
use crate::profile::{self, Profile};
use crate::schema::Digest;
use crate::schema::ParameterCard;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// What the user asked for; everything may be left out but the folders.
#[derive(Debug, Clone, Default)]
pub struct Request {
    /// Day folders or single files.
    pub inputs: Vec<PathBuf>,
    /// Output folder.
    pub out: PathBuf,
    /// Folder of the user's own import profiles.
    pub profiles: Option<PathBuf>,
    /// Whether charts are left out.
    pub no_charts: bool,
    /// Size and kind of chart files.
    pub chart_options: ChartOptions,
    /// Threads; all cores when not given.
    pub threads: Option<usize>,
    /// Title of the report.
    pub title: Option<String>,
    /// Archive; `archive` inside the output folder when not given.
    pub archive: Option<PathBuf>,
    /// File of delivery limits.
    pub limits: Option<PathBuf>,
    /// Whether no archive is kept at all (for measuring what it costs).
    pub no_archive: bool,
    /// Whether every run of the archive is derived anew; there are no inputs then.
    pub rederive: bool,
    /// Person who runs the command.
    pub operator: Option<String>,
}

/// What will be done; nothing is left open. It is printed by `--dry-run` and kept in the manifest.
///
/// Output folder and thread count are not part of it: they change no byte of the output.
#[derive(Debug, Clone, Serialize)]
pub struct Plan {
    /// Program and version.
    pub software: String,
    /// Names of the input folders.
    pub inputs: Vec<String>,
    /// Title of the report.
    pub title: String,
    /// Whether charts are drawn.
    pub charts: bool,
    /// Size and kind of chart files, where they are not the usual ones.
    #[serde(skip_serializing_if = "ChartOptions::is_usual")]
    pub chart_options: ChartOptions,
    /// Import profiles that files are matched with: the user's own first.
    pub profiles: Vec<ProfileLine>,
    /// Delivery limits, where flours are judged by them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<LimitsLine>,
    /// Methods, with the revision of every metric and the parameters.
    pub methods: Vec<MethodLine>,
    /// What the day is called in the archive; its reports follow each other.
    #[serde(skip)]
    pub(super) series: String,
    #[serde(skip)]
    pub(super) limit_list: Limits,
    #[serde(skip)]
    pub(super) limits_text: String,
    #[serde(skip)]
    pub(super) archive: Option<PathBuf>,
    #[serde(skip)]
    pub(super) rederive: bool,
    #[serde(skip)]
    pub(super) operator: String,
    /// Text of the user's own profiles, by digest.
    #[serde(skip)]
    pub(super) own_texts: BTreeMap<Digest, String>,
    /// Files to take, where not all of them: others are still arriving.
    #[serde(skip)]
    only: Option<BTreeSet<PathBuf>>,
    #[serde(skip)]
    pub(super) input_paths: Vec<PathBuf>,
    #[serde(skip)]
    pub(super) out: PathBuf,
    #[serde(skip)]
    pub(super) threads: Option<usize>,
    #[serde(skip)]
    pub(super) own_profiles: Vec<Profile>,
    #[serde(skip)]
    pub(super) builtin_profiles: Vec<Profile>,
}

/// One import profile of the plan.
#[derive(Debug, Clone, Serialize)]
pub struct ProfileLine {
    /// Identifier.
    pub id: String,
    /// SHA-256 of its text.
    pub sha256: String,
    /// Whether it is the user's own.
    pub own: bool,
}

/// The file of delivery limits of the plan.
#[derive(Debug, Clone, Serialize)]
pub struct LimitsLine {
    /// Name of the file.
    pub file: String,
    /// SHA-256 of its text.
    pub sha256: String,
}

/// One method of the plan.
#[derive(Debug, Clone, Serialize)]
pub struct MethodLine {
    /// Identifier.
    pub id: &'static str,
    /// Metrics as `id r revision`.
    pub metrics: Vec<String>,
    /// Name of the set of parameters, as results carry it.
    pub settings: String,
    /// Parameters as `name = value`.
    pub parameters: Vec<String>,
}

impl Plan {
    /// Returns the plan for `request`.
    ///
    /// # Errors
    /// [`ProcessError`] when an input is missing, the output would write over an input, or a
    /// profile of the user's own is faulty.
    pub fn resolve(request: Request) -> Result<Plan, ProcessError> {
        for input in &request.inputs {
            if !input.exists() {
                return Err(ProcessError::NoInput(input.display().to_string()));
            }
        }
        refuse_output_over_input(&request)?;
        let builtin_profiles = profile::builtin()?;
        let mut own_texts = match &request.profiles {
            Some(folder) => read_profile_texts(folder)?,
            None => Vec::new(),
        };
        if request.rederive
            && let Some(archive) = &request.archive
        {
            own_texts.extend(rederive::own_profile_texts(archive)?);
        }
        let own_profiles = own_texts
            .iter()
            .map(|text| Profile::parse(text))
            .collect::<Result<Vec<_>, _>>()?;
        let archive = match (request.no_archive, &request.archive) {
            (true, _) => None,
            (false, Some(named)) if is_archive(&named.join(ARCHIVE)) => Some(named.join(ARCHIVE)),
            (false, Some(named)) => Some(named.clone()),
            (false, None) => Some(request.out.join(ARCHIVE)),
        };
        if let Some(archive) = &archive {
            refuse_overlap(&request.out, archive)?;
        }
        let line = |own: bool| {
            move |p: &Profile| ProfileLine {
                id: p.id.clone(),
                sha256: p.digest.to_string(),
                own,
            }
        };
        let profiles = own_profiles
            .iter()
            .map(line(true))
            .chain(builtin_profiles.iter().map(line(false)))
            .collect();
        let (limits, limit_list, limits_text) = match &request.limits {
            Some(path) => {
                let (line, list, text) = read_limits_file(path)?;
                (Some(line), list, text)
            }
            None => (None, Limits::default(), String::new()),
        };
        // Names, not paths: where the folder lies on this machine is nobody's business, and the same
        // day gives the same bytes elsewhere.
        let names: Vec<String> = request.inputs.iter().map(|path| day_label(path)).collect();
        Ok(Plan {
            software: software(),
            title: request.title.unwrap_or_else(|| match request.rederive {
                true => "All archived runs".to_owned(),
                false => default_title(&request.inputs),
            }),
            inputs: names,
            charts: !request.no_charts,
            chart_options: request.chart_options.checked()?,
            profiles,
            limits,
            limit_list,
            limits_text,
            methods: method_lines(),
            series: match request.rederive {
                true => "all archived runs".to_owned(),
                false => series_of(&request.inputs),
            },
            archive,
            rederive: request.rederive,
            operator: request.operator.unwrap_or_else(|| "not stated".to_owned()),
            own_texts: own_texts
                .into_iter()
                .map(|text| (Digest::of(text.as_bytes()), text))
                .collect(),
            only: None,
            input_paths: request.inputs,
            out: request.out,
            threads: request.threads,
            own_profiles,
            builtin_profiles,
        })
    }

    /// Returns the output folder.
    pub fn out(&self) -> &Path {
        &self.out
    }

    /// Returns the archive's folder.
    pub fn archive(&self) -> Option<&Path> {
        self.archive.as_deref()
    }

    /// Returns the files that will be read.
    ///
    /// # Errors
    /// [`ProcessError`] when an input or the archive cannot be searched.
    pub fn find_files(&self) -> Result<Discovered, ProcessError> {
        match (&self.archive, self.rederive) {
            (Some(archive), true) => rederive::find_files(archive),
            _ => {
                let mut found = discover(&self.input_paths, &self.out)?;
                if let Some(only) = &self.only {
                    found.files.retain(|file| only.contains(&file.path));
                }
                Ok(found)
            }
        }
    }

    /// Takes only these files from now on: others are still arriving.
    pub fn take_only(&mut self, files: BTreeSet<PathBuf>) {
        self.only = Some(files);
    }

    /// Takes every file that is found again.
    pub fn take_all(&mut self) {
        self.only = None;
    }

    /// Returns whether files of several day folders are read together.
    pub(super) fn several_days(&self) -> bool {
        self.rederive || self.input_paths.len() > 1
    }

    /// Returns what names in the archive begin with and names of the day do not.
    pub(super) fn strip(&self) -> String {
        match (self.input_paths.as_slice(), self.rederive) {
            ([input], false) => format!("{}/", day_label(input)),
            _ => String::new(),
        }
    }

    /// Returns the text of a profile of this plan.
    pub(super) fn profile_text(&self, digest: &Digest) -> Option<String> {
        let builtin = || {
            let mut texts = profile::BUILTIN_TEXTS.iter().map(|(_, text)| *text);
            texts.find(|text| Digest::of(text.as_bytes()) == *digest)
        };
        match self.own_texts.get(digest) {
            Some(text) => Some(text.clone()),
            None => builtin().map(str::to_owned),
        }
    }

    /// Returns the plan as JSON.
    ///
    /// # Errors
    /// [`ProcessError::Internal`] when it cannot be written as JSON.
    pub(super) fn to_value(&self) -> Result<serde_json::Value, ProcessError> {
        serde_json::to_value(self).map_err(|e| ProcessError::Internal(e.to_string()))
    }

    /// Returns the plan as readable JSON.
    ///
    /// # Errors
    /// [`ProcessError::Internal`] when it cannot be written as JSON.
    pub fn to_json(&self) -> Result<String, ProcessError> {
        serde_json::to_string_pretty(self).map_err(|e| ProcessError::Internal(e.to_string()))
    }
}

/// Returns program and version as every file states them.
pub(super) fn software() -> String {
    format!("doughtrace {}", env!("CARGO_PKG_VERSION"))
}

/// Returns what the day is called in the archive: the names of its folders.
fn series_of(inputs: &[PathBuf]) -> String {
    let labels: Vec<String> = inputs.iter().map(|input| day_label(input)).collect();
    labels.join(" + ")
}

fn default_title(inputs: &[PathBuf]) -> String {
    let names: Vec<String> = inputs
        .iter()
        .filter_map(|path| path.file_name())
        .map(|name| name.to_string_lossy().replace(['-', '_'], " "))
        .collect();
    if names.is_empty() {
        "Day report".to_owned()
    } else {
        format!("Day report: {}", names.join(", "))
    }
}

fn refuse_output_over_input(request: &Request) -> Result<(), ProcessError> {
    let Ok(out) = request.out.canonicalize() else {
        return Ok(());
    };
    for input in &request.inputs {
        let path = input
            .canonicalize()
            .map_err(ProcessError::file("find", input))?;
        if path.starts_with(&out) {
            return Err(ProcessError::OutputHoldsInput(
                request.out.display().to_string(),
            ));
        }
    }
    Ok(())
}

/// Returns the profiles in the `*.toml` files of `folder`, ordered by file name.
///
/// # Errors
/// [`ProcessError`] when the folder cannot be read or a profile is faulty.
pub fn read_own_profiles(folder: &Path) -> Result<Vec<Profile>, ProcessError> {
    let texts = read_profile_texts(folder)?;
    let parsed: Result<Vec<Profile>, _> = texts.iter().map(|text| Profile::parse(text)).collect();
    Ok(parsed?)
}

/// Returns the limits in the file at `path`, with its line of the plan and its text.
fn read_limits_file(path: &Path) -> Result<(LimitsLine, Limits, String), ProcessError> {
    let text = std::fs::read_to_string(path).map_err(ProcessError::file("read limits", path))?;
    let file = path
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let metrics: Vec<_> = METHODS.iter().flat_map(|m| (m.card)().metrics).collect();
    let list = limits::read_limits(&file, &text, &metrics)
        .map_err(|fault| ProcessError::Request(fault.to_string()))?;
    let line = LimitsLine {
        file,
        sha256: Digest::of(text.as_bytes()).to_string(),
    };
    Ok((line, list, text))
}

fn read_profile_texts(folder: &Path) -> Result<Vec<String>, ProcessError> {
    if !folder.is_dir() {
        return Err(ProcessError::NoInput(folder.display().to_string()));
    }
    let pattern = format!(
        "{}/*.toml",
        glob::Pattern::escape(&folder.to_string_lossy())
    );
    let search = |source| ProcessError::Search {
        path: pattern.clone(),
        source,
    };
    let mut paths: Vec<PathBuf> = glob::glob(&pattern).map_err(search)?.flatten().collect();
    paths.sort();
    paths
        .iter()
        .map(|path| std::fs::read_to_string(path).map_err(ProcessError::file("read", path)))
        .collect()
}

fn method_lines() -> Vec<MethodLine> {
    METHODS
        .iter()
        .map(|method| {
            let card = (method.card)();
            MethodLine {
                id: card.id,
                metrics: card
                    .metrics
                    .iter()
                    .map(|m| format!("{} r{}", m.id, m.revision))
                    .collect(),
                settings: ParameterCard::settings_name(&card.parameters),
                parameters: card
                    .parameters
                    .iter()
                    .map(|p| format!("{} = {}", p.name, p.value))
                    .collect(),
            }
        })
        .collect()
}
