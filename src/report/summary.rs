//! What a day came to, as plain data: the verdict, the counts, what must be redone.

use super::provenance::Skipped;
use super::wording::{counted, volume_ml};
use crate::record::{Day, Fault, Finding, RunRecord};
use crate::schema::{Level, RunId};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What the findings of a run, or of a whole day, come to: the worst one decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing to do.
    Good,
    /// Nothing to redo, but something to keep in mind when using the numbers.
    GoodWithCare,
    /// Something must be redone or mended.
    RedoNeeded,
}

impl Verdict {
    /// Returns the verdict that the worst of `levels` gives.
    pub fn of_levels(levels: impl IntoIterator<Item = Level>) -> Verdict {
        match levels.into_iter().max() {
            None | Some(Level::Note) => Verdict::Good,
            Some(Level::Warn) => Verdict::GoodWithCare,
            Some(Level::Reject) => Verdict::RedoNeeded,
        }
    }

    /// Returns the verdict on one run.
    pub fn of_run(run: &RunRecord, findings: &[Finding]) -> Verdict {
        Verdict::of_levels(
            findings
                .iter()
                .filter(|f| concerns(f, &run.id))
                .map(|f| f.level),
        )
    }

    /// Returns the word used in data.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Good => "good",
            Verdict::GoodWithCare => "good-with-care",
            Verdict::RedoNeeded => "redo-needed",
        }
    }

    /// Returns the words said of a run.
    pub fn run_words(self) -> &'static str {
        match self {
            Verdict::Good => "good",
            Verdict::GoodWithCare => "use with care",
            Verdict::RedoNeeded => "redo",
        }
    }

    /// Returns the words said of a day.
    pub fn day_words(self) -> &'static str {
        match self {
            Verdict::Good => "The day is good",
            Verdict::GoodWithCare => "The day is good, with care",
            Verdict::RedoNeeded => "The day is not finished",
        }
    }
}

/// How much was read and found.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Files that were read.
    pub files_read: usize,
    /// Files that could not be read.
    pub files_unreadable: usize,
    /// Files passed over by a stated rule.
    pub files_skipped: usize,
    /// Runs.
    pub runs: usize,
    /// Runs without a finding above note level.
    pub runs_good: usize,
    /// Runs whose worst finding is a warning.
    pub runs_with_care: usize,
    /// Runs with a reject-level finding.
    pub runs_to_redo: usize,
    /// Runs that a person excluded.
    pub runs_excluded: usize,
    /// Graded and scalar observations.
    pub observations: usize,
    /// Findings of reject level.
    pub reject: usize,
    /// Findings of warn level.
    pub warn: usize,
    /// Findings of note level.
    pub note: usize,
}

/// Something that must be redone or mended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Redo {
    /// The run, when it is one.
    pub run_id: Option<RunId>,
    /// The file; empty when the day as a whole is meant.
    pub file: String,
    /// Mixing method of the run.
    pub treatment: Option<String>,
    /// Why, one sentence per finding.
    pub why: Vec<String>,
    /// What to do next, without repetition.
    pub what_to_do: Vec<String>,
    /// Water dosed in this run, ml.
    pub water_ml: Option<f64>,
    /// Water to dose in the next run, ml.
    pub next_water_ml: Option<f64>,
}

impl Redo {
    /// Returns what is to be redone, in words.
    pub fn subject(&self) -> String {
        match (&self.run_id, self.file.as_str()) {
            (Some(run), _) => run.to_string(),
            (None, "") => "the whole day".to_owned(),
            (None, file) => file.to_owned(),
        }
    }
}

/// Water for the next run after one that need not be redone (a step of a titration).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextWater {
    /// The run.
    pub run_id: RunId,
    /// Mixing method of the run.
    pub treatment: Option<String>,
    /// Why the run was made.
    pub purpose: Option<&'static str>,
    /// Water dosed in this run, ml.
    pub water_ml: Option<f64>,
    /// Water to dose in the next run, ml.
    pub next_water_ml: f64,
}

/// The answers of page one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DaySummary {
    /// Whether the day is good.
    pub verdict: Verdict,
    /// The verdict as one sentence with its counts.
    pub sentence: String,
    /// How much was read and found.
    pub counts: Counts,
    /// What must be redone, in the order of the day.
    pub redo: Vec<Redo>,
    /// Water for the next run, for runs that need not be redone.
    pub next_water: Vec<NextWater>,
    /// Files that could not be read.
    pub unreadable: Vec<Fault>,
    /// Files passed over, by reason.
    pub skipped: Vec<Skipped>,
}

