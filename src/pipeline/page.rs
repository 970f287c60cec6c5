//! The page of the day, and who says so.

use super::kept::ReportStamp;
use super::output::Staging;
use super::{Discovered, Plan, ProcessError};
use crate::archive::Head;
use crate::check;
use crate::derive::METHODS;
use crate::record::{Day, Finding, Review, RunRecord};
use crate::report::{ChartSet, DayReport, DaySummary, Provenance, ReportIdentity};
use crate::schema::{Digest, Field};

/// Metrics on page one of the report.
pub(super) const HEADLINE: &[&str] = &[
    "mixing.water_absorption",
    "mixing.development_time",
    "mixing.stability",
    "mixing.tolerance_index",
    "mixing.softening_12min",
    "extension.resistance_50mm",
    "extension.maximum_resistance",
    "extension.extensibility",
    "extension.energy_area",
    "extension.ratio_rm_e",
];

/// What the archive says about the report that is being made.
pub(super) struct Standing {
    pub head: Head,
    pub stamp: ReportStamp,
    pub reviews: Vec<Review>,
}

/// Writes the page; returns the answers of page one, and the page.
pub(super) fn write_report(
    plan: &Plan,
    found: &Discovered,
    (day, findings): (&Day, &[Finding]),
    standing: Option<&Standing>,
    (charts, made_at, staging): (&ChartSet, &str, &Staging),
) -> Result<(DaySummary, String), ProcessError> {
    let methods: Vec<_> = METHODS.iter().map(|method| (method.card)()).collect();
    let rules: Vec<_> = check::rules().iter().map(|rule| rule.card).collect();
    let provenance = Provenance {
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        generated_at: made_at.to_owned(),
        inputs: plan.inputs.clone(),
        plan: plan.to_json()?,
        skipped: found.skipped.clone(),
        data_label: data_label(day),
        ledger_head: standing.map(|s| head_words(&s.head)),
        report: standing.map(|s| identity(&s.stamp)),
        reviews: standing.map(|s| s.reviews.clone()).unwrap_or_default(),
    };
    let report = DayReport {
        title: &plan.title,
        day,
        findings,
        methods: &methods,
        rules: &rules,
        headline: HEADLINE,
        charts,
        provenance: &provenance,
    };
    let page = report.render()?;
    staging.write("report.html", page.as_bytes())?;
    Ok((report.summary(), page))
}

/// Returns a head as report and manifest print it; `verify --head` takes it back.
pub(super) fn head_words(head: &Head) -> String {
    format!("{}:{}", head.seq, head.digest)
}

pub(super) fn identity(stamp: &ReportStamp) -> ReportIdentity {
    ReportIdentity {
        id: stamp.id.clone(),
        version: stamp.version,
        supersedes: stamp.supersedes.clone(),
        changes: stamp.changes.clone(),
    }
}

/// Returns the digest of what a report says: the same day, read with the same definitions and
/// corrections, is the same report, whenever its page is made.
pub(super) fn content_digest(
    plan: &Plan,
    day: &Day,
    findings: &[Finding],
) -> Result<Digest, ProcessError> {
    let mut text = format!("{}\n", plan.to_json()?);
    for run in &day.runs {
        text.push_str(&format!("run {} {}\n", run.id, run.key()));
        for result in &run.results {
            text.push_str(&format!("{}\n", result.id));
        }
    }
    for finding in findings {
        let run = finding.run_id.as_ref().map(ToString::to_string);
        text.push_str(&format!(
            "{} r{} {} {} {} {}\n",
            finding.rule,
            finding.revision,
            finding.level,
            finding.file,
            run.unwrap_or_default(),
            finding.words
        ));
    }
    let of_groups = day.groups.iter().flat_map(|group| &group.results);
    for result in of_groups.chain(&day.grading.results) {
        text.push_str(&format!("{}\n", result.id));
    }
    for observation in &day.observations {
        let at = observation.rows.first;
        text.push_str(&format!("observation {} {at}\n", observation.file.sha256));
    }
    for fault in &day.faults {
        text.push_str(&format!("fault {fault}\n"));
    }
    Ok(Digest::of(text.as_bytes()))
}

/// Returns what must be said on top of the page when runs call their flour or themselves invented.
fn data_label(day: &Day) -> Option<String> {
    let says_so = |run: &&RunRecord| {
        [Field::FlourName, Field::Note, Field::Operator]
            .iter()
            .any(|field| {
                run.metadata
                    .text(*field)
                    .is_some_and(|text| text.to_lowercase().contains("invented"))
            })
    };
    let count = day.runs.iter().filter(says_so).count();
    // One mark is enough: a folder that holds invented runs is a demonstration as a whole.
    (count > 0).then(|| {
        "Invented demonstration data: no measurement stands behind these numbers.".to_owned()
    })
}
