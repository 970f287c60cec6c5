//! A study planned: how many doughs, in which order, and its claims on record before the data.

use super::super::kept::Keeper;
use super::super::{ProcessError, kept};
use super::setup::{StudyFile, commitment, gather};
use crate::archive::{Action, Head};
use crate::compare::{self, Evidence, Plan, SheetRow};
use crate::schema::Digest;
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// What is planned, and where it goes.
#[derive(Debug, Clone)]
pub struct PlanRequest<'a> {
    /// Study file.
    pub study: &'a Path,
    /// Archives in place of those that the file names; empty for those.
    pub archives: &'a [PathBuf],
    /// Run sheet to write; `None` for none.
    pub sheet: Option<&'a Path>,
    /// Person.
    pub who: &'a str,
    /// Time, as records state it.
    pub when: &'a str,
}

/// A plan, with where it is on record.
#[derive(Debug)]
pub struct StudyPlanned {
    /// The plan.
    pub plan: Plan,
    /// Archive whose ledger has the claims on record.
    pub archive: PathBuf,
    /// Last line of the ledger.
    pub head: Head,
}

/// Plans a study, enters its claims in the ledger of its first archive (begun where there is none),
/// and writes the run sheet.
///
/// # Errors
/// [`ProcessError`] when the study file is wrong, an archive cannot be read or written, or the run
/// sheet is there already.
pub fn plan_study(request: &PlanRequest<'_>) -> Result<StudyPlanned, ProcessError> {
    let file = StudyFile::read(request.study, request.archives)?;
    let Some(own) = file.folders.first() else {
        return Err(ProcessError::Request(
            "the study names no archive; write archives = [\"…\"] or give --archive".to_owned(),
        ));
    };
    // Before the first dough there may be nothing to learn a scatter from.
    let there: Vec<PathBuf> = file
        .folders
        .iter()
        .filter(|folder| kept::find_archive(folder).is_ok())
        .cloned()
        .collect();
    let (evidence, _) = match there.is_empty() {
        true => (Evidence::default(), Vec::new()),
        false => gather(&there)?,
    };
    let plan = compare::plan(&file.study, &evidence);
    if let Some(path) = request.sheet {
        write_sheet(path, &plan.sheet)?;
    }
    let folder = kept::find_archive(own).unwrap_or_else(|_| own.clone());
    let mut keeper = Keeper::open(&folder, request.who, request.when)?;
    enter(&mut keeper, &file, &plan)?;
    Ok(StudyPlanned {
        plan,
        head: keeper.head().clone(),
        archive: folder,
    })
}

fn enter(keeper: &mut Keeper, file: &StudyFile, plan: &Plan) -> Result<(), ProcessError> {
    let claims: Map<String, Value> = file
        .study
        .claims
        .iter()
        .map(|claim| {
            let digest = Digest::of(commitment(&file.study, claim).as_bytes());
            (claim.id.clone(), json!(digest.to_string()))
        })
        .collect();
    let mut event = keeper.event(Action::Plan);
    event.parameters = json!({
        "study": file.study.title,
        "file": file.kept_as(),
        "study_sha256": file.digest,
        "claims": claims,
        "doughs_per_treatment": plan.doughs,
        "blocks": plan.blocks,
        "seed": plan.seed,
    });
    let files = file.keep(keeper, &mut event);
    keeper.commit(event, files.into_iter().collect())?;
    Ok(())
}

/// Columns of a planned run sheet: those that the plan fills, and those that the bench fills. The
/// purpose is the bench's: files that state another one would be rejected.
const COLUMNS: &[&str] = &[
    "file",
    "run_id",
    "test",
    "sample_id",
    "batch_id",
    "treatment",
    "block",
    "replicate",
    "hydration_pct",
    "hydration_basis",
    "purpose",
    "operator",
    "started_at",
    "note",
];

/// Writes the run sheet: one line a dough, in the order in which they are made.
fn write_sheet(path: &Path, rows: &[SheetRow]) -> Result<(), ProcessError> {
    if path.exists() {
        return Err(ProcessError::Request(format!(
            "run sheet `{}` is there already; name a new file, so that no entry of the bench is lost",
            path.display()
        )));
    }
    let mut lines: Vec<Vec<String>> = vec![COLUMNS.iter().map(|c| (*c).to_owned()).collect()];
    for row in rows {
        let water = row.hydration_pct;
        let cell = |column: &str| match column {
            "sample_id" => row.sample_id.clone().unwrap_or_default(),
            "batch_id" => row.batch_id.clone(),
            "treatment" => row.treatment.clone(),
            "block" => row.block.clone(),
            "replicate" => row.replicate.to_string(),
            "hydration_pct" => water.map(|w| w.to_string()).unwrap_or_default(),
            "hydration_basis" => water.map(|_| "14 %".to_owned()).unwrap_or_default(),
            "note" => format!("dough {} of the plan", row.order),
            _ => String::new(),
        };
        lines.push(COLUMNS.iter().map(|column| cell(column)).collect());
    }
    let text = crate::table::csv_of_rows(&lines)?;
    std::fs::write(path, text).map_err(ProcessError::file("write run sheet", path))
}