impl DaySummary {
    /// Returns what `day` came to under `findings`.
    pub fn of(day: &Day, findings: &[Finding], skipped: &[Skipped]) -> DaySummary {
        let counts = count(day, findings, skipped);
        let unread = (counts.files_unreadable > 0).then_some(Level::Reject);
        let nothing = (counts.runs + counts.observations == 0).then_some(Level::Reject);
        let levels = findings.iter().map(|f| f.level);
        let verdict = Verdict::of_levels(levels.chain(unread).chain(nothing));
        let redo = redo_list(day, findings);
        DaySummary {
            verdict,
            sentence: format!(
                "{}{}",
                sentence(verdict, &counts, &redo),
                exclusion_words(&counts)
            ),
            counts,
            next_water: next_water(day, &redo),
            redo,
            unreadable: day.faults.clone(),
            skipped: skipped.to_vec(),
        }
    }

    /// Returns the summary as lines for people.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = vec![self.sentence.clone(), self.count_line()];
        lines.extend(self.redo.iter().map(redo_line));
        lines.extend(self.unreadable.iter().map(|f| format!("not read: {f}")));
        lines.extend(self.next_water.iter().map(|next| {
            format!(
                "next water: {} → {}",
                next.run_id,
                volume_ml(next.next_water_ml)
            )
        }));
        lines
    }

    fn count_line(&self) -> String {
        let c = &self.counts;
        let mut line = format!(
            "{} read, {}, {} not readable, {} skipped; findings: {} reject, {} warn, {} note",
            counted(c.files_read, "file", "files"),
            counted(c.runs, "run", "runs"),
            c.files_unreadable,
            c.files_skipped,
            c.reject,
            c.warn,
            c.note
        );
        if c.observations > 0 {
            line.push_str(&format!(
                "; {}",
                counted(c.observations, "observation", "observations")
            ));
        }
        line
    }
}

/// Returns whether `finding` is about `run`.
pub(super) fn concerns(finding: &Finding, run: &RunId) -> bool {
    finding.run_id.as_ref() == Some(run)
}

/// The worst level found of each run: looked up for every run of a long day.
pub(super) struct WorstLevels<'f>(BTreeMap<&'f RunId, Level>);

