//! From what was asked to what will be done.

use super::ProcessError;
use crate::derive::METHODS;
use crate::profile::{self, Profile};
use serde::Serialize;
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
    /// Threads; all cores when not given.
    pub threads: Option<usize>,
    /// Title of the report.
    pub title: Option<String>,
}

/// What will be done; nothing is left open. It is printed by `--dry-run` and kept in the manifest.
///
/// Output folder and thread count are not part of it: they change no byte of the output.
#[derive(Debug, Clone, Serialize)]
pub struct Plan {
    /// Program and version.
    pub software: String,
    /// Input folders, as given.
    pub inputs: Vec<String>,
    /// Title of the report.
    pub title: String,
    /// Whether charts are drawn.
    pub charts: bool,
    /// Import profiles that files are matched with: the user's own first.
    pub profiles: Vec<ProfileLine>,
    /// Methods, with the revision of every metric and the parameters.
    pub methods: Vec<MethodLine>,
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

/// One method of the plan.
#[derive(Debug, Clone, Serialize)]
pub struct MethodLine {
    /// Identifier.
    pub id: &'static str,
    /// Metrics as `id r revision`.
    pub metrics: Vec<String>,
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
        let own_profiles = match &request.profiles {
            Some(folder) => read_own_profiles(folder)?,
            None => Vec::new(),
        };
        let builtin_profiles = profile::builtin()?;
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
        let names: Vec<String> = request
            .inputs
            .iter()
            .map(|path| path.display().to_string())
            .collect();
        Ok(Plan {
            software: software(),
            title: request
                .title
                .unwrap_or_else(|| default_title(&request.inputs)),
            inputs: names,
            charts: !request.no_charts,
            profiles,
            methods: method_lines(),
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
    let mut profiles = Vec::new();
    for path in paths {
        let text = std::fs::read_to_string(&path).map_err(ProcessError::file("read", &path))?;
        profiles.push(Profile::parse(&text)?);
    }
    Ok(profiles)
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
                parameters: card
                    .parameters
                    .iter()
                    .map(|p| format!("{} = {}", p.name, p.value))
                    .collect(),
            }
        })
        .collect()
}