impl<'f> WorstLevels<'f> {
    /// Returns the worst levels among `findings`.
    pub(super) fn of(findings: &'f [Finding]) -> WorstLevels<'f> {
        let mut worst: BTreeMap<&RunId, Level> = BTreeMap::new();
        for finding in findings {
            if let Some(run) = &finding.run_id {
                let level = worst.entry(run).or_insert(finding.level);
                *level = finding.level.max(*level);
            }
        }
        WorstLevels(worst)
    }

    /// Returns the verdict on `run`.
    pub(super) fn verdict(&self, run: &RunId) -> Verdict {
        Verdict::of_levels(self.0.get(run).copied())
    }
}

fn count(day: &Day, findings: &[Finding], skipped: &[Skipped]) -> Counts {
    let of_level = |level| findings.iter().filter(|f| f.level == level).count();
    let read: BTreeSet<&str> = day
        .runs
        .iter()
        .map(|r| r.file.name.as_str())
        .chain(day.observations.iter().map(|o| o.file.name.as_str()))
        .chain(day.sheets.iter().map(|s| s.file.name.as_str()))
        .collect();
    let unreadable: BTreeSet<&str> = day.faults.iter().map(|f| f.file.as_str()).collect();
    let mut counts = Counts {
        files_read: read.len(),
        files_unreadable: unreadable.len(),
        files_skipped: skipped.iter().map(|s| s.files).sum(),
        runs: day.runs.len(),
        runs_excluded: day.runs.iter().filter(|r| r.excluded.is_some()).count(),
        observations: day.observations.len(),
        reject: of_level(Level::Reject),
        warn: of_level(Level::Warn),
        note: of_level(Level::Note),
        ..Counts::default()
    };
    let worst = WorstLevels::of(findings);
    for run in &day.runs {
        match worst.verdict(&run.id) {
            Verdict::Good => counts.runs_good += 1,
            Verdict::GoodWithCare => counts.runs_with_care += 1,
            Verdict::RedoNeeded => counts.runs_to_redo += 1,
        }
    }
    counts
}

/// Returns what is said of excluded runs behind the verdict; nothing where there is none.
fn exclusion_words(counts: &Counts) -> String {
    match counts.runs_excluded {
        0 => String::new(),
        n => format!(
            " {} of {} used; {n} excluded by a person, with the reason.",
            counts.runs - n,
            counted(counts.runs, "run", "runs")
        ),
    }
}

fn sentence(verdict: Verdict, counts: &Counts, redo: &[Redo]) -> String {
    let head = verdict.day_words();
    let runs = counted(counts.runs, "run", "runs");
    if counts.runs + counts.observations == 0 {
        return match counts.files_unreadable {
            0 => format!("{head}: there was no run to read."),
            n => format!(
                "{head}: no run, and {} could not be read.",
                counted(n, "file", "files")
            ),
        };
    }
    match verdict {
        Verdict::Good => format!(
            "{head}: {runs} from {}, and nothing to redo.",
            counted(counts.files_read, "file", "files")
        ),
        Verdict::GoodWithCare => {
            let place = match counts.runs_with_care {
                0 => String::new(),
                n => format!(" on {n} of {runs}"),
            };
            let warnings = counted(counts.warn, "warning", "warnings");
            format!("{head}: nothing to redo, but keep {warnings}{place} in mind.")
        }
        Verdict::RedoNeeded => {
            let mut parts = Vec::new();
            if counts.runs_to_redo > 0 {
                parts.push(format!("{} of {runs} must be redone", counts.runs_to_redo));
            }
            let others = redo.len() - counts.runs_to_redo.min(redo.len());
            if others > 0 {
                parts.push(format!(
                    "{} must be mended",
                    counted(others, "other thing", "other things")
                ));
            }
            if counts.files_unreadable > 0 {
                parts.push(format!(
                    "{} could not be read",
                    counted(counts.files_unreadable, "file", "files")
                ));
            }
            format!("{head}: {}.", parts.join(", "))
        }
    }
}

/// Returns what the reject-level findings ask for: runs in the order of the day, then the rest in
/// the order of the findings.
fn redo_list(day: &Day, findings: &[Finding]) -> Vec<Redo> {
    let rejects: Vec<&Finding> = findings
        .iter()
        .filter(|f| f.level == Level::Reject)
        .collect();
    let mut by_run: BTreeMap<&RunId, Vec<&Finding>> = BTreeMap::new();
    for finding in &rejects {
        if let Some(run) = &finding.run_id {
            by_run.entry(run).or_default().push(finding);
        }
    }
    let mut list = Vec::new();
    for run in &day.runs {
        if let Some(own) = by_run.get(&run.id) {
            list.push(Redo {
                run_id: Some(run.id.clone()),
                treatment: run.conditions.treatment.clone(),
                water_ml: run.conditions.water_ml,
                next_water_ml: run.facts.next_water_ml,
                ..redo_of(&run.file.name, own)
            });
        }
    }
    let known: BTreeSet<&RunId> = day.runs.iter().map(|run| &run.id).collect();
    let is_known = |f: &Finding| f.run_id.as_ref().is_some_and(|run| known.contains(run));
    let rest: Vec<&Finding> = rejects.into_iter().filter(|f| !is_known(f)).collect();
    let mut seen = BTreeSet::new();
    for first in &rest {
        let key = (first.file.as_str(), first.run_id.as_ref());
        if seen.insert(key) {
            let own: Vec<&Finding> = rest
                .iter()
                .copied()
                .filter(|f| (f.file.as_str(), f.run_id.as_ref()) == key)
                .collect();
            list.push(Redo {
                run_id: first.run_id.clone(),
                ..redo_of(&first.file, &own)
            });
        }
    }
    list
}

fn redo_of(file: &str, findings: &[&Finding]) -> Redo {
    let mut what_to_do: Vec<String> = Vec::new();
    for finding in findings {
        if !what_to_do.contains(&finding.what_to_do) {
            what_to_do.push(finding.what_to_do.clone());
        }
    }
    Redo {
        run_id: None,
        file: file.to_owned(),
        treatment: None,
        why: findings.iter().map(|f| f.words.clone()).collect(),
        what_to_do,
        water_ml: None,
        next_water_ml: None,
    }
}

fn next_water(day: &Day, redo: &[Redo]) -> Vec<NextWater> {
    let listed: BTreeSet<&RunId> = redo
        .iter()
        .filter_map(|item| item.run_id.as_ref())
        .collect();
    let is_listed = |run: &RunRecord| listed.contains(&run.id);
    day.runs
        .iter()
        .filter(|run| !is_listed(run))
        .filter_map(|run| {
            Some(NextWater {
                run_id: run.id.clone(),
                treatment: run.conditions.treatment.clone(),
                purpose: run.conditions.purpose.map(|p| p.word()),
                water_ml: run.conditions.water_ml,
                next_water_ml: run.facts.next_water_ml?,
            })
        })
        .collect()
}

fn redo_line(item: &Redo) -> String {
    let mut line = format!("redo {}", item.subject());
    if let Some(treatment) = &item.treatment {
        line.push_str(&format!(" ({treatment})"));
    }
    line.push_str(&format!(
        ": {} → {}",
        item.why.join("; "),
        item.what_to_do.join("; ")
    ));
    if let Some(water) = item.next_water_ml {
        line.push_str(&format!(" [next water {}]", volume_ml(water)));
    }
    line
}
